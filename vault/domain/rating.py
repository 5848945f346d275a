"""Fixture types: the limits of a kind of luminaire."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import IntEnum
from typing import ClassVar

from vault.domain.schema import Problem, choice, choices, flag, part, parts, table, text, whole
from vault.domain.settings import Colour, Duty, EmergencyMode, EmergencySupply, Output, Protocol


class ProtectionClass(IntEnum):
    """Class of protection against electric shock (IEC 60598-1)."""

    CLASS_I = 1
    CLASS_II = 2
    CLASS_III = 3


class Isolation(IntEnum):
    """Isolation between supply and output of the control gear (IEC 61347-1). Higher is never worse alone."""

    NONE = 0
    BASIC = 1
    DOUBLE = 2
    SELV = 3


class Mounting(IntEnum):
    """Where the control gear sits (IEC 61347-1): built into the luminaire, or independent of it."""

    BUILT_IN = 0
    INDEPENDENT = 1


class Hazard(IntEnum):
    """Places and uses whose approvals gearkeep does not judge: refer."""

    EXPLOSIVE_ATMOSPHERE = 0
    MEDICAL = 1
    RAIL = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Module:
    """The light source on one channel, or on each channel of a part.

    voltage_low_mv and voltage_high_mv: forward voltage at 25 deg C over the binning. junctions: LED junctions in
    series. With junctions, tj_max_c and the lowest ambient the hot and cold voltages follow (see domain.voltage).
    insulation_max_mv: highest driver output voltage that the module's insulation is made for.
    """

    FORM: ClassVar[str] = "map"
    current_min_ma: int | None = whole(1, 1, 20_000, "mA")
    current_max_ma: int | None = whole(2, 1, 20_000, "mA")
    module_max_ma: int | None = whole(3, 1, 20_000, "mA")
    voltage_low_mv: int | None = whole(4, 1, 1_000_000, "mV")
    voltage_high_mv: int | None = whole(5, 1, 1_000_000, "mV")
    junctions: int | None = whole(6, 1, 500)
    tj_max_c: int | None = whole(7, 0, 200, "°C")
    power_max_mw: int | None = whole(8, 1, 10_000_000, "mW")
    insulation_max_mv: int | None = whole(9, 1, 2_000_000, "mV")
    nominal_voltage_mv: int | None = whole(10, 1, 1_000_000, "mV")

    def further_problems(self, path: str) -> Iterator[Problem]:
        """Limits stand in order."""
        for low, high in (("current_min_ma", "current_max_ma"), ("current_max_ma", "module_max_ma"),
                          ("voltage_low_mv", "voltage_high_mv")):
            least, most = getattr(self, low), getattr(self, high)
            if least is not None and most is not None and least > most:
                yield Problem(path=f"{path}.{low}".lstrip("."), found=str(least), allowed=f"at most {high} = {most}")


@dataclass(frozen=True, slots=True, kw_only=True)
class EmergencyLimits:
    """What an emergency duty allows and needs. battery: type code of the battery it is made for."""

    FORM: ClassVar[str] = "map"
    modes: frozenset[EmergencyMode] | None = choices(1, EmergencyMode)
    supply: EmergencySupply | None = choice(2, EmergencySupply)
    duration_min: int | None = whole(3, 1, 1440, "min")
    emergency_current_min_ma: int | None = whole(4, 1, 20_000, "mA")
    emergency_power_max_mw: int | None = whole(5, 1, 10_000_000, "mW")
    battery: str | None = text(6, 24)


@dataclass(frozen=True, slots=True, kw_only=True)
class OriginalGear:
    """The driver that the type was approved with; the yardstick of like for like. loss_mw: heat it gives off."""

    FORM: ClassVar[str] = "map"
    model: str | None = text(1, 24)
    tolerance_permille: int | None = whole(2, 0, 500, "‰")
    loss_mw: int | None = whole(3, 0, 1_000_000, "mW")
    tc_max_c: int | None = whole(4, 0, 150, "°C")


@dataclass(frozen=True, slots=True, kw_only=True)
class GearRating:
    """Limits of one gear position of the type, by duty. protocols: what may control it."""

    FORM: ClassVar[str] = "map"
    duty: Duty = choice(1, Duty, required=True)
    output: Output = choice(2, Output, required=True)
    modules: tuple[Module, ...] = parts(3, Module, 4, least=1)
    colours: tuple[int, ...] | None = table(4, (1,), 4)
    power_max_mw: int | None = whole(5, 1, 10_000_000, "mW")
    protocols: frozenset[Protocol] | None = choices(6, Protocol)
    dali_device_type: int | None = whole(7, 0, 254)
    isolation: Isolation | None = choice(8, Isolation)
    mounting: Mounting | None = choice(9, Mounting)
    emergency: EmergencyLimits | None = part(10, EmergencyLimits)
    original: OriginalGear | None = part(11, OriginalGear)
    dimming_floor_permille: int | None = whole(12, 0, 1000, "‰")
    dimmed: bool | None = flag(13)
    length_max_mm: int | None = whole(14, 1, 5000, "mm")
    width_max_mm: int | None = whole(15, 1, 5000, "mm")
    height_max_mm: int | None = whole(16, 1, 5000, "mm")

    def further_problems(self, path: str) -> Iterator[Problem]:
        """Colours, where given, name every module in order; an emergency duty has its limits."""
        if self.colours is not None and (
            len(self.colours) != len(self.modules) or not all(c in set(Colour) for c in self.colours)
        ):
            yield Problem(path=f"{path}.colours".lstrip("."), found=str(list(self.colours)),
                          allowed="one known colour for each module")
        if self.duty is not Duty.GENERAL and self.emergency is None:
            yield Problem(path=f"{path}.emergency".lstrip("."), found="nothing", allowed="limits for the emergency duty")


@dataclass(frozen=True, slots=True, kw_only=True)
class Rating:
    """A revision of a fixture type's rating.

    touchable: LED parts can be touched in use. wet: place other than ordinary (IEC 60598-1 8.2.3).
    site ambient is a property of the line or circuit; ta_c is the luminaire's own limit.
    """

    FORM: ClassVar[str] = "map"
    code: str = text(1, 12, required=True)
    revision: int = whole(2, 1, 999, required=True)
    title: str = text(3, 60, required=True)
    gears: tuple[GearRating, ...] = parts(4, GearRating, 4, least=1)
    protection_class: ProtectionClass | None = choice(5, ProtectionClass)
    ta_c: int | None = whole(6, 0, 150, "°C")
    ambient_min_below_zero_c: int | None = whole(7, 0, 60, "°C below zero")
    ip: str | None = text(8, 8)
    touchable: bool | None = flag(9)
    wet: bool | None = flag(10)
    hazards: frozenset[Hazard] | None = choices(11, Hazard)
    supply_min_v: int | None = whole(12, 1, 1000, "V a.c.")
    supply_max_v: int | None = whole(13, 1, 1000, "V a.c.")
    dc_min_v: int | None = whole(14, 1, 1000, "V d.c.")
    dc_max_v: int | None = whole(15, 1, 1000, "V d.c.")
    power_max_mw: int | None = whole(16, 1, 10_000_000, "mW")
    note: str | None = text(17, 120)

    def gear_for(self, duty: Duty) -> GearRating | None:
        """The gear position with that duty, or None."""
        return next((gear for gear in self.gears if gear.duty is duty), None)

    def further_problems(self, path: str) -> Iterator[Problem]:
        """Each duty stands once."""
        duties = [gear.duty for gear in self.gears]
        if len(set(duties)) != len(duties):
            yield Problem(path=f"{path}.gears".lstrip("."), found="a duty twice", allowed="each duty once")


@dataclass(frozen=True, slots=True, kw_only=True)
class Essentials:
    """The few limits of the first gear that a record carries, so that a fit can be judged without a vault."""

    FORM: ClassVar[str] = "array"
    module_max_ma: int | None = whole(1, 1, 20_000, "mA")
    isolation: Isolation | None = choice(2, Isolation)
    protection_class: ProtectionClass | None = choice(3, ProtectionClass)
    mounting: Mounting | None = choice(4, Mounting)
    ta_c: int | None = whole(5, 0, 150, "°C")
    emergency_current_min_ma: int | None = whole(6, 1, 20_000, "mA")


def essentials_of(rating: Rating) -> Essentials:
    """What a record of this type repeats from the rating: the strictest figure over its gear."""
    maxima = [m.module_max_ma for gear in rating.gears for m in gear.modules if m.module_max_ma is not None]
    first = rating.gears[0]
    needs = [g.emergency.emergency_current_min_ma for g in rating.gears if g.emergency is not None]
    return Essentials(
        module_max_ma=min(maxima, default=None), isolation=first.isolation,
        protection_class=rating.protection_class, mounting=first.mounting, ta_c=rating.ta_c,
        emergency_current_min_ma=max((n for n in needs if n is not None), default=None),
    )
