"""Driver models: what a kind of driver can do, and by which means it is set."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import IntEnum
from typing import ClassVar

from vault.domain.rating import Isolation, Mounting, ProtectionClass
from vault.domain.schema import Problem, choice, choices, flag, part, parts, table, text, whole
from vault.domain.settings import EmergencyMode, EmergencySupply, Output, Protocol


class Way(IntEnum):
    """The setting means of the trade."""

    FIXED = 0
    BUS = 1
    NFC = 2
    SWITCHES = 3
    ROTARY = 4
    RESISTOR = 5
    JUMPER = 6


class Holds(IntEnum):
    """What a setting means can set."""

    CURRENT = 0
    ADDRESS = 1
    LEVELS = 2
    FADES = 3
    GROUPS_AND_SCENES = 4
    CURVE = 5
    COLOUR = 6
    EMERGENCY = 7
    LUMEN_MAINTENANCE = 8
    THERMAL = 9
    PRESENCE = 10
    VOLTAGE = 11
    DC_LEVEL = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """Operating window of one output channel in the current-voltage plane.

    vertices: polygon corners (mA, mV) in order round the edge. power_max_mw and power_min_mw add hyperbolas.
    """

    FORM: ClassVar[str] = "map"
    vertices: tuple[tuple[int, int], ...] = table(1, (3, 3), 12)
    power_max_mw: int | None = whole(2, 1, 10_000_000, "mW")
    power_min_mw: int | None = whole(3, 1, 10_000_000, "mW")

    def further_problems(self, path: str) -> Iterator[Problem]:
        """A polygon has three corners or more, and no two neighbours are one point."""
        corners = self.vertices
        if not isinstance(corners, tuple) or len(corners) < 3:
            yield Problem(path=f"{path}.vertices".lstrip("."), found=repr(corners), allowed="3 to 12 corners (mA, mV)")
        elif any(a == b for a, b in zip(corners, corners[1:] + corners[:1], strict=True)):
            yield Problem(path=f"{path}.vertices".lstrip("."), found="a corner twice", allowed="different corners")


@dataclass(frozen=True, slots=True, kw_only=True)
class Means:
    """One setting means of a driver model, and what it can set.

    positions: for switches, rotary and jumper, rows (position, mA): the position as a number (switches: the sum
    of the weights that are on), the current it gives. weights: weight of each switch in order.
    on_is_down: switches whose ON is the lower place. hexadecimal: rotary with 16 places.
    resistor_ma_ohm: current = resistor_ma_ohm / R. distance_mm and write_ms: NFC. mains_off: the means must be
    used without supply. dali_parts: parts of IEC 62386 served over the bus.
    """

    FORM: ClassVar[str] = "map"
    way: Way = choice(1, Way, required=True)
    holds: frozenset[Holds] = choices(2, Holds, required=True)
    positions: tuple[tuple[int, int], ...] | None = table(3, (2, 3), 64)
    weights: tuple[int, ...] | None = table(4, (2,), 10)
    on_is_down: bool | None = flag(5)
    hexadecimal: bool | None = flag(6)
    resistor_ma_ohm: int | None = whole(7, 1, 2**32 - 1, "mA·Ω")
    resistor_tolerance_permille: int | None = whole(8, 0, 200, "‰")
    distance_mm: int | None = whole(9, 0, 500, "mm")
    write_ms: int | None = whole(10, 1, 60_000, "ms")
    mains_off: bool | None = flag(11)
    dali_parts: tuple[int, ...] | None = table(12, (2,), 12)


@dataclass(frozen=True, slots=True, kw_only=True)
class EmergencyAbility:
    """What an emergency driver can do. batteries: type codes it can charge, separated by spaces."""

    FORM: ClassVar[str] = "map"
    modes: frozenset[EmergencyMode] | None = choices(1, EmergencyMode)
    supply: EmergencySupply | None = choice(2, EmergencySupply)
    durations_min: tuple[int, ...] | None = table(3, (2,), 8)
    emergency_current_min_ma: int | None = whole(4, 1, 20_000, "mA")
    emergency_current_max_ma: int | None = whole(5, 1, 20_000, "mA")
    emergency_power_max_mw: int | None = whole(6, 1, 10_000_000, "mW")
    batteries: str | None = text(7, 120)


@dataclass(frozen=True, slots=True, kw_only=True)
class DriverModel:
    """A kind of driver.

    current_min_ma, current_max_ma, current_step_ma: the currents that can be chosen (a fixed driver has one).
    tolerance_permille: of the set current. output_voltage_max_mv: highest voltage at the terminals, no load.
    constant_voltage_mv: of a constant-voltage driver. inrush_b16: how many on one 16 A type B breaker.
    """

    FORM: ClassVar[str] = "map"
    model: str = text(1, 24, required=True)
    revision: int = whole(2, 1, 999, required=True)
    title: str = text(3, 60, required=True)
    generic: bool | None = flag(4)
    output: Output = choice(5, Output, required=True)
    channels: int = whole(6, 1, 4, required=True)
    window: Window | None = part(7, Window)
    dimming_window: Window | None = part(8, Window)
    dc_window: Window | None = part(9, Window)
    current_min_ma: int | None = whole(10, 1, 20_000, "mA")
    current_max_ma: int | None = whole(11, 1, 20_000, "mA")
    current_step_ma: int | None = whole(12, 1, 5000, "mA")
    constant_voltage_mv: int | None = whole(13, 1, 1_000_000, "mV")
    power_total_max_mw: int | None = whole(14, 1, 10_000_000, "mW")
    tolerance_permille: int | None = whole(15, 0, 500, "‰")
    isolation: Isolation | None = choice(16, Isolation)
    output_voltage_max_mv: int | None = whole(17, 1, 2_000_000, "mV")
    classes: frozenset[ProtectionClass] | None = choices(18, ProtectionClass)
    mounting: Mounting | None = choice(19, Mounting)
    ta_max_c: int | None = whole(20, 0, 150, "°C")
    tc_max_c: int | None = whole(21, 0, 150, "°C")
    loss_mw: int | None = whole(22, 0, 1_000_000, "mW")
    supply_min_v: int | None = whole(23, 1, 1000, "V a.c.")
    supply_max_v: int | None = whole(24, 1, 1000, "V a.c.")
    dc_min_v: int | None = whole(25, 1, 1000, "V d.c.")
    dc_max_v: int | None = whole(26, 1, 1000, "V d.c.")
    protocols: frozenset[Protocol] | None = choices(27, Protocol)
    dali_device_types: tuple[int, ...] | None = table(28, (1,), 8)
    dimming_floor_permille: int | None = whole(29, 0, 1000, "‰")
    emergency: EmergencyAbility | None = part(30, EmergencyAbility)
    means: tuple[Means, ...] = parts(31, Means, 6)
    length_mm: int | None = whole(32, 1, 5000, "mm")
    width_mm: int | None = whole(33, 1, 5000, "mm")
    height_mm: int | None = whole(34, 1, 5000, "mm")
    inrush_b16: int | None = whole(35, 1, 500)
    leakage_ua: int | None = whole(36, 0, 100_000, "µA")
    supply_current_ma: int | None = whole(37, 1, 50_000, "mA")
    note: str | None = text(38, 120)

    @property
    def fixed_window(self) -> bool:
        """Whether no setting means can set the voltage window and the power limit."""
        return all(Holds.VOLTAGE not in means.holds for means in self.means)

    def further_problems(self, path: str) -> Iterator[Problem]:
        """The range of currents stands in order."""
        least, most = self.current_min_ma, self.current_max_ma
        if least is not None and most is not None and least > most:
            yield Problem(path=f"{path}.current_min_ma".lstrip("."), found=f"{least} mA", allowed=f"at most {most} mA")
