"""Catalogues in spreadsheets: one row an entry, CSV or workbook, every wrong cell told with its row and column."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from vault.domain.schema import Problem
from vault.exchange.assign import ValueProblem, put
from vault.exchange.catalogue_cells import CellWrong, plain_of_cell, says_nothing
from vault.exchange.catalogue_headings import known_headings, path_of, spec_of
from vault.exchange.catalogue_problem import CatalogueProblem
from vault.exchange.file_kinds import catalogue_words, not_this, seems
from vault.exchange.heading_rows import column_letter
from vault.exchange.plain import nearest, shown
from vault.exchange.raw_table import Oddity, RawTable

_LOOKED_AT = 20
_UNFIT = (Oddity.DATE, Oddity.ERROR, Oddity.NO_VALUE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One row. called: "row 5, driver CC-40"; plain: its values by name; columns: dotted path -> the column's heading;
    problems: cells that cannot be read, whose values in `plain` are no values.
    """

    called: str
    plain: Mapping[str, Any]
    columns: Mapping[str, str] = field(default_factory=dict)
    problems: tuple[Problem, ...] = ()
    unread: frozenset[str] = frozenset()

    def located(self, problem: Problem) -> Problem | None:
        """The problem as one of a column, None for one that follows from a cell that cannot be read."""
        if any(problem.path == path or problem.path.startswith(f"{path}.") or path.startswith(f"{problem.path}.")
               for path in self.unread):
            return None
        path = problem.path
        while path and path not in self.columns:
            path = path.rpartition(".")[0]
        named = f"column {self.columns[path]!r}" if path else f"no column {problem.path!r}"
        beyond = problem.path[len(path) + 1:] if path else ""
        return Problem(path=f"{named} ({beyond})" if beyond else named, found=problem.found, allowed=problem.allowed)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Column:
    place: int
    heading: str
    path: str
    unit: str


def _order(column: _Column) -> list[tuple[int, str]]:
    return [(int(step), "") if step.isdigit() else (0, step) for step in column.path.removeprefix("-").split(".")]


class _Sheet:
    """The headings of one sheet, known and unknown."""

    def __init__(self, table: RawTable, catalogue: str, kind: type, name_field: str) -> None:
        self.table, self.row, self.columns = table, 0, list[_Column]()
        self.unknown: list[tuple[int, str]] = []
        for number, cells in enumerate(table.rows[:_LOOKED_AT], 1):
            found = [(place, cell.strip(), path_of(catalogue, kind, cell)) for place, cell in enumerate(cells) if cell.strip()]
            columns = [_Column(place=place, heading=heading, path=named[0], unit=named[1])
                       for place, heading, named in found if named is not None]
            if len(columns) > max(1, len(self.columns)) and any(column.path == name_field for column in columns):
                self.row, self.columns = number, columns
                self.unknown = [(place, heading) for place, heading, named in found if named is None and heading[0] != "#"]


def _chosen(sheets: Sequence[_Sheet], catalogue: str) -> _Sheet | Problem:
    named = [sheet for sheet in sheets if (sheet.table.sheet or "").casefold().startswith(catalogue)]
    whole = [sheet for sheet in sheets if not sheet.unknown]
    for some in (sheets, named, whole):
        if len(some) == 1:
            return some[0]
    return Problem(path="sheets", found=", ".join(repr(sheet.table.sheet) for sheet in sheets),
                   allowed=f"one sheet of {catalogue}s, or one that is called {catalogue}s")


def _refuse_foreign(path: Path, tables: Sequence[RawTable], sheets: Sequence[_Sheet], catalogue: str, name_field: str) -> None:
    """Raises CatalogueProblem for a file of another kind: no sheet has the headings, or they say that it is something else."""
    wanted = f"a list of {catalogue_words(catalogue)}"
    strange = all(len(sheet.unknown) > len(sheet.columns) for sheet in sheets)
    if strange and (not sheets or seems(tables) not in ("", wanted)):
        needed = (f"a column {name_field!r} and others of a {catalogue}: names of fields, or headings of data sheets with their "
                  "units")
        raise CatalogueProblem(path, (), not_this(path.name, tables, wanted, needed))


