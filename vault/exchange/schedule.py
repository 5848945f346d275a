"""Luminaire schedules: one row a gear, rows of the same reference one luminaire."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from vault.domain.rating import Rating
from vault.domain.record import Record
from vault.domain.schema import specs, words
from vault.domain.settings import Duty, Gear
from vault.domain.site import Circuit, Line
from vault.exchange.files import read_table, table_bytes, write_whole
from vault.exchange.plain import nearest
from vault.exchange.schedule_columns import LUMINAIRE_COLUMNS
from vault.exchange.schedule_headings import ADDED, NEEDED, ScheduleProblem, names_of, plain_heading, read_mapping
from vault.exchange.schedule_row import Bad, duty_of, read_cells, read_gear


@dataclass(frozen=True, slots=True, kw_only=True)
class Rejected:
    """One bad cell. row: as a spreadsheet counts, the heading being row 1. value: the cell as it stands."""

    row: int
    column: str
    value: str
    problem: str
    allowed: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ScheduledLuminaire:
    """A luminaire that can be read whole. rows: where its gears stand in the file, in the order of `gears`."""

    reference: str
    type_code: str
    place: str
    line: str | None
    circuit: str | None
    gears: tuple[Gear, ...]
    rows: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Schedule:
    """What a file holds. raw_rows: row -> cells as they stand; kin: row -> all rows of the same luminaire."""

    luminaires: list[ScheduledLuminaire]
    rejected: list[Rejected]
    raw_rows: Mapping[int, tuple[str, ...]]
    headings: tuple[str, ...]
    kin: Mapping[int, tuple[int, ...]]


def _own_text(cells: Mapping[str, str], name: str) -> list[Bad]:
    spec = dict(specs(Record))["place" if name == "place" else name]
    cell = cells.get(name, "")
    allowed = f"1 to {spec.most} printable characters"
    if not cell and name in NEEDED:
        return [Bad(column=name, problem="nothing stands here", allowed=allowed)]
    if len(cell) > spec.most or not cell.isprintable():
        return [Bad(column=name, problem=f"{cell!r} is too long or not printable", allowed=allowed)]
    return []


def _known(cells: Mapping[str, str], name: str, known: Iterable[str], called: str) -> list[Bad]:
    cell, names = cells.get(name, ""), sorted(known)
    if not cell or cell in names:
        return []
    few = names if len(names) <= 20 else [*names[:20], f"… {len(names)} in all"]
    hint = nearest(cell, names)
    return [Bad(column=name, problem=f"{called} {cell!r} is not known{f', {hint}' if hint else ''}",
                allowed=", ".join(few) or f"nothing: no {called} is known")]


class _Reader:
    def __init__(self, ratings: Mapping[str, Rating], lines: Mapping[str, Line], circuits: Mapping[str, Circuit]):
        self.ratings, self.lines, self.circuits = ratings, lines, circuits

    def row(self, cells: Mapping[str, str]) -> tuple[Duty | None, Gear | None, list[Bad]]:
        """What one row alone says."""
        bad = _own_text(cells, "reference") + _own_text(cells, "place")
        bad += _known(cells, "line", self.lines, "line") + _known(cells, "circuit", self.circuits, "circuit")
        bad += _known(cells, "central_circuit", self.circuits, "circuit")
        line = self.lines.get(cells.get("line", ""))
        if cells.get("address") and not cells.get("line"):
            bad.append(Bad(column="line", problem="nothing stands here, but an address counts on its line",
                           allowed=", ".join(sorted(self.lines)) or "a line"))
        values, unreadable = read_cells(cells, line)
        bad += unreadable
        rating = self.ratings.get(cells.get("type", ""))
        if rating is None:
            wrong_type = _known(cells, "type", self.ratings, "type")
            nothing = Bad(column="type", problem="nothing stands here", allowed=", ".join(sorted(self.ratings)))
            return None, None, bad + (wrong_type or [nothing])
        duty, wrong_duty = duty_of(cells, rating)
        gear_rating = rating.gear_for(duty) if duty is not None else None
        if gear_rating is None:
            return duty, None, bad + wrong_duty
        gear, wrong = read_gear(cells, values, gear_rating)
        told = {item.column for item in bad}
        return duty, gear, bad + [item for item in wrong if item.column not in told]

    def luminaire(
        self, rows: Mapping[int, Mapping[str, str]]
    ) -> tuple[ScheduledLuminaire | None, list[tuple[int, Bad]]]:
        """The luminaire of the rows with one reference, or what is wrong with it."""
        first_row, first = next(iter(rows.items()))
        bad: list[tuple[int, Bad]] = []
        gears: list[Gear] = []
        seen: dict[Duty, int] = {}
        for number, own in rows.items():
            # The second row of a luminaire may leave out what the first has said of the whole.
            cells = {**{name: first.get(name, "") for name in LUMINAIRE_COLUMNS}, **{k: v for k, v in own.items() if v}}
            duty, gear, wrong = self.row(cells)
            bad += [(number, item) for item in wrong]
            for name in LUMINAIRE_COLUMNS:
                if cells.get(name, "") != first.get(name, "") and (duty is None or duty not in seen):
                    bad.append((number, Bad(column=name, problem=f"differs from row {first_row}",
                                            allowed=first.get(name, "") or "nothing")))
            if duty is not None and duty in seen:
                said = f"{cells['reference']!r} stands twice for {words(duty)}, in rows {seen[duty]} and {number}"
                twice = Bad(column="reference", problem=said, allowed="each reference once for each gear")
                bad += [(seen[duty], twice), (number, twice)]
            elif duty is not None:
                seen[duty] = number
            if gear is not None:
                gears.append(gear)
        rating = self.ratings.get(first.get("type", ""))
        if rating is not None and not bad:
            for missing in (gear.duty for gear in rating.gears if gear.duty not in seen):
                bad.append((first_row, Bad(column="gear", problem=f"there is no row for {words(missing)}",
                                           allowed=f"a row for each gear of type {rating.code}")))
        if bad:
            return None, bad
        return ScheduledLuminaire(
            reference=first["reference"], type_code=first["type"], place=first["place"],
            line=first.get("line") or None, circuit=first.get("circuit") or None,
            gears=tuple(gears), rows=tuple(rows)), []


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
    table = read_table(path)
    headings = table[0]
    raw_rows = {number: row for number, row in enumerate(table[1:], 2) if any(cell.strip() for cell in row)}
    width = len(headings)
    filled = {place for row in raw_rows.values() for place, cell in enumerate(row) if cell.strip()}
    names = names_of(headings, mapping or {}, filled)

    groups: dict[str, dict[int, dict[str, str]]] = {}
    rejected: list[Rejected] = []
    for number, row in raw_rows.items():
        cells = {name: cell.strip() for name, cell in zip(names, row, strict=False) if name}
        groups.setdefault(cells.get("reference") or f"\0{number}", {})[number] = cells
        if any(cell.strip() for cell in row[width:]):
            rejected.append(Rejected(row=number, column=f"column {width + 1}", value=row[width],
                                     problem="the row has more cells than there are headings",
                                     allowed=f"{width} cells; quote a cell that holds a comma"))
    too_long = {item.row for item in rejected}

    reader = _Reader(ratings, lines, circuits)
    luminaires = []
    for rows in groups.values():
        luminaire, bad = reader.luminaire(rows)
        if luminaire is not None and not too_long & set(rows):
            luminaires.append(luminaire)
        for number, item in bad:
            raw = dict(zip(names, raw_rows[number], strict=False)).get(item.column, "")
            rejected.append(Rejected(row=number, column=item.column, value=raw, problem=item.problem,
                                     allowed=item.allowed))
    kin = {number: tuple(rows) for rows in groups.values() for number in rows}
    return Schedule(luminaires=luminaires, rejected=sorted(rejected, key=lambda item: item.row), raw_rows=raw_rows,
                    headings=headings, kin=kin)


def write_rejected(path: Path, schedule: Schedule, rejected: Sequence[Rejected]) -> None:
    """All rows of the luminaires that have a rejected row, unchanged, with what is wrong in two further columns.

    The file can be corrected and read again: the added columns are ignored. They begin with the name of a column, so
    that no spreadsheet takes them for a formula; cells of the schedule itself stay as they were given.
    """
    keep = [place for place, heading in enumerate(schedule.headings) if plain_heading(heading) not in ADDED]
    told: dict[int, list[Rejected]] = {}
    for item in rejected:
        told.setdefault(item.row, []).append(item)
    wanted = sorted({row for item in rejected for row in schedule.kin.get(item.row, ())})
    rows = [[*(schedule.headings[place] for place in keep), *ADDED]]
    for number in wanted:
        cells = schedule.raw_rows[number]
        own = told.get(number, [])
        rows.append([
            *(cells[place] if place < len(cells) else "" for place in keep),
            "; ".join(f"{item.column}: {item.problem}" for item in own),
            "; ".join(f"{item.column}: {item.allowed}" for item in own),
            *cells[len(schedule.headings):],
        ])
    write_whole(path, table_bytes(rows))


__all__ = ["Rejected", "Schedule", "ScheduleProblem", "ScheduledLuminaire", "read_mapping", "read_schedule",
           "write_rejected"]
