"""Output settings of one gear against the type: kind, channels, currents, voltages, power."""

from __future__ import annotations

from fractions import Fraction

from vault.domain.rating import GearRating, Module, Rating
from vault.domain.rules import Ask, Sheet, margin_percent
from vault.domain.schema import words
from vault.domain.settings import Channel, Colour, Duty, Gear, Output
from vault.domain.units import ma, mv, mv_range, mw, permille
from vault.domain.voltage import coldest_c, hot_and_cold_mv

# IEC 62384:2020 7.1, for a driver that declares no tolerance.
ASSUMED_TOLERANCE_PERMILLE = 100
CONSTANT_VOLTAGE_PERCENT = 5


def spoken(output: Output) -> str:
    """The kind of output in a sentence: "constant current"."""
    return words(output).replace("-", " ")


def check_output(sheet: Sheet, gear: Gear, position: GearRating, rating: Rating, where: str) -> None:
    """Everything about what the gear gives out. `where` names the gear in the findings."""
    settings = gear.settings
    ask = sheet.ask("output", where)
    if settings.output is not position.output:
        ask.broken(f"the gear gives {spoken(settings.output)}, but the type takes {spoken(position.output)}.",
                   found=words(settings.output), allowed=words(position.output))
        return
    ask, have, want = sheet.ask("channels", where), len(settings.channels), len(position.modules)
    if have != want:
        ask.broken(f"the settings name {have} output channels, but the type has {want}.", found=str(have),
                   allowed=str(want))
        return
    check_colours(sheet, gear, position, where)
    pairs = list(zip(settings.channels, position.modules, strict=True))
    for number, (channel, module) in enumerate(pairs, 1):
        here = f"{where}, channel {number}" if want > 1 else where
        if settings.output is Output.CONSTANT_CURRENT:
            _check_current(sheet, channel, module, position, here)
            _check_voltage(sheet, channel, module, rating, here)
        else:
            check_constant_voltage(sheet.ask("constant-voltage", here), channel.voltage_mv, module.nominal_voltage_mv,
                                   "the set voltage", "the nominal voltage of the light source")
        rated = module.power_max_mw or position.power_max_mw
        if channel.power_max_mw is not None and rated is not None:
            sheet.ask("power", here).at_most(channel.power_max_mw, rated, mw, "the set power limit", "the rated power")
    if settings.output is Output.CONSTANT_CURRENT:
        _check_power(sheet, gear, position, rating, where)


def check_colours(sheet: Sheet, gear: Gear, position: GearRating, where: str) -> None:
    """The channels stand in the order of the type's colours. One channel has no order."""
    if len(position.modules) < 2:
        return
    ask = sheet.ask("colour-order", where)
    colours = [channel.colour for channel in gear.settings.channels]
    if not ask.known((position.colours, "The colour order of the type"),
                     (None if None in colours else colours, "The colour of every channel")):
        return
    have, want = [c for c in colours if c is not None], [Colour(c) for c in position.colours or ()]
    if have != want:
        said, wanted = ", ".join(map(words, have)), ", ".join(map(words, want))
        ask.broken(f"the channels are {said}, but the type's are {wanted}.", found=said, allowed=wanted)


def check_constant_voltage(ask: Ask, value_mv: int | None, nominal_mv: int | None, what: str, limit_what: str) -> None:
    """Two nominal voltages agree within 5 % (common practice)."""
    ask.known((value_mv, what), (nominal_mv, limit_what))
    if value_mv is None or nominal_mv is None:
        return
    if abs(value_mv - nominal_mv) * 100 > nominal_mv * CONSTANT_VOLTAGE_PERCENT:
        ask.broken(f"{what} is {mv(value_mv)}, but {limit_what} is {mv(nominal_mv)}.", found=mv(value_mv),
                   allowed=f"{mv(nominal_mv)} within 5 %", unit="V")


