"""Judging spares for a luminaire, and planning how the chosen one is set."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path

from vault.actions.changes import gear_position
from vault.actions.desk import Desk
from vault.actions.doubt_findings import DOUBTS, model_doubts
from vault.actions.looking import look
from vault.actions.luminaire import View, driver_models, full_gears, require_settled
from vault.actions.origins import Taken
from vault.actions.stock_told import where_words
from vault.db import stock_rows
from vault.db.session import Session
from vault.domain.apply import Plan, plan_for
from vault.domain.driver import DriverModel
from vault.domain.findings import Severity, verdict
from vault.domain.fit import Fit, fit_spare, rank
from vault.domain.schema import words
from vault.domain.settings import Gear
from vault.domain.tag import shown
from vault.domain.voltage import hot_and_cold_mv
from vault.errors import GearkeepError, UsageProblem
from vault.exchange.plot import plot_fit
from vault.spares.levels import shelves
from vault.spares.stock_walk import state_of


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """One spare: its fit, how it would be set, and how many lie in stock, reserved ones among them. kept: whom pieces are kept
    for, with how many; kept_here: those for this luminaire. places: "2 in bin A1 of MAIN" for each bin that holds some.
    """

    fit: Fit
    plan: Plan
    in_stock: int
    spare: DriverModel
    kept: Mapping[str, int] = field(default_factory=dict)
    kept_here: int = 0
    places: tuple[str, ...] = ()

    @property
    def stock_words(self) -> str:
        """ "3 in stock", "1 in stock, kept for 1EX9 RH4Y 7", "6 in stock, 2 kept for this luminaire, 1 for 3Q76 58AZ 6"."""
        said = f"{self.in_stock} in stock"
        if not self.in_stock:
            return said
        others = sum(self.kept.values())
        whom = shown(next(iter(self.kept))) if len(self.kept) == 1 else f"{len(self.kept)} other luminaires"
        parts = [("this luminaire", self.kept_here)] if self.kept_here else []
        parts += [(whom, others)] if others else []
        every = self.kept_here + others >= self.in_stock
        if len(parts) == 1 and every:
            return f"{said}, {'all ' if self.in_stock > 1 else ''}kept for {parts[0][0]}"
        return said + "".join(f", {pieces} {'kept ' if not at else ''}for {name}" for at, (name, pieces) in enumerate(parts))


@dataclass(frozen=True, slots=True, kw_only=True)
class FitResult:
    """Spares ranked best first for one gear of a luminaire. taken: whose it is, None for this vault's own."""

    seen: View
    gear: Gear
    spares: tuple[Judged, ...]
    taken: Taken | None = None


def judge(session: Session, seen: View, gear: Gear, spare: DriverModel) -> Judged:
    """One spare against the rating the record names and, where it is newer, the current one: the worse counts."""
    fit = fit_spare(gear, seen.rating, spare, circuit=seen.circuit, line=seen.line)
    if seen.current_rating.revision != seen.rating.revision:
        newer = fit_spare(gear, seen.current_rating, spare, circuit=seen.circuit, line=seen.line)
        both = (*fit.findings, *(f for f in newer.findings if f not in fit.findings))
        fit = replace(fit, findings=both, verdict=verdict(both))
    doubts = (*(finding for finding in seen.findings if finding.rule in DOUBTS), *model_doubts(session, spare.model))
    if doubts or (not seen.rating_held and seen.rating_finding is not None):
        missing = (seen.rating_finding,) if seen.rating_finding is not None and not seen.rating_held else ()
        known = (*doubts, *missing, *fit.findings)
        fit = replace(fit, findings=known, verdict=verdict(known))
    stock = state_of(stock_rows.each_movement(session, spare.model), {}, today_day=0)
    kept = Counter[str]()
    for one in stock.kept:
        kept[one.tag] += one.pieces
    kept_here = kept.pop(seen.tag, 0)
    return Judged(fit=fit, plan=plan_for(gear, spare, line=seen.line, rating=seen.rating), in_stock=stock.usable(spare.model),
                  spare=spare, kept=kept, kept_here=kept_here,
                  places=tuple(f"{one.good} in {where_words(one.store, one.bin)}" for one in stock.shelves if one.good))


def candidates(session: Session, model: str | None, in_stock_only: bool) -> list[DriverModel]:
    """Driver models to judge: one named model, or all generic ones with the original's own model among them."""
    models = driver_models(session)
    if model is not None:
        if model not in models:
            raise UsageProblem(f"The vault does not know the driver model {model}.", kind="not-found",
                               hint=f"It knows: {', '.join(sorted(models)) or 'none'}. Load it with: gearkeep driver load.")
        return [models[model]]
    found = list(models.values())
    if in_stock_only:
        held = {shelf.model for shelf in shelves(stock_rows.each_movement(session)) if shelf.pieces > 0}
        found = [m for m in found if m.model in held]
    return found


def fit(desk: Desk, tag_text: str, *, model: str | None = None, in_stock_only: bool = False,
        gear: str | None = None) -> FitResult:
    """Judge spares for one gear of a luminaire (default: its first)."""
    with desk.vault.reading() as session:
        seen, taken = look(session, tag_text)
        require_settled(seen)
        chosen = full_gears(seen.record)[gear_position(seen.record, gear)]
        judged = [judge(session, seen, chosen, spare) for spare in candidates(session, model, in_stock_only)]
    order = {fit.model: number for number, fit in enumerate(rank([j.fit for j in judged], original=chosen.model))}
    judged.sort(key=lambda j: order[j.fit.model])
    return FitResult(seen=seen, gear=chosen, spares=tuple(judged), taken=taken)


def plot(result: FitResult, model: str | None, path: Path) -> None:
    """Draw one spare's window with the luminaire's working point. Raises GearkeepError when a figure is missing."""
    chosen = next((j for j in result.spares if model is None or j.fit.model == model), None)
    if chosen is None:
        raise GearkeepError("There is no spare to draw.", kind="not-found", hint="Load driver models first.")
    rated = result.seen.rating.gear_for(result.gear.duty)
    channel = result.gear.settings.channels[0]
    module = rated.modules[0] if rated else None
    if channel.current_ma is None or module is None:
        raise GearkeepError("Only a constant-current gear can be drawn in the current–voltage plane.",
                            kind="cannot-draw", hint="Leave --plot out for this luminaire.")
    cold = -(result.seen.rating.ambient_min_below_zero_c or 0)
    low, high = hot_and_cold_mv(module, ambient_min_c=cold)
    if low is None or high is None:
        raise GearkeepError("The rating does not say the module's voltage, so its box cannot be drawn.",
                            kind="cannot-draw", hint="Complete the rating, then draw again.")
    worst = [f for f in chosen.fit.findings if f.severity is not Severity.NOTE]
    plot_fit(path, title=f"{shown(result.seen.tag)}  {result.seen.record.place}", window=chosen.spare.window,
             spare_name=chosen.fit.model, current_ma=channel.current_ma,
             tolerance_permille=chosen.spare.tolerance_permille if chosen.spare.tolerance_permille is not None else 100,
             voltage_low_mv=low, voltage_high_mv=high, module_max_ma=module.module_max_ma, findings=worst,
             verdict_words=words(chosen.fit.verdict))
