"""Fit: the light source in the spare's operating windows, and the power of all channels together."""

from __future__ import annotations

from fractions import Fraction

from vault.domain.control_rules import is_dimmed
from vault.domain.driver import Window
from vault.domain.fit_case import Case
from vault.domain.rules import Ask, margin_percent
from vault.domain.settings import Output
from vault.domain.units import Figure, ma, mv, mv_range, mw
from vault.domain.window import hold

EDGE_PERCENT = 5


def check_windows(case: Case, places: list[str]) -> None:
    """Vlo and Vhi at the nominal current in the operating, dimming and d.c. windows."""
    if case.position.output is Output.CONSTANT_VOLTAGE:
        return
    spare, dimmed = case.spare, is_dimmed(case.position, case.gear.settings)
    recorded = [channel.current_ma for channel in case.gear.settings.channels]
    for near, wanted, (low, high), where in zip(case.currents_ma(), recorded, case.voltages_mv(), places, strict=True):
        current = wanted if near is None else near
        if current is None:
            case.sheet.ask("window", where).missing("The current that the spare will be set to")
            continue
        ask = case.sheet.ask("window", where)
        if spare.window is None:
            ask.missing("The operating window of the spare")
        else:
            _hold(case, ask, spare.window, "operating window", current, low, high)
        if dimmed:
            ask = case.sheet.ask("dimming-window", where)
            if spare.dimming_window is None:
                ask.missing("The dimming window of the spare")
            else:
                _hold(case, ask, spare.dimming_window, "dimming window", current, low, high)
        if case.central:
            ask = case.sheet.ask("dc-window", where)
            if spare.dc_window is None:
                ask.care("the spare declares no window for d.c. supply; its operating window is taken.",
                         found="not known", allowed="a known figure")
            else:
                _hold(case, ask, spare.dc_window, "d.c. window", current, low, high)


def _hold(case: Case, ask: Ask, window: Window, name: str, current: Figure, low: int | None, high: int | None) -> None:
    found = hold(window, current, low or 0, high or low or 0)
    if found.lowest_mv is None or found.highest_mv is None:
        ask.broken(f"the {name} of the spare has no room at {ma(current)}.", found=ma(current),
                   allowed=f"a current in the {name}")
        return
    if not ask.known((low, "The lowest voltage of the light source"),
                     (high, "The highest voltage of the light source")):
        return
    needed, given = mv_range(low or 0, high or 0), mv_range(found.lowest_mv, found.highest_mv)
    figures = f"at {ma(current)} the light source needs {needed}, and the {name} of the spare is {given}."
    if not found.inside:
        ask.broken(figures, found=needed, allowed=given, unit="V", margin=found.margin_percent)
    elif found.margin_percent is not None and found.margin_percent < EDGE_PERCENT:
        write = ask.note if case.approved_model else ask.care
        write(f"{figures} That is close to its edge.", found=needed, allowed=given, unit="V",
              margin=found.margin_percent)


def output_power_mw(case: Case) -> Fraction | None:
    """What the spare has to give: current times highest voltage over all channels; rated power at constant voltage."""
    if case.position.output is Output.CONSTANT_VOLTAGE:
        rated = [module.power_max_mw for module in case.position.modules]
        known = [power for power in rated if power is not None]
        if len(known) == len(rated):
            return Fraction(sum(known))
        return None if case.position.power_max_mw is None else Fraction(case.position.power_max_mw)
    total = Fraction(0)
    channels = case.gear.settings.channels
    for near, channel, (_, high) in zip(case.currents_ma(), channels, case.voltages_mv(), strict=True):
        current = channel.current_ma if near is None else near
        if current is None or high is None:
            return None
        total += Fraction(current * high, 1000)
    return total


def check_total_power(case: Case, where: str) -> None:
    """All channels at once within the spare's power, with care in the last 5 %."""
    ask, power, most = case.sheet.ask("total-power", where), output_power_mw(case), case.spare.power_total_max_mw
    ask.at_most(power, most, mw, "the power of all channels together", "the highest power of the spare")
    if power is None or most is None or power > most:
        return
    margin = margin_percent(power, most, above=False)
    if margin is not None and margin < EDGE_PERCENT:
        write = ask.note if case.approved_model else ask.care
        write(f"the channels together take {mw(power)}, close to the {mw(most)} of the spare.", found=mw(power),
              allowed=f"at most {mw(most)}", unit="W", margin=margin)


def check_output_voltages(case: Case, where: str) -> None:
    """Highest output voltage of the spare against the insulation of every light source."""
    known = [m.insulation_max_mv for m in case.position.modules if m.insulation_max_mv is not None]
    limit = min(known) if len(known) == len(case.position.modules) else None
    ask, highest = case.sheet.ask("insulation-voltage", where), case.spare.output_voltage_max_mv
    if limit is None and known and highest is not None and highest > min(known):
        limit = min(known)
    ask.at_most(highest, limit, mv, "the highest output voltage of the spare",
                "the voltage that its light source is insulated for")
