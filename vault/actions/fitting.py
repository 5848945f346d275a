"""Judging spares for a luminaire, and planning how the chosen one is set."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from vault.actions.changes import gear_position
from vault.actions.desk import Desk
from vault.actions.doubt_findings import DOUBTS
from vault.actions.looking import look
from vault.actions.luminaire import View, driver_models, full_gears, require_settled
from vault.actions.origins import Taken
from vault.db import queries
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
from vault.spares.levels import pieces_of, shelves


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """One spare: its fit, how it would be set, and how many lie in stock."""

    fit: Fit
    plan: Plan
    in_stock: int
    spare: DriverModel


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
    doubts = tuple(finding for finding in seen.findings if finding.rule in DOUBTS)
    if doubts or (not seen.rating_held and seen.rating_finding is not None):
        missing = (seen.rating_finding,) if seen.rating_finding is not None and not seen.rating_held else ()
        known = (*doubts, *missing, *fit.findings)
        fit = replace(fit, findings=known, verdict=verdict(known))
    pieces = pieces_of(queries.each_movement(session, spare.model), spare.model)
    return Judged(fit=fit, plan=plan_for(gear, spare, line=seen.line, rating=seen.rating), in_stock=pieces, spare=spare)


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
        held = {shelf.model for shelf in shelves(queries.each_movement(session)) if shelf.pieces > 0}
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
