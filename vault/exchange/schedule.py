"""Luminaire schedules: one row a gear, rows of the same reference one luminaire."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from vault.domain.rating import Rating
from vault.domain.site import Circuit, Line
from vault.exchange.files import read_table
from vault.exchange.schedule_headings import ScheduleProblem, names_of, plain_heading
from vault.exchange.schedule_reader import Reader, ScheduledLuminaire


@dataclass(frozen=True, slots=True, kw_only=True)
class Rejected:
    """One bad cell. row: as a spreadsheet counts, the heading being row 1. value: the cell as it stands."""

    row: int
    column: str
    value: str
    problem: str
    allowed: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Schedule:
    """What a file holds. raw_rows: row -> cells as they stand; kin: row -> all rows of the same luminaire."""

    luminaires: list[ScheduledLuminaire]
    rejected: list[Rejected]
    raw_rows: Mapping[int, tuple[str, ...]]
    headings: tuple[str, ...]
    kin: Mapping[int, tuple[int, ...]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """What is known of a table that was made from somebody else's file, before its rows are read.

    row_numbers: of each row below the headings, its number in the file. rejected: bad cells found on the way. silent: row ->
    columns of ours of which no more is said, because a question is open about them or their cell is rejected already;
    the luminaires of these rows are not taken.
    """

    row_numbers: Sequence[int]
    rejected: Sequence[Rejected] = ()
    silent: Mapping[int, frozenset[str]] = field(default_factory=dict)


class OpenSchedule:
    """A schedule whose luminaires are read one by one; its headings and cells stand as they are in the file.

    Made by `open_schedule`.
    """

    def __init__(self, table: Sequence[tuple[str, ...]], *, ratings: Mapping[str, Rating], lines: Mapping[str, Line],
                 circuits: Mapping[str, Circuit], mapping: Mapping[str, str], told: Told | None = None) -> None:
        self.headings = table[0]
        numbers = told.row_numbers if told else range(2, len(table) + 1)
        self.raw_rows = {number: row for number, row in zip(numbers, table[1:], strict=True)
                         if told or any(map(str.strip, row))}
        empty = {place for place, heading in enumerate(self.headings) if not plain_heading(heading)}
        filled = {place for place in empty for row in self.raw_rows.values() if row[place : place + 1] and row[place].strip()}
        self._names = names_of(self.headings, mapping, filled)
        self._reader = Reader(self._names, ratings=ratings, lines=lines, circuits=circuits)
        self._groups = self._grouped()
        self._early: dict[str, ScheduledLuminaire | None] = {}
        self._rejected: list[Rejected] = [*self._too_long(), *(told.rejected if told else ())]
        self._silent = told.silent if told else {}
        self._spoilt = {item.row for item in self._rejected} | self._silent.keys()

    def _grouped(self) -> dict[str, tuple[int, ...]]:
        at = self._names.index("reference")
        several: dict[str, list[int]] = {}
        groups: dict[str, tuple[int, ...]] = {}
        for number, row in self.raw_rows.items():
            reference = (row[at].strip() if at < len(row) else "") or f"\0{number}"
            if reference in groups:
                several.setdefault(reference, list(groups[reference])).append(number)
            else:
                groups[reference] = (number,)
        return groups | {reference: tuple(numbers) for reference, numbers in several.items()}

    def _too_long(self) -> list[Rejected]:
        width = len(self.headings)
        return [Rejected(row=number, column=f"column {width + 1}", value=row[width],
                         problem="the row has more cells than there are headings",
                         allowed=f"{width} cells; quote a cell that holds a comma")
                for number, row in self.raw_rows.items() if len(row) > width and any(map(str.strip, row[width:]))]

    def __len__(self) -> int:
        """How many luminaires the file speaks of, readable or not."""
        return len(self._groups)

    def __contains__(self, reference: object) -> bool:
        """Whether the file speaks of a reference."""
        return reference in self._groups

    @property
    def references(self) -> list[str]:
        """Every reference that stands in the file, in its order."""
        return [reference for reference in self._groups if not reference.startswith("\0")]

    def named(self, column: str) -> set[str]:
        """Every different cell that is filled in a column of ours."""
        if column not in self._names:
            return set()
        at = self._names.index(column)
        return {row[at].strip() for row in self.raw_rows.values() if at < len(row)} - {""}

    def reads(self, reference: str) -> bool:
        """Whether the file speaks of a luminaire that can be read whole."""
        if reference not in self._groups:
            return False
        if reference not in self._early:
            self._early[reference] = self._luminaire(reference)
        return self._early[reference] is not None

    def luminaires(self) -> Iterator[ScheduledLuminaire | None]:
        """Every luminaire in the file's order, None for one that cannot be read; to be walked once."""
        for reference in self._groups:
            yield self._early.pop(reference) if reference in self._early else self._luminaire(reference)

    def _luminaire(self, reference: str) -> ScheduledLuminaire | None:
        rows = {number: self._reader.values(self.raw_rows[number]) for number in self._groups[reference]}
        luminaire, bad = self._reader.luminaire(rows)
        silent = frozenset().union(*(self._silent.get(number, ()) for number in rows)) if self._silent else frozenset()
        for number, item in bad:
            if item.column in silent:
                continue
            raw = dict(zip(self._names, self.raw_rows[number], strict=False)).get(item.column, "")
            self._rejected.append(Rejected(row=number, column=item.column, value=raw, problem=item.problem,
                                           allowed=item.allowed))
        return luminaire if self._spoilt.isdisjoint(rows) else None

    def closed(self, luminaires: Iterable[ScheduledLuminaire] = ()) -> Schedule:
        """What the file held, once every luminaire has been read; with the luminaires that the caller kept."""
        kept = list(luminaires)
        kin = {number: rows for rows in self._groups.values() for number in rows}
        return Schedule(luminaires=kept, rejected=sorted(self._rejected, key=lambda item: item.row),
                        raw_rows=self.raw_rows, headings=self.headings, kin=kin)


def open_schedule(path: Path, *, ratings: Mapping[str, Rating], lines: Mapping[str, Line], circuits: Mapping[str, Circuit],
                  mapping: Mapping[str, str] | None = None) -> OpenSchedule:
    """A schedule whose headings are known, ready to be read luminaire by luminaire.

    Raises FileProblem for a file that is no CSV in UTF-8, ScheduleProblem for headings that are unknown.
    """
    return OpenSchedule(read_table(path), ratings=ratings, lines=lines, circuits=circuits, mapping=mapping or {})


def read_schedule(
    path: Path,
    *,
    ratings: Mapping[str, Rating],
    lines: Mapping[str, Line],
    circuits: Mapping[str, Circuit],
    mapping: Mapping[str, str] | None = None,
) -> Schedule:
    """Every luminaire of a schedule that can be read whole, and every bad cell of the others.

    A blank cell is taken from the type's rating where that says it, else it is not recorded; "not set" leaves the
    driver as it is. Addresses stand as the site writes them (the line's `addresses_from`). Whether the figures keep
    the rating, and whether an address is free, is not judged here.

    Raises FileProblem for a file that is no CSV in UTF-8, ScheduleProblem for headings that are unknown.
    """
    opened = open_schedule(path, ratings=ratings, lines=lines, circuits=circuits, mapping=mapping)
    return opened.closed(luminaire for luminaire in opened.luminaires() if luminaire is not None)


__all__ = ["OpenSchedule", "Rejected", "Schedule", "ScheduleProblem", "ScheduledLuminaire", "Told", "open_schedule",
           "read_schedule"]
