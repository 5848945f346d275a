"""What lies on the shelf, from the movements alone."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Protocol

from vault.domain.stock import SIGN, Act


class MovementLike(Protocol):
    """One line of a movement, as the index or a statement gives it."""

    @property
    def act(self) -> int: ...
    @property
    def store(self) -> str: ...
    @property
    def model(self) -> str: ...
    @property
    def quantity(self) -> int: ...
    @property
    def bin(self) -> str | None: ...


@dataclass(frozen=True, slots=True, order=True, kw_only=True)
class Shelf:
    """Pieces of one model in one bin of one store."""

    store: str
    model: str
    bin: str
    pieces: int


def shelves(movements: Iterable[MovementLike]) -> list[Shelf]:
    """Stock by store, model and bin, in that order. A count sets the figure; everything else adds or takes."""
    held: dict[tuple[str, str, str], int] = {}
    for line in movements:
        place = (line.store, line.model, line.bin or "")
        act = Act(line.act)
        held[place] = line.quantity if act is Act.COUNT else held.get(place, 0) + SIGN[act] * line.quantity
    return sorted(Shelf(store=s, model=m, bin=b, pieces=n) for (s, m, b), n in held.items() if n or b)


def pieces_of(movements: Iterable[MovementLike], model: str, store: str | None = None) -> int:
    """Pieces of a model in one store, or in all."""
    return sum(shelf.pieces for shelf in shelves(movements)
               if shelf.model == model and (store is None or shelf.store == store))
