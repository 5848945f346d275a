"""What was read from a driver after it was set, held against what it shall be set to; and its digest."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any, Literal, TypeAlias

from vault.domain.fields import Field, fields_of, label_of, place_in, value_words
from vault.domain.findings import Finding, Severity
from vault.domain.readback_evidence import (
    EVIDENCE,
    EVIDENCE_RULE,
    MEASURED,
    METER,
    evidence_field,
    is_evidence,
    measured_field,
)
from vault.domain.readback_form import WINDOW, asked_fields
from vault.domain.schema import NOT_SET, plain_value
from vault.domain.settings import Gear
from vault.domain.units import permille
from vault.errors import GearkeepError

Result: TypeAlias = Literal["same", "within-tolerance", "by-design", "differs", "not-read", "extra"]

# Where the driver model declares no tolerance, a measurement off by more than this asks for care.
ASSUMED_TOLERANCE_PERMILLE = 20

# A wrong one may burn the light source, break an escape route or answer for another luminaire.
_STOPS = frozenset({
    "output", "current_ma", "voltage_mv", "voltage_min_mv", "voltage_max_mv", "power_max_mw", "colour", "protocol",
    "short_address", "central_circuit", "central_address", "mode", "supply", "rated_duration_min",
    "emergency_level_permille", "dc_level_permille", "emergency_current_ma", "emergency_power_mw",
    "measured_current_ma", "measured_voltage_mv",
})
_SOURCE = "the signed record"


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """One field of a readback. expected, found: plain values as in `schema.flatten`; None where there is none.

    tolerance_permille: what was allowed of a measured figure. assumed: the driver model does not declare it.
    wrong_type: what was read is not of the kind that the field holds. evidence: how a current or a voltage is known, "" where
    that is not said; None for a field that needs none.
    """

    field: str
    expected: Any
    found: Any
    unit: str
    result: Result
    tolerance_permille: int | None = None
    assumed: bool = False
    wrong_type: bool = False
    evidence: str | None = None


def _bare(field: Field) -> str:
    """The field's own path; an extra may be read under its bare name too."""
    return field.path.removeprefix("extras.") if field.spec.shape == "names" else field.path


def form(gear: Gear, *, fixed_window: bool = False) -> dict[str, object]:
    """Field -> None for everything that has to be read; what is left as the driver has it need not be."""
    return {field.path: None for field in asked_fields(gear, fixed_window=fixed_window)}


def _kind(value: Any) -> str:
    if isinstance(value, list | tuple):
        return "list"
    return "text" if isinstance(value, str) else type(value).__name__


def _same(expected: Any, found: Any) -> bool:
    """Equal and of one kind, so that True is not 1 and "700" is not 700."""
    if _kind(expected) != _kind(found):
        return False
    if isinstance(expected, list | tuple):
        return len(expected) == len(found) and all(map(_same, expected, found))
    return bool(expected == found)


def _word(said: str) -> str:
    return said.strip().casefold().replace("_", "-").replace(" ", "-")


def _compare_field(field: Field, found: Any) -> Comparison:
    expected, unit = plain_value(field.value), field.spec.unit
    if field.value is NOT_SET:
        return Comparison(field=field.path, expected=expected, found=found, unit=unit, result="same")
    if found is None:
        return Comparison(field=field.path, expected=expected, found=None, unit=unit, result="not-read")
    same = _same(expected, found)
    if field.spec.shape == "choice" and isinstance(found, str):
        same = _word(expected) == _word(found)
    if field.spec.shape == "names" and isinstance(found, str) and _kind(expected) == "int":
        # An extra is kept as it was typed, and never understood.
        same = found == str(expected)
    return Comparison(field=field.path, expected=expected, found=found, unit=unit,
                      result="same" if same else "differs", wrong_type=_kind(expected) != _kind(found))


