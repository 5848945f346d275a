"""One gear's settings as a work order tells them: what nobody may miss, the rest, and what is read back."""

from __future__ import annotations

from collections.abc import Iterator

from vault.domain.fields import fields_of
from vault.domain.readback_form import asked_of
from vault.domain.schema import words
from vault.domain.settings import Gear
from vault.domain.site import Line
from vault.domain.units import mv_range
from vault.domain.wording import setting_words
from vault.exchange.work_order import ReadbackField

# In the order in which a technician needs them. The voltage window and the power limit go with their channel.
_LARGE = ("current_ma", "voltage_mv", "short_address", "central_address", "mode", "rated_duration_min",
          "emergency_level_permille", "dc_level_permille")


def large_and_rest(gear: Gear, line: Line | None) -> tuple[list[tuple[str, str]], list[tuple[str, str]]]:
    """(label, value) of what nobody may miss, and of the rest."""
    pairs = list(zip(fields_of(gear.settings), setting_words(gear.settings, line), strict=True))
    large: list[tuple[str, str]] = []
    shown_large: set[str] = set()
    for number, channel in enumerate(gear.settings.channels, 1):
        start = f"channels.{number}."
        for field, (label, value) in pairs:
            if field.path.startswith(start) and field.name in ("current_ma", "voltage_mv"):
                colour = f", {words(channel.colour).replace('-', ' ')}" if channel.colour is not None else ""
                large.append((label.upper() + colour, value))
                shown_large.add(field.path)
        low, high = channel.voltage_min_mv, channel.voltage_max_mv
        if low is not None and high is not None:
            several = f"channel {number} " if len(gear.settings.channels) > 1 else ""
            large.append((f"{several}voltage window".upper(), mv_range(low, high)))
            shown_large |= {f"{start}voltage_min_mv", f"{start}voltage_max_mv"}
    for name in _LARGE:
        for field, (label, value) in pairs:
            if field.name == name and field.path not in shown_large and field.spec.shape != "names":
                figure, bracket, note = value.partition(" (")
                large.append((label.upper() + (f", {note.replace(')', '')}" if bracket else ""), figure))
                shown_large.add(field.path)
    control = gear.settings.control
    if not any(field.name in ("short_address", "central_address", "mode") for field, _ in pairs):
        large.append(("CONTROL", words(control.protocol).replace("dali", "DALI") if control is not None else "none"))
    rest = [said for field, said in pairs if field.path not in shown_large
            and not (field.name == "colour" and field.path.startswith("channels."))]
    return large, rest


def readback_fields(gear: Gear, line: Line | None, *, fixed_window: bool) -> Iterator[ReadbackField]:
    """What the typed form asks, in its order; the words that may be chosen are left to the expected one below it."""
    pairs = zip(fields_of(gear.settings), setting_words(gear.settings, line), strict=True)
    said = {field.path: value for field, (_, value) in pairs}
    for ask in asked_of(gear, fixed_window=fixed_window):
        says = ask.says.removeprefix("Channel 1 ") if len(gear.settings.channels) == 1 else ask.says
        yield ReadbackField(says=says[:1].upper() + says[1:].partition(": ")[0], expected=said[ask.field])


def evidence(gear: Gear) -> Iterator[tuple[str, str]]:
    """A drive current or output voltage can neither be set nor read by the standard's parts."""
    for number, channel in enumerate(gear.settings.channels, 1):
        where = f"Channel {number} " if len(gear.settings.channels) > 1 else "The "
        if channel.current_ma is not None:
            yield f"{where}current", "mA"
        if channel.voltage_mv is not None:
            yield f"{where}output voltage", "V"