def _heading_problems(sheet: _Sheet, catalogue: str) -> list[Problem]:
    known = known_headings(catalogue)
    otherwise = "the name of a field; # before it leaves the column out"
    problems = [Problem(path=f"column {heading!r}", found="an unknown heading", allowed=nearest(heading, known) or otherwise)
                for _, heading in sheet.unknown]
    first: dict[str, str] = {}
    for column in sheet.columns:
        if column.path in first:
            found = f"{column.path} a second time, after {first[column.path]!r}"
            problems.append(Problem(path=f"column {column.heading!r}", found=found, allowed="each field once"))
        first.setdefault(column.path, column.heading)
    return problems


def _entry(sheet: _Sheet, number: int, catalogue: str, kind: type, name_field: str) -> Entry:
    cells = sheet.table.rows[number - 1]
    tree: dict[str, Any] = {}
    problems: list[Problem] = []
    unread: set[str] = set()
    at = {column.path.removeprefix("-"): column.heading for column in sheet.columns}
    for column in sorted(sheet.columns, key=_order):
        cell = cells[column.place] if column.place < len(cells) else ""
        path = column.path.removeprefix("-")
        remark = sheet.table.remarks.get((number, column.place))
        try:
            if remark is not None and remark.oddity in _UNFIT:
                raise CellWrong(f"no {remark.oddity.value}: write the value itself, as text")
            if says_nothing(cell):
                continue
            spec = spec_of(kind, path)
            value: object = cell.strip() if spec is None else plain_of_cell(path, spec, cell, column.unit)
            if path != column.path and isinstance(value, int):
                value = _below_zero(value)
            put(tree, path, value)
        except (CellWrong, ValueProblem) as wrong:
            problems.append(Problem(path=f"column {column.heading!r}", found=shown(cell.strip()), allowed=str(wrong)))
            unread.add(path)
    known = {column.place for column in sheet.columns} | {place for place, _ in sheet.unknown}
    headed = {place for place, cell in enumerate(sheet.table.rows[sheet.row - 1]) if cell.strip()}
    problems += [Problem(path=f"column {column_letter(place)}", found=shown(cell.strip()), allowed="no cell without a heading")
                 for place, cell in enumerate(cells) if cell.strip() and place not in known | headed]
    name = tree.get(name_field)
    called = f"row {number}, {catalogue} {name}" if isinstance(name, str) else f"row {number}"
    return Entry(called=called, plain=tree, columns=at, problems=tuple(problems), unread=frozenset(unread))


def _below_zero(value: int) -> int:
    """-25 °C is 25 below zero; a figure above zero cannot be said so."""
    if value > 0:
        raise CellWrong("0 °C or less")
    return -value


def read_entries(path: Path, catalogue: str, kind: type, name_field: str) -> tuple[list[Entry], list[tuple[str, Problem]]]:
    """The entries of a spreadsheet, and what is wrong with its sheets and headings. Raises FileProblem, CatalogueProblem for a
    file of another kind.

    Headings are names of fields (dotted: gears.1.modules.1.current_max_ma), whose figures stand in the field's own unit,
    or what data sheets say, with the unit in the heading or in the cell ("max. output voltage (V)"). Lists stand with + or ;
    between, a window in one of the forms of `catalogue_windows`. A heading that begins with # is not read.
    """
    from vault.exchange.tables import read_tables

    tables = read_tables(path)
    sheets = [one for table in tables if (one := _Sheet(table, catalogue, kind, name_field)).row]
    _refuse_foreign(path, tables, sheets, catalogue, name_field)
    sheet = _chosen(sheets, catalogue)
    if isinstance(sheet, Problem):
        return [], [(path.name, sheet)]
    wrong = [(f"row {sheet.row}", problem) for problem in _heading_problems(sheet, catalogue)]
    rows = [number for number in range(sheet.row + 1, len(sheet.table.rows) + 1)
            if any(re.search(r"\S", cell) for cell in sheet.table.rows[number - 1])]
    if not rows:
        wrong.append((path.name, Problem(path="rows", found="none below the headings", allowed=f"one for each {catalogue}")))
    return [_entry(sheet, number, catalogue, kind, name_field) for number in rows], wrong
