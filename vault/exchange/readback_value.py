"""One value of a readback: as a person types it, as a cell of a table holds it, and whether its field may hold it."""

from __future__ import annotations

import json
import re
import unicodedata
from collections.abc import Mapping
from fractions import Fraction
from typing import Any

from vault.domain.fields import label_of
from vault.domain.levels import MASK
from vault.domain.readback_evidence import EVIDENCE, MEASURED, evidence_wrong, is_evidence
from vault.domain.readback_form import allowed_words
from vault.domain.schema import Spec, from_words, words
from vault.domain.settings import Gear, Settings
from vault.exchange.assign import MASKS, WHOLE, ValueProblem, leaf, plain_of_text
from vault.exchange.plain import nearest

# What a record has no field for stands under one of these, and is kept as it is (FORMAT.md, Readback).
GROUPS = ("bus", "bank0 to bank255", "old_driver", "tests", "extras")
_KEPT = re.compile(r"(bus|bank(?:[0-9]|[1-9][0-9]|1[0-9]{2}|2[0-4][0-9]|25[0-5])|old_driver|tests)\.\S(.{0,62}\S)?")

# Unit of a field -> unit that somebody may write -> how many of the field's are in one of it. Only exact figures are taken.
_IN_ONE: Mapping[str, Mapping[str, Fraction]] = {
    "mA": {"mA": Fraction(1), "A": Fraction(1000)},
    "mV": {"mV": Fraction(1), "V": Fraction(1000)},
    "mW": {"mW": Fraction(1), "W": Fraction(1000)},
    "‰": {"‰": Fraction(1), "%": Fraction(10)},
    "min": {"min": Fraction(1), "h": Fraction(60)},
    "s": {"s": Fraction(1), "min": Fraction(60)},
    "d": {"d": Fraction(1), "days": Fraction(1)},
    "weeks": {"weeks": Fraction(1)},
    "mirek": {"mirek": Fraction(1)},
}
# Levels that may be MASK: as the bus was before (IEC 62386-102).
_MASKED = frozenset({"power_on_level", "system_failure_level"})
# Somebody who types 30 for a voltage means volts, and the field counts millivolts.
_TYPED_WITH_UNIT = {"mV": "V", "mW": "W"}
_FIGURE = re.compile(r"([0-9]{1,9}(?:\.[0-9]{1,6})?) ?(\S{1,5})")


def is_kept(field: str) -> bool:
    """Whether a field is kept as it is, because no record states anything of that kind."""
    return _KEPT.fullmatch(field) is not None and field.isprintable()


def spec_of(field: str) -> tuple[str, Spec] | None:
    """Own name and Spec of a setting; None for evidence and what is kept. Raises ValueProblem (unknown-setting)."""
    if is_kept(field) or is_evidence(field):
        return None
    measured = MEASURED.fullmatch(field)
    try:
        return leaf(Gear if field in ("model", "serial") else Settings, f"{measured[1]}.{measured[2]}" if measured else field)
    except ValueProblem as problem:
        hint = problem.hint if "did you mean" in problem.hint else (
            f"{problem.hint}; what no record states stands under {', '.join(GROUPS)}, such as extras.{field.rpartition('.')[2]}")
        raise ValueProblem(problem.what, hint=hint, kind=problem.kind) from problem


def _in_words_of_people(spec: Spec, said: str) -> int | None:
    """ "700 mA", "0.7 A", "27.0 V", "10 %": a figure with its unit, where that comes to a whole number."""
    found = _FIGURE.fullmatch(said)
    if found is None or spec.shape != "whole":
        return None
    one = next((many for unit, many in _IN_ONE.get(spec.unit, {}).items() if found[2] in (unit, unit.lower())), None)
    value = Fraction(found[1]) * one if one is not None else None
    return int(value) if value is not None and value.denominator == 1 else None


def _from_json(said: str) -> object:
    """A cell in quotes or brackets is JSON: a text that looks like a number, or a list."""
    if said[:1] in ('"', "["):
        try:
            return json.loads(said)
        except (ValueError, RecursionError):
            return None
    return None


