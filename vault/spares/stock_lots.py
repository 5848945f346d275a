"""Lots: pieces of one model in one bin by the day that they were made, and which of them leave."""

from __future__ import annotations

from collections.abc import Mapping

from vault.spares.stock_state import MovementLike

Lots = dict[int | None, int]  # day made (None: not known) -> pieces


def taken(lots: Mapping[int | None, int], line: MovementLike) -> list[tuple[int | None, int]]:
    """What a line takes of them: of the day that it names, else the oldest first."""
    wanted, left = line.quantity, []
    for made in ([line.made_day] if line.made_day is not None else oldest_first(lots)):
        some = min(wanted, lots.get(made, 0))
        if some:
            left.append((made, some))
            wanted -= some
        if not wanted:
            break
    return left


def less(lots: Lots, made: int | None, pieces: int) -> None:
    """Pieces of one day leave, of which there are as many."""
    lots[made] -= pieces
    if not lots[made]:
        del lots[made]


def oldest_first(lots: Mapping[int | None, int]) -> list[int | None]:
    """Days made, of unknown age first: nobody knows how much longer those last."""
    return sorted(lots, key=lambda made: -1 if made is None else made) if len(lots) > 1 else list(lots)
