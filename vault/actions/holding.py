"""How many spares to hold, over the whole vault: levels, opening stock, what a budget buys."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from vault.actions.cover import Covering, covering_of, default_cache
from vault.actions.desk import Desk
from vault.actions.failure_rates import Asked, Rates, rates_in
from vault.actions.hold_asked import HoldAsked
from vault.actions.hold_notes import COVERS, hours_notes, plan_notes, service_words
from vault.actions.stock import stock_state
from vault.actions.stock_doubts import stock_doubts
from vault.db.audit import Progress, quiet
from vault.db.need_origins import origins_by_group
from vault.db.session import Session
from vault.domain.terms import Importance
from vault.errors import UsageProblem
from vault.spares.failure_rate import Evidence
from vault.spares.hold_plan import HoldLine, HoldPlan, Idle, Origin, plan
from vault.spares.marginal import WEIGHT, Curve, Wanted, curve_of
from vault.spares.needs import NeedClass
from vault.spares.stock_state import StockState
from vault.spares.stores import of_stores
from vault.spares.successor import Successor, successors


@dataclass(frozen=True, slots=True, kw_only=True)
class Holding:
    """The plan with what it rests on, in sentences. service: the service levels; rests_on: what is not said by them and `COVERS`;
    hours, doubts: those of them on burning hours, and on keys in wrong hands. unsettled: luminaires that get no spare until
    somebody decides. after: what replaces a model, by its name.
    """

    plan: HoldPlan
    chosen: tuple[str, ...]
    unsettled: int
    service: str
    rests_on: tuple[str, ...]
    hours: tuple[str, ...]
    doubts: tuple[str, ...]
    after: Mapping[str, Successor]
    today_day: int

    @property
    def notes(self) -> tuple[str, ...]:
        """Every sentence."""
        return self.service, COVERS, *self.rests_on


def hold_plan(desk: Desk, asked: HoldAsked, *, progress: Progress = quiet) -> Holding:
    """Levels for every model. Raises UsageProblem (not-found) for a model that the vault does not know, VerificationError."""
    with desk.vault.reading() as session:
        return holding_in(session, asked, now_s=desk.now_s(), progress=progress)


def _taken_on(stock: StockState) -> set[str]:
    """Models that the store means to hold: a supplier's price alone is an offer, and moves no demand to what he offers."""
    held = {shelf.model for shelf in stock.shelves} | {due.model for due in stock.orders} | {one.model for one in stock.kept}
    return held | {model for model, terms in stock.terms.items()
                   if any(getattr(terms, name) is not None for name in ("lead_days", "order_multiple", "importance",
                                                                        "last_order_day", "count_every_days"))}


def holding_in(session: Session, asked: HoldAsked, *, now_s: int, progress: Progress = quiet,
               covering: Covering | None = None, stock: StockState | None = None, rates: Rates | None = None) -> Holding:
    """`hold_plan` within a session that is open. covering, stock, rates: of that session, where the caller has them already."""
    covering = covering or covering_of(session, cache=default_cache(session), progress=progress)
    known = {model.model for model in covering.coverage.models}
    unknown = sorted({*asked.models, *asked.also} - known)
    if unknown:
        raise UsageProblem(f"The vault does not know the driver model {unknown[0]}.", kind="not-found",
                           hint=f"It knows: {', '.join(sorted(known)) or 'none'}. Load it with: gearkeep driver load.")
    stock = stock or stock_state(session, now_s=now_s)
    if asked.stores:
        stock = of_stores(stock, asked.stores)
    chosen = (set(asked.models) or (known & _taken_on(stock)) or known) | set(asked.also)
    rates = rates or rates_in(session, Asked(hours=asked.hours), now_s=now_s)
    found = plan(covering.coverage, stock, chosen, asked.policy, with_care=asked.with_care, hours=asked.hours, costs=asked.costs,
                 origins_of=_origins(session, covering), evidence_of=lambda need, origin: _evidence(rates, need, origin))
    if not asked.models:
        found = replace(found, idle=(*found.idle, *_no_drivers(stock, known)))
    hours, doubts = tuple(hours_notes(asked.hours, found, rates)), stock_doubts(session)
    return Holding(plan=found, chosen=tuple(sorted(chosen)), unsettled=len(covering.unsettled),
                   service=service_words(asked.policy), hours=hours, doubts=doubts, today_day=stock.today_day,
                   rests_on=(*plan_notes(asked, found, rates, hours, stock.today_day), *doubts),
                   after=successors(found, covering.coverage, stock.terms, with_care=asked.with_care))


def _no_drivers(stock: StockState, drivers: set[str]) -> Iterator[Idle]:
    for name in stock.models:
        if name not in drivers:
            yield Idle(model=name, there=stock.usable(name), fits=0, served_by=(), driver=False)


