"""The as-built table of a pack: a luminaire schedule under our own headings, which `handover` reads again."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from vault.domain.rating import Rating
from vault.domain.schema import flatten
from vault.domain.settings import Gear
from vault.domain.site import Line
from vault.domain.voltage import coldest_c
from vault.exchange.schedule_columns import EXTRA, GEAR_COLUMNS, LUMINAIRE_COLUMNS
from vault.exchange.schedule_headings import TOLD
from vault.exchange.schedule_row import read_cells, read_gear
from vault.exchange.schedule_written import cell_of
from vault.exchange.table_out import csv_bytes

FURTHER = f"{TOLD}further_settings"


@dataclass(frozen=True, slots=True, kw_only=True)
class TableRow:
    """One gear. rating: the type's newest, under which the row will be read; None where there is none.

    told: what stands in columns of the table's own, name without `as_built_` -> text; a reader passes them over.
    """

    reference: str
    type_code: str
    place: str
    line_name: str | None
    circuit: str | None
    gear: Gear
    line: Line | None
    rating: Rating | None
    told: Mapping[str, str]


def as_built_table(rows: Iterable[TableRow]) -> bytes:
    """CSV in UTF-8 with a byte-order mark, our headings first, then those that only tell.

    What a row under our headings cannot say, or what the type's rating would fill in where nothing is recorded, stands in
    the column `as_built_further_settings` as path=value.
    """
    made = [_cells(row) for row in rows]
    used = {name for cells in made for name, cell in cells.items() if cell}
    extras = sorted(name for name in used if name.startswith(EXTRA))
    told = list(dict.fromkeys(name for cells in made for name in cells if name.startswith(TOLD)))
    names = [*LUMINAIRE_COLUMNS, *(name for name in GEAR_COLUMNS if name in used or name == "gear"), *extras, *told]
    return csv_bytes([names, *([cells.get(name, "") for name in names] for cells in made)])


def _cells(row: TableRow) -> dict[str, str]:
    cells = {"reference": row.reference, "type": row.type_code, "place": row.place, "line": row.line_name or "",
             "circuit": row.circuit or ""}
    flat = flatten(row.gear)
    for name, column in GEAR_COLUMNS.items():
        if column.path in flat and not (name == "address" and row.line is None):
            cells[name] = cell_of(column.path, flat[column.path], row.line)
    cells |= {f"{EXTRA}{name}": value for name, value in row.gear.settings.extras if isinstance(value, str)}
    return {**cells, **{f"{TOLD}{name}": said for name, said in row.told.items()}, FURTHER: _further(row, cells, flat)}


def _further(row: TableRow, cells: Mapping[str, str], flat: Mapping[str, Any]) -> str:
    """What reading the row again would not give back."""
    position = row.rating.gear_for(row.gear.duty) if row.rating is not None else None
    again: Mapping[str, Any] = {}
    if row.rating is not None and position is not None:
        filled = {name: cell for name, cell in cells.items() if cell}
        values, _ = read_cells(filled, row.line)
        gear, _ = read_gear(filled, values, position, ambient_min_c=coldest_c(row.rating))
        again = flatten(gear) if gear is not None else {}
    differ = [name for name in dict.fromkeys([*flat, *again]) if flat.get(name) != again.get(name) and name != "readback_digest"]
    return "; ".join(f"{name.removeprefix('settings.')}={flat.get(name, 'not recorded')}" for name in differ)


