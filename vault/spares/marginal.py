"""What the money buys: spares bought pack by pack, each where it takes most expected waiting off for a cent.

Expected backorders of Poisson demand are convex in the number of spares: one more takes off P(D > S), less every time, and so
does one more pack. So buying in the order of weight · (waiting that a pack takes off) / (price of the pack) passes through
stocks that no other stock of whole packs and of the same cost beats (marginal analysis; points of the efficient frontier).
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from vault.domain.terms import Importance
from vault.errors import GearkeepError
from vault.spares.holding import chance_of_no_shortage, expected_backorders, fill_rate

WEIGHT: Mapping[Importance, int] = {Importance.VITAL: 10, Importance.ESSENTIAL: 3, Importance.DESIRABLE: 1}  # a choice of ours
SMALLEST_CHANCE = 1e-6  # of needing one more: buying ends there
MOST_STEPS = 200_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """One model. mean: demands until more can come. price_cents: of one piece, None where nobody told it. weight: how much
    waiting hurts. held: pieces that are there before anything is bought, below 0 where more is promised. pack: pieces that are
    bought together.
    """

    model: str
    mean: float
    price_cents: int | None
    weight: int = 1
    held: int = 0
    pack: int = 1

    @property
    def pack_cents(self) -> int:
        """What a pack costs; 0 where no price is known."""
        return (self.price_cents or 0) * self.pack


@dataclass(frozen=True, slots=True, kw_only=True)
class Point:
    """After one more pack of `model`. spares: of that model now. cost_cents: of what was bought. waiting: expected backorders of
    all, each times its weight.

    served: share of all demands met at once from the shelf (fill rate, P(D <= S - 1) weighted by demand). no_shortage: chance
    that no demand of any model goes wanting, the models independent.
    """

    model: str
    spares: int
    cost_cents: int
    waiting: float
    served: float
    no_shortage: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Curve:
    """The frontier from what is held. unpriced: models that no money could be counted for and that are left out."""

    items: tuple[Wanted, ...]
    points: tuple[Point, ...]
    unpriced: tuple[str, ...]

    def stock(self, upto: int) -> dict[str, int]:
        """Spares by model after the first `upto` purchases, those held before among them."""
        held = {item.model: item.held for item in self.items}
        held.update((point.model, point.spares) for point in self.points[1 : upto + 1])
        return held


@dataclass(frozen=True, slots=True, kw_only=True)
class Bought:
    """What a budget buys. stock: by model, with what was held before. frontier: whether no other stock of this cost leaves less
    waiting; else the rest of the money went into the next best packs that it pays for. left_cents: not spent. next_pack: the
    cheapest pack that would still be of use and that the rest does not pay for; None where no further piece would be of use.
    """

    stock: Mapping[str, int]
    cost_cents: int
    left_cents: int
    next_pack: Wanted | None
    waiting: float
    served: float
    no_shortage: float
    frontier: bool


def _priced(items: Iterable[Wanted]) -> tuple[tuple[Wanted, ...], tuple[str, ...]]:
    known, unknown = [], []
    for item in items:
        if item.price_cents is None or item.price_cents == 0:
            unknown.append(item.model)
        else:
            known.append(item)
    return tuple(known), tuple(sorted(unknown))


def _no_shortage(item: Wanted, spares: int) -> float:
    return chance_of_no_shortage(item.mean, spares)


def _taken_off(item: Wanted, spares: int) -> float:
    """Waiting that one more pack takes off, not weighted."""
    return expected_backorders(item.mean, spares) - expected_backorders(item.mean, spares + item.pack)


def _order(items: Sequence[Wanted]) -> Iterator[tuple[Wanted, int]]:
    """(model, its spares after the purchase) in the order of gain for a cent; names decide between equals."""
    def entry(item: Wanted, spares: int) -> tuple[float, str, int, Wanted]:
        return -item.weight * _taken_off(item, spares) / item.pack_cents, item.model, spares, item

    heap = [entry(item, item.held) for item in items if item.mean > 0 or item.held < 0]
    heapq.heapify(heap)
    while heap:
        _, _, spares, item = heapq.heappop(heap)
        if 1 - _no_shortage(item, spares) < SMALLEST_CHANCE:
            continue
        yield item, spares + item.pack
        heapq.heappush(heap, entry(item, spares + item.pack))


def _log_of(chance: float) -> float:
    return math.log(max(chance, 1e-300))


class _Held:
    """A stock with its figures, kept up as packs come."""

    def __init__(self, items: Sequence[Wanted]) -> None:
        self.spares = {item.model: item.held for item in items}
        self.cost, self.demand = 0, sum(item.mean for item in items)
        self.waiting = sum(item.weight * expected_backorders(item.mean, item.held) for item in items)
        self.met = sum(item.mean * fill_rate(item.mean, item.held) for item in items)
        self.log_chance = sum(_log_of(_no_shortage(item, item.held)) for item in items)

    def add(self, item: Wanted) -> None:
        before = self.spares[item.model]
        now = self.spares[item.model] = before + item.pack
        self.cost += item.pack_cents
        self.waiting -= item.weight * _taken_off(item, before)
        self.met += item.mean * (fill_rate(item.mean, now) - fill_rate(item.mean, before))
        self.log_chance += _log_of(_no_shortage(item, now)) - _log_of(_no_shortage(item, before))

    @property
    def served(self) -> float:
        return min(self.met / self.demand, 1.0) if self.demand else 1.0

    @property
    def no_shortage(self) -> float:
        return min(math.exp(self.log_chance), 1.0)


def curve_of(items: Iterable[Wanted]) -> Curve:
    """The frontier from what is held until one more of any model is needed with a chance below one in a million.

    Models without a price (or with 0) are named, never taken as free. Raises GearkeepError (too-large, out-of-range).
    """
    known, unknown = _priced(items)
    if sum(item.mean for item in known) > MOST_STEPS / 2:
        raise GearkeepError(f"A demand of more than {MOST_STEPS // 2:,} pieces is too large for a curve.", kind="too-large",
                            hint="Choose fewer models or a shorter review period.")
    held = _Held(known)
    points = [Point(model="", spares=0, cost_cents=0, waiting=held.waiting, served=held.served, no_shortage=held.no_shortage)]
    for item, spares in _order(known):
        held.add(item)
        points.append(Point(model=item.model, spares=spares, cost_cents=held.cost, waiting=max(held.waiting, 0.0),
                            served=held.served, no_shortage=held.no_shortage))
    return Curve(items=known, points=tuple(points), unpriced=unknown)


def bought_for(curve: Curve, budget_cents: int) -> Bought:
    """The stock that a budget buys: the last point of the frontier that it pays for, then the next best packs that the rest
    of the money pays for. Raises GearkeepError (out-of-range) for a budget below nought.
    """
    if budget_cents < 0:
        raise GearkeepError(f"A budget of {budget_cents / 100:.2f} cannot be spent.", kind="out-of-range",
                            hint="Name one from 0.")
    held, by_name, frontier, skipped = _Held(curve.items), {item.model: item for item in curve.items}, True, set[str]()
    for point in curve.points[1:]:
        item = by_name[point.model]
        # A model passed over once would cost the same again.
        if point.model in skipped or held.cost + item.pack_cents > budget_cents:
            skipped.add(point.model)
            continue
        frontier = frontier and not skipped
        held.add(item)
    cheapest = min((by_name[name] for name in skipped), key=lambda item: (item.pack_cents, item.model), default=None)
    return Bought(stock=held.spares, cost_cents=held.cost, left_cents=budget_cents - held.cost, next_pack=cheapest,
                  waiting=max(held.waiting, 0.0), served=held.served, no_shortage=held.no_shortage, frontier=frontier)


def cost_of_service(curve: Curve, served_permille: int) -> tuple[int, Point] | None:
    """The first point at which so large a share of demands is met at once, and its number; None where the curve ends before."""
    for number, point in enumerate(curve.points):
        if point.served * 1000 >= served_permille:
            return number, point
    return None