def _within(name: str, expected: Any, found: Any, tolerance: int | None) -> Comparison:
    """A measured figure against the set one."""
    allowed = ASSUMED_TOLERANCE_PERMILLE if tolerance is None else tolerance
    result: Result = "differs"
    if _kind(found) == "int" and abs(found - expected) * 1000 <= expected * allowed:
        result = "same" if found == expected else "within-tolerance"
    return Comparison(field=name, expected=expected, found=found, unit="mA" if name.endswith("_ma") else "mV", result=result,
                      tolerance_permille=allowed, assumed=tolerance is None, wrong_type=_kind(found) != "int")


def _compare_output(field: Field, name: str, readback: Mapping[str, object], tolerance: int | None) -> tuple[Comparison, str]:
    """A current or a voltage, and the name that it was read under: no bus can ask it, so it bears how it is known.

    A measured one, alone or beside the word "meter", is judged within the driver's tolerance.
    """
    known_by, measured = evidence_field(field.path), measured_field(field.path)
    said = readback.get(known_by) if known_by is not None else None
    evidence = said if isinstance(said, str) and said in EVIDENCE else ""
    found = readback.get(name)
    if found is None and readback.get(measured) is not None:
        name, found, evidence = measured, readback[measured], METER
    if found is None:
        return _compare_field(field, found), name
    one = _within(field.path, field.value, found, tolerance) if evidence == METER else _compare_field(field, found)
    # A measurement beside it is compared in a row of its own.
    return replace(one, evidence=evidence or (METER if readback.get(measured) is not None else "")), name


def compare(gear: Gear, readback: Mapping[str, object], *, spare_tolerance_permille: int | None,
            fixed_window: bool = False) -> tuple[Comparison, ...]:
    """Every stated setting, then every measured figure and everything else that was read.

    Settings are compared exactly, words forgiving case. A current or voltage known by meter, `channels.N.measured_current_ma`
    and `…measured_voltage_mv` are held against the set figure within the driver's tolerance, 2 % where that is not declared.
    None counts as not read. What the record does not state is kept verbatim as extra. fixed_window: the driver's voltage
    window and power limit cannot be set, so they are its design and not compared; whether they suit is for `fit_spare` to say.
    """
    fields = list(fields_of(gear.settings))
    known = {field.path: field for field in fields}
    used: set[str] = set()
    rows: list[Comparison] = []
    for field in fields:
        name = field.path
        if name not in readback and _bare(field) in readback and _bare(field) not in known:
            name = _bare(field)
        if evidence_field(field.path) is not None:
            row, name = _compare_output(field, name, readback, spare_tolerance_permille)
        else:
            row = _compare_field(field, readback.get(name))
        used.add(name)
        if fixed_window and field.name in WINDOW and field.spec.shape != "names":
            row = replace(row, result="by-design", wrong_type=False)
        if field.path == "output" and row.result == "not-read":
            # No driver can be asked for it: it is what its model is, and `fit_spare` has judged that.
            row = replace(row, result="by-design")
        rows.append(row)
    for name, found in readback.items():
        if name in used or found is None or is_evidence(name):
            continue
        measured = MEASURED.fullmatch(name)
        wanted = known.get(f"{measured[1]}.{measured[2]}") if measured else None
        rows.append(_within(name, wanted.value, found, spare_tolerance_permille) if wanted is not None else
                    Comparison(field=name, expected=None, found=found, unit="", result="extra"))
    return tuple(rows)


def full_match(comparisons: Iterable[Comparison]) -> bool:
    """Whether every stated setting was read and agrees. What the record does not state neither helps nor harms."""
    results = {comparison.result for comparison in comparisons} - {"extra"}
    return bool(results) and results <= {"same", "within-tolerance", "by-design"}


def _stops(field: str) -> bool:
    return not field.startswith("extras.") and field.rpartition(".")[2] in _STOPS


def _shown(one: Comparison, value: Any) -> str:
    said = value_words(one.field.rpartition(".")[2], one.unit, value)
    return f"{said}, counted from 0 as on the bus" if one.field.endswith("short_address") else said


