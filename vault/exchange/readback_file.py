"""What was read from a luminaire's drivers, as a file: JSON or CSV of dotted setting names and exact values."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from vault.domain.readback import canonical
from vault.domain.readback_evidence import evidence_wrong, is_evidence
from vault.domain.readback_form import Ask
from vault.domain.schema import from_words, words
from vault.domain.settings import Duty
from vault.domain.tag import parse_tag
from vault.errors import GearkeepError
from vault.exchange.assign import ValueProblem
from vault.exchange.files import read_bytes, read_table, table_bytes, write_whole
from vault.exchange.plain import nearest, shown
from vault.exchange.readback_value import cell_of, spec_of, typed_value, value_of_cell, value_wrong

# The key of a readback that does not say which gear it is of: the luminaire has but one.
ONLY_GEAR = ""
_EXACT = "allowed whole numbers, texts and lists of whole numbers"
_LAST_VERSION = 100_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Readback:
    """tag, version: of the record that it was read against, None where the file does not say.

    gears: a gear's duty in words, or "" where the file names none -> dotted field -> plain value. What was not read is
    left out.
    """

    tag: str | None
    version: int | None
    gears: dict[str, dict[str, object]]


class ReadbackProblem(GearkeepError):
    """A readback file is wrong; all that is wrong is told. Kind: bad-readback."""

    def __init__(self, path: Path, wrong: list[str]) -> None:
        super().__init__(f"{path.name} cannot be taken as a readback: {'; '.join(wrong)}",
                         hint="export it again, or correct the file", kind="bad-readback")


class _Float:
    """A number with a point or an exponent: readbacks are exact, so it is refused where it stands."""

    def __init__(self, said: str) -> None:
        self.said = said


class _Pairs(list[tuple[str, Any]]):
    """An object of a JSON file with its names as they stand, doubles included."""


def _field_wrong(field: str) -> str:
    """What is wrong with a field's name, or the empty text."""
    try:
        spec_of(field)
    except ValueProblem as error:
        return f"{error.what}{f' ({error.hint})' if error.hint else ''}"
    return ""


def _inexact(value: object) -> str:
    """What is wrong with a value out of a JSON file, or the empty text."""
    if isinstance(value, _Float):
        return f"found {value.said}, {_EXACT}"
    if isinstance(value, bool):
        return f"found {str(value).lower()}, {_EXACT}"
    if isinstance(value, _Pairs):
        return f"found an object, {_EXACT}"
    if isinstance(value, list):
        return next((f"found nothing, {_EXACT}" if one is None else wrong for one in value
                     if (wrong := _inexact(one)) or one is None), "")
    return ""


def _gear_name(said: str, wrong: list[str]) -> str:
    duty = from_words(Duty, said)
    if duty is None:
        known = [words(member) for member in Duty]
        wrong.append(f"{said!r} is no gear: {nearest(said, known) or 'one of ' + ', '.join(known)}")
        return said
    return words(duty)


