"""Cells of formulas that have no value: what should stand there is unknown, which is not the same as nothing."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Mapping, Sequence

from vault.exchange.raw_table import Oddity, RawTable
from vault.exchange.translation_columns import Ledger

_WHY: Mapping[Oddity, str] = {Oddity.NO_VALUE: "a formula stands here that was never calculated",
                              Oddity.ERROR: "a formula stands here that has failed"}
_ALLOWED = "a value; open the file in a spreadsheet program, let it calculate, and save it"


def reject_worthless(raw: RawTable, columns: Mapping[int, tuple[str, Sequence[str]]], ledger: Ledger) -> None:
    """Reject every such cell. columns: place of a column that is read -> (its heading, our columns that it fills)."""
    for (row, place), remark in raw.remarks.items():
        if remark.oddity not in _WHY or place not in columns:
            continue
        at = bisect_left(ledger.numbers, row)
        if at < len(ledger.numbers) and ledger.numbers[at] == row:
            heading, ours = columns[place]
            cells = raw.rows[row - 1]
            ledger.reject(at, heading=heading, text=cells[place] if place < len(cells) else "", problem=_WHY[remark.oddity],
                          allowed=_ALLOWED, columns=ours)
