"""Which field of ours each column of somebody else's schedule is, how sure that is, and what has to be asked."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from vault.exchange.asked import FileQuestion
from vault.exchange.column_asked import Column, ask_again, ask_column
from vault.exchange.heading_rows import Headings
from vault.exchange.lexicon import Meaning, look_up
from vault.exchange.lexicon_cells import possible, telling
from vault.exchange.lexicon_near import near_fields
from vault.exchange.schedule_headings import IGNORE, is_added
from vault.exchange.schedule_mapping import ScheduleMapping, decided_column

DECIDED, KNOWN, BY_CELLS = 100, 95, 90
_KEPT_CELLS = 400
# A place may be told in one cell or in several.
_PLACES = ("place", "building", "floor", "room", "grid")
# Our own words that other people's files use for something else: their "gear" is the driver.
_OTHERWISE_MEANT = ("gear",)


@dataclass(frozen=True, slots=True, kw_only=True)
class MappedColumn:
    """One column. place: from 0. heading: as `Headings.names` has it. field: one of `schedule_fields.FIELDS`,
    extra:NAME, or "" where it is not read or is still asked for. unit: of its heading or the row of units ("mA"), "".
    confidence: 100 our own heading or decided by a mapping, 95 a heading of the trade that means one field, 90 one of
    several that its cells alone decide, 0 asked or not read. why: in words that a preview shows.
    """

    place: int
    heading: str
    field: str
    unit: str
    confidence: int
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Mapped:
    """All columns, the questions that are open ("HEADING: column"), and what makes the file unusable, in sentences."""

    columns: tuple[MappedColumn, ...]
    questions: tuple[FileQuestion, ...]
    problems: tuple[str, ...] = ()


def _seen(headings: Headings, rows: Iterable[tuple[int, Sequence[str]]]) -> list[Column]:
    """Each column with its different cells, enough of them to judge by."""
    seen = [Column(place=place, heading=name, cells={}, filled=0) for place, name in enumerate(headings.names)]
    for number, cells in rows:
        for column, cell in zip(seen, cells, strict=False):
            said = cell.strip()
            if said:
                column.filled += 1
                if len(column.cells) < _KEPT_CELLS:
                    column.cells.setdefault(said, number)
    return seen


def _unit(column: Column, headings: Headings, meaning: Meaning | None, problems: list[str]) -> str:
    above = meaning.unit if meaning is not None else ""
    below = headings.units[column.place]
    if above and below and above != below:
        problems.append(f"Column {column.heading!r} says {above} in its heading and {below} in the row below it; mend the one "
                        "that is wrong.")
    return above or below


def _mapped(column: Column, unit: str, field: str, confidence: int, why: str) -> MappedColumn:
    return MappedColumn(place=column.place, heading=column.heading, field=field, unit=unit, confidence=confidence, why=why)


class _Mapper:
    """Maps the columns of one sheet, first each alone, then held against each other."""

    def __init__(self, headings: Headings, seen: Sequence[Column], mapping: ScheduleMapping) -> None:
        self._headings, self._mapping = headings, mapping
        self._all_ours = all((meaning := look_up(name)) is not None and meaning.own for name in headings.names if name)
        self.problems: list[str] = []
        self.asked: dict[int, FileQuestion] = {}
        self.columns = [self._alone(column) for column in seen]
        self._held_against_each_other(seen)

    def _alone(self, column: Column) -> MappedColumn:
        heading = column.heading
        meaning = look_up(heading) if heading else None
        unit = _unit(column, self._headings, meaning, self.problems)
        if not heading:
            return _mapped(column, unit, "", DECIDED, "empty")
        if is_added(heading):
            return _mapped(column, unit, "", DECIDED, "added by gearkeep to rejected rows")
        decided = decided_column(self._mapping, heading)
        if decided is not None:
            return _mapped(column, unit, "" if decided == IGNORE else decided, DECIDED,
                           "left out by the mapping" if decided == IGNORE else "the mapping says so")
        if meaning is not None and meaning.own and (self._all_ours or meaning.fields[0] not in _OTHERWISE_MEANT):
            return _mapped(column, unit, meaning.fields[0], DECIDED, "a heading of ours")
        return self._by_lexicon(column, unit, meaning)

    def _by_lexicon(self, column: Column, unit: str, meaning: Meaning | None) -> MappedColumn:
        cells = telling(column.cells)
        if meaning is None or not meaning.exact or meaning.own:
            near = near_fields(column.heading)
            fields = tuple(dict.fromkeys((*(meaning.fields if meaning else ()), *near)))
            return self._ask(column, unit, fields, cells)
        if not meaning.sure:
            left = possible(meaning.fields, cells) if cells else ()
            # What we do not keep could hold anything, so that its cells never decide.
            if len(left) == 1 and left != ("",) and "" not in meaning.fields and not self._stands_twice(column.heading):
                return _mapped(column, unit, left[0], BY_CELLS, f"its cells can only be {left[0]}")
            return self._ask(column, unit, meaning.fields, cells)
        field = meaning.fields[0]
        if field in ("address", "line", "circuit") and cells and possible(("line_address",), cells) and (
                field != "circuit" or all("/" in cell for cell in cells)):
            return self._ask(column, unit, (field, "line_address"), cells)
        return _mapped(column, unit, field, KNOWN, f"known in the trade as {field}")

    def _stands_twice(self, heading: str) -> bool:
        return f"{heading} (2)" in self._headings.names or heading.endswith((" (2)", " (3)"))

    def _ask(self, column: Column, unit: str, fields: Sequence[str], cells: Sequence[str]) -> MappedColumn:
        self.asked[column.place] = ask_column(column, fields, cells)
        return _mapped(column, unit, "", 0, "asked")

    def _held_against_each_other(self, seen: Sequence[Column]) -> None:
        """Two columns that are one field are both asked, unless a person has decided them."""
        of_field: dict[str, list[MappedColumn]] = {}
        for column in self.columns:
            if column.field:
                of_field.setdefault(column.field, []).append(column)
        for place, question in self.asked.items():
            if question.likely in of_field:
                # Another column is that already; what is left is for a person to say.
                self.asked[place] = replace(question, likely=None)
        for field, same in of_field.items():
            if len(same) < 2:
                continue
            said = [column for column in same if decided_column(self._mapping, column.heading) is not None]
            if len(said) > 1:
                names = " and ".join(repr(column.heading) for column in said)
                self.problems.append(f"The mapping says of {names} that they are {field}; only one column can be.")
            for column in same:
                if column not in said:
                    others = [one.heading for one in same if one != column]
                    self.asked[column.place] = ask_again(seen[column.place], field, others)
                    self.columns[column.place] = _mapped(seen[column.place], column.unit, "", 0, "asked")

    def missing(self) -> list[str]:
        """What no column is and no open question offers."""
        have = {column.field for column in self.columns}
        offered = {choice.word for question in self.asked.values() for choice in question.choices}
        told = [f"No column is the {needed} of the luminaire; name one in the mapping." for needed in ("reference", "type")
                if needed not in have | offered]
        if (have | offered).isdisjoint(_PLACES):
            told.append(f"No column says where a luminaire is ({', '.join(_PLACES)}); name one in the mapping.")
        return told


def map_columns(headings: Headings, sample_rows: Iterable[tuple[int, Sequence[str]]], mapping: ScheduleMapping) -> Mapped:
    """Every column of a sheet. sample_rows: (row as a spreadsheet counts, cells), the more the surer; see `data_rows`.

    An answer stands in mapping.columns under the heading, or in mapping.answers under the question's key. A heading that
    is not known for sure is never taken: what is near to it is offered, and the column is not read until it is answered.
    """
    seen = _seen(headings, sample_rows)
    mapper = _Mapper(headings, seen, mapping)
    return Mapped(columns=tuple(mapper.columns), questions=tuple(mapper.asked[place] for place in sorted(mapper.asked)),
                  problems=(*mapper.problems, *mapper.missing()))
