"""Burning hours of circuits and fixture types: CSV, a workbook or TOML."""

from __future__ import annotations

from pathlib import Path

from vault.errors import GearkeepError
from vault.exchange.complaints import told
from vault.exchange.file_kinds import HOURS_COLUMNS, not_this, seems
from vault.exchange.plain import nearest
from vault.exchange.raw_table import RawTable
from vault.exchange.tables import read_tables
from vault.exchange.toml_file import read_toml
from vault.spares.burning_hours import DEFAULT_H, YEAR_H, HoursTable

WANTED = "a list of burning hours"
_HINT = ("A table has the columns circuit, type and hours, and each row one of the first two, or neither for all others. "
         "TOML has default = 4000 and tables [circuit] and [type] with NAME = HOURS. Correct the file and try again.")


def read_hours_file(path: Path) -> HoursTable:
    """Hours a year by circuit and by type. Raises GearkeepError: bad-hours with what is wrong, unreadable-file."""
    entries, wrong = _toml(path) if path.suffix.casefold() == ".toml" else _table(path)
    held: dict[tuple[str, str], int] = {}
    for where, kind, name, said in entries:
        # TOML writes a number, a table a text.
        hours = int(said) if isinstance(said, str) and said.isascii() and said.isdecimal() and len(said) < 6 else said
        if not isinstance(hours, int) or isinstance(hours, bool) or not 0 <= hours <= YEAR_H:
            wrong.append(f"{where}: found {said!r}, allowed whole hours a year from 0 to {YEAR_H}")
        elif (kind, name) in held:
            wrong.append(f"{where}: {f'{kind} {name}' if name else 'all others'} stands twice")
        else:
            held[kind, name] = hours
    if wrong:
        raise GearkeepError(told(path.name, wrong), kind="bad-hours", hint=_HINT)
    by: dict[str, dict[str, int]] = {"circuit": {}, "type": {}}
    for (kind, name), hours in held.items():
        if kind in by:
            by[kind][name] = hours
    return HoursTable(by_circuit=by["circuit"], by_type=by["type"], default=held.get(("default", ""), DEFAULT_H),
                      source=path.name)


_Entries = tuple[list[tuple[str, str, str, object]], list[str]]


def _toml(path: Path) -> _Entries:
    said = read_toml(path)
    entries: list[tuple[str, str, str, object]] = []
    wrong = []
    for name, value in said.items():
        if name == "default":
            entries.append((name, "default", "", value))
        elif name in ("circuit", "type") and isinstance(value, dict):
            entries += [(f"{name}.{key}", name, key, hours) for key, hours in value.items()]
        else:
            wrong.append(f"found {name!r}, allowed default, [circuit], [type]")
    return entries, wrong


def _table(path: Path) -> _Entries:
    entries: list[tuple[str, str, str, object]] = []
    wrong = []
    tables = read_tables(path)
    strange = all("hours" not in _headings(table) for table in tables)
    if strange and not any(map(_nearly, map(_headings, tables))) and seems(tables) not in ("", WANTED):
        raise GearkeepError(not_this(path.name, tables, WANTED, "hours, and circuit or type"), kind="bad-hours", hint=_HINT)
    for table in tables:
        names = _headings(table)
        if "hours" not in names or set(names) - {*HOURS_COLUMNS, ""} or len(set(names)) < len(names):
            near = [f"{name}: {guess}" for name in names if name and name not in HOURS_COLUMNS
                    and (guess := nearest(name, HOURS_COLUMNS))]
            wrong.append(f"row 1: found {', '.join(names)}, allowed {', '.join(HOURS_COLUMNS)}, each once"
                         + (f" ({'; '.join(near)})" if near else ""))
            continue
        for number, row in enumerate(table.rows[1:], 2):
            cells = {name: cell.strip() for name, cell in zip(names, row, strict=False) if name and cell.strip()}
            said = [kind for kind in ("circuit", "type") if kind in cells]
            if len(said) == 2:
                wrong.append(f"row {number}: found a circuit and a type, allowed one of them")
            elif cells:
                kind = said[0] if said else "default"
                entries.append((f"row {number}, hours", kind, cells.get(kind, ""), cells.get("hours", "")))
    return entries, wrong


def _headings(table: RawTable) -> list[str]:
    return [heading.strip().casefold() for heading in table.rows[0]] if table.rows else []


def _nearly(names: list[str]) -> bool:
    """Whether every heading is one of ours, or nearly: whoever gives such a file as hours means hours."""
    said = list(filter(None, names))
    return len(said) > 1 and all(name in HOURS_COLUMNS or nearest(name, HOURS_COLUMNS) for name in said)
