"""Fit: output kind, channels, and the current that the spare will give."""

from __future__ import annotations

from fractions import Fraction

from vault.domain.apply_current import CurrentWay, settable_mv
from vault.domain.fit_case import Case
from vault.domain.limits_output import ASSUMED_TOLERANCE_PERMILLE, check_colours, check_constant_voltage, spoken
from vault.domain.rating import Module
from vault.domain.rules import margin_percent
from vault.domain.schema import words
from vault.domain.settings import Output
from vault.domain.units import ma, percent, permille

# Common practice: within 2 % is good, within 5 % somebody must decide.
GOOD_PERCENT = 2
CARE_PERCENT = 5


def same_shape(case: Case, where: str) -> bool:
    """Output kind and channels agree, so that channel by channel can be compared at all."""
    settings, spare, want = case.gear.settings, case.spare, len(case.position.modules)
    ask = case.sheet.ask("output", where)
    for output, whose in ((settings.output, "the record asks for"), (case.position.output, "the type takes")):
        if spare.output is not output:
            ask.broken(f"the spare gives {spoken(spare.output)}, but {whose} {spoken(output)}.",
                       found=words(spare.output), allowed=words(output))
            return False
    ask = case.sheet.ask("channels", where)
    if len(settings.channels) != want:
        ask.broken(f"the record names {len(settings.channels)} output channels, but the type has {want}.",
                   found=str(len(settings.channels)), allowed=str(want))
        return False
    ask.at_least(spare.channels, want, str, "the number of output channels of the spare", "the number that is needed")
    check_colours(case.sheet, case.gear, case.position, where)
    return spare.channels >= want


def check_currents(case: Case, places: list[str]) -> None:
    """The settable current against the recorded one, the permitted range and the module's maximum."""
    if case.position.output is Output.CONSTANT_VOLTAGE:
        channels = enumerate(case.gear.settings.channels, 1)
        for (number, channel), module, where in zip(channels, case.position.modules, places, strict=True):
            ask = case.sheet.ask("constant-voltage", where)
            what = "the output voltage of the spare"
            given = settable_mv(case.spare, channel.voltage_mv, number)
            check_constant_voltage(ask, given, channel.voltage_mv, what, "the recorded voltage")
            check_constant_voltage(ask, given, module.nominal_voltage_mv, what,
                                   "the nominal voltage of the light source")
        return
    rows = zip(case.gear.settings.channels, case.position.modules, case.ways(), places, strict=True)
    for channel, module, way, where in rows:
        ask, wanted = case.sheet.ask("current-match", where), channel.current_ma
        ask.known((wanted, "The recorded current"))
        if wanted is None:
            continue
        if way is None:
            ask.missing("The current nearest to the recorded one that the spare can be set to")
            continue
        _match(case, way.gives_ma, wanted, where)
        _permitted(case, module, way.gives_ma, wanted, where)
        _tolerance(case, module, way, wanted, where)


def _match(case: Case, near: Fraction, wanted: int, where: str) -> None:
    off = abs(near - wanted) * 100 / wanted
    if off <= GOOD_PERCENT:
        return
    ask = case.sheet.ask("current-match", where)
    write = ask.care if off <= CARE_PERCENT else ask.broken
    write(f"the spare can be set to {ma(near)}, which is {percent(off)} off the recorded {ma(wanted)}.",
          found=ma(near), allowed=f"{ma(wanted)} within {CARE_PERCENT} %", unit="mA", margin=CARE_PERCENT - off)


def _permitted(case: Case, module: Module, near: Fraction, wanted: int, where: str) -> None:
    ask, least, most = case.sheet.ask("current-permitted", where), module.current_min_ma, module.current_max_ma
    if least is not None and most is not None and least <= wanted <= most and not least <= near <= most \
            and abs(near - wanted) * 100 <= GOOD_PERCENT * wanted:
        ask.care(f"the spare can only be set to {ma(near)}; the type permits {ma(least)} to {ma(most)}.",
                 found=ma(near), allowed=f"{ma(least)} to {ma(most)}", unit="mA")
        return
    what = "the current that the spare will be set to"
    ask.at_least(near, least, ma, what, "the least current that the type permits")
    ask.at_most(near, most, ma, what, "the highest current that the type permits")


def _tolerance(case: Case, module: Module, way: CurrentWay, wanted: int, where: str) -> None:
    """I·(1 + tolerance) within the module's maximum.

    The same current with a tolerance no worse than the original's adds no risk. An undeclared tolerance is taken as
    10 %: enough to ask for care, or to leave the question open, never to stop. A set resistor's own tolerance comes on
    top of the driver's.
    """
    near, own = way.gives_ma, way.own_permille
    ask, most = case.sheet.ask("current-tolerance", where), module.module_max_ma
    declared = case.spare.tolerance_permille
    original = case.position.original.tolerance_permille if case.position.original else None
    no_worse = case.approved_model or (declared is not None and original is not None and declared + own <= original)
    if near <= wanted and no_worse:
        return
    if most is None:
        ask.missing("The highest current that the light source bears")
        return
    tolerance = ASSUMED_TOLERANCE_PERMILLE if declared is None else declared
    # The current goes with 1 / R, so the low end of the resistor counts.
    worst = near * Fraction(1000 + tolerance, 1000) * Fraction(1000, 1000 - own)
    figures = f"{permille((worst / near - 1) * 1000)} above {ma(near)} is {ma(worst)}, and the light source bears {ma(most)}."
    margin = margin_percent(worst, most, above=False)
    if near > most or (declared is not None and worst > most):
        ask.broken(figures, found=ma(worst), allowed=f"at most {ma(most)}", unit="mA", margin=margin)
    elif declared is None and worst > most:
        room = percent(Fraction(most * 100, near) - 100)
        ask.missing(f"The tolerance of the spare, which may not exceed {room} here,")
    elif declared is None:
        ask.care(f"the spare declares no tolerance; {figures}", found=ma(worst), allowed=f"at most {ma(most)}",
                 unit="mA", margin=margin)
