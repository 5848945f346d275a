"""Fit: emergency duty. An ordinary deviation in the light of a room is a broken duty on an escape route."""

from __future__ import annotations

from fractions import Fraction
from math import ceil

from vault.domain.driver import EmergencyAbility
from vault.domain.emergency_rules import NO_LIMITS, emergency_current_ma, emergency_power_mw
from vault.domain.fit_case import Case
from vault.domain.schema import words
from vault.domain.settings import Emergency, EmergencyMode, EmergencySupply
from vault.domain.units import ma, mw


def check_emergency_fit(case: Case, where: str) -> None:
    """Mode, supply, duration, battery, current and power in emergency."""
    settings = case.gear.settings.emergency
    if not case.emergency:
        return
    if settings is None:
        case.sheet.ask("emergency-settings", where).missing("The emergency setting of the gear")
        return
    ability = case.spare.emergency or EmergencyAbility()
    _mode(case, settings, ability, where)
    ask = case.sheet.ask("emergency-supply", where)
    if ask.known((ability.supply, "The emergency supply that the spare is made for")) and ability.supply is not None \
            and ability.supply is not settings.supply:
        ask.broken(f"the spare is made for {words(ability.supply)} supply, but the luminaire has "
                   f"{words(settings.supply)} supply.", found=words(ability.supply), allowed=words(settings.supply))
    if settings.supply is EmergencySupply.SELF_CONTAINED:
        _duration_and_battery(case, settings, ability, where)
    _current_and_power(case, ability, where)


def _mode(case: Case, settings: Emergency, ability: EmergencyAbility, where: str) -> None:
    ask = case.sheet.ask("emergency-mode", where)
    mode = settings.mode if isinstance(settings.mode, EmergencyMode) else None
    ask.known((mode, "The switching mode on record"), (ability.modes, "Which switching modes the spare has"))
    if mode is not None and ability.modes is not None and mode not in ability.modes:
        found = " or ".join(words(m) for m in sorted(ability.modes)) or "none"
        ask.broken(f"the luminaire is {words(mode)}, and the spare cannot work so.", found=found, allowed=words(mode))


def _duration_and_battery(case: Case, settings: Emergency, ability: EmergencyAbility, where: str) -> None:
    ask, wanted = case.sheet.ask("emergency-duration", where), settings.rated_duration_min
    if ability.durations_min is None:
        ask.missing("The rated duration of the spare")
    elif wanted not in ability.durations_min:
        found = " or ".join(str(duration) for duration in ability.durations_min) or "none"
        ask.broken(f"the luminaire is rated for {wanted} min, and the spare for {found} min.", found=found,
                   allowed=str(wanted), unit="min")
    ask, battery = case.sheet.ask("battery", where), (case.position.emergency or NO_LIMITS).battery
    ask.known((battery, "The battery of the type"), (ability.batteries, "Which batteries the spare can charge"))
    if battery is not None and ability.batteries is not None \
            and battery.casefold() not in ability.batteries.casefold().split():
        ask.broken(f"the spare cannot charge the battery {battery}.", found=ability.batteries, allowed=battery)


def _current_and_power(case: Case, ability: EmergencyAbility, where: str) -> None:
    """Any fall below the type's least emergency current is a stop, however small."""
    limits = case.position.emergency or NO_LIMITS
    recorded = emergency_current_ma(case.gear)
    current = _with_spare(case, recorded)
    ask = case.sheet.ask("emergency-current", where)
    what = "the current in emergency"
    ask.at_least(current, limits.emergency_current_min_ma, ma, what, "the least emergency current of the type")
    if current is not None:
        ask.at_least(current, ability.emergency_current_min_ma, ma, what, "the least emergency current of the spare")
        ask.at_most(current, ability.emergency_current_max_ma, ma, what, "the highest emergency current of the spare")
    power = emergency_power_mw(case.gear, case.position, case.rating, recorded)
    if power is not None and current is not None and recorded:
        power = Fraction(ceil(power * current / recorded))
    ask = case.sheet.ask("emergency-power", where)
    ask.at_most(power, limits.emergency_power_max_mw, mw, "the power in emergency",
                "the highest emergency power of the type")
    if power is not None:
        ask.at_least(ability.emergency_power_max_mw, power, mw, "the highest emergency power of the spare",
                     "the power needed in emergency")


def _with_spare(case: Case, recorded: Fraction | None) -> Fraction | None:
    """The emergency current once the spare is set; a level is a share of the current that the spare will give."""
    settings = case.gear.settings.emergency
    if recorded is None or (settings is not None and settings.emergency_current_ma is not None):
        return recorded
    pairs = list(zip(case.currents_ma(), (c.current_ma for c in case.gear.settings.channels), strict=True))
    shares = [Fraction(near, wanted) for near, wanted in pairs if near is not None and wanted]
    return recorded * min(shares) if len(shares) == len(pairs) else None
