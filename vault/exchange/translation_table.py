"""The cells of a file under its mapped columns, turned into the table that the strict reader reads."""

from __future__ import annotations

import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from vault.domain.rating import Rating
from vault.domain.site import Line
from vault.exchange.cell_reading import ColumnFacts, Said
from vault.exchange.column_mapping import Mapped, MappedColumn
from vault.exchange.column_survey import survey
from vault.exchange.heading_rows import Headings
from vault.exchange.raw_table import RawTable, Remark
from vault.exchange.schedule import Told
from vault.exchange.schedule_columns import EXTRA, GEAR_COLUMNS, LUMINAIRE_COLUMNS
from vault.exchange.schedule_mapping import ScheduleMapping
from vault.exchange.table_limits import Progress
from vault.exchange.translation_addresses import as_the_lines_count
from vault.exchange.translation_answers import not_asked, refuse_wrong_words
from vault.exchange.translation_boards import join_boards
from vault.exchange.translation_columns import Ledger, ReadColumn, targets
from vault.exchange.translation_merge import Source, agreed, joined_place, joined_scenes, place_sources, scene_sources
from vault.exchange.translation_missing import fill_missing
from vault.exchange.translation_names import Names, resolve, unknown_drivers
from vault.exchange.translation_rating import FACTS, held_against_ratings
from vault.exchange.translation_result import Translation
from vault.exchange.translation_rows import (
    Data,
    Section,
    numbered,
    section_column,
    section_rows,
    several,
    sure,
    written_out,
)
from vault.exchange.translation_worthless import reject_worthless
from vault.exchange.values import is_ditto


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """What the vault knows. names: our column -> the names that may stand in it."""

    ratings: Mapping[str, Rating]
    lines: Mapping[str, Line]
    names: Mapping[str, Names]

    def counts_from(self) -> int | None:
        """How all lines count their addresses, None where they do not agree or there are none."""
        found = {line.addresses_from for line in self.lines.values()}
        return found.pop() if len(found) == 1 else None


@dataclass(slots=True, kw_only=True)
class _Work:
    """One translation on its way."""

    raw: RawTable
    data: Data
    answers: Mapping[str, str]
    known: Known
    ledger: Ledger
    notes: list[str]

    def column(self, mapped: MappedColumn, cells: list[str]) -> ReadColumn:
        """A column with its readings, and the questions that it raises."""
        prefix = f"{mapped.heading}: "
        facts = ColumnFacts(field=mapped.field, heading=mapped.heading, unit=mapped.unit, answers={
            key.removeprefix(prefix): word for key, word in self.answers.items() if key.startswith(prefix)})
        cells = _filled(cells, facts)
        column = ReadColumn(mapped=mapped, cells=cells, numbers=self.data.numbers)
        if mapped.field.startswith(EXTRA):
            column.readings = {text: Said(values={mapped.field: text} if text else {}, rule="") for text in set(cells)}
            return column
        found = survey(_first_and_count(cells, self.data.numbers), facts, self._remarks(mapped.place),
                       counts_from=self.known.counts_from())
        for question in found.questions:
            self.ledger.ask(question)
        self.notes += found.notes
        column.numbering = found.facts.answers.get("numbering", "")
        column.readings = dict(found.readings)
        return column

    def _remarks(self, place: int) -> dict[str, Remark]:
        rows = self.raw.rows
        return {rows[row - 1][column].strip(): remark for (row, column), remark in self.raw.remarks.items()
                if column == place and column < len(rows[row - 1])}


def _filled(cells: list[str], facts: ColumnFacts) -> list[str]:
    """The cells, those that say "as above" with what stands above them."""
    dittos = {text for text in set(cells) if is_ditto(text, facts)}
    if not dittos:
        return cells
    out, last = [], ""
    for cell in cells:
        last = last if cell in dittos and last else cell
        out.append(last)
    return out


def _first_and_count(cells: Sequence[str], numbers: Sequence[int]) -> dict[str, tuple[int, int]]:
    found: dict[str, list[int]] = {}
    for number, cell in zip(numbers, cells, strict=True):
        own = found.get(cell)
        if own is None:
            found[cell] = [number, 1]
        else:
            own[1] += 1
    return {text: (first, count) for text, (first, count) in found.items()}


