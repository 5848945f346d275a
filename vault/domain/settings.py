"""What a driver is set to. Integers in the unit that the name bears (vault/FORMAT.md, section Settings)."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import IntEnum
from typing import ClassVar

from vault.domain.schema import (
    NOT_SET,
    NotSet,
    Problem,
    Setting,
    choice,
    names,
    part,
    parts,
    raw,
    table,
    text,
    whole,
)


class Output(IntEnum):
    """What the driver holds constant at its output."""

    CONSTANT_CURRENT = 0
    CONSTANT_VOLTAGE = 1


class Protocol(IntEnum):
    """How the driver is controlled."""

    NONE = 0
    DALI = 1
    ANALOGUE_1_10V = 2
    PHASE_CUT = 3
    SWITCH = 4


class Curve(IntEnum):
    """Dimming curve (IEC 62386-102 and -207)."""

    LOGARITHMIC = 0
    LINEAR = 1


class EmergencyMode(IntEnum):
    """Switching mode of an emergency luminaire."""

    NON_MAINTAINED = 0
    MAINTAINED = 1
    SWITCHED_MAINTAINED = 2


class EmergencySupply(IntEnum):
    """Where the power comes from when the mains fails."""

    SELF_CONTAINED = 0
    CENTRAL = 1


class Duty(IntEnum):
    """What a gear does in its luminaire."""

    GENERAL = 0
    EMERGENCY_CONVERTER = 1
    GENERAL_AND_EMERGENCY = 2


class Colour(IntEnum):
    """The light source that a channel feeds."""

    WHITE = 0
    COOL_WHITE = 1
    WARM_WHITE = 2
    RED = 3
    GREEN = 4
    BLUE = 5
    AMBER = 6


@dataclass(frozen=True, slots=True, kw_only=True)
class ColourControl:
    """Tunable white settings of IEC 62386-209, in mirek (1e6 / kelvin)."""

    FORM: ClassVar[str] = "map"
    coolest_mirek: Setting = whole(1, 40, 1000, "mirek", not_set=True)
    warmest_mirek: Setting = whole(2, 40, 1000, "mirek", not_set=True)
    default_mirek: Setting = whole(3, 40, 1000, "mirek", not_set=True)
    scene_mirek: tuple[int, ...] | NotSet | None = table(4, (2,), 16, fill=0xFFFF)


@dataclass(frozen=True, slots=True, kw_only=True)
class Control:
    """Control data of a gear, or of a channel that is addressed by itself.

    short_address is stored as on the bus, 0..63; levels are 0..254 with 255 for MASK, groups a 16-bit mask.
    fade_time, fade_rate and extended_fade are the raw values of IEC 62386-102.
    """

    FORM: ClassVar[str] = "map"
    protocol: Protocol = choice(1, Protocol, required=True)
    short_address: Setting = whole(2, 0, 63, not_set=True)
    central_circuit: str | None = text(3, 8)
    central_address: Setting = whole(4, 1, 255, not_set=True)
    groups: Setting = whole(5, 0, 0xFFFF, not_set=True)
    scenes: tuple[int, ...] | NotSet | None = table(6, (1,), 16, fill=255)
    min_level: Setting = whole(7, 1, 254, not_set=True)
    max_level: Setting = whole(8, 1, 254, not_set=True)
    power_on_level: Setting = whole(9, 0, 255, not_set=True)
    system_failure_level: Setting = whole(10, 0, 255, not_set=True)
    fade_time: Setting = whole(11, 0, 15, not_set=True)
    fade_rate: Setting = whole(12, 1, 15, not_set=True)
    extended_fade: Setting = whole(13, 0, 0x4F, not_set=True)
    curve: Curve | NotSet | None = choice(14, Curve, not_set=True)
    colour: ColourControl | None = part(15, ColourControl)

    def further_problems(self, path: str) -> Iterator[Problem]:
        """The minimum level is always written: its reset value depends on the device (IEC 62386-102)."""
        if self.protocol is Protocol.DALI and self.min_level is None:
            where = f"{path}.min_level" if path else "min_level"
            yield Problem(path=where, found="nothing", allowed="a level 1 to 254, or not set")


@dataclass(frozen=True, slots=True, kw_only=True)
class Channel:
    """One output channel: current_ma or voltage_mv by the kind of output, its voltage window and power limit."""

    FORM: ClassVar[str] = "array"
    current_ma: int | None = whole(1, 1, 20_000, "mA")
    voltage_min_mv: int | None = whole(2, 0, 1_000_000, "mV")
    voltage_max_mv: int | None = whole(3, 0, 1_000_000, "mV")
    power_max_mw: int | None = whole(4, 1, 10_000_000, "mW")
    voltage_mv: int | None = whole(5, 1, 1_000_000, "mV")
    colour: Colour | None = choice(6, Colour)
    control: Control | None = part(7, Control)


@dataclass(frozen=True, slots=True, kw_only=True)
class Emergency:
    """Emergency settings. emergency_level and dc_level are in per mille of full output."""

    FORM: ClassVar[str] = "map"
    mode: EmergencyMode | NotSet = choice(1, EmergencyMode, not_set=True, required=True)
    supply: EmergencySupply = choice(2, EmergencySupply, required=True)
    rated_duration_min: int = whole(3, 1, 1440, "min", required=True)
    emergency_level_permille: Setting = whole(4, 1, 1000, "‰", not_set=True)
    function_test_days: Setting = whole(5, 0, 255, "d", not_set=True)
    duration_test_weeks: Setting = whole(6, 0, 97, "weeks", not_set=True)
    test_delay_min: Setting = whole(7, 0, 983_025, "min", not_set=True)
    prolong_s: Setting = whole(8, 0, 7650, "s", not_set=True)
    test_timeout_days: Setting = whole(9, 0, 255, "d", not_set=True)
    dc_level_permille: Setting = whole(10, 0, 1000, "‰", not_set=True)
    emergency_current_ma: int | None = whole(11, 1, 20_000, "mA")
    emergency_power_mw: int | None = whole(12, 1, 10_000_000, "mW")

    def further_problems(self, path: str) -> Iterator[Problem]:
        """prolong time moves in steps of 30 s and the delay in quarter-hours (IEC 62386-202)."""
        for name, step, unit in (("prolong_s", 30, "s"), ("test_delay_min", 15, "min")):
            value = getattr(self, name)
            if isinstance(value, int) and value % step:
                where = f"{path}.{name}" if path else name
                yield Problem(path=where, found=f"{value} {unit}", allowed=f"a multiple of {step} {unit}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Presence:
    """Presence dimming of a driver with its own detector input."""

    FORM: ClassVar[str] = "array"
    hold_s: int | None = whole(1, 0, 36_000, "s")
    absence_level_permille: int | None = whole(2, 0, 1000, "‰")
    absence_s: int | None = whole(3, 0, 360_000, "s")


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """Everything one gear is set to.

    lumen_maintenance: up to 8 points (burning hours, output in per mille).
    thermal_derating: up to 4 points (tc temperature in deg C, output in per mille).
    """

    FORM: ClassVar[str] = "map"
    output: Output = choice(1, Output, required=True)
    channels: tuple[Channel, ...] = parts(2, Channel, 4, least=1)
    control: Control | None = part(3, Control)
    emergency: Emergency | None = part(4, Emergency)
    lumen_maintenance: tuple[tuple[int, int], ...] | NotSet | None = table(5, (3, 2), 8)
    thermal_derating: tuple[tuple[int, int], ...] | NotSet | None = table(6, (1, 2), 4)
    presence: Presence | None = part(7, Presence)
    extras: tuple[tuple[str, str | int], ...] = names(8, 16)

    def further_problems(self, path: str) -> Iterator[Problem]:
        """A channel states the figure that its output kind holds constant."""
        wanted = "current_ma" if self.output is Output.CONSTANT_CURRENT else "voltage_mv"
        for number, channel in enumerate(self.channels, 1):
            if getattr(channel, wanted) is None:
                where = f"{path}.channels.{number}.{wanted}".lstrip(".")
                yield Problem(path=where, found="nothing", allowed="a figure, since the output is set by it")


@dataclass(frozen=True, slots=True, kw_only=True)
class Gear:
    """One driver of a luminaire: its duty, what it is, what it is set to, what was read back from it.

    readback_digest: first 8 bytes of SHA-256 over the readback's canonical form (FORMAT.md).
    """

    FORM: ClassVar[str] = "array"
    duty: Duty = choice(1, Duty, required=True)
    model: str | None = text(2, 24)
    serial: str | None = text(3, 24)
    settings: Settings = part(4, Settings, required=True)
    readback_digest: bytes | None = raw(5, 8, 8)


__all__ = ["NOT_SET", "Channel", "Colour", "ColourControl", "Control", "Curve", "Duty", "Emergency",
           "EmergencyMode", "EmergencySupply", "Gear", "Output", "Presence", "Protocol", "Settings"]
