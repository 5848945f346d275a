"""How many of each model to hold for the luminaires in service: which class falls to which model, the demand, the levels.

Pure. A model without a lead time gets no figure; its line says so.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence, Set
from dataclasses import dataclass

from vault.domain.terms import Importance, ItemTerms
from vault.errors import GearkeepError
from vault.spares.burning_hours import HoursTable, year_hours
from vault.spares.coming import LATE_DAYS, late_of
from vault.spares.failure_rate import FIT, Evidence, prior
from vault.spares.hold_line import HoldLine, HoldPlan, Idle, Origin, Share, parts_of
from vault.spares.holding import DAYS_PER_YEAR, Policy, mean_demand
from vault.spares.needs import Coverage, NeedClass
from vault.spares.order_levels import ordering_of
from vault.spares.reorder_levels import levels_for
from vault.spares.stock_state import StockState
from vault.spares.stores import elsewhere
from vault.spares.unsure import chances, pieces_for

# Share of the pieces in service that the trade lays in at handover: common practice, no source.
TRADE_SHARE_PERMILLE = (20, 100)


def as_one(need: NeedClass) -> tuple[Origin, ...]:
    """A class of which nothing more is known."""
    return (Origin(model=need.gear.model, circuit=None, pieces=need.pieces),)


def prior_alone(_need: NeedClass, _origin: Origin) -> Evidence:
    """What the rate of gear rests on of which nothing was learned: the prior."""
    return Evidence(name="", before=prior(), after=prior())


def powered_hours(table: HoursTable, need: NeedClass, circuit: str | None) -> float:
    """Hours a year under power of one gear of a class on a circuit."""
    emergency = need.gear.settings.emergency
    return year_hours(table, circuit=circuit, type_code=need.ratings[-1].code, duty=need.gear.duty, emergency=emergency).powered


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderCosts:
    """What decides how much to order at once. keeping_percent: cost of keeping a piece for a year, of its price."""

    order_cents: int
    keeping_percent: int


def is_ended(terms: ItemTerms | None, today_day: int) -> bool:
    """Whether the day of the last order is past; on that day itself an order may still go out."""
    return terms is not None and terms.last_order_day is not None and terms.last_order_day < today_day


@dataclass(frozen=True, slots=True, kw_only=True)
class _Chosen:
    """The models to choose from. by_price: the cheapest first, those without a price above nought behind them, those that can no
    longer be ordered last; as_listed: the same but for prices. Equals stand in the order of the catalogue. currencies: of the
    prices that count.
    """

    coverage: Coverage
    with_care: bool
    by_price: Sequence[int]
    as_listed: Sequence[int]
    currencies: Mapping[int, str]

    def order_for(self, need: int) -> tuple[Sequence[int], Set[str]]:
        """In which order models are asked for a class, and the currencies that kept their prices from being compared."""
        if len(set(self.currencies.values())) < 2:
            return self.by_price, set()
        named = {currency for at, currency in self.currencies.items()
                 if self.coverage.covers(need, at, with_care=self.with_care)}
        return (self.as_listed, named) if len(named) > 1 else (self.by_price, set())


def _chosen_of(coverage: Coverage, chosen: Set[str], terms: Mapping[str, ItemTerms], *, today_day: int,
               with_care: bool) -> _Chosen:
    prices: dict[int, int] = {}
    currencies: dict[int, str] = {}
    ended: dict[int, bool] = {}
    for at, model in enumerate(coverage.models):
        if model.model not in chosen:
            continue
        one = terms.get(model.model)
        ended[at] = is_ended(one, today_day)
        if one is not None and one.price_cents and not ended[at]:
            prices[at], currencies[at] = one.price_cents, one.currency or "no currency"
    return _Chosen(coverage=coverage, with_care=with_care, currencies=currencies,
                   by_price=sorted(ended, key=lambda at: (ended[at], at not in prices, prices.get(at, 0), at)),
                   as_listed=sorted(ended, key=lambda at: (ended[at], at)))


def assigned(coverage: Coverage, order: Sequence[int], need: int, own: str | None, *, with_care: bool = False) -> str | None:
    """The model that gear of a class falls to: its own where that is chosen and fits; else the first of `order` that fits;
    None where none does.
    """
    if own is not None and any(coverage.models[i].model == own and coverage.covers(need, i, with_care=with_care) for i in order):
        return own
    return next((coverage.models[i].model for i in order if coverage.covers(need, i, with_care=with_care)), None)


def plan(coverage: Coverage, stock: StockState, chosen: Set[str], policy: Policy, *, with_care: bool = False,
         origins_of: Callable[[NeedClass], Sequence[Origin]] = as_one,
         evidence_of: Callable[[NeedClass, Origin], Evidence] = prior_alone, hours: HoursTable | None = None,
         costs: OrderCosts | None = None) -> HoldPlan:
    """Levels for each chosen model. origins_of: what a class is made of. evidence_of: the failure rate of such gear; its
    mean counts. Raises GearkeepError (out-of-range).
    """
    table = hours or HoursTable()
    models = _chosen_of(coverage, chosen, stock.terms, today_day=stock.today_day, with_care=with_care)
    shares: dict[str, list[Share]] = {}
    fallen: dict[str, set[int]] = {}
    bare: list[NeedClass] = []
    mixed: set[str] = set()
    for number, need in enumerate(coverage.needs):
        order, currencies = models.order_for(number)
        for origin in origins_of(need):
            model = assigned(coverage, order, number, origin.model, with_care=with_care)
            if model is None:
                bare.append(need)
                break  # fits do not hang on where gear comes from: none of the class has a model
            fallen.setdefault(model, set()).add(number)
            mixed.update(currencies if model != origin.model else ())
            evidence, burning = evidence_of(need, origin), powered_hours(table, need, origin.circuit)
            shares.setdefault(model, []).append(Share(
                need=need, origin=origin, own=model == origin.model, hours=burning, evidence=evidence,
                yearly=mean_demand(origin.pieces, burning, evidence.after.mean / FIT)))
    lines = tuple(_line(name, shares[name], stock, policy, costs) for name in sorted(shares))
    return HoldPlan(lines=lines, policy=policy, uncovered=tuple(sorted(bare, key=lambda need: (not need.vital, -need.pieces))),
                    idle=_idle(coverage, stock, [at for at in models.as_listed if coverage.models[at].model not in shares],
                               fallen, with_care), mixed=tuple(sorted(mixed)))


def _idle(coverage: Coverage, stock: StockState, without: Sequence[int], fallen: Mapping[str, Set[int]],
          with_care: bool) -> tuple[Idle, ...]:
    found = []
    for at in without:
        name = coverage.models[at].model
        if name not in stock.terms and not stock.on_hand(name) and not stock.on_order(name):
            continue
        fits = {number for number in range(len(coverage.needs)) if coverage.covers(number, at, with_care=with_care)}
        found.append(Idle(model=name, there=stock.usable(name), fits=sum(coverage.needs[number].pieces for number in fits),
                          served_by=tuple(model for model in sorted(fallen) if fits & fallen[model])))
    return tuple(sorted(found, key=lambda one: one.model))


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
    multiple = (terms.order_multiple if terms else None) or 1
    levels = None if lead is None else levels_for(yearly, lead_days=lead, review_days=policy.review_days,
                                                  service_permille=service, pack=multiple)
    ordering, unreckoned, ended = None, "", is_ended(terms, stock.today_day)
    if costs is not None and levels is not None and lead is not None and price and not ended:
        try:
            ordering = ordering_of(yearly=yearly, lead_days=lead, review_days=policy.review_days, order_cents=costs.order_cents,
                                   keeping_cents=price * costs.keeping_percent / 100, service_permille=service,
                                   point=levels.reorder_point, pack=multiple)
        except GearkeepError as problem:
            unreckoned = problem.what
        else:
            levels = levels_for(yearly, lead_days=lead, review_days=policy.review_days, service_permille=service, pack=multiple,
                                order_up_to=ordering.up_to)
    on_hand, kept = stock.usable(name), stock.reserved(name)
    late, uncounted = late_of(stock.on_order(name), lead, stock.today_day)
    counted = [due for due in stock.on_order(name) if due not in uncounted]
    coming = sum(due.pieces for due in counted)
    low, high = (math.ceil(pieces * share / 1000) for share in TRADE_SHARE_PERMILLE)
    return HoldLine(
        model=name, shares=tuple(shares), pieces=pieces, yearly=yearly, importance=importance, lead_days=lead,
        lead_told=told is not None, levels=levels, on_hand=on_hand, on_order=coming, reserved=kept,
        to_order=None if levels is None else levels.to_order(on_hand + coming - kept, multiple),
        opening=None if levels is None else max(levels.reorder_point, int(importance is Importance.VITAL)),
        trade_low=low, trade_high=high, price_cents=price,
        currency=terms.currency if terms else None, last_order_day=terms.last_order_day if terms else None,
        ended=ended, late=late, uncounted=uncounted, ordering=ordering,
        unreckoned=unreckoned, pack=multiple,
        unsure_point=None if lead is None else _unsure_point(shares, lead + policy.review_days, service),
        elsewhere=elsewhere(stock, name, counted))


def _unsure_point(shares: Sequence[Share], days: int, service_permille: int) -> int:
    """The reorder point were the rate believed and not known."""
    return pieces_for(chances(part.times(days / DAYS_PER_YEAR) for part in parts_of(shares)), service_permille)[0]


__all__ = ["LATE_DAYS", "HoldLine", "HoldPlan", "Idle", "OrderCosts", "Origin", "Share", "as_one", "assigned",
           "importance_of", "is_ended", "late_of", "plan", "powered_hours"]