def translated(path: Path, raw: RawTable, headings: Headings, data: Data, mapped: Mapped, section: Section | None,
               mapping: ScheduleMapping, known: Known, *, several_sheets: bool,
               progress: Progress) -> Translation:
    """The translation of a table whose headings are known."""
    refuse_wrong_words(mapping.answers)
    ledger = Ledger(numbers=data.numbers)
    work = _Work(raw=raw, data=data, answers=mapping.answers, known=known, ledger=ledger, notes=[])
    columns = _read_columns(work, mapped, section, progress)
    wait_for_answers(mapped, data, section, ledger)
    boards = [one for one in columns if one.mapped.field == "board"]
    for column in columns:
        for key in column.names():
            if key in known.names and not (key == "circuit" and boards):
                for question in resolve(column, key, known.names[key], mapping.answers):
                    ledger.ask(question)
    work.notes += unknown_drivers(columns, known.names["driver"])
    for column in columns:
        ledger.enter(column)
    reject_worthless(raw, {one.mapped.place: (one.heading, targets(one.mapped.field)) for one in columns}, ledger)
    facts = [one for one in columns if is_fact(one, mapping.answers, work.notes)]
    table = merged(columns, [one for one in facts if one.mapped.field == "power_w"], boards, work)
    fill_missing(table, known.ratings, mapping.answers, ledger)
    counts = _counts(columns, mapping.answers, ledger)
    names = list(table)
    cells, places = written_out([table[name] for name in names], counts, names.index("reference"), ledger)
    numbers = numbered(places, data.numbers)
    return Translation(
        path=path, raw=raw, table=[tuple(names), *zip(*cells, strict=True)], row_numbers=numbers, headings=headings.names,
        heading_row=headings.row, first_row=headings.first_row, columns=mapped.columns,
        questions=tuple(ledger.questions.values()), decided=tuple(mapping.answers.items()),
        strange=not_asked(mapping.answers, headings.names),
        sections=tuple(sorted(headings.sections)) if section is not None and section.field else (),
        skipped={**data.skipped, **section_rows(headings, section)}, notes=tuple(dict.fromkeys(work.notes)),
        asked_rows=frozenset(data.numbers[at] for at in ledger.asked), several_sheets=several_sheets,
        told=Told(row_numbers=numbers, rejected=ledger.rejected,
                  silent={number: frozenset(ledger.silent[at]) for number, at in zip(numbers, places, strict=True)
                          if at in ledger.silent}),
        findings=held_against_ratings(facts, places, cells[names.index("type")], cells[names.index("reference")], known.ratings),
        sources={name: tuple(one for one in columns if name in targets(one.mapped.field)) for name in names})


def _read_columns(work: _Work, mapped: Mapped, section: Section | None, progress: Progress) -> list[ReadColumn]:
    read, rows = sure(mapped), work.data.rows
    found = []
    for done, one in enumerate(read, 1):
        at = one.place
        found.append(work.column(one, [sys.intern(row[at].strip()) if at < len(row) else "" for row in rows]))
        progress(len(rows) * done // len(read), len(rows))
    if section is not None and section.field:
        found.append(work.column(section_column(section, len(mapped.columns)), section.cells))
    return found


def _counts(columns: Sequence[ReadColumn], answers: Mapping[str, str], ledger: Ledger) -> dict[int, int]:
    references = [one for one in columns if one.mapped.field == "reference"]
    found: dict[int, int] = {}
    for column in columns:
        if column.mapped.field == "quantity":
            found |= several(column, references[0] if references else column, answers, ledger)
    return found


def wait_for_answers(mapped: Mapped, data: Data, section: Section | None, ledger: Ledger) -> None:
    """Note the rows that the questions about columns, hidden rows and sections are about."""
    at_heading = {one.heading: one.place for one in mapped.columns}
    for question in mapped.questions:
        ledger.ask(question)
        place = at_heading.get(question.heading)
        silent = {name for choice in question.choices for name in targets(choice.word)}
        for at, row in enumerate(data.rows):
            if place is None or (place < len(row) and row[place].strip()):
                ledger.wait(at, silent)
    for question in data.questions:
        ledger.ask(question)
        for at, number in enumerate(data.numbers):
            if number in data.hidden:
                ledger.wait(at, ())
    if section is not None and section.question is not None:
        ledger.ask(section.question)
        for at, cell in enumerate(section.cells):
            if cell:
                ledger.wait(at, ("place",))


def is_fact(column: ReadColumn, answers: Mapping[str, str], notes: list[str]) -> bool:
    """Whether a column says something of the luminaire that is no setting. A power is what the luminaire takes, unless an
    answer says that it is what the driver may give.
    """
    if column.mapped.field != "power_w":
        return column.mapped.field in FACTS
    key = f"{column.heading}: power"
    if answers.get(key) == "output":
        return False
    notes.append(f"{column.heading!r} is held against the ratings as the power that a luminaire takes, and is no setting. "
                 f"If it is the highest power set in the driver: --answer {key + '=output'!r}.")
    return True


def merged(columns: Sequence[ReadColumn], left_out: Sequence[ReadColumn], boards: Sequence[ReadColumn],
           work: _Work) -> dict[str, list[str]]:
    """Our columns, each with a text for every row: what one column says, or what several do together."""
    count = len(work.data.numbers)
    table = {name: [""] * count for name in LUMINAIRE_COLUMNS}
    by_name: dict[str, list[Source]] = {}
    for column in columns:
        if not any(column is one for one in left_out):
            for key in column.names():
                if key in GEAR_COLUMNS or key in LUMINAIRE_COLUMNS or key.startswith(EXTRA):
                    by_name.setdefault(key, []).append(Source(column=column, key=key))
    places = place_sources(columns)
    if places:
        table["place"] = joined_place(places, work.ledger)
    scenes = scene_sources(columns)
    if scenes:
        table["scenes"] = joined_scenes(scenes, work.ledger)
    if boards and "circuit" in by_name:
        first = by_name["circuit"][0]
        first.given = join_boards(boards[0], first.column, work.known.names["circuit"], work.answers, work.ledger)
    for name in ("line", *by_name):
        if name in by_name and name not in ("place", "scenes", "address"):
            table[name] = agreed(name, by_name[name], work.ledger)
    for source in by_name.get("address", ()):
        work.notes += as_the_lines_count(source, table["line"], work.known.lines)
    if "address" in by_name:
        table["address"] = agreed("address", by_name["address"], work.ledger)
    return table