def _evidence(rates: Rates, need: NeedClass, origin: Origin) -> Evidence:
    """The failure rate of gear: of its model where any of that served, else of its fixture type; the prior where neither."""
    for_model = rates.of("model", origin.model) if origin.model else None
    if for_model is not None and not for_model.prior_alone:
        return Evidence(name=for_model.name, before=for_model.before, after=for_model.after)
    code = need.ratings[-1].code
    return Evidence(name=code, before=rates.asked.before, after=rates.belief("type", code))


def _origins(session: Session, covering: Covering) -> Callable[[NeedClass], Sequence[Origin]]:
    by_group = origins_by_group(session)
    parts = {need.key: groups for need, groups in zip(covering.coverage.needs, covering.needs.groups, strict=True)}

    def of(need: NeedClass) -> Sequence[Origin]:
        counted: Counter[tuple[str | None, str | None]] = Counter()
        for group in parts[need.key]:
            counted.update({(model, group.circuit): pieces for model, pieces in by_group.get(group, {}).items()})
        # Luminaires that nobody has settled are in no class: as many fewer of what there is most of.
        too_many = counted.total() - need.pieces
        while too_many > 0:
            most = counted.most_common(1)[0][0]
            taken = min(too_many, counted[most])
            counted[most] -= taken
            too_many -= taken
        return [Origin(model=model, circuit=circuit, pieces=pieces) for (model, circuit), pieces in counted.items() if pieces]

    return of


def wanted_of(lines: Iterable[HoldLine], *, from_empty: bool = False) -> tuple[list[Wanted], list[str]]:
    """What a budget may buy, and the models left out because their lead time is unknown. lines: of what can still be
    ordered. from_empty: as if nothing lay there and nothing were on order.
    """
    known, unknown = [], []
    for line in lines:
        if line.levels is None:
            unknown.append(line.model)
        else:
            known.append(Wanted(model=line.model, mean=line.levels.mean, price_cents=line.price_cents, pack=line.pack,
                                weight=WEIGHT[line.importance], held=0 if from_empty else line.position))
    return known, unknown


@dataclass(frozen=True, slots=True, kw_only=True)
class Money:
    """The curve of cost against service over every model. currency: of the prices, "" where none is named. unpriced, no_lead,
    ended: models left out because their price or lead time is not known, or because they can no longer be ordered. from_empty:
    whether it begins with an empty shelf.
    """

    curve: Curve
    unpriced: tuple[str, ...]
    no_lead: tuple[str, ...]
    ended: tuple[str, ...]
    currency: str
    from_empty: bool
    notes: tuple[str, ...]


def what_money_buys(desk: Desk, asked: HoldAsked, *, from_empty: bool = False, progress: Progress = quiet) -> Money:
    """The curve from what there is: on hand and on order, less what is reserved. from_empty: from nothing, as in a new building.

    Raises UsageProblem (two-currencies, nothing-priced) and what `hold_plan` raises.
    """
    holding = hold_plan(desk, asked, progress=progress)
    lines = [line for line in holding.plan.lines if not line.ended]
    wanted, no_lead = wanted_of(lines, from_empty=from_empty)
    currency = _one_currency(lines)
    curve = curve_of(wanted)
    if not curve.items:
        raise UsageProblem("No model that the plan holds has a price above nought and a lead time, so nothing can be bought for "
                           "money.", kind="nothing-priced",
                           hint="Load terms: gearkeep stock load FILE with model, price, currency, lead_days.")
    weights = ", ".join(f"{one.name.lower()} {WEIGHT[one]}" for one in Importance)
    return Money(curve=curve, unpriced=tuple(line.model for line in lines if not line.price_cents), no_lead=tuple(no_lead),
                 ended=tuple(line.model for line in holding.plan.lines if line.ended), currency=currency,
                 from_empty=from_empty,
                 notes=(f"Waiting is weighed by importance: {weights} (a choice, no source).", COVERS,
                        "'Met at once' is P(D <= S - 1), and waiting that of S: at the end of lead time and review period, "
                        "the worst moment of a stock of S.", *holding.rests_on))


def _one_currency(lines: Iterable[HoldLine]) -> str:
    by_currency: dict[str, list[str]] = {}
    for line in lines:
        if line.price_cents:
            by_currency.setdefault(line.currency or "", []).append(line.model)
    if len(by_currency) > 1:
        told = "; ".join(f"{name or 'no currency'}: {', '.join(models)}" for name, models in sorted(by_currency.items()))
        raise UsageProblem(f"Prices are in more than one currency and cannot be added: {told}.", kind="two-currencies",
                           hint="Choose models of one currency with --model, one command for each.")
    return next(iter(by_currency), "")


__all__ = ["HoldAsked", "Holding", "Money", "hold_plan", "holding_in", "wanted_of", "what_money_buys"]
