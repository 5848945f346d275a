"""What a plain stop looks at: a class under one of its ratings, and what a rule for it is made of."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from vault.domain.driver import DriverModel
from vault.domain.rating import GearRating, Rating
from vault.domain.settings import Gear
from vault.domain.site import Circuit, Line


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """A class under one of its ratings. position: None where the type has no gear of that duty."""

    gear: Gear
    rating: Rating
    position: GearRating | None
    line: Line | None
    circuit: Circuit | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Plain:
    """One rule. figures: what of a row it looks at, hashable; None where the rule cannot stop that row. stops: one sentence
    where these figures and a model are at odds, else None.
    """

    rule: str
    figures: Callable[[Row], Any]
    stops: Callable[[Any, DriverModel], str | None]


def position_of(row: Row) -> GearRating:
    if row.position is None:
        raise ValueError("a row without a position is stopped before")
    return row.position
