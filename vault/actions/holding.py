"""How many spares to hold, over the whole vault: levels, opening stock, what a budget buys."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from vault.actions.cover import Covering, covering_of, default_cache
from vault.actions.desk import Desk
from vault.actions.failure_rates import Asked, Rates, rates_in
from vault.actions.stock import stock_state
from vault.db.audit import Progress, quiet
from vault.db.need_origins import origins_by_group
from vault.db.session import Session
from vault.domain.terms import Importance
from vault.errors import UsageProblem
from vault.spares.burning_hours import DEFAULT_H, HoursTable
from vault.spares.failure_rate import GammaRate, rate_words
from vault.spares.hold_plan import HoldLine, HoldPlan, OrderCosts, Origin, plan
from vault.spares.holding import Policy
from vault.spares.marginal import WEIGHT, Curve, Wanted, curve_of
from vault.spares.needs import NeedClass


@dataclass(frozen=True, slots=True, kw_only=True)
class HoldAsked:
    """What is planned for. models: the set to choose from; none: those that are stocked or have terms, else all. also: chosen
    besides."""

    models: tuple[str, ...] = ()
    also: tuple[str, ...] = ()
    policy: Policy = field(default_factory=Policy)
    hours_per_year: int = DEFAULT_H
    with_care: bool = False
    costs: OrderCosts | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Holding:
    """The plan with what it rests on. notes: in sentences. unsettled: luminaires that get no spare until somebody decides."""

    plan: HoldPlan
    chosen: tuple[str, ...]
    unsettled: int
    notes: tuple[str, ...]


def hold_plan(desk: Desk, asked: HoldAsked, *, progress: Progress = quiet) -> Holding:
    """Levels for every model. Raises UsageProblem (not-found) for a model that the vault does not know, VerificationError."""
    with desk.vault.reading() as session:
        return holding_in(session, asked, now_s=desk.now_s(), progress=progress)


def holding_in(session: Session, asked: HoldAsked, *, now_s: int, progress: Progress = quiet, cache: Path | None = None,
               ) -> Holding:
    """`hold_plan` within a session that is open. cache: of answers; None: the vault's own."""
    covering = covering_of(session, cache=cache or default_cache(session), progress=progress)
    known = {model.model for model in covering.coverage.models}
    unknown = sorted({*asked.models, *asked.also} - known)
    if unknown:
        raise UsageProblem(f"The vault does not know the driver model {unknown[0]}.", kind="not-found",
                           hint=f"It knows: {', '.join(sorted(known)) or 'none'}. Load it with: gearkeep driver load.")
    stock = stock_state(session, now_s=now_s)
    chosen = (set(asked.models) or (known & set(stock.models)) or known) | set(asked.also)
    hours = HoursTable(default=asked.hours_per_year)
    rates = rates_in(session, Asked(hours=hours), now_s=now_s)
    found = plan(covering.coverage, stock, chosen, asked.policy, with_care=asked.with_care, hours=hours, costs=asked.costs,
                 origins_of=_origins(session, covering), belief_of=lambda need, origin: belief(rates, need, origin))
    return Holding(plan=found, chosen=tuple(sorted(chosen)), unsettled=len(covering.unsettled),
                   notes=tuple(_notes(asked, found, rates)))


def belief(rates: Rates, need: NeedClass, origin: Origin) -> GammaRate:
    """The failure rate of gear: of its model where any of that served, else of its fixture type; the prior where neither."""
    for_model = rates.of("model", origin.model) if origin.model else None
    if for_model is not None and not for_model.prior_alone:
        return for_model.after
    return rates.belief("type", need.ratings[-1].code)


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


def _notes(asked: HoldAsked, found: HoldPlan, rates: Rates) -> list[str]:
    service = ", ".join(f"{one.name.lower()} {asked.policy.service_permille[one] / 10:g} %" for one in Importance)
    own = sum(share.origin.pieces for line in found.lines for share in line.shares if share.own)
    others = sum(line.pieces for line in found.lines) - own
    notes = [
        f"Service levels: {service}. Emergency gear is vital; of a model that serves several, the gravest counts.",
        "S spares cover S demands: the chance that none goes wanting is P(D <= S). The share met at once is P(D <= S - 1).",
        f"Failures start from {rate_words(rates.asked.before.mean)} (common practice, no source) and learn from the swaps on "
        f"record; the mean counts. {asked.hours_per_year} burning hours a year where nobody said any.",
        f"Of {own + others} gear, {own} fall to the model that they bear now; {others} to the cheapest model that fits, or where "
        "none has a price to the first.",
    ]
    no_lead = [line.model for line in found.lines if line.lead_days is None]
    assumed = [line.model for line in found.lines if not line.lead_told and line.lead_days is not None]
    if no_lead:
        notes.append(f"The lead time of {_named(no_lead)} is unknown, so no figure is given. Say it in the terms (stock load, "
                     "column lead_days) or give --lead-weeks.")
    if assumed:
        notes.append(f"A lead time of {asked.policy.lead_days} days was assumed for {_named(assumed)} (--lead-weeks): the terms "
                     "tell none.")
    return notes


def _named(models: Sequence[str], most: int = 5) -> str:
    more = len(models) - most
    return ", ".join(models[:most]) + (f" and {more} more" if more > 0 else "")


def wanted_of(lines: Iterable[HoldLine]) -> tuple[list[Wanted], list[str]]:
    """What a budget may buy, and the models left out because their lead time is unknown."""
    known, unknown = [], []
    for line in lines:
        if line.levels is None:
            unknown.append(line.model)
        else:
            known.append(Wanted(model=line.model, mean=line.levels.mean, price_cents=line.price_cents,
                                weight=WEIGHT[line.importance]))
    return known, unknown


@dataclass(frozen=True, slots=True, kw_only=True)
class Money:
    """The curve of cost against service over every model. currency: of the prices, "" where none is named. unpriced, no_lead:
    models left out because their price or lead time is not known.
    """

    curve: Curve
    unpriced: tuple[str, ...]
    no_lead: tuple[str, ...]
    currency: str
    notes: tuple[str, ...]


def what_money_buys(desk: Desk, asked: HoldAsked, *, progress: Progress = quiet) -> Money:
    """The curve. Raises UsageProblem (two-currencies, nothing-priced) and what `hold_plan` raises."""
    holding = hold_plan(desk, asked, progress=progress)
    wanted, no_lead = wanted_of(holding.plan.lines)
    currencies = sorted({line.currency or "no currency" for line in holding.plan.lines if line.price_cents})
    if len(currencies) > 1:
        raise UsageProblem(f"Prices are in {' and '.join(currencies)}; they cannot be added.", kind="two-currencies",
                           hint="Choose models of one currency with --model.")
    curve = curve_of(wanted)
    if not curve.items:
        raise UsageProblem("No model that the plan holds has a price and a lead time, so nothing can be bought for money.",
                           kind="nothing-priced",
                           hint="Load terms: gearkeep stock load FILE with model, price, currency, lead_days.")
    weights = ", ".join(f"{one.name.lower()} {WEIGHT[one]}" for one in Importance)
    unpriced = tuple(line.model for line in holding.plan.lines if not line.price_cents)
    return Money(curve=curve, unpriced=unpriced, no_lead=tuple(no_lead),
                 currency="" if currencies == ["no currency"] else currencies[0],
                 notes=(f"Waiting is weighed by importance: {weights} (a choice, no source).", *holding.notes[1:]))


__all__ = ["HoldAsked", "Holding", "Money", "belief", "hold_plan", "holding_in", "wanted_of", "what_money_buys"]