def value_of_cell(field: str, said: str) -> object:
    """The value that a cell stands for; what cannot be understood stays a text. Raises ValueProblem (unknown-setting)."""
    said = said.strip()
    known = spec_of(field)
    in_json = _from_json(said)
    if in_json is not None:
        return in_json
    if known is None or known[1].shape == "names":
        return int(said) if WHOLE.fullmatch(said) and str(int(said)) == said and not is_evidence(field) else said
    if known[0] in _MASKED and said.casefold() == "mask":
        return MASK
    figure = _in_words_of_people(known[1], said)
    return figure if figure is not None else plain_of_text(*known, said)


def _scenes_cell(entries: list[Any], mask: int) -> str:
    return " ".join(f"{number}:{entry}" for number, entry in enumerate(entries) if entry != mask) or "none"


def _cells(field: str, value: Any) -> list[str]:
    """How a value may be written, the one that reads best first."""
    known = spec_of(field)
    if isinstance(value, str):
        return [value]
    if known is not None and known[0] == "groups" and isinstance(value, int):
        return ["+".join(str(number) for number in range(16) if value >> number & 1) or "none"]
    if isinstance(value, list):
        rows = [":".join(map(str, row)) if isinstance(row, list) else str(row) for row in value]
        scenes = [_scenes_cell(value, MASKS[known[1].widths[0]])] if (
            known is not None and known[1].shape == "table" and len(known[1].widths) == 1) else []
        return [*scenes, " ".join(rows)]
    return [str(value)]


def cell_of(field: str, value: object) -> str:
    """The cell that `value_of_cell` takes for exactly this value: as people write it where that is exact, else JSON."""
    for said in _cells(field, value):
        back = value_of_cell(field, said)
        plain = said == unicodedata.normalize("NFC", said) and said.isprintable()
        if plain and said and type(back) is type(value) and back == value:
            return said
    return json.dumps(value)


def value_wrong(field: str, value: object) -> str:
    """What is wrong with a value out of a table, or the empty text."""
    if is_evidence(field):
        return evidence_wrong(field, value)
    known = spec_of(field)
    if known is not None and known[1].shape in ("whole", "table") and isinstance(value, str) and value.casefold() != "not set":
        return f"found {value!r}, allowed whole numbers or not set"
    return ""


def typed_value(field: str, said: str) -> object:
    """The value that somebody typed for a field. Raises GearkeepError: bad-value, unknown-setting, saying what is allowed."""
    value = value_of_cell(field, said)
    if is_evidence(field):
        value = said.strip().casefold().replace(" ", "-").replace("_", "-")
        if wrong := evidence_wrong(field, value):
            near = nearest(str(value), EVIDENCE)
            raise ValueProblem(wrong[:1].upper() + wrong[1:], hint=near or "Type one of these words.", kind="bad-value")
        return value
    known = spec_of(field)
    if known is None:
        return value
    name, spec = known
    larger = _TYPED_WITH_UNIT.get(spec.unit)
    if larger is not None and WHOLE.fullmatch(said.strip()) and 0 < int(said) < 1000:
        raise ValueProblem(f"{said.strip()} could be {larger} or {spec.unit}.", kind="bad-value",
                           hint=f"Type the unit: {said.strip()} {larger}, or {said.strip()} {spec.unit}.")
    if spec.shape == "choice":
        member = from_words(spec.kind, said)
        if member is not None:
            return words(member)
    elif not _out_of_place(spec, value):
        return value
    raise ValueProblem(f"{said.strip()!r} cannot be taken for: {label_of(field)}.", kind="bad-value",
                       hint=f"Allowed: {allowed_words(name, spec)}.")


def _out_of_place(spec: Spec, value: object) -> bool:
    if spec.shape == "whole":
        return not isinstance(value, int) or not spec.least <= value <= spec.most
    if spec.shape == "table":
        return not isinstance(value, list) or bool(_bad_rows(spec, value))
    if isinstance(value, int):
        return spec.shape != "names" or not 0 <= value < 2**32
    most = 64 if spec.shape == "names" else spec.most
    return not isinstance(value, str) or not 1 <= len(value) <= most or not value.isprintable()


def _bad_rows(spec: Spec, rows: list[Any]) -> list[Any]:
    if len(rows) > spec.most or (spec.fill is not None and len(rows) != spec.most):
        return [rows]
    cells = [row if isinstance(row, list) else [row] for row in rows]
    return [row for row in cells if len(row) != len(spec.widths)
            or not all(isinstance(cell, int) and 0 <= cell < 256**width for cell, width in zip(row, spec.widths, strict=True))]


