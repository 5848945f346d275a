"""What a gear gives in emergency, and whether that suits the type."""

from __future__ import annotations

from fractions import Fraction

from vault.domain.rating import EmergencyLimits, GearRating, Rating
from vault.domain.rules import Sheet
from vault.domain.schema import words
from vault.domain.settings import Duty, EmergencyMode, EmergencySupply, Gear
from vault.domain.units import ma, minutes, mw
from vault.domain.voltage import coldest_c, hot_and_cold_mv

NO_LIMITS = EmergencyLimits()


def emergency_current_ma(gear: Gear) -> Fraction | None:
    """Current of the weakest channel in emergency, in mA: as recorded, else by the recorded level, else a converter's.

    None where none of them is on record.
    """
    emergency = gear.settings.emergency
    if emergency is None:
        return None
    if emergency.emergency_current_ma is not None:
        return Fraction(emergency.emergency_current_ma)
    currents = [channel.current_ma for channel in gear.settings.channels]
    known = [current for current in currents if current is not None]
    if len(known) < len(currents):
        return None
    level = emergency.emergency_level_permille
    if not isinstance(level, int) and emergency.supply is EmergencySupply.CENTRAL:
        level = emergency.dc_level_permille
    if isinstance(level, int):
        return Fraction(min(known) * level, 1000)
    return Fraction(min(known)) if gear.duty is Duty.EMERGENCY_CONVERTER else None


def emergency_power_mw(gear: Gear, position: GearRating, rating: Rating,
                       current_ma: Fraction | None) -> Fraction | None:
    """Output power in emergency in mW: as recorded, else that current times the highest voltage of every channel."""
    emergency = gear.settings.emergency
    if emergency is not None and emergency.emergency_power_mw is not None:
        return Fraction(emergency.emergency_power_mw)
    highs = [hot_and_cold_mv(module, ambient_min_c=coldest_c(rating))[1] for module in position.modules]
    known = [high for high in highs if high is not None]
    if current_ma is None or len(known) < len(highs):
        return None
    return current_ma * sum(known) / 1000


def check_emergency(sheet: Sheet, gear: Gear, position: GearRating, rating: Rating, where: str) -> None:
    """Emergency settings of one gear against the limits of its position in the type."""
    if gear.duty is Duty.GENERAL:
        return
    settings, limits = gear.settings.emergency, position.emergency or NO_LIMITS
    if settings is None:
        sheet.ask("emergency-settings", where).missing("The emergency setting of the gear")
        return
    _check_mode(sheet, settings.mode if isinstance(settings.mode, EmergencyMode) else None, limits, where)
    ask = sheet.ask("emergency-supply", where)
    if ask.known((limits.supply, "The emergency supply that the type is made for")) and limits.supply is not None \
            and settings.supply is not limits.supply:
        ask.broken(f"the gear is set for {words(settings.supply)} supply, but the type is made for "
                   f"{words(limits.supply)} supply.", found=words(settings.supply), allowed=words(limits.supply))
    _check_duration(sheet, settings.rated_duration_min, settings.supply, limits.duration_min, where)
    current = emergency_current_ma(gear)
    sheet.ask("emergency-current", where).at_least(
        current, limits.emergency_current_min_ma, ma, "the current in emergency",
        "the least emergency current of the type")
    sheet.ask("emergency-power", where).at_most(
        emergency_power_mw(gear, position, rating, current), limits.emergency_power_max_mw, mw,
        "the power in emergency", "the highest emergency power of the type")


def _check_mode(sheet: Sheet, mode: EmergencyMode | None, limits: EmergencyLimits, where: str) -> None:
    ask = sheet.ask("emergency-mode", where)
    ask.known((mode, "The switching mode that the gear is set to"), (limits.modes, "The permitted switching mode"))
    if mode is not None and limits.modes is not None and mode not in limits.modes:
        permitted = " or ".join(words(m) for m in sorted(limits.modes)) or "none"
        ask.broken(f"the gear is set to {words(mode)}; the type permits {permitted}.", found=words(mode),
                   allowed=permitted)


def _check_duration(sheet: Sheet, duration_min: int, supply: EmergencySupply, wanted_min: int | None,
                    where: str) -> None:
    ask = sheet.ask("emergency-duration", where)
    if wanted_min is None:
        ask.missing("The rated duration of the type")
    elif duration_min < wanted_min or (duration_min > wanted_min and supply is EmergencySupply.SELF_CONTAINED):
        # A longer duration asks more of a built-in battery than the type has; a central battery is sized elsewhere.
        ask.broken(f"the gear is set to {minutes(duration_min)}, but the type is made for {minutes(wanted_min)}.",
                   found=minutes(duration_min), allowed=minutes(wanted_min), unit="min")
