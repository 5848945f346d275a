"""Which setting means of a spare takes which settings of a gear, and what none of them takes."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from vault.domain.apply_words import means_words
from vault.domain.driver import DriverModel
from vault.domain.fields import Field, fields_of, groups_words, value_words
from vault.domain.levels import extended_fade_words, fade_rate_words, fade_time_words, level_words
from vault.domain.means import HAND_WAYS, HELD_AS, Holds, Means, Way
from vault.domain.schema import NOT_SET, words
from vault.domain.settings import Control, Curve, Duty, EmergencySupply, Gear, Protocol, Settings
from vault.domain.units import mv

ON_THE_BUS = frozenset({Holds.ADDRESS, Holds.LEVELS, Holds.FADES, Holds.GROUPS_AND_SCENES, Holds.CURVE, Holds.COLOUR,
                        Holds.EMERGENCY})
# What IEC 62386-202 stores; mode, rated duration, current and power it can only ask for, or not even that.
PART_202_STORES = frozenset({"emergency_level_permille", "function_test_days", "duration_test_weeks", "test_delay_min",
                             "prolong_s", "test_timeout_days"})
_PART = {Holds.CURVE: 207, Holds.COLOUR: 209, Holds.EMERGENCY: 202}
_BUS_FIRST = (*HAND_WAYS, Way.BUS, Way.NFC, Way.FIXED)
_NFC_FIRST = (Way.FIXED, Way.NFC, *HAND_WAYS, Way.BUS)


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """One setting that the record states and a spare may hold. control: whose control data it belongs to, if any."""

    field: Field
    holds: Holds
    control: Control | None

    @property
    def said(self) -> str:
        """ "maximum level: level 254 (100 %)"."""
        return f"{self.field.label}: {self.value_said}"

    @property
    def value_said(self) -> str:
        """ "level 254 (100 %)"."""
        name, value = self.field.name, self.field.value
        curve = self.control.curve if self.control is not None and isinstance(self.control.curve, Curve) else None
        if value is NOT_SET:
            return value_words(name, "", value)
        if self.holds is Holds.LEVELS:
            return level_words(value, curve)
        if name == "central_address":
            circuit = self.control.central_circuit if self.control is not None else None
            return f"{value} (numbered from 1){f' on circuit {circuit}' if circuit else ''}"
        if name == "scenes":
            used = [f"{number}: {level_words(level, curve)}" for number, level in enumerate(value) if level != 255]
            return ", ".join(used) or "none"
        shows: Mapping[str, Any] = {"fade_time": fade_time_words, "fade_rate": fade_rate_words,
                                    "extended_fade": extended_fade_words, "groups": groups_words}
        return str(shows[name](value)) if name in shows else value_words(name, self.field.spec.unit, value)


def controls_of(settings: Settings) -> Iterator[tuple[str, Control]]:
    """Where control data stand ("control", "channels.2.control"), and what they say: the gear's own first."""
    if settings.control is not None:
        yield "control", settings.control
    for number, channel in enumerate(settings.channels, 1):
        if channel.control is not None:
            yield f"channels.{number}.control", channel.control


def control_of(settings: Settings, path: str) -> Control | None:
    """The control data that a dotted path lies in, None where it lies in none."""
    steps = path.split(".")
    if steps[0] == "channels":
        return settings.channels[int(steps[1]) - 1].control if "control" in steps else None
    return settings.control if steps[0] == "control" else None


def wanted_of(settings: Settings) -> Iterator[Wanted]:
    """Every setting that some means may hold, in order. Not among them: output, protocol, supply, circuit, extras."""
    for field in fields_of(settings):
        if field.spec.shape != "names" and field.name in HELD_AS:
            yield Wanted(field=field, holds=HELD_AS[field.name], control=control_of(settings, field.path))


def bus_takes(means: Means, wanted: Wanted, settings: Settings) -> bool:
    """Whether frames of IEC 62386 can store this setting in a gear that serves the parts listed for the means."""
    control = wanted.control if wanted.control is not None else settings.control
    addressed = control is not None and control.protocol is Protocol.DALI
    part = _PART.get(wanted.holds)
    served = part is None or means.dali_parts is None or part in means.dali_parts
    name = wanted.field.name
    if wanted.holds is Holds.EMERGENCY:
        emergency = settings.emergency
        own = emergency is not None and emergency.supply is EmergencySupply.SELF_CONTAINED
        return addressed and served and own and name in PART_202_STORES
    if name == "central_address":
        return False
    if name == "default_mirek" and not (control is not None and isinstance(control.power_on_level, int)):
        # IEC 62386-209 stores it together with the power-on level and not without it.
        return False
    return addressed and served and wanted.holds in ON_THE_BUS


