"""A luminaire schedule of anybody's making, turned into a table under our headings that the strict reader reads.

Where the file alone does not say what a column or a cell means, nothing is guessed: it is a question, and its answer is kept
in a mapping.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from vault.domain.rating import Rating
from vault.domain.site import Circuit, Line, LineKind
from vault.exchange.asked import FileQuestion
from vault.exchange.column_mapping import map_columns
from vault.exchange.heading_rows import choose_sheet, find_headings
from vault.exchange.raw_table import RawTable
from vault.exchange.schedule import Told
from vault.exchange.schedule_columns import EXTRA, GEAR_COLUMNS, LUMINAIRE_COLUMNS
from vault.exchange.schedule_headings import IGNORE, NEEDED, TOLD, ScheduleProblem, is_added, plain_heading
from vault.exchange.schedule_mapping import ScheduleMapping
from vault.exchange.table_limits import Progress, quiet
from vault.exchange.tables import read_tables
from vault.exchange.translation_answers import not_asked
from vault.exchange.translation_columns import Ledger
from vault.exchange.translation_names import Names
from vault.exchange.translation_result import Translation
from vault.exchange.translation_rows import data_of, section_of
from vault.exchange.translation_table import Known, translated
from vault.exchange.translation_worthless import reject_worthless


def translate(path: Path, *, ratings: Mapping[str, Rating], lines: Mapping[str, Line], circuits: Mapping[str, Circuit],
              drivers: Collection[str], mapping: ScheduleMapping, progress: Progress = quiet) -> Translation:
    """What a file says in our columns, and what it leaves open.

    A file whose first row holds our own headings alone is not interpreted: its cells are left to the strict reader.
    progress: rows read, then rows translated.

    Raises FileProblem for what is no table, ScheduleProblem for a table that cannot be a luminaire schedule.
    """
    tables = read_tables(path, progress)
    several = len(tables) > 1
    if mapping.sheet is None and several:
        from vault.exchange.cobie_book import is_cobie

        if is_cobie(tables):
            return _from_cobie(path, tables, ratings=ratings, lines=lines, circuits=circuits, drivers=drivers, mapping=mapping,
                               progress=progress)
    raw = choose_sheet(tables, mapping)
    if isinstance(raw, FileQuestion):
        return Translation(path=path, raw=tables[0], table=(NEEDED,), row_numbers=(), questions=(raw,), several_sheets=several)
    if _is_ours(raw):
        return as_ours(path, raw, mapping.columns, mapping.answers)
    known = _known(ratings, lines, circuits, drivers)
    return _foreign(path, raw, known, mapping, several=several, progress=progress)


def _known(ratings: Mapping[str, Rating], lines: Mapping[str, Line], circuits: Mapping[str, Circuit],
           drivers: Collection[str]) -> Known:
    types, wires = "gearkeep type load FILE", "gearkeep circuit load FILE"
    return Known(ratings=ratings, lines=lines, names={
        "type": Names(kind="fixture type", load=types, known=ratings),
        "line": Names(kind="control line", load="gearkeep line load FILE", known=lines,
                      preferred=[name for name, line in lines.items() if line.kind is LineKind.DALI]),
        "circuit": Names(kind="circuit", load=wires, known=circuits),
        "central_circuit": Names(kind="circuit", load=wires, known=circuits),
        "driver": Names(kind="driver model", load="gearkeep driver load FILE", known=drivers)})


def _from_cobie(path: Path, tables: Sequence[RawTable], *, ratings: Mapping[str, Rating], lines: Mapping[str, Line],
                circuits: Mapping[str, Circuit], drivers: Collection[str], mapping: ScheduleMapping,
                progress: Progress) -> Translation:
    """The luminaires of a COBie workbook; its rows are those of the sheet Component."""
    from vault.exchange.cobie_book import told_in_groups
    from vault.exchange.cobie_read import luminaire_table

    read = luminaire_table(tables, mapping.answers)
    if read.ours:
        # What gearkeep wrote stands in our own words: nothing in it has to be made out.
        seen = as_ours(path, read.table, {}, not_asked(mapping.answers, read.table.rows[0]))
    else:
        first = replace(mapping, heading_row=1)
        seen = _foreign(path, read.table, _known(ratings, lines, circuits, drivers), first, several=False, progress=progress)
    left = {one.row: f"{one.name}: {one.why}" for one in read.left if one.sheet == "Component"}
    others = told_in_groups([*read.noted, *(one for one in read.left if one.sheet != "Component")])
    return replace(seen, questions=(*read.questions, *seen.questions), skipped={**seen.skipped, **left},
                   notes=(*seen.notes, *others))


def _foreign(path: Path, raw: RawTable, known: Known, mapping: ScheduleMapping, *, several: bool,
             progress: Progress) -> Translation:
    headings = find_headings(raw, mapping)
    if isinstance(headings, FileQuestion):
        return Translation(path=path, raw=raw, table=(NEEDED,), row_numbers=(), questions=(headings,), several_sheets=several)
    decided = ScheduleMapping(sheet=mapping.sheet, heading_row=mapping.heading_row, answers=mapping.answers,
                              columns={**{name: IGNORE for name in headings.names if is_added(name)}, **mapping.columns})
    data = data_of(raw, headings, mapping)
    mapped = map_columns(headings, zip(data.numbers, data.rows, strict=True), decided)
    if mapped.problems:
        raise ScheduleProblem(f"{path.name}: {'; '.join(problem.rstrip('.') for problem in mapped.problems)}",
                              "say which column is which in a mapping file (--map); --save-map writes one to begin with, "
                              f"and the fields are {', '.join((*LUMINAIRE_COLUMNS, *GEAR_COLUMNS))}")
    return translated(path, raw, headings, data, mapped, section_of(data, headings, mapping), decided, known,
                      several_sheets=several, progress=progress)


def _is_ours(raw: RawTable) -> bool:
    """Whether the first row holds our own headings, the needed ones among them, and nothing else."""
    names = [plain_heading(cell) for cell in raw.rows[0] if cell.strip() and not is_added(cell)] if raw.rows else []
    return set(NEEDED) <= set(names) and all(
        name in LUMINAIRE_COLUMNS or name in GEAR_COLUMNS or name.startswith((EXTRA, TOLD)) for name in names)


def as_ours(path: Path, raw: RawTable, columns: Mapping[str, str], answers: Collection[str] = ()) -> Translation:
    """A table whose headings are ours, or become ours by a plain mapping; its cells stand as they are and raise no questions."""
    numbers = range(2, len(raw.rows) + 1)
    ledger = Ledger(numbers=numbers)
    reject_worthless(raw, {at: (name, (plain_heading(columns.get(name, name)),)) for at, name in enumerate(raw.rows[0])}, ledger)
    told = Told(row_numbers=numbers, rejected=ledger.rejected,
                silent={numbers[at]: frozenset(names) for at, names in ledger.silent.items()}) if ledger.rejected else None
    return Translation(path=path, raw=raw, table=raw.rows, row_numbers=numbers, headings=tuple(raw.rows[0]), heading_row=1,
                       first_row=2, strict=True, mapping=columns, told=told, strange=tuple(answers))


__all__ = ["Translation", "as_ours", "translate"]
