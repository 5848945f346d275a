"""Control data against the type: protocol, levels, dimming floor, where addresses stand."""

from __future__ import annotations

from functools import cache

from vault.domain.levels import MASK, OFF, nearest_level
from vault.domain.rating import GearRating
from vault.domain.rules import Sheet
from vault.domain.schema import words
from vault.domain.settings import Control, Curve, Gear, Protocol, Settings
from vault.domain.site import Line


@cache
def floor_level(floor_permille: int, curve: Curve) -> int:
    """The lowest level that a dimming floor leaves: the nearest, so that 1 % is level 85 and not 86."""
    return nearest_level(floor_permille / 10, curve)


def controls_of(settings: Settings) -> tuple[Control, ...]:
    """Control data of the gear, then of each channel that has its own."""
    every = (settings.control, *(channel.control for channel in settings.channels))
    return tuple(control for control in every if control is not None)


def curve_of(control: Control) -> Curve:
    """The curve on record; the logarithmic one, which drivers have from the start, where none is."""
    return control.curve if isinstance(control.curve, Curve) else Curve.LOGARITHMIC


def is_dimmed(position: GearRating, settings: Settings) -> bool:
    """Whether the gear is dimmed: as the type says, else by a protocol that dims."""
    if position.dimmed is not None:
        return position.dimmed
    return any(c.protocol not in (Protocol.NONE, Protocol.SWITCH) for c in controls_of(settings))


def check_control(sheet: Sheet, gear: Gear, position: GearRating, line: Line | None, where: str) -> None:
    """Protocol, address and levels of one gear. Addresses that clash are found by domain.addresses."""
    for control in controls_of(gear.settings):
        _check_protocol(sheet, control, position, where)
        _check_address(sheet, control, line, where)
        _check_levels(sheet, control, where)
        _check_floor(sheet, control, gear, position, where)


def _check_protocol(sheet: Sheet, control: Control, position: GearRating, where: str) -> None:
    ask = sheet.ask("protocol", where)
    if position.protocols is None:
        ask.missing("The control protocol that the type permits")
    elif control.protocol not in position.protocols:
        permitted = " or ".join(words(p) for p in sorted(position.protocols)) or "none"
        ask.broken(f"the gear is controlled by {words(control.protocol)}; the type permits {permitted}.",
                   found=words(control.protocol), allowed=permitted)


def _check_address(sheet: Sheet, control: Control, line: Line | None, where: str) -> None:
    short, central = control.short_address, control.central_address
    ask = sheet.ask("address", where)
    if isinstance(short, int) and not 0 <= short <= 63:
        first = line.addresses_from if line else 0
        ask.broken(f"the short address {short + first} does not exist; they run from {first} to {63 + first}.",
                   found=str(short + first), allowed=f"{first} to {63 + first}")
    if isinstance(central, int) and not 1 <= central <= 255:
        sheet.ask("central-address", where).broken(
            f"the central battery address {central} does not exist; they run from 1 to 255.",
            found=str(central), allowed="1 to 255")


def _check_levels(sheet: Sheet, control: Control, where: str) -> None:
    ask = sheet.ask("levels", where)
    low = control.min_level if isinstance(control.min_level, int) else 1
    high = control.max_level if isinstance(control.max_level, int) else 254
    if low > high:
        ask.broken(f"the minimum level is {low}, above the maximum level {high}.", found=str(low),
                   allowed=f"at most {high}")
        return
    named = [("power-on level", control.power_on_level), ("system-failure level", control.system_failure_level)]
    if isinstance(control.scenes, tuple):
        named += [(f"level of scene {number}", level) for number, level in enumerate(control.scenes)]
    for name, level in named:
        if isinstance(level, int) and level not in (OFF, MASK) and not low <= level <= high:
            ask.broken(f"the {name} is {level}; the gear gives only {low} to {high}.", found=str(level),
                       allowed=f"{low} to {high}, {OFF} for off or {MASK} for unchanged")


def _check_floor(sheet: Sheet, control: Control, gear: Gear, position: GearRating, where: str) -> None:
    if not isinstance(control.min_level, int) or not is_dimmed(position, gear.settings):
        return
    ask, floor = sheet.ask("dimming-floor", where), position.dimming_floor_permille
    if floor is None:
        if position.dimmed:
            ask.missing("The lowest dimming level of the type")
    elif control.min_level < (least := floor_level(floor, curve_of(control))):
        ask.broken(f"the minimum level is {control.min_level}; the type can be dimmed to level {least} and no lower.",
                   found=str(control.min_level), allowed=f"at least {least}")
