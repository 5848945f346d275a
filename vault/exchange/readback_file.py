"""What was read from a driver, as a file: JSON or CSV of dotted setting names and exact values."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from vault.domain.readback import MEASURED
from vault.domain.schema import from_words, words
from vault.domain.settings import Duty, Gear, Settings
from vault.errors import GearkeepError
from vault.exchange.assign import ValueProblem, leaf, plain_of_text
from vault.exchange.files import read_bytes, read_table
from vault.exchange.plain import nearest, shown

# The key of a readback that does not say which gear it is of: the luminaire has but one.
ONLY_GEAR = ""


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
    if field in ("model", "serial") or MEASURED.fullmatch(field):
        return ""
    try:
        leaf(Settings, field)
    except ValueProblem as error:
        return f"{error.what}{f' ({error.hint})' if error.hint else ''}"
    return ""


def _value_wrong(value: object) -> str:
    """What is wrong with a value, or the empty text."""
    if isinstance(value, _Float):
        return f"found {value.said}, allowed whole numbers, texts and lists of whole numbers"
    if isinstance(value, bool):
        return f"found {str(value).lower()}, allowed whole numbers, texts and lists of whole numbers"
    if isinstance(value, list) and not isinstance(value, _Pairs):
        return next((wrong for wrong in map(_value_wrong, value) if wrong), "")
    if value is None or isinstance(value, _Pairs):
        found = "nothing" if value is None else "an object"
        return f"found {found}, allowed whole numbers, texts and lists of whole numbers"
    return ""


def _gear_name(said: str, wrong: list[str]) -> str:
    duty = from_words(Duty, said)
    if duty is None:
        known = [words(member) for member in Duty]
        wrong.append(f"{said!r} is no gear: {nearest(said, known) or 'one of ' + ', '.join(known)}")
        return said
    return words(duty)


def _fields(name: str, pairs: object, wrong: list[str]) -> dict[str, object]:
    fields: dict[str, object] = {}
    called = f"{name}, " if name else ""
    if not isinstance(pairs, _Pairs):
        wrong.append(f"{called}found {shown(pairs)}, allowed an object of fields")
        return fields
    for field, value in pairs:
        problem = "stands twice" if field in fields else _field_wrong(field) or _value_wrong(value)
        if problem:
            wrong.append(f"{called}{field}: {problem}")
        fields[field] = value
    if not fields:
        wrong.append(f"{called}no field was read")
    return fields


def _read_json(path: Path) -> dict[str, dict[str, object]]:
    try:
        top = json.loads(read_bytes(path).decode("utf-8-sig"), object_pairs_hook=_Pairs, parse_float=_Float,
                         parse_constant=_Float)
    except (UnicodeDecodeError, json.JSONDecodeError, RecursionError) as error:
        raise ReadbackProblem(path, [f"it is not JSON in UTF-8 ({error})"]) from error
    wrong: list[str] = []
    readback: dict[str, dict[str, object]] = {}
    if isinstance(top, _Pairs) and [key for key, _ in top] == ["gears"] and isinstance(top[0][1], _Pairs):
        for said, pairs in top[0][1]:
            name = _gear_name(said, wrong)
            if name in readback:
                wrong.append(f"gear {name} stands twice")
            readback[name] = _fields(name, pairs, wrong)
        if not readback:
            wrong.append("it names no gear")
    else:
        readback[ONLY_GEAR] = _fields(ONLY_GEAR, top, wrong)
    if wrong:
        raise ReadbackProblem(path, wrong)
    return readback


def _read_csv(path: Path) -> dict[str, dict[str, object]]:
    table = read_table(path)
    headings = [heading.strip().casefold() for heading in table[0]]
    if sorted(headings) not in (["field", "gear", "value"], ["field", "value"]):
        raise ReadbackProblem(path, [f"its headings are {', '.join(table[0])}; they must be gear, field, value"])
    wrong: list[str] = []
    readback: dict[str, dict[str, object]] = {}
    for number, row in enumerate(table[1:], 2):
        if not any(cell.strip() for cell in row):
            continue
        if len(row) != len(headings):
            wrong.append(f"row {number} has {len(row)} cells, allowed {len(headings)}")
            continue
        cells = {name: cell.strip() for name, cell in zip(headings, row, strict=True)}
        field, said = cells["field"], cells["value"]
        gear_wrong: list[str] = []
        gear = _gear_name(cells["gear"], gear_wrong) if cells.get("gear") else ONLY_GEAR
        problem = "; ".join(gear_wrong) or _field_wrong(field) or ("" if said else "its value is empty")
        value: object = said
        if not problem:
            name, spec = leaf(Gear if field in ("model", "serial") else Settings, field)
            value = plain_of_text(name, spec, said)
            if spec.shape in ("whole", "table") and isinstance(value, str) and value.casefold() != "not set":
                problem = f"found {said!r}, allowed whole numbers or not set"
        if field in readback.get(gear, {}):
            problem = f"{field} stands twice for {gear or 'the gear'}"
        if problem:
            wrong.append(f"row {number}, {field}: {problem}")
        readback.setdefault(gear, {})[field] = value
    if not readback:
        wrong.append("no field was read")
    if ONLY_GEAR in readback and len(readback) > 1:
        wrong.append("some rows name their gear and some do not")
    if wrong:
        raise ReadbackProblem(path, wrong)
    return readback


def read_readback(path: Path) -> dict[str, dict[str, object]]:
    """Gear (its duty in words, or "" where the file names none) -> dotted settings field -> plain value.

    JSON: {"gears": {"general": {"channels.1.current_ma": 700}}}, or the fields alone for the one gear there is.
    CSV: columns gear (may be left out), field, value, values written as on the command line ("1+3" for groups,
    "0:254 1:120" for scenes). Fields are those of `schema.flatten(Settings)`, and model and serial.

    Raises ReadbackProblem naming every field that is unknown, twice there, or not exact; FileProblem.
    """
    if path.suffix.casefold() == ".json":
        return _read_json(path)
    if path.suffix.casefold() == ".csv":
        return _read_csv(path)
    raise ReadbackProblem(path, [f"its ending is {path.suffix or 'missing'}; allowed .json and .csv"])
