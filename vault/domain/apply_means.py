"""Which setting means of a spare takes which settings of a gear, and what none of them takes."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

from vault.domain.driver import DriverModel, Holds, Means, Way
from vault.domain.fields import Field, fields_of, groups_words, value_words
from vault.domain.levels import extended_fade_words, fade_rate_words, fade_time_words, level_words
from vault.domain.schema import NOT_SET
from vault.domain.settings import Control, Curve, Duty, EmergencySupply, Gear, Protocol, Settings
from vault.domain.units import mv

HELD_AS: Mapping[str, Holds] = MappingProxyType({
    "current_ma": Holds.CURRENT,
    **dict.fromkeys(("voltage_mv", "voltage_min_mv", "voltage_max_mv", "power_max_mw"), Holds.VOLTAGE),
    **dict.fromkeys(("short_address", "central_address"), Holds.ADDRESS),
    **dict.fromkeys(("min_level", "max_level", "power_on_level", "system_failure_level"), Holds.LEVELS),
    **dict.fromkeys(("fade_time", "fade_rate", "extended_fade"), Holds.FADES),
    **dict.fromkeys(("groups", "scenes"), Holds.GROUPS_AND_SCENES),
    "curve": Holds.CURVE,
    **dict.fromkeys(("coolest_mirek", "warmest_mirek", "default_mirek", "scene_mirek"), Holds.COLOUR),
    **dict.fromkeys(("mode", "rated_duration_min", "emergency_level_permille", "function_test_days",
                     "duration_test_weeks", "test_delay_min", "prolong_s", "test_timeout_days",
                     "emergency_current_ma", "emergency_power_mw"), Holds.EMERGENCY),
    "dc_level_permille": Holds.DC_LEVEL,
    "lumen_maintenance": Holds.LUMEN_MAINTENANCE,
    "thermal_derating": Holds.THERMAL,
    **dict.fromkeys(("hold_s", "absence_level_permille", "absence_s"), Holds.PRESENCE),
})
ON_THE_BUS = frozenset({Holds.ADDRESS, Holds.LEVELS, Holds.FADES, Holds.GROUPS_AND_SCENES, Holds.CURVE, Holds.COLOUR,
                        Holds.EMERGENCY})
# What IEC 62386-202 stores; mode, rated duration, current and power it can only ask for, or not even that.
PART_202_STORES = frozenset({"emergency_level_permille", "function_test_days", "duration_test_weeks", "test_delay_min",
                             "prolong_s", "test_timeout_days"})
_PART = {Holds.CURVE: 207, Holds.COLOUR: 209, Holds.EMERGENCY: 202}
_BUS_FIRST = (Way.SWITCHES, Way.ROTARY, Way.JUMPER, Way.BUS, Way.NFC, Way.FIXED)
_NFC_FIRST = (Way.FIXED, Way.NFC, Way.SWITCHES, Way.ROTARY, Way.JUMPER, Way.BUS)


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


def _able(means: Means, spare: DriverModel, wanted: Wanted, settings: Settings) -> bool:
    if means.way is Way.BUS:
        return wanted.holds not in ON_THE_BUS or bus_takes(means, wanted, settings)
    if means.way is Way.FIXED:
        return wanted.field.name == "voltage_mv" and wanted.field.value == spare.constant_voltage_mv
    return means.way is not Way.RESISTOR


def means_for(spare: DriverModel, wanted: Wanted, settings: Settings) -> Means | None:
    """The means that takes this setting, or None. Control data goes over the bus first, the rest by NFC."""
    order = _BUS_FIRST if wanted.holds in ON_THE_BUS else _NFC_FIRST
    able = [means for means in spare.means if wanted.holds in means.holds and _able(means, spare, wanted, settings)]
    return min(able, key=lambda means: order.index(means.way), default=None)


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
