"""How much to order at once where an order itself costs money: Poisson demand, exact.

A position of y pieces costs g(y) = keeping · E[(y - D)+] + waiting · E[(D - y)+] a unit of time, D being the demand until what
is ordered now can serve. (r, Q): Q pieces whenever the position has fallen to r; cost (K d + g(r + 1) + ... + g(r + Q)) / Q
(Federgruen and Zheng, Operations Research 40(4), 1992). (s, S): looked at once a period, and up to S where the position is at s
or below (Zheng and Federgruen, Operations Research 39(4), 1991).
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

from vault.errors import GearkeepError
from vault.spares.cost import in_packs, order_quantity
from vault.spares.holding import DAYS_PER_YEAR, demand_over, expected_backorders, fewest_for

MOST_AT_ONCE = 2_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Costs:
    """In one money. order: of one order (K). keeping, waiting: of one piece that lies there, or is wanted, for a unit of time."""

    order: float
    keeping: float
    waiting: float

    def of_position(self, mean: float, position: int) -> float:
        """g: what a position costs a unit of time. mean: demand until what is ordered now can serve."""
        waiting = expected_backorders(mean, position)
        return self.keeping * (position - mean) + (self.keeping + self.waiting) * waiting

    def best_position(self, mean: float) -> int:
        """The position that costs least (newsvendor)."""
        return fewest_for(mean, self.waiting / (self.waiting + self.keeping))


@dataclass(frozen=True, slots=True, kw_only=True)
class Quantity:
    """(r, Q). point: r, below 0 where it pays to let somebody wait; pieces: Q. cost: a unit of time."""

    point: int
    pieces: int
    cost: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Review:
    """(s, S). point: s; up_to: S. cost: a period."""

    point: int
    up_to: int
    cost: float


def waiting_for(keeping: float, service_permille: int) -> float:
    """What a wanted piece must cost so that the service level is just worth its keeping: waiting / (waiting + keeping)."""
    return keeping * service_permille / (1000 - service_permille)


def _quantities(costs: Costs, demand: float, mean: float, point: int | None) -> Iterator[Quantity]:
    """For Q of 1, 2, ... the r that is given, or else the best: those Q positions that lie around the best one cost least."""
    at = costs.best_position(mean) - 1 if point is None else point
    total = costs.of_position(mean, at + 1)
    below, above = costs.of_position(mean, at), costs.of_position(mean, at + 2)
    for pieces in range(1, MOST_AT_ONCE + 1):
        yield Quantity(point=at, pieces=pieces, cost=(costs.order * demand + total) / pieces)
        if point is None and below < above:
            total += below
            at -= 1
            below = costs.of_position(mean, at)
        else:
            total += above
            above = costs.of_position(mean, at + pieces + 2)
    raise _too_many()


def quantity_of(costs: Costs, demand: float, mean: float, pieces: int, *, point: int) -> Quantity:
    """What an r and a Q cost. Raises GearkeepError (out-of-range) beyond `MOST_AT_ONCE`."""
    return next(one for one in _quantities(costs, demand, mean, point) if one.pieces == pieces)


def best_quantity(costs: Costs, demand: float, mean: float, *, pack: int = 1, point: int | None = None) -> Quantity:
    """The (r, Q) that costs least, Q in whole packs. demand: a unit of time. point: r where that is given.

    Raises GearkeepError (out-of-range) beyond `MOST_AT_ONCE`.
    """
    best: Quantity | None = None
    for one in _quantities(costs, demand, mean, point):
        if one.pieces % pack:
            continue
        # Past the least every further piece costs more than the average (g is convex).
        if best is not None and one.cost > best.cost:
            return best
        best = one
    raise _too_many()


def _too_many() -> GearkeepError:
    return GearkeepError(f"More than {MOST_AT_ONCE:,} pieces at once cannot be reckoned with.", kind="out-of-range",
                         hint="Lower the cost of an order, or raise the cost of keeping.")


class _Periods:
    """Costs of (s, S). visits[j]: how often the position stands j below S before the next order; see Zheng and Federgruen."""

    def __init__(self, costs: Costs, period: float, mean: float, low: int) -> None:
        import numpy as np
        from scipy.special import pdtr

        room = MOST_AT_ONCE + 2
        self.costs, self.mean, self.low, self.known = costs, mean, low, 0
        self.stays = -math.expm1(-period)  # 1 - P(no demand in a period)
        self.chance = np.diff(pdtr(np.arange(room), period), prepend=0.0)
        self.visits, self.positions = np.zeros(room), np.zeros(2 * room)
        self.visits[0], self.counted = 1 / self.stays, 1

    def of_position(self, position: int) -> float:
        """Position costs, each reckoned once; from `low` on."""
        while self.known <= position - self.low:
            self.positions[self.known] = self.costs.of_position(self.mean, self.low + self.known)
            self.known += 1
        return float(self.positions[position - self.low])

    def of(self, point: int, up_to: int) -> float:
        """A period's cost of (s, S)."""
        for at in range(self.counted, up_to - point):
            self.visits[at] = self.chance[1 : at + 1] @ self.visits[at - 1 :: -1] / self.stays
        self.counted = max(self.counted, up_to - point)
        self.of_position(up_to)
        visits = self.visits[: up_to - point]
        stood = self.positions[point + 1 - self.low : up_to + 1 - self.low][::-1]
        return float((self.costs.order + visits @ stood) / visits.sum())


