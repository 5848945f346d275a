"""Where the headings of a stock list stand, and what they are."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from vault.exchange.file_kinds import seems
from vault.exchange.plain import nearest
from vault.exchange.raw_table import RawTable
from vault.exchange.stock_cells import COLUMNS, TERMS_COLUMNS

WANTED = "a stock list"
LOOKED_AT = 10  # rows in which headings may stand below a title


def plain_headings(row: tuple[str, ...]) -> list[str]:
    """Headings as COLUMNS writes them, blank ones at the end left out."""
    names = [heading.strip().casefold().replace(" ", "_") for heading in row]
    while names and not names[-1]:
        names.pop()
    return names


def heading_row(table: RawTable) -> int:
    """The row, as a spreadsheet counts, of the first ten that has the most of our headings, the uppermost of several; the first
    that is not blank where none has two.
    """
    rows = [[name for name in plain_headings(row) if name] for row in table.rows[:LOOKED_AT]]
    scores = [sum(name in COLUMNS for name in names) for names in rows]
    for number, names in enumerate(rows, 1):
        if "model" in names and {"quantity", *TERMS_COLUMNS} & set(names):
            return number
    if max(scores, default=0) > 1:
        return scores.index(max(scores)) + 1
    return next((number for number, names in enumerate(rows, 1) if len(names) > 1),
                next((number for number, names in enumerate(rows, 1) if names), 1))


def wrong_headings(names: Sequence[str]) -> Iterator[str]:
    """What cannot be of a row of headings."""
    for name in names:
        if name not in COLUMNS:
            yield f"{name!r} is not a heading we know, {nearest(name, COLUMNS)}".rstrip(", ")
    for name in COLUMNS:
        if names.count(name) > 1:
            yield f"{name!r} stands twice"
    if "model" not in names:
        yield "'model' is missing"
    if not {"quantity", *TERMS_COLUMNS} & set(names):
        yield "'quantity' is missing"


def is_foreign(tables: Sequence[RawTable]) -> bool:
    """Whether a file is no stock list: few headings are ours or nearly, or half are not and say that it is something else."""
    def known(row: tuple[str, ...], *, nearly: bool) -> float:
        names = [name for name in plain_headings(row) if name]
        return sum(name in COLUMNS or (nearly and bool(nearest(name, COLUMNS))) for name in names) / max(len(names), 1)

    rows = [table.rows[heading_row(table) - 1] if table.rows else () for table in tables]
    return all(known(row, nearly=True) < 0.5 for row in rows) or (
        all(known(row, nearly=False) <= 0.5 for row in rows) and seems(tables) not in ("", WANTED))
