"""Rejected rows as a file of the kind that they came in, to be corrected there and read again under the same mapping."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from vault.exchange.schedule import Rejected
from vault.exchange.schedule_headings import ADDED, first_file, is_added
from vault.exchange.schedule_translation import Translation
from vault.exchange.table_out import write_like


def by_cell(rejected: Iterable[Rejected], *, gravest_alone: bool = False) -> list[Rejected]:
    """One for each cell: what is wrong with it joined, as it comes, which is the gravest first.

    gravest_alone: only that, and how many more reasons there are.
    """
    cells: dict[tuple[int, str, str], list[Rejected]] = {}
    for item in rejected:
        cells.setdefault((item.row, item.column, item.value), []).append(item)
    return [own[0] if len(own) == 1 else _joined(own, gravest_alone) for own in cells.values()]


def _joined(own: Sequence[Rejected], gravest_alone: bool) -> Rejected:
    problems = list(dict.fromkeys(item.problem.rstrip(".") for item in own))
    if gravest_alone and len(problems) > 1:
        more = f"{len(problems) - 1} more {'reason' if len(problems) == 2 else 'reasons'}"
        return replace(own[0], problem=f"{problems[0]} (and {more})")
    return replace(own[0], problem="; ".join(problems), allowed="; ".join(dict.fromkeys(item.allowed for item in own)))


def _origin(seen: Translation, cells: Sequence[str], number: int) -> str:
    """The row's number in the first file, which a file of rejected rows carries along."""
    for place, heading in enumerate(seen.headings):
        if first_file(heading) is not None and place < len(cells) and cells[place].strip().isdecimal():
            return cells[place].strip()
    return str(number)


def _first_file(seen: Translation) -> str:
    return next(filter(None, map(first_file, seen.headings)), seen.path.name)


def write_rejected_rows(path: Path, seen: Translation, rejected: Iterable[Rejected],
                        kin: Mapping[int, Sequence[int]]) -> None:
    """All rows of the luminaires that have a rejected row, as they stand, and three columns more: what is wrong, what is
    allowed, and the row's number in the first file.

    Everything above the first row of data is kept, so that the heading row is where the mapping says it is, and so are rows
    that stand over others; "as above" is written out, since other rows stand above it now. The added columns are ignored when
    the file is read again. Raises GearkeepError (unwritable-file).
    """
    rows = seen.raw.rows
    keep = [place for place, heading in enumerate(seen.headings) if not is_added(heading)]
    told: dict[int, list[Rejected]] = {}
    for item in by_cell(rejected):
        told.setdefault(item.row, []).append(item)

    def kept(cells: Sequence[str]) -> list[str]:
        return [cells[place] if place < len(cells) else "" for place in keep]

    out = []
    for number in range(1, seen.first_row):
        at_headings = number == seen.heading_row
        out.append([*kept(rows[number - 1]), *((*ADDED, f"row in {_first_file(seen)}") if at_headings else ("", "", ""))])
    over = 0
    for number in sorted({row for item in told for row in kin.get(item, (item,))}):
        section = max((row for row in seen.sections if row < number), default=0)
        if section != over:
            out.append([*kept(rows[section - 1]), "", "", ""])
            over = section
        cells, own = seen.cells_of(number), told.get(number, [])
        out.append([*kept(cells), "; ".join(f"{item.column}: {item.problem}" for item in own),
                    "; ".join(f"{item.column}: {item.allowed}" for item in own), _origin(seen, cells, number),
                    *cells[len(seen.headings):]])
    write_like(path, seen.raw, out)