def _check_current(sheet: Sheet, channel: Channel, module: Module, position: GearRating, where: str) -> None:
    current, ask = channel.current_ma, sheet.ask("current-permitted", where)
    if current is None:
        ask.missing("The set current")
        return
    ask.at_least(current, module.current_min_ma, ma, "the set current", "the least current that the type permits")
    ask.at_most(current, module.current_max_ma, ma, "the set current", "the highest current that the type permits")
    tolerance = position.original.tolerance_permille if position.original else None
    ask, most = sheet.ask("current-tolerance", where), module.module_max_ma
    worst = Fraction(current * (1000 + (ASSUMED_TOLERANCE_PERMILLE if tolerance is None else tolerance)), 1000)
    if most is None:
        ask.missing("The highest current that the light source bears")
    elif current > most or (tolerance is not None and worst > most):
        says = f"set to {ma(current)}, the gear may give {ma(worst)}; the light source bears {ma(most)}."
        ask.broken(says, found=ma(worst), allowed=f"at most {ma(most)}", unit="mA",
                   margin=margin_percent(worst, most, above=False))
    elif worst > most:
        # The type was approved with this driver at this current; an assumed figure does not overrule that.
        says = (f"the driver declares no tolerance; with {permille(ASSUMED_TOLERANCE_PERMILLE)} it may give "
                f"{ma(worst)}, and the light source bears {ma(most)}.")
        ask.note(says, found=ma(worst), allowed=f"at most {ma(most)}", unit="mA",
                 margin=margin_percent(worst, most, above=False))


def _check_voltage(sheet: Sheet, channel: Channel, module: Module, rating: Rating, where: str) -> None:
    low, high = hot_and_cold_mv(module, ambient_min_c=coldest_c(rating))
    ask = sheet.ask("voltage-window", where)
    ask.known((low, "The lowest voltage of the light source"), (high, "The highest voltage of the light source"))
    least, most = channel.voltage_min_mv, channel.voltage_max_mv
    sheet.ask("voltage-stated", where).known((least, "The lower end of the set voltage window"),
                                             (most, "The upper end of the set voltage window"))
    if (low is not None and least is not None and least > low) or (
            high is not None and most is not None and most < high):
        window = mv_range(least or 0, most) if most is not None else f"{mv(least or 0)} and above"
        needed = mv_range(low or 0, high) if high is not None else f"{mv(low or 0)} and above"
        ask.broken(f"the set voltage window is {window}, but the light source needs {needed}.", found=window,
                   allowed=needed, unit="V")


def _check_power(sheet: Sheet, gear: Gear, position: GearRating, rating: Rating, where: str) -> None:
    """I·V of every channel and of all together against the rated powers.

    Above the rated power at the highest voltage of 25 deg C is a stop; only in the cold, where there is heat to
    spare, is a care.
    """
    cold_sum = warm_sum = Fraction(0)
    several = len(position.modules) > 1
    for number, (channel, module) in enumerate(zip(gear.settings.channels, position.modules, strict=True), 1):
        high = hot_and_cold_mv(module, ambient_min_c=coldest_c(rating))[1]
        if channel.current_ma is None or high is None or module.voltage_high_mv is None:
            sheet.ask("power", where).missing("The power of every channel")
            return
        cold = Fraction(channel.current_ma * high, 1000)
        warm = Fraction(channel.current_ma * module.voltage_high_mv, 1000)
        cold_sum, warm_sum = cold_sum + cold, warm_sum + warm
        if module.power_max_mw is not None:
            here = f"{where}, channel {number}" if several else where
            _hold_power(sheet.ask("power", here), warm, cold, module.power_max_mw,
                        "the rated power of the light source")
    ask = sheet.ask("power", where)
    if position.power_max_mw is not None:
        _hold_power(ask, warm_sum, cold_sum, position.power_max_mw, "the rated power of the gear's position")
    elif any(module.power_max_mw is None for module in position.modules):
        ask.missing("The rated power of the type")
    if rating.power_max_mw is not None and gear.duty is not Duty.EMERGENCY_CONVERTER:
        _hold_power(ask, warm_sum, cold_sum, rating.power_max_mw, "the rated power of the luminaire")


def _hold_power(ask: Ask, warm: Fraction, cold: Fraction, rated_mw: int, limit_what: str) -> None:
    if warm > rated_mw:
        ask.at_most(warm, rated_mw, mw, "the set power", limit_what)
    elif cold > rated_mw:
        ask.care(f"the set power is {mw(cold)} in the cold, but {limit_what} is {mw(rated_mw)}.", found=mw(cold),
                 allowed=f"at most {mw(rated_mw)}", unit="W", margin=margin_percent(cold, rated_mw, above=False))
