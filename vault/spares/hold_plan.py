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
from vault.spares.failure_rate import FIT, Evidence, prior
from vault.spares.hold_line import HoldLine, HoldPlan, Idle, Origin, Share, parts_of
from vault.spares.holding import DAYS_PER_YEAR, Policy, demand_over, mean_demand, spares_for
from vault.spares.needs import Coverage, NeedClass
from vault.spares.order_levels import ordering_of
from vault.spares.reorder_levels import levels_for
from vault.spares.stock_state import Due, StockState
from vault.spares.stores import elsewhere
from vault.spares.unsure import chances, pieces_for

# Share of the pieces in service that the trade lays in at handover: common practice, no source.
TRADE_SHARE_PERMILLE = (20, 100)
# An order so late, and later than the lead time, counts no more: one that goes out today would come first. A choice of ours.
LATE_DAYS = 28


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


def by_price(coverage: Coverage, chosen: Set[str], terms: Mapping[str, ItemTerms], *, today_day: int = 0) -> list[int]:
    """The chosen models, the cheapest first; those without a price behind all, those that can no longer be ordered last, equals
    in the order of the catalogue."""
    prices = [getattr(terms.get(model.model), "price_cents", None) for model in coverage.models]
    ended = [is_ended(terms.get(model.model), today_day) for model in coverage.models]
    return sorted((i for i, model in enumerate(coverage.models) if model.model in chosen),
                  key=lambda i: (ended[i], prices[i] is None, prices[i] or 0, i))


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
    table, order = hours or HoursTable(), by_price(coverage, chosen, stock.terms, today_day=stock.today_day)
    shares: dict[str, list[Share]] = {}
    fallen: dict[str, set[int]] = {}
    bare: list[NeedClass] = []
    for number, need in enumerate(coverage.needs):
        for origin in origins_of(need):
            model = assigned(coverage, order, number, origin.model, with_care=with_care)
            if model is None:
                bare.append(need)
                break  # fits do not hang on where gear comes from: none of the class has a model
            fallen.setdefault(model, set()).add(number)
            evidence, burning = evidence_of(need, origin), powered_hours(table, need, origin.circuit)
            shares.setdefault(model, []).append(Share(
                need=need, origin=origin, own=model == origin.model, hours=burning, evidence=evidence,
                yearly=mean_demand(origin.pieces, burning, evidence.after.mean / FIT)))
    lines = tuple(_line(name, shares[name], stock, policy, costs) for name in sorted(shares))
    return HoldPlan(lines=lines, policy=policy, uncovered=tuple(sorted(bare, key=lambda need: (not need.vital, -need.pieces))),
                    idle=_idle(coverage, stock, [at for at in order if coverage.models[at].model not in shares], fallen,
                               with_care))


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
    ordering, ended = None, is_ended(terms, stock.today_day)
    if costs is not None and levels is not None and lead is not None and price and not ended:
        try:
            ordering = ordering_of(yearly=yearly, lead_days=lead, review_days=policy.review_days, order_cents=costs.order_cents,
                                   keeping_cents=price * costs.keeping_percent / 100, service_permille=service,
                                   point=levels.reorder_point, pack=multiple)
        except GearkeepError as problem:
            raise GearkeepError(f"Of {name}: {problem.what}", hint=problem.hint, kind=problem.kind) from problem
        levels = levels_for(yearly, lead_days=lead, review_days=policy.review_days, service_permille=service, pack=multiple,
                            order_up_to=ordering.up_to)
    on_hand, kept = stock.usable(name), stock.reserved(name)
    late, uncounted = late_of(stock.on_order(name), lead, stock.today_day)
    counted = [due for due in stock.on_order(name) if due not in uncounted]
    coming = sum(due.pieces for due in counted)
    opening_mean = None if lead is None else demand_over(yearly, policy.review_days + lead)
    low, high = (math.ceil(pieces * share / 1000) for share in TRADE_SHARE_PERMILLE)
    return HoldLine(
        model=name, shares=tuple(shares), pieces=pieces, yearly=yearly, importance=importance, lead_days=lead,
        lead_told=told is not None, levels=levels, on_hand=on_hand, on_order=coming, reserved=kept,
        to_order=None if levels is None else levels.to_order(on_hand + coming - kept, multiple),
        opening=None if opening_mean is None else max(spares_for(opening_mean, service), int(importance is Importance.VITAL)),
        opening_mean=opening_mean, trade_low=low, trade_high=high, price_cents=price,
        currency=terms.currency if terms else None, last_order_day=terms.last_order_day if terms else None,
        ended=ended, late=late, uncounted=uncounted, ordering=ordering, pack=multiple,
        unsure_point=None if lead is None else _unsure_point(shares, lead + policy.review_days, service),
        elsewhere=elsewhere(stock, name, counted))


def _unsure_point(shares: Sequence[Share], days: int, service_permille: int) -> int:
    """The reorder point were the rate believed and not known."""
    return pieces_for(chances(part.times(days / DAYS_PER_YEAR) for part in parts_of(shares)), service_permille)[0]


def late_of(orders: Sequence[Due], lead_days: int | None, today_day: int) -> tuple[tuple[Due, ...], tuple[Due, ...]]:
    """Orders whose day has passed; and those of them that are so late that they count no more."""
    late = tuple(due for due in orders if due.due_day < today_day)
    return late, tuple(due for due in late if today_day - due.due_day > max(lead_days or 0, LATE_DAYS))


__all__ = ["LATE_DAYS", "HoldLine", "HoldPlan", "Idle", "OrderCosts", "Origin", "Share", "as_one", "assigned", "by_price",
           "importance_of", "is_ended", "late_of", "plan", "powered_hours"]
