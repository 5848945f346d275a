"""A luminaire schedule of anybody's making, turned into a table under our headings that the strict reader reads.

Where the file alone does not say what a column or a cell means, nothing is guessed: it is a question, and its answer is kept
in a mapping.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from vault.domain.findings import Finding
from vault.domain.rating import Rating
from vault.domain.site import Circuit, Line
from vault.exchange.asked import FileQuestion
from vault.exchange.cell_reading import Said
from vault.exchange.column_mapping import MappedColumn
from vault.exchange.raw_table import RawTable
from vault.exchange.schedule import OpenSchedule, Rejected, Schedule, Told
from vault.exchange.translation_columns import ReadColumn

_COMPUTED: Mapping[str, str] = {"power_w": "current_ma", **{f"power_{n}_w": f"current_{n}_ma" for n in (2, 3, 4)}}
_LOAD: Mapping[str, str] = {"type": "type", "line": "line", "circuit": "circuit", "central_circuit": "circuit"}
_MOST_NAMES = 120  # letters of a list of known names
_NOTHING = "nothing stands here"  # as the strict reader says it
COPY = 10_000_000  # rows of a file end before it; a row that stands for several luminaires is numbered so from the second on


@dataclass(frozen=True, slots=True, kw_only=True)
class ShownReading:
    """What a distinct text of a column was read as."""

    heading: str
    text: str
    value: str
    rule: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Translation:
    """A file in our columns.

    table: our headings, then one row for each luminaire's gear. row_numbers: of each row below the headings, its number in
    the file (see COPY). headings: as the file has them, from the first column. heading_row, first_row: as a spreadsheet
    counts, 0 where they are not known. questions: open ones; nothing is signed before they are answered. asked_rows: rows of
    the file that wait for an answer. skipped: row -> why it is no luminaire. decided: what the mapping answered. strict: the
    file has our own headings, and its cells were not interpreted. strange: answers that no question about this file can have.
    sections: rows that stand over others and say something of them.
    """

    path: Path
    raw: RawTable
    table: Sequence[tuple[str, ...]]
    row_numbers: Sequence[int]
    headings: tuple[str, ...] = ()
    heading_row: int = 0
    first_row: int = 1
    columns: tuple[MappedColumn, ...] = ()
    questions: tuple[FileQuestion, ...] = ()
    decided: tuple[tuple[str, str], ...] = ()
    skipped: Mapping[int, str] = field(default_factory=dict)
    notes: tuple[str, ...] = ()
    asked_rows: frozenset[int] = frozenset()
    strict: bool = False
    several_sheets: bool = False
    mapping: Mapping[str, str] = field(default_factory=dict)
    told: Told | None = None
    findings: Mapping[str, tuple[Finding, ...]] = field(default_factory=dict)
    sources: Mapping[str, tuple[ReadColumn, ...]] = field(default_factory=dict)
    strange: tuple[str, ...] = ()
    sections: tuple[int, ...] = ()

    @property
    def data_rows(self) -> int:
        """How many rows of the file speak of luminaires."""
        return len({number % COPY for number in self.row_numbers}) if not self.strict else len(self.row_numbers)

    def opened(self, *, ratings: Mapping[str, Rating], lines: Mapping[str, Line],
               circuits: Mapping[str, Circuit]) -> OpenSchedule:
        """The strict reader of the table. Raises ScheduleProblem for headings that cannot be read."""
        return OpenSchedule(self.table, ratings=ratings, lines=lines, circuits=circuits, mapping=self.mapping, told=self.told)

    def said(self, row: int, column: str) -> tuple[str, str, str] | None:
        """What the file has for a column of ours in a row: (its headings, its cells, how they were read); None for nothing."""
        found = []
        for source in self.sources.get(column, ()):
            at = _at(source.numbers, row % COPY)
            if at is None:
                continue
            reading, place = source.readings.get(source.cells[at]), source.mapped.place
            own = self.raw.rows[row % COPY - 1]
            cell = own[place].strip() if place < len(own) and place < len(self.headings) else source.cells[at]
            found.append((source.heading, cell, reading.rule if isinstance(reading, Said) else ""))
        told = [one for one in found if one[1].strip()] or found
        if not told:
            return None
        headings, cells, rules = zip(*told, strict=True)
        return " + ".join(headings), " + ".join(cells), "; ".join(dict.fromkeys(filter(None, rules)))

    def cells_of(self, row: int) -> list[str]:
        """The cells of a row, those that say "as above" with what stands above them: on its own the row says the same."""
        cells = list(self.raw.rows[row - 1])
        for columns in self.sources.values():
            for column in columns:
                place, at = column.mapped.place, _at(column.numbers, row)
                if at is not None and place < min(len(cells), len(self.headings)) and cells[place].strip() != column.cells[at]:
                    cells[place] = column.cells[at]
        return cells

    def retold(self, rejected: Iterable[Rejected]) -> list[Rejected]:
        """The same with the headings, cells and row numbers of the file."""
        return list(rejected) if self.strict else [self._retold(item) for item in rejected]

    def _retold(self, item: Rejected) -> Rejected:
        # A power that stands in no cell was computed from the current.
        column = _COMPUTED.get(item.column, item.column) if item.column not in self.table[0] else item.column
        said = self.said(item.row, column)
        row = item.row % COPY
        if said is None and item.column == "gear":
            return replace(item, row=row, allowed=f"a row for each gear, with a column headed gear that says which: "
                                                  f"{item.allowed}")
        if said is None:
            return replace(item, row=row)
        heading, cells, _ = said
        problem = item.problem
        if cells.strip(" +") and not item.value and problem.startswith(_NOTHING):
            problem = f"{cells!r} says nothing that can be recorded{problem.removeprefix(_NOTHING)}"
        elif column == item.column and cells and item.value and cells != item.value:
            problem = problem.replace(repr(item.value), f"{cells!r}, read as {item.value!r},", 1)
        allowed = item.allowed
        if item.column in _LOAD and "is not known" in item.problem:
            allowed = (f"{_cut(allowed)}; load it first with gearkeep {_LOAD[item.column]} load FILE, or say which one it means: "
                       f"--answer {self._key_of_name(item) + '=NAME'!r}")
        return replace(item, row=row, column=heading, value=cells, problem=problem, allowed=allowed)

    def _key_of_name(self, item: Rejected) -> str:
        """The key under which an answer says which name of the vault a name of the file means."""
        sources = self.sources[item.column]
        at = _at(sources[0].numbers, item.row % COPY)
        boards = [one.value(one.cells[at], "board") for one in sources if one.mapped.field == "board" and at is not None]
        own = next((one for one in sources if one.mapped.field != "board"), sources[0])
        return f"{own.heading}: is {' '.join(filter(None, (*boards, item.value)))}"

    def findings_of(self, references: Iterable[str]) -> Iterator[tuple[str, Finding]]:
        """What the file says of luminaires that the ratings of their types do not."""
        if self.findings:
            for reference in references:
                for finding in self.findings.get(reference, ()):
                    yield reference, finding

    def kin_of(self, schedule: Schedule) -> Mapping[int, tuple[int, ...]]:
        """Row of the file -> all rows of the luminaires that it speaks of."""
        if self.strict or not self.row_numbers or max(self.row_numbers) < COPY:
            return schedule.kin
        found: dict[int, set[int]] = {}
        for number, rows in schedule.kin.items():
            found.setdefault(number % COPY, set()).update(row % COPY for row in rows)
        return {number: tuple(sorted(rows)) for number, rows in found.items()}

    @property
    def readings(self) -> Iterator[ShownReading]:
        """Every distinct text that was not taken as it stands."""
        done: set[int] = set()
        for columns in self.sources.values():
            for column in columns:
                if id(column) in done:
                    continue
                done.add(id(column))
                for text, reading in column.readings.items():
                    if isinstance(reading, Said):
                        values = {name: value for name, value in reading.values.items() if value}
                        if text.strip() and list(values.values()) != [text.strip()]:
                            yield ShownReading(heading=column.heading, text=text, rule=reading.rule, value=", ".join(
                                f"{name} {value}" for name, value in values.items()) or "nothing")


def _cut(names: str) -> str:
    return names if len(names) <= _MOST_NAMES else f"{names[:_MOST_NAMES].rpartition(',')[0]} …"


def _at(numbers: Sequence[int], row: int) -> int | None:
    from bisect import bisect_left

    at = bisect_left(numbers, row)
    return at if at < len(numbers) and numbers[at] == row else None
