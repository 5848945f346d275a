"""Pieces that a swap may take, by shelf: what needs a reset does not count."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from vault.spares.stock_state import MovementLike
from vault.spares.stock_walk import state_of


@dataclass(frozen=True, slots=True, order=True, kw_only=True)
class Shelf:
    """Usable pieces of one model in one bin of one store."""

    store: str
    model: str
    bin: str
    pieces: int


def shelves(movements: Iterable[MovementLike]) -> list[Shelf]:
    """Usable stock by store, model and bin, in that order."""
    return [Shelf(store=one.store, model=one.model, bin=one.bin, pieces=one.good)
            for one in state_of(movements, {}, today_day=0).shelves if one.good or one.bin]
