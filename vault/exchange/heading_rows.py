"""Which row of somebody else's sheet holds the headings, which rows are data, and which say nothing of a luminaire."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from vault.exchange.asked import Choice, FileQuestion
from vault.exchange.lexicon import GATHERING, JOINT, fits_unit, fold, look_up, unit_named
from vault.exchange.raw_table import RawTable
from vault.exchange.row_kinds import RowKinds, is_figure
from vault.exchange.schedule_mapping import HEADING_ROW, SHEET, ScheduleMapping, decided_column

LOOKED_AT = 40
_LEAST_SCORE = 4
_HIT, _UNSURE_HIT, _FIGURE = 2, 1, -2


@dataclass(frozen=True, slots=True, kw_only=True)
class Headings:
    """Where a sheet's headings stand and what they are. Rows as a spreadsheet counts.

    row: the heading row, the lower one where headings stand over two rows. names: one for every column, "" for a column
    that is empty from top to bottom, "column F" for one without a heading; "DALI / Line" where a group stands over the
    heading; a heading that stands twice gets " (2)". units: what the row of units below says, "" where it says nothing.
    first_row: the first row of data. skipped: row -> why it is no luminaire (titles, units, totals, empty rows, the
    headings once more). sections: row -> its only text, of rows that name a floor or a room for the rows below; they
    are not in `skipped`.
    """

    row: int
    names: tuple[str, ...]
    units: tuple[str, ...]
    first_row: int
    skipped: Mapping[int, str] = field(default_factory=dict)
    sections: Mapping[int, str] = field(default_factory=dict)


def column_letter(place: int) -> str:
    """The name that a spreadsheet gives to a column: 0 is A, 26 is AA."""
    letters = ""
    place += 1
    while place:
        place, rest = divmod(place - 1, 26)
        letters = chr(ord("A") + rest) + letters
    return letters


def _filled(cells: Sequence[str]) -> dict[int, str]:
    return {place: cell.strip() for place, cell in enumerate(cells) if cell and not cell.isspace()}


def _score(cells: Sequence[str], mapping: ScheduleMapping) -> int:
    """How much a row looks like headings; texts that stand in several merged cells count once."""
    score = 0
    for said in dict.fromkeys(_filled(cells).values()):
        meaning = look_up(said)
        if decided_column(mapping, said) or (meaning is not None and (meaning.own or meaning.sure)):
            score += _HIT
        elif meaning is not None and meaning.exact:
            # One letter is as often a value (class I, phase L) as a heading.
            score += _UNSURE_HIT if len(fold(said)) > 1 else 0
        elif is_figure(said):
            score += _FIGURE
    return score


def _without_merged(above: Sequence[str], below: Sequence[str]) -> dict[int, str]:
    """The cells of the lower row that are no copy of the cell above, as cells merged over two rows are."""
    upper = _filled(above)
    return {place: said for place, said in _filled(below).items() if upper.get(place) != said}


def _groups(above: Sequence[str], below: Mapping[int, str]) -> dict[int, str]:
    """The upper row with each group carried on over the columns that it stands above."""
    upper, spread, last = _filled(above), {}, ""
    for place in range(max([*upper, *below], default=-1) + 1):
        if place in upper:
            last = upper[place]
        elif place not in below:
            last = ""
        if last:
            spread[place] = last
    return spread


def _joined(above: Sequence[str], below: Sequence[str]) -> dict[int, str]:
    lower, upper = _without_merged(above, below), _filled(above)
    groups = _groups(above, lower)
    both = {place: f"{groups[place]}{JOINT}{said}" if place in groups else said for place, said in lower.items()}
    return upper | both


def _are_two_rows(above: Sequence[str], below: Sequence[str]) -> bool:
    """Whether two rows are one heading: groups or headings above, headings of single columns below."""
    lower, upper = _without_merged(above, below), _filled(above)
    if not lower or len(set(upper.values())) < 2 or any(map(is_figure, [*lower.values(), *upper.values()])):
        return False
    if all(unit_named(said) for said in lower.values()):
        return False
    groups = _groups(above, lower)
    named = {name for name in set(upper.values()) if fold(name) in GATHERING or _is_known(name)}
    known = [said for said in lower.values() if len(said) > 1 and _is_known(said)]
    # A title over the headings carries on over them all too, but is no heading; a row of data is hardly made of headings.
    return (any(list(groups.values()).count(name) > 1 for name in named) and 2 * len(named) >= len(set(upper.values()))
            and 2 * len(known) > len(lower))


def _is_known(said: str) -> bool:
    meaning = look_up(said)
    return meaning is not None and meaning.exact and meaning.fields != ("",)


def _rows_of_heading(table: RawTable, row: int) -> tuple[int, int]:
    """(upper, lower) row of the heading that one of is known, as a spreadsheet counts."""
    def cells(number: int) -> Sequence[str]:
        return table.rows[number - 1] if 1 <= number <= len(table.rows) else ()

    if _are_two_rows(cells(row - 1), cells(row)):
        return row - 1, row
    if _are_two_rows(cells(row), cells(row + 1)):
        return row, row + 1
    return row, row


def _units_below(table: RawTable, row: int, names: Sequence[str]) -> tuple[str, ...]:
    """The units that the row below the headings says, none where it is no such row."""
    below = _filled(table.rows[row]) if row < len(table.rows) else {}
    said = {place: unit_named(cell) for place, cell in below.items() if cell not in ("-", "–", "—", "[-]")}
    nothing = ("",) * len(names)
    if not said or not all(said.values()):
        return nothing
    # Types and references may be called A or V: a unit has to stand below something that is measured in it.
    fitting = [place for place, unit in said.items() if (meaning := look_up(names[place])) is not None
               and any(fits_unit(name, unit) for name in meaning.fields)]
    return tuple(said.get(place, "") for place in range(len(names))) if fitting else nothing


def _named(table: RawTable, upper: int, lower: int, width: int) -> tuple[str, ...]:
    below = table.rows[lower - 1]
    said = _filled(below) if upper == lower else _joined(table.rows[upper - 1], below)
    missing = {place for place in range(width) if place not in said}
    filled: set[int] = set()
    for cells in table.rows[lower:]:
        if not missing - filled:
            break
        filled |= {place for place in missing - filled if place < len(cells) and cells[place].strip()}
    names: dict[str, int] = {}
    for place in range(width):
        name = " ".join(said.get(place, f"column {column_letter(place)}" if place in filled else "").split())
        number, called = 1, name
        while name and called in names:
            number += 1
            called = f"{name} ({number})"
        names[called or f"\0{place}"] = place
    return tuple("" if name.startswith("\0") else name for name in names)


def _best_rows(table: RawTable, mapping: ScheduleMapping) -> list[tuple[int, int]]:
    """(score, row) of the rows that could be headings, the best first and the upper of equals before the lower."""
    scores = [(_score(cells, mapping), number) for number, cells in enumerate(table.rows[:LOOKED_AT], 1)]
    return sorted(((score, number) for score, number in scores if score > 0), key=lambda pair: (-pair[0], pair[1]))


def _shown(cells: Sequence[str]) -> str:
    said = " | ".join(dict.fromkeys(_filled(cells).values()))
    return said if len(said) <= 80 else f"{said[:79]}…"


def _ask_row(table: RawTable, best: Sequence[tuple[int, int]]) -> FileQuestion:
    rows = sorted(number for _, number in best[:4])
    rows = rows or [number for number, cells in enumerate(table.rows[:LOOKED_AT], 1) if len(_filled(cells)) > 1][:4]
    where = f"sheet {table.sheet} of {table.file}" if table.sheet else table.file
    return FileQuestion(
        key=HEADING_ROW, says=f"Which row of {where} holds the headings?",
        choices=tuple(Choice(word=str(number), says=_shown(table.rows[number - 1])) for number in rows),
        allowed=f"the number of a row, 1 to {max(len(table.rows), 1)}", likely=str(best[0][1]) if best else None,
        examples=tuple((number, _shown(table.rows[number - 1])) for number in rows))


def _decided_row(mapping: ScheduleMapping) -> int | None:
    if mapping.heading_row is not None:
        return mapping.heading_row
    said = mapping.answers.get(HEADING_ROW, "").strip()
    return int(said) if re.fullmatch(r"[1-9][0-9]{0,6}", said) else None


def find_headings(table: RawTable, mapping: ScheduleMapping) -> Headings | FileQuestion:
    """The headings of a sheet, or the question which row they are (key "heading_row", the answer a row's number)."""
    best = _best_rows(table, mapping)
    row = _decided_row(mapping)
    if row is None or row > len(table.rows) or not _filled(table.rows[row - 1]):
        if row is not None or not best or best[0][0] < _LEAST_SCORE:
            return _ask_row(table, best)
        row = best[0][1]
    upper, lower = _rows_of_heading(table, row)
    width = max(map(len, table.rows[upper - 1:]), default=0)
    names = _named(table, upper, lower, width)
    units = _units_below(table, lower, names)
    first = lower + 2 if any(units) else lower + 1
    kinds = RowKinds(names=names, mapping=mapping, headings=[table.rows[number - 1] for number in {upper, lower}],
                     units=table.rows[lower] if any(units) else ())
    skipped = dict.fromkeys(range(1, upper), "above the headings")
    skipped |= dict.fromkeys((upper, lower), "headings")
    if any(units):
        skipped[lower + 1] = "units"
    sections: dict[int, str] = {}
    for number in range(first, len(table.rows) + 1):
        why, section = kinds.of(table.rows[number - 1])
        if section:
            sections[number] = section
        elif why:
            skipped[number] = why
    return Headings(row=lower, names=names, units=units, first_row=first, skipped=skipped, sections=sections)


def _is_schedule(table: RawTable, mapping: ScheduleMapping) -> int:
    """How surely a sheet is a schedule: the score of its headings where one of them may be a reference or a type."""
    best = _best_rows(table, mapping)
    if not best or best[0][0] < _LEAST_SCORE or best[0][1] >= len(table.rows):
        return 0
    said = _filled(table.rows[best[0][1] - 1]).values()
    fields = {name for heading in said if (meaning := look_up(heading)) is not None for name in meaning.fields}
    fields |= {decided_column(mapping, heading) or "" for heading in said}
    return best[0][0] if fields & {"reference", "type"} else 0


def choose_sheet(tables: Sequence[RawTable], mapping: ScheduleMapping) -> RawTable | FileQuestion:
    """The one sheet that is a schedule, or the question which it is (key "sheet", the answer a sheet's name)."""
    wanted = mapping.sheet if mapping.sheet is not None else mapping.answers.get(SHEET)
    called = [table for table in tables if wanted is not None and (table.sheet or "").casefold() == wanted.strip().casefold()]
    if len(called) == 1:
        return called[0]
    if len(tables) == 1 and (wanted is None or tables[0].sheet is None):
        return tables[0]
    scores = [_is_schedule(table, mapping) for table in tables]
    clear = [table for table, score in zip(tables, scores, strict=True) if score]
    if len(clear) == 1 and wanted is None:
        return clear[0]
    likely = max(zip(scores, tables, strict=True), key=lambda pair: pair[0], default=(0, None))
    says = "Which sheet of the workbook is the schedule?"
    if wanted is not None:
        says = f"The workbook has no sheet {wanted!r}. {says}"
    return FileQuestion(
        key=SHEET, says=says, likely=likely[1].sheet if likely[1] is not None and likely[0] else None, count=len(tables),
        choices=tuple(Choice(word=table.sheet or "", says=_sheet_says(table, score, mapping))
                      for table, score in zip(tables, scores, strict=True)))


def _sheet_says(table: RawTable, score: int, mapping: ScheduleMapping) -> str:
    best = _best_rows(table, mapping)
    begins = _shown(table.rows[best[0][1] - 1]) if best else "no headings that we know"
    return f"{len(table.rows)} rows; {begins}" if score else f"{len(table.rows)} rows, does not look like a schedule; {begins}"


def data_rows(table: RawTable, headings: Headings) -> Iterator[tuple[int, tuple[str, ...]]]:
    """(row as a spreadsheet counts, cells) of every row of data, neither skipped nor a section."""
    for number in range(headings.first_row, len(table.rows) + 1):
        if number not in headings.skipped and number not in headings.sections:
            yield number, table.rows[number - 1]
