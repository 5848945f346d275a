"""Settings against the rating of the fixture type: every finding, none of them raised."""

from __future__ import annotations

from collections import Counter

from vault.domain.control_rules import check_control
from vault.domain.emergency_rules import check_emergency
from vault.domain.findings import Finding
from vault.domain.limits_output import check_output
from vault.domain.rating import Rating, essentials_of
from vault.domain.rules import Sheet, without_repeats
from vault.domain.schema import words
from vault.domain.settings import Duty, EmergencySupply, Gear, Output
from vault.domain.site import Circuit, Line
from vault.domain.supply import battery_floor_v
from vault.domain.units import celsius, volts, volts_range

_ESSENTIALS = {
    "module_max_ma": "The highest current that the light source bears",
    "isolation": "The isolation that the type needs",
    "protection_class": "The protection class of the type",
    "mounting": "The mounting of the gear",
    "ta_c": "The ambient temperature that the type bears",
    "emergency_current_min_ma": "The least emergency current of the type",
}


def place_of(gear: Gear, channel: int | None = None) -> str:
    """Where a finding stands: "general gear" or "general gear, channel 2"."""
    return f"{words(gear.duty)} gear" + (f", channel {channel}" if channel else "")


def check_gears(gears: tuple[Gear, ...], rating: Rating, *, line: Line | None = None,
                circuit: Circuit | None = None) -> tuple[Finding, ...]:
    """Everything about a luminaire's settings that its type's rating does not bear out."""
    sheet = Sheet()
    check_hazards(sheet, rating)
    _check_duties(sheet, gears, rating)
    _check_essentials(sheet, rating)
    _check_site(sheet, rating, line, circuit)
    for gear in gears:
        position = rating.gear_for(gear.duty)
        if position is None:
            continue
        where = place_of(gear)
        check_output(sheet, gear, position, rating, where)
        check_emergency(sheet, gear, position, rating, where)
        check_control(sheet, gear, position, line, where)
    central = [g for g in gears if g.settings.emergency and g.settings.emergency.supply is EmergencySupply.CENTRAL]
    if central and circuit is not None and circuit.central:
        _check_battery_range(sheet, rating, circuit)
    return without_repeats(sheet.findings)


def check_against_two(gears: tuple[Gear, ...], named: Rating, current: Rating, *, line: Line | None = None,
                      circuit: Circuit | None = None) -> tuple[Finding, ...]:
    """Findings against the revision that a record names and against the newest one, each once."""
    findings = check_gears(gears, named, line=line, circuit=circuit)
    if (named.code, named.revision) == (current.code, current.revision):
        return findings
    sheet = Sheet()
    sheet.ask("rating-superseded").note(
        f"The record names revision {named.revision} of {named.code}; revision {current.revision} is the newest, and "
        "the findings against both are shown.", found=f"revision {named.revision}",
        allowed=f"revision {current.revision}")
    return without_repeats((*findings, *sheet.findings, *check_gears(gears, current, line=line, circuit=circuit)))


def check_hazards(sheet: Sheet, rating: Rating) -> None:
    """Uses whose approvals are judged elsewhere: stop and refer."""
    ask = sheet.ask("hazard")
    for hazard in sorted(rating.hazards or ()):
        ask.broken(f"the type is approved for {words(hazard)} use; refer it to whoever answers for that approval.",
                   found=words(hazard), allowed="types outside explosive atmospheres, medical use and rail")


def _check_duties(sheet: Sheet, gears: tuple[Gear, ...], rating: Rating) -> None:
    ask = sheet.ask("duty")
    have, made_for = Counter(gear.duty for gear in gears), {position.duty for position in rating.gears}
    for duty in Duty:
        if have[duty] and duty not in made_for:
            ask.broken(f"the luminaire has a {words(duty)} gear; the type has none.", found=words(duty),
                       allowed=" and ".join(words(d) for d in sorted(made_for)))
        elif duty in made_for and not have[duty]:
            ask.broken(f"the type has a {words(duty)} gear; the luminaire names none.", found="none",
                       allowed=words(duty))


def _check_essentials(sheet: Sheet, rating: Rating) -> None:
    ask = sheet.ask("essentials")
    essentials = essentials_of(rating)
    needless = set()
    if all(position.duty is Duty.GENERAL for position in rating.gears):
        needless.add("emergency_current_min_ma")
    if all(position.output is Output.CONSTANT_VOLTAGE for position in rating.gears):
        needless.add("module_max_ma")
    for name, what in _ESSENTIALS.items():
        if getattr(essentials, name) is None and name not in needless:
            ask.missing(what)


def _check_site(sheet: Sheet, rating: Rating, line: Line | None, circuit: Circuit | None) -> None:
    site = [place.site_ta_c for place in (line, circuit) if place is not None and place.site_ta_c is not None]
    if site:
        sheet.ask("ambient").at_least(rating.ta_c, max(site), celsius, "the ambient temperature that the type bears",
                                      "the air where it hangs")


def _check_battery_range(sheet: Sheet, rating: Rating, circuit: Circuit) -> None:
    ask = sheet.ask("supply-dc")
    low, high, least, most = rating.dc_min_v, rating.dc_max_v, circuit.battery_min_v, circuit.battery_max_v
    ask.known((low and high, "The d.c. voltage range of the type"),
              (least and most, "The battery range of the circuit"))
    if low is None or high is None or least is None or most is None:
        return
    floor = battery_floor_v(least)
    if low > floor or high < most:
        ask.broken(f"the type takes {volts_range(low, high)} d.c., but the battery gives {volts(floor)} to "
                   f"{volts(most)} at the luminaire.", found=volts_range(low, high), allowed=volts_range(floor, most),
                   unit="V")