class _Gathered:
    """What a file says, gathered with everything that is wrong; told at the end in one message."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self.wrong: list[str] = []
        self._tag: str | None = None
        self._version: int | None = None
        self._asked: dict[str, set[str]] = {}
        self._gears: dict[str, dict[str, object]] = {}

    def bound(self, name: str, value: object) -> None:
        """The tag or the version."""
        if value is None:
            return
        if name == "version":
            if isinstance(value, bool) or not isinstance(value, int) or not 1 <= value <= _LAST_VERSION:
                said = value.said if isinstance(value, _Float) else shown(value)
                self.wrong.append(f"version: found {said}, allowed a whole number 1 to {_LAST_VERSION}")
            else:
                self._version = value
            return
        try:
            self._tag = parse_tag(value if isinstance(value, str) else shown(value))
        except GearkeepError as problem:
            self.wrong.append(f"tag: {problem.what}")

    def field(self, gear: str, field: str, value: object, problem: str, where: str) -> None:
        """One field; None is one that was not read."""
        asked = self._asked.setdefault(gear, set())
        if field in asked:
            problem = "stands twice" if not where.startswith("row") else f"stands twice for {gear or 'the gear'}"
        asked.add(field)
        problem = problem or _field_wrong(field)
        if not problem and value is not None and is_evidence(field):
            problem = evidence_wrong(field, value)
        if problem:
            self.wrong.append(f"{where}{field}: {problem}")
        elif value is not None:
            self._gears.setdefault(gear, {})[field] = value

    def readback(self) -> Readback:
        """All of it. Raises ReadbackProblem."""
        if not self.wrong and not self._asked:
            self.wrong.append("no field was read")
        elif not self.wrong and not self._gears:
            self.wrong.append("nothing was filled in")
        if self.wrong:
            raise ReadbackProblem(self._path, self.wrong)
        return Readback(tag=self._tag, version=self._version, gears=self._gears)


def _read_json(path: Path) -> Readback:
    try:
        top = json.loads(read_bytes(path).decode("utf-8-sig"), object_pairs_hook=_Pairs, parse_float=_Float,
                         parse_constant=_Float)
    except (ValueError, RecursionError) as error:
        raise ReadbackProblem(path, [f"it is not JSON in UTF-8 ({error})"]) from error
    held = _Gathered(path)
    if not isinstance(top, _Pairs):
        raise ReadbackProblem(path, [f"found {shown(top)}, allowed an object of fields"])
    names = [name for name, _ in top]
    held.wrong += [f"{name} stands twice" for name in ("tag", "version", "gears") if names.count(name) > 1]
    for name, value in top:
        if name in ("tag", "version"):
            held.bound(name, value)
        elif name == "gears" and isinstance(value, _Pairs):
            _json_gears(held, value)
        elif "gears" in names and name != "asks":
            held.wrong.append(f"{name}: found {'no object' if name == 'gears' else 'an unknown name'}, allowed tag, version, gears, asks")
        elif name != "asks":
            held.field(ONLY_GEAR, name, value, _inexact(value), "")
    return held.readback()


def _json_gears(held: _Gathered, gears: _Pairs) -> None:
    seen: set[str] = set()
    if not gears:
        held.wrong.append("it names no gear")
    for said, pairs in gears:
        name = _gear_name(said, held.wrong)
        if name in seen:
            held.wrong.append(f"gear {name} stands twice")
        elif not isinstance(pairs, _Pairs):
            held.wrong.append(f"{name}, found {shown(pairs)}, allowed an object of fields")
        else:
            for field, value in pairs:
                held.field(name, field, value, _inexact(value), f"{name}, ")
        seen.add(name)


_HEADINGS = ({"field", "value"}, {"gear", "field", "value"}, {"field", "asks", "value"}, {"gear", "field", "asks", "value"})


def _read_csv(path: Path) -> Readback:
    table = read_table(path)
    headings = [heading.strip().casefold() for heading in table[0]]
    if set(headings) not in _HEADINGS or len(set(headings)) != len(headings):
        raise ReadbackProblem(path, [f"its headings are {', '.join(table[0])}; they must be gear, field, asks, value "
                                     "(gear and asks may be left out)"])
    held = _Gathered(path)
    gears: set[str] = set()
    for number, row in enumerate(table[1:], 2):
        if not any(cell.strip() for cell in row):
            continue
        if len(row) != len(headings):
            held.wrong.append(f"row {number} has {len(row)} cells, allowed {len(headings)}")
            continue
        cells = {name: cell.strip() for name, cell in zip(headings, row, strict=True)}
        field, said = cells["field"], cells["value"]
        if field in ("tag", "version") and not cells.get("gear"):
            held.bound(field, None if not said else int(said) if field == "version" and said.isdecimal() else said)
            continue
        wrong: list[str] = []
        gear = _gear_name(cells["gear"], wrong) if cells.get("gear") else ONLY_GEAR
        gears.add(gear)
        problem = "; ".join(wrong) or _field_wrong(field)
        value = value_of_cell(field, said) if said and not problem else None
        held.field(gear, field, value, problem or (_inexact(value) or value_wrong(field, value) if value is not None else ""),
                   f"row {number}, ")
    if ONLY_GEAR in gears and len(gears) > 1:
        held.wrong.append("some rows name their gear and some do not")
    return held.readback()


def read_readback(path: Path) -> Readback:
    """A readback from a file.

    JSON: {"tag": …, "version": …, "gears": {"general": {"channels.1.current_ma": 700}}}, or the fields alone for the one
    gear there is; null is not read, "asks" is for people. CSV: columns gear, asks (both may be left out), field, value;
    values as on the command line ("1+3" for groups, "0:254 1:120" for scenes) or with their unit ("700 mA"), an empty one
    is not read; tag and version are fields without a gear. FORMAT.md, Readback, says which fields there are.

    Raises ReadbackProblem naming every field that is unknown, twice there, or not exact; FileProblem.
    """
    if path.suffix.casefold() == ".json":
        return _read_json(path)
    if path.suffix.casefold() == ".csv":
        return _read_csv(path)
    raise ReadbackProblem(path, [f"its ending is {path.suffix or 'missing'}; allowed .json and .csv"])


def readback_json(readback: Readback) -> dict[str, Any]:
    """The readback as JSON values, as `read_readback` takes them."""
    bound = {name: value for name, value in (("tag", readback.tag), ("version", readback.version)) if value is not None}
    only = readback.gears.get(ONLY_GEAR)
    return {**bound, **only} if only is not None and len(readback.gears) == 1 else {**bound, "gears": readback.gears}


def _written(path: Path, as_json: Mapping[str, Any], rows: list[list[str]]) -> None:
    if path.suffix.casefold() == ".json":
        write_whole(path, (json.dumps(as_json, indent=2, ensure_ascii=False) + "\n").encode())
    elif path.suffix.casefold() == ".csv":
        write_whole(path, table_bytes([["gear", "field", "asks", "value"], *rows]))
    else:
        raise ReadbackProblem(path, [f"its ending is {path.suffix or 'missing'}; allowed .json and .csv"])


def _bound_rows(tag: str | None, version: int | None) -> list[list[str]]:
    said = (("tag", "The luminaire that this is read from", tag), ("version", "Its record's version", version))
    return [["", name, asks, str(value)] for name, asks, value in said if value is not None]


def write_readback(path: Path, readback: Readback) -> None:
    """Write a readback as .json or .csv, whole or not at all. Raises GearkeepError: bad-readback, unwritable-file."""
    for fields in readback.gears.values():
        canonical(fields)
    rows = [[gear, field, "", cell_of(field, value)] for gear, fields in readback.gears.items() for field, value in fields.items()]
    _written(path, readback_json(readback), _bound_rows(readback.tag, readback.version) + rows)


def write_form(path: Path, *, tag: str, version: int, asks: Mapping[str, Sequence[Ask]]) -> None:
    """Write an empty readback as .json or .csv: every field with what is asked, nothing filled in. asks: by gear."""
    form = {"tag": tag, "version": version,
            "gears": {gear: dict.fromkeys(one.field for one in asked) for gear, asked in asks.items()},
            "asks": {one.field: one.says for asked in asks.values() for one in asked}}
    rows = [[gear, one.field, one.says, ""] for gear, asked in asks.items() for one in asked]
    _written(path, form, _bound_rows(tag, version) + rows)


__all__ = ["ONLY_GEAR", "Readback", "ReadbackProblem", "read_readback", "readback_json", "typed_value", "write_form",
           "write_readback"]