def _finding(one: Comparison, rule: str, severity: Severity, says: str, *, allowed: str = "") -> Finding:
    # A mask of groups says nothing to people; a figure stands with its unit beside it.
    name = "groups" if one.field.endswith(".groups") else ""
    found = "not read" if one.found is None else value_words(name, "", one.found)
    return Finding(rule=rule, severity=severity, found=found, allowed=allowed or value_words(name, "", one.expected),
                   unit=one.unit, source=_SOURCE, where=place_in(one.field), says=says[:1].upper() + says[1:])


def _differs(one: Comparison) -> Finding:
    severity = Severity.STOP if _stops(one.field) and not one.assumed else Severity.CARE
    label, found, allowed = label_of(one.field), _shown(one, one.found), _shown(one, one.expected)
    if one.wrong_type:
        kind = _kind(one.expected)
        found = f"{one.found!r}, which is not a {'whole number' if kind == 'int' else kind}"
    if one.tolerance_permille is not None:
        allowed += f" within {permille(one.tolerance_permille)}"
        allowed += ", assumed because the driver model declares no tolerance" if one.assumed else ""
    return _finding(one, "readback-differs", severity, f"{label} reads {found}; the record says {allowed}.")


def readback_findings(comparisons: Iterable[Comparison]) -> tuple[Finding, ...]:
    """A finding for each field that differs or was not read, and a note for each that was left to the driver.

    A difference in what may hurt is a stop and its absence unknown; anywhere else both ask for care, and so does a current
    or voltage that nobody says how they know.
    """
    return tuple(_findings(comparisons))


def _findings(comparisons: Iterable[Comparison]) -> Iterator[Finding]:
    for one in comparisons:
        label = label_of(one.field)
        if one.evidence == "":
            yield _finding(one, EVIDENCE_RULE, Severity.CARE, allowed=", ".join(EVIDENCE),
                           says=f"It is not said how the {label} is known: meter, photograph of the switches, or the "
                                "parameter sheet.")
        if one.result == "differs":
            yield _differs(one)
        elif one.result == "not-read":
            severity = Severity.UNKNOWN if _stops(one.field) else Severity.CARE
            yield _finding(one, "readback-not-read", severity,
                           f"{label} was not read; the record says {_shown(one, one.expected)}.")
        elif one.result == "same" and one.expected == plain_value(NOT_SET) and one.found not in (None, one.expected):
            yield _finding(one, "readback-differs", Severity.NOTE, allowed="anything",
                           says=f"{label} was left as the driver has it; it reads {_shown(one, one.found)}.")


def canonical(readback: Mapping[str, object]) -> bytes:
    """The one byte form of a readback: UTF-8 JSON, names sorted by code point, no white space.

    Values are whole numbers and texts; a list of whole numbers is written as a text, its numbers parted by spaces
    and the cells of a row by colons. Raises GearkeepError (bad-readback) naming a field that holds anything else.
    """
    values = {name: _canonical_value(name, value) for name, value in readback.items()}
    try:
        return json.dumps(values, sort_keys=True, separators=(",", ":"), ensure_ascii=False).encode()
    except UnicodeEncodeError as error:
        raise GearkeepError("A text of the readback is not valid Unicode.", kind="bad-readback",
                            hint="Export it again in UTF-8.") from error


def _canonical_value(name: object, value: object) -> int | str:
    if isinstance(name, str):
        if isinstance(value, str) or _kind(value) == "int":
            return value  # type: ignore[return-value]
        if isinstance(value, list | tuple):
            rows = [row if isinstance(row, list | tuple) else [row] for row in value]
            if all(_kind(cell) == "int" for row in rows for cell in row):
                return " ".join(":".join(str(cell) for cell in row) for row in rows)
    raise GearkeepError(f"{name} of the readback is {value!r}; only whole numbers, texts and lists of whole numbers "
                        "can be signed for.", kind="bad-readback",
                        hint="Write the figure in the unit of the field's name.")


def readback_digest(readback: Mapping[str, object]) -> bytes:
    """First 8 bytes of SHA-256 over the canonical form (FORMAT.md)."""
    return hashlib.sha256(canonical(readback)).digest()[:8]