def best_review(costs: Costs, period: float, mean: float, *, point: int | None = None) -> Review:
    """The (s, S) that costs least. period: mean demand between two looks, above 0; mean: until what is ordered now can serve,
    which is the same where it comes at once. point: s where that is given. Raises GearkeepError (out-of-range).
    """
    middle = costs.best_position(mean)
    at, up_to = (middle - 1, middle) if point is None else (point, point + 1)
    reckoned = _Periods(costs, period, mean, low=at - MOST_AT_ONCE)
    while point is None and reckoned.of(at, up_to) > reckoned.of_position(at):
        at -= 1
        _refuse_far(up_to - at)
    best = Review(point=at, up_to=up_to, cost=reckoned.of(at, up_to))
    # No S beyond pays that costs more itself than the best does on average.
    while (up_to := up_to + 1) <= middle or reckoned.of_position(up_to) <= best.cost:
        _refuse_far(up_to - at)
        cost = reckoned.of(at, up_to)
        if cost < best.cost:
            while point is None and reckoned.of(at, up_to) <= reckoned.of_position(at + 1):
                at += 1
            best = Review(point=at, up_to=up_to, cost=reckoned.of(at, up_to))
    return best


def _refuse_far(pieces: int) -> None:
    if pieces > MOST_AT_ONCE:
        raise _too_many()


@dataclass(frozen=True, slots=True, kw_only=True)
class Ordering:
    """How much of one model to order at once. Costs are cents a year of orders, keeping and waiting. eoq: the economic order
    quantity, not rounded; rounded: in whole packs, at the reorder point of the service level; exact: what costs least at that
    point, in whole packs; review: the order-up-to level that costs least with it at the reviews. free, free_review: the (r, Q) in
    packs and the (s, S) that cost least whatever the service level. Without reviews there is no review.
    """

    eoq: float
    rounded: Quantity
    exact: Quantity
    review: Review | None
    free: Quantity
    free_review: Review | None

    @property
    def up_to(self) -> int:
        """Up to where to order."""
        return self.exact.point + self.exact.pieces if self.review is None else self.review.up_to


def ordering_of(*, yearly: float, lead_days: int, review_days: int, order_cents: int, keeping_cents: float,
                service_permille: int, point: int, pack: int = 1) -> Ordering:
    """Quantities of one model. keeping_cents: of one piece for a year. point: the reorder point of the service level.

    Raises GearkeepError (out-of-range).
    """
    costs = Costs(order=order_cents, keeping=keeping_cents, waiting=waiting_for(keeping_cents, service_permille))
    mean, period = demand_over(yearly, lead_days + review_days), demand_over(yearly, review_days)
    eoq = order_quantity(yearly, order_cents=order_cents, keeping_cents=keeping_cents)
    return Ordering(eoq=eoq, rounded=quantity_of(costs, yearly, mean, in_packs(eoq, pack), point=point),
                    exact=best_quantity(costs, yearly, mean, pack=pack, point=point),
                    review=_reviewed(costs, period, mean, review_days, point),
                    free=best_quantity(costs, yearly, mean, pack=pack),
                    free_review=_reviewed(costs, period, mean, review_days, None))


def _reviewed(costs: Costs, period: float, mean: float, review_days: int, point: int | None) -> Review | None:
    if period == 0:
        return None
    share = review_days / DAYS_PER_YEAR
    found = best_review(Costs(order=costs.order, keeping=costs.keeping * share, waiting=costs.waiting * share), period, mean,
                        point=point)
    return replace(found, cost=found.cost / share)
