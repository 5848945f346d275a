"""What was read from a luminaire's drivers, as a file: JSON or CSV of dotted setting names and exact values."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from vault.domain.readback import canonical
from vault.domain.readback_form import Ask
from vault.exchange.files import read_bytes, read_table, write_whole
from vault.exchange.plain import shown
from vault.exchange.readback_gathered import (
    ONLY_GEAR,
    Float,
    Gathered,
    Pairs,
    Readback,
    ReadbackProblem,
    field_wrong,
    gear_name,
    inexact,
)
from vault.exchange.readback_value import cell_of, typed_value, value_of_cell, value_wrong
from vault.exchange.table_out import csv_bytes, unsafe_cell


def _read_json(path: Path) -> Readback:
    try:
        top = json.loads(read_bytes(path).decode("utf-8-sig"), object_pairs_hook=Pairs, parse_float=Float,
                         parse_constant=Float)
    except (ValueError, RecursionError) as error:
        raise ReadbackProblem(path, [f"it is not JSON in UTF-8 ({error})"]) from error
    held = Gathered(path)
    if not isinstance(top, Pairs):
        raise ReadbackProblem(path, [f"found {shown(top)}, allowed an object of fields"])
    names = [name for name, _ in top]
    held.wrong += [f"{name} stands twice" for name in ("tag", "version", "gears") if names.count(name) > 1]
    for name, value in top:
        if name in ("tag", "version"):
            held.bound(name, value)
        elif name == "gears" and isinstance(value, Pairs):
            _json_gears(held, value)
        elif "gears" in names and name != "asks":
            found = "no object" if name == "gears" else "an unknown name"
            held.wrong.append(f"{name}: found {found}, allowed tag, version, gears, asks")
        elif name != "asks":
            held.field(ONLY_GEAR, name, value, inexact(value), "")
    return held.readback()


def _json_gears(held: Gathered, gears: Pairs) -> None:
    seen: set[str] = set()
    if not gears:
        held.wrong.append("it names no gear")
    for said, pairs in gears:
        name = gear_name(said, held.wrong)
        if name in seen:
            held.wrong.append(f"gear {name} stands twice")
        elif not isinstance(pairs, Pairs):
            held.wrong.append(f"{name}, found {shown(pairs)}, allowed an object of fields")
        else:
            for field, value in pairs:
                held.field(name, field, value, inexact(value), f"{name}, ")
        seen.add(name)


_HEADINGS = ({"field", "value"}, {"gear", "field", "value"}, {"field", "asks", "value"}, {"gear", "field", "asks", "value"})


def _read_csv(path: Path) -> Readback:
    table = read_table(path)
    headings = [heading.strip().casefold() for heading in table[0]]
    if set(headings) not in _HEADINGS or len(set(headings)) != len(headings):
        raise ReadbackProblem(path, [f"its headings are {', '.join(table[0])}; they must be gear, field, asks, value "
                                     "(gear and asks may be left out)"])
    held = Gathered(path)
    gears: set[str] = set()
    for number, row in enumerate(table[1:], 2):
        if not any(cell.strip() for cell in row):
            continue
        if len(row) != len(headings):
            held.wrong.append(f"row {number} has {len(row)} cells, allowed {len(headings)}")
            continue
        cells = {name: unsafe_cell(cell.strip()) for name, cell in zip(headings, row, strict=True)}
        field, said = cells["field"], cells["value"]
        if field in ("tag", "version") and not cells.get("gear"):
            held.bound(field, None if not said else int(said) if field == "version" and said.isdecimal() else said)
            continue
        wrong: list[str] = []
        gear = gear_name(cells["gear"], wrong) if cells.get("gear") else ONLY_GEAR
        gears.add(gear)
        problem = "; ".join(wrong) or field_wrong(field)
        value = value_of_cell(field, said) if said and not problem else None
        held.field(gear, field, value, problem or (inexact(value) or value_wrong(field, value) if value is not None else ""),
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
        write_whole(path, csv_bytes([["gear", "field", "asks", "value"], *rows]))
    else:
        raise ReadbackProblem(path, [f"its ending is {path.suffix or 'missing'}; allowed .json and .csv"])


def _bound_rows(tag: str | None, version: int | None) -> list[list[str]]:
    said = (("tag", "The luminaire that this is read from", tag), ("version", "Its record's version", version))
    return [["", name, asks, str(value)] for name, asks, value in said if value is not None]


def write_readback(path: Path, readback: Readback) -> None:
    """Write a readback as .json or .csv, whole or not at all. Raises GearkeepError: bad-readback, unwritable-file."""
    for fields in readback.gears.values():
        canonical(fields)
    rows = [[gear, field, "", cell_of(field, value)]
            for gear, fields in readback.gears.items() for field, value in fields.items()]
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