def position_of(means: Means, wanted: Wanted) -> int | None:
    """The position of a means set by hand that gives exactly this setting; None where it has none for it."""
    name, value = wanted.field.name, wanted.field.value
    if means.way not in HAND_WAYS or not isinstance(value, int) or means.sets not in (None, name):
        return None
    if means.sets is not None and means.rows:
        return next((position for position, given in means.rows if given == int(value)), None)
    return int(value) if wanted.holds is Holds.ADDRESS else None


def _able(means: Means, spare: DriverModel, wanted: Wanted, settings: Settings) -> bool:
    if means.way is Way.BUS:
        return wanted.holds not in ON_THE_BUS or bus_takes(means, wanted, settings)
    if means.way is Way.FIXED:
        return wanted.field.name == "voltage_mv" and wanted.field.value == spare.constant_voltage_mv
    if means.way in HAND_WAYS and (means.sets is not None or wanted.holds is Holds.ADDRESS):
        position = position_of(means, wanted)
        return position is not None and means.can_show(position)
    return means.way is not Way.RESISTOR


def _same_channel(means: Means, wanted: Wanted) -> bool:
    steps = wanted.field.path.split(".")
    return means.channel is None or (steps[0] == "channels" and steps[1] == str(means.channel))


def means_for(spare: DriverModel, wanted: Wanted, settings: Settings) -> Means | None:
    """The means that takes this setting, or None. Control data goes over the bus first, the rest by NFC."""
    order = _BUS_FIRST if wanted.holds in ON_THE_BUS else _NFC_FIRST
    able = [means for means in spare.means if wanted.holds in means.holds and _same_channel(means, wanted)
            and _able(means, spare, wanted, settings)]
    return min(able, key=lambda means: order.index(means.way), default=None)


def _rows_said(spare: DriverModel, wanted: Wanted) -> str:
    """What the positions of a means give of this very field: "The jumper gives 60 min or 120 min."; else ""."""
    for means in spare.means:
        if means.way in HAND_WAYS and means.sets == wanted.field.name and means.rows and _same_channel(means, wanted):
            kind = wanted.field.spec.kind
            given = [words(kind(value)) if kind is not None and value in list(kind)
                     else value_words(wanted.field.name, wanted.field.spec.unit, value) for _, value in means.rows]
            return f"The {means_words(means)} gives {' or '.join(dict.fromkeys(given))}."
    return ""


def _born_with(wanted: Wanted) -> bool:
    """Drivers have the logarithmic curve from the start (IEC 62386-102)."""
    return wanted.field.name == "curve" and wanted.field.value is Curve.LOGARITHMIC


def offered(spare: DriverModel, wanted: Wanted) -> bool | None:
    """Whether the spare offers this emergency mode or rated duration; None for others, or where that cannot be told."""
    ability, value = spare.emergency, wanted.field.value
    if wanted.field.name == "mode" and ability is not None and ability.modes is not None:
        return value in ability.modes
    if wanted.field.name == "rated_duration_min" and ability is not None and ability.durations_min is not None:
        return value in ability.durations_min
    return None


def not_held(spare: DriverModel, gear: Gear, missing: Iterable[Wanted], said: Callable[[Wanted], str]) -> Iterator[str]:
    """One sentence for each setting that no means of the spare takes; one for all the limits of its output."""
    limits: list[str] = []
    for wanted in missing:
        name, value = wanted.field.name, wanted.field.value
        follows = name in ("emergency_current_ma", "emergency_power_mw") and _emergency_follows(spare, gear)
        if name in ("voltage_min_mv", "voltage_max_mv", "power_max_mw"):
            limits.append(said(wanted))
        elif rows := _rows_said(spare, wanted):
            yield f"{said(wanted)}. {rows}"
        elif name == "voltage_mv":
            if spare.constant_voltage_mv != value:
                given = spare.constant_voltage_mv
                yield f"{said(wanted)}; the spare gives {'an unknown voltage' if given is None else mv(given)}."
        elif (offers := offered(spare, wanted)) is not None:
            if not offers:
                yield f"{said(wanted)}. The spare does not offer it."
        elif not follows and not _born_with(wanted):
            yield f"{said(wanted)}. No setting means of this spare takes it."
    if limits:
        yield f"{', '.join(limits)}. They cannot be set on this spare: its own limits apply, and the fit judges them."


def _emergency_follows(spare: DriverModel, gear: Gear) -> bool:
    """Whether current and power in emergency follow from what is set: the level, or a converter's own current."""
    if gear.duty is Duty.EMERGENCY_CONVERTER:
        return True
    return any(wanted.field.name == "emergency_level_permille" and isinstance(wanted.field.value, int)
               and means_for(spare, wanted, gear.settings) is not None for wanted in wanted_of(gear.settings))
