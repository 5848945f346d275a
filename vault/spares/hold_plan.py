"""How many of each model to hold for the luminaires in service: which class falls to which model, the demand, the levels.

Pure. A model without a lead time gets no figure; its line says so.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence, Set
from dataclasses import dataclass

from vault.domain.terms import Importance, ItemTerms
from vault.spares.burning_hours import HoursTable, year_hours
from vault.spares.cost import order_quantity
from vault.spares.failure_rate import FIT, GammaRate, prior
from vault.spares.holding import Levels, Policy, demand_over, levels_for, mean_demand, spares_for
from vault.spares.needs import Coverage, NeedClass
from vault.spares.stock_state import StockState

# Share of the pieces in service that the trade lays in at handover: common practice, no source.
TRADE_SHARE_PERMILLE = (20, 100)


@dataclass(frozen=True, slots=True, kw_only=True)
class Origin:
    """Gear of one class alike in what its record says besides. model: that it bears now, None where no record names one."""

    model: str | None
    circuit: str | None
    pieces: int


def as_one(need: NeedClass) -> tuple[Origin, ...]:
    """A class of which nothing more is known."""
    return (Origin(model=need.gear.model, circuit=None, pieces=need.pieces),)


def prior_belief(_need: NeedClass, _origin: Origin) -> GammaRate:
    """What is believed of gear of which nothing was learned: the prior."""
    return prior()


def powered_hours(table: HoursTable, need: NeedClass, circuit: str | None) -> float:
    """Hours a year under power of one gear of a class on a circuit."""
    emergency = need.gear.settings.emergency
    return year_hours(table, circuit=circuit, type_code=need.ratings[-1].code, duty=need.gear.duty, emergency=emergency).powered


@dataclass(frozen=True, slots=True, kw_only=True)
class Share:
    """Gear that falls to a model. own: because it bears that model now, else it is the cheapest, or the first, that fits.
    hours: of one gear in a year; yearly: mean failures a year of all."""

    need: NeedClass
    origin: Origin
    own: bool
    hours: float
    yearly: float
    belief: GammaRate


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderCosts:
    """What decides how much to order at once. keeping_percent: cost of keeping a piece for a year, of its price."""

    order_cents: int
    keeping_percent: int


@dataclass(frozen=True, slots=True, kw_only=True)
class HoldLine:
    """One model. levels is None where its lead time is not known. yearly: pooled over its classes.

    position: on hand + on order - reserved. to_order: pieces to order now, None where that cannot be said. lead_told: whether
    its terms tell the lead time (else the policy's default). opening: pieces to lay in at handover. trade_low, trade_high:
    2 and 10 % of the pieces in service, for comparison.
    """

    model: str
    shares: tuple[Share, ...]
    pieces: int
    yearly: float
    importance: Importance
    lead_days: int | None
    lead_told: bool
    levels: Levels | None
    on_hand: int
    on_order: int
    reserved: int
    to_order: int | None
    opening: int | None
    opening_mean: float | None
    trade_low: int
    trade_high: int
    price_cents: int | None
    currency: str | None

    @property
    def position(self) -> int:
        return self.on_hand + self.on_order - self.reserved

    @property
    def short(self) -> bool:
        """Whether it is time to order."""
        return bool(self.to_order)


@dataclass(frozen=True, slots=True, kw_only=True)
class HoldPlan:
    """Every model that a class falls to. uncovered: classes that none of the chosen models fits, the vital ones first."""

    lines: tuple[HoldLine, ...]
    uncovered: tuple[NeedClass, ...]
    policy: Policy


def by_price(coverage: Coverage, chosen: Set[str], terms: Mapping[str, ItemTerms]) -> list[int]:
    """The chosen models, the cheapest first; those without a price behind all, equals in the order of the catalogue."""
    prices = [getattr(terms.get(model.model), "price_cents", None) for model in coverage.models]
    return sorted((i for i, model in enumerate(coverage.models) if model.model in chosen),
                  key=lambda i: (prices[i] is None, prices[i] or 0, i))


def assigned(coverage: Coverage, order: Sequence[int], need: int, own: str | None, *, with_care: bool = False) -> str | None:
    """The model that gear of a class falls to: its own where that is chosen and fits; else the first of `order` that fits;
    None where none does.
    """
    if own is not None and any(coverage.models[i].model == own and coverage.covers(need, i, with_care=with_care) for i in order):
        return own
    return next((coverage.models[i].model for i in order if coverage.covers(need, i, with_care=with_care)), None)


def plan(coverage: Coverage, stock: StockState, chosen: Set[str], policy: Policy, *, with_care: bool = False,
         origins_of: Callable[[NeedClass], Sequence[Origin]] = as_one,
         belief_of: Callable[[NeedClass, Origin], GammaRate] = prior_belief, hours: HoursTable | None = None,
         costs: OrderCosts | None = None) -> HoldPlan:
    """Levels for each chosen model. origins_of: what a class is made of. belief_of: the failure rate of such gear; its mean
    counts. Raises GearkeepError (out-of-range).
    """
    table, order = hours or HoursTable(), by_price(coverage, chosen, stock.terms)
    shares: dict[str, list[Share]] = {}
    bare: list[NeedClass] = []
    for number, need in enumerate(coverage.needs):
        for origin in origins_of(need):
            model = assigned(coverage, order, number, origin.model, with_care=with_care)
            if model is None:
                bare.append(need)
                break  # fits do not hang on where gear comes from: none of the class has a model
            belief, burning = belief_of(need, origin), powered_hours(table, need, origin.circuit)
            shares.setdefault(model, []).append(Share(
                need=need, origin=origin, own=model == origin.model, hours=burning, belief=belief,
                yearly=mean_demand(origin.pieces, burning, belief.mean / FIT)))
    return HoldPlan(lines=tuple(_line(name, shares[name], stock, policy, costs) for name in sorted(shares)), policy=policy,
                    uncovered=tuple(sorted(bare, key=lambda need: (not need.vital, -need.pieces))))


def importance_of(shares: Sequence[Share], terms: ItemTerms | None) -> Importance:
    """Vital where any of the classes has an emergency duty; else as agreed in the terms; else essential."""
    if any(share.need.vital for share in shares):
        return Importance.VITAL
    return terms.importance if terms is not None and terms.importance is not None else Importance.ESSENTIAL


def _line(name: str, shares: Sequence[Share], stock: StockState, policy: Policy, costs: OrderCosts | None) -> HoldLine:
    terms = stock.terms.get(name)
    told = terms.lead_days if terms else None
    lead = told if told is not None else policy.lead_days
    yearly, pieces = sum(share.yearly for share in shares), sum(share.origin.pieces for share in shares)
    importance = importance_of(shares, terms)
    service = policy.service_permille[importance]
    price = terms.price_cents if terms else None
    levels = None if lead is None else levels_for(
        yearly, lead_days=lead, review_days=policy.review_days, service_permille=service,
        order_pieces=_at_once(yearly, price, costs))
    on_hand, coming, kept = stock.usable(name), sum(due.pieces for due in stock.on_order(name)), stock.reserved(name)
    multiple = (terms.order_multiple if terms else None) or 1
    opening_mean = None if lead is None else demand_over(yearly, policy.review_days + lead)
    low, high = (math.ceil(pieces * share / 1000) for share in TRADE_SHARE_PERMILLE)
    return HoldLine(
        model=name, shares=tuple(shares), pieces=pieces, yearly=yearly, importance=importance, lead_days=lead,
        lead_told=told is not None, levels=levels, on_hand=on_hand, on_order=coming, reserved=kept,
        to_order=None if levels is None else levels.to_order(on_hand + coming - kept, multiple),
        opening=None if opening_mean is None else max(spares_for(opening_mean, service), int(importance is Importance.VITAL)),
        opening_mean=opening_mean, trade_low=low, trade_high=high, price_cents=price,
        currency=terms.currency if terms else None)


def _at_once(yearly: float, price_cents: int | None, costs: OrderCosts | None) -> int:
    """The order quantity that costs least, in whole pieces; 1 where the costs or the price are not known."""
    if costs is None or not price_cents:
        return 1
    return max(round(order_quantity(yearly, order_cents=costs.order_cents,
                                    keeping_cents=price_cents * costs.keeping_percent / 100)), 1)
