"""Driver models: what a kind of driver can do, and by which means it is set."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import ClassVar

from vault.domain.means import HAND_WAYS, Holds, Means, ResistorSeries, Way
from vault.domain.rating import Isolation, Mounting, ProtectionClass
from vault.domain.schema import Problem, choice, choices, flag, part, parts, table, text, whole, words
from vault.domain.settings import EmergencyMode, EmergencySupply, Output, Protocol


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
        return all(Holds.VOLTAGE not in means.holds or means.sets == "voltage_mv" for means in self.means)

    def further_problems(self, path: str) -> Iterator[Problem]:
        """The range of currents stands in order, and no two means share a switch, a dial or a channel out of range."""
        least, most = self.current_min_ma, self.current_max_ma
        if least is not None and most is not None and least > most:
            yield Problem(path=f"{path}.current_min_ma".lstrip("."), found=f"{least} mA", allowed=f"at most {most} mA")
        for number, means in enumerate(self.means, 1):
            here = f"{path}.means.{number}".lstrip(".")
            if means.channel is not None and means.channel > self.channels:
                yield Problem(path=f"{here}.channel", found=str(means.channel),
                              allowed=f"1 to {self.channels}, the channels of the driver")
            for other in self.means[:number - 1]:
                yield from _shared(here, means, other)


def _shared(here: str, means: Means, other: Means) -> Iterator[Problem]:
    """Two means by hand that could not be told apart on the driver."""
    if means.way is not other.way or means.way not in HAND_WAYS or means.bank != other.bank:
        return
    if means.way is Way.SWITCHES:
        for number in sorted(set(means.numbers) & set(other.numbers)):
            yield Problem(path=f"{here}.switches", found=f"switch {number}, which another means uses",
                          allowed="each switch once, or the name of another bank")
    else:
        yield Problem(path=f"{here}.bank", found=f"a second {words(means.way)} without a name of its own",
                      allowed="the name that is printed beside each")


__all__ = ["DriverModel", "EmergencyAbility", "Holds", "Means", "ResistorSeries", "Way", "Window"]
