"""A luminaire, its type and a spare that are plainly good together; the tests spoil one figure at a time."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, TypeVar

from vault.domain.driver import DriverModel, EmergencyAbility, Holds, Means, Way, Window
from vault.domain.findings import Finding, Severity
from vault.domain.rating import (
    EmergencyLimits,
    GearRating,
    Isolation,
    Module,
    Mounting,
    OriginalGear,
    ProtectionClass,
    Rating,
)
from vault.domain.settings import (
    Channel,
    Colour,
    Control,
    Duty,
    Emergency,
    EmergencyMode,
    EmergencySupply,
    Gear,
    Output,
    Protocol,
    Settings,
)
from vault.domain.site import Breaker, Circuit, Line, LineKind

T = TypeVar("T")

MODULE = Module(current_min_ma=200, current_max_ma=700, module_max_ma=900, voltage_low_mv=36_400,
                voltage_high_mv=42_000, junctions=14, tj_max_c=85, power_max_mw=32_000, insulation_max_mv=120_000)
ORIGINAL = OriginalGear(model="ORIGINAL-40", tolerance_permille=50, loss_mw=4_000, tc_max_c=75)
POSITION = GearRating(
    duty=Duty.GENERAL, output=Output.CONSTANT_CURRENT, modules=(MODULE,), power_max_mw=32_000,
    protocols=frozenset({Protocol.DALI}), dali_device_type=6, isolation=Isolation.SELV, mounting=Mounting.BUILT_IN,
    original=ORIGINAL, dimming_floor_permille=10, dimmed=True, length_max_mm=280, width_max_mm=40, height_max_mm=30)
RATING = Rating(
    code="A12", revision=1, title="Linear pendant", gears=(POSITION,), protection_class=ProtectionClass.CLASS_I,
    ta_c=35, touchable=True, wet=False, hazards=frozenset(), supply_min_v=220, supply_max_v=240, dc_min_v=186,
    dc_max_v=260, power_max_mw=38_000)
CONTROL = Control(protocol=Protocol.DALI, short_address=5, min_level=85, max_level=254, power_on_level=254,
                  system_failure_level=255, groups=1, scenes=(254, 0, 127, *[255] * 13))
CHANNEL = Channel(current_ma=700, voltage_min_mv=27_000, voltage_max_mv=54_000, power_max_mw=32_000)
GEAR = Gear(duty=Duty.GENERAL, model="ORIGINAL-40",
            settings=Settings(output=Output.CONSTANT_CURRENT, channels=(CHANNEL,), control=CONTROL))

WINDOW = Window(vertices=((100, 24_000), (900, 24_000), (900, 54_000), (100, 54_000)), power_max_mw=40_000)
SPARE = DriverModel(
    model="SPARE-40", revision=1, title="Generic spare 40 W", generic=True, output=Output.CONSTANT_CURRENT, channels=1,
    window=WINDOW, dimming_window=WINDOW, dc_window=WINDOW, current_min_ma=100, current_max_ma=900, current_step_ma=1,
    power_total_max_mw=40_000, tolerance_permille=50, isolation=Isolation.SELV, output_voltage_max_mv=59_000,
    classes=frozenset({ProtectionClass.CLASS_I, ProtectionClass.CLASS_II}), mounting=Mounting.BUILT_IN, ta_max_c=50,
    tc_max_c=75, loss_mw=4_000, supply_min_v=198, supply_max_v=264, dc_min_v=176, dc_max_v=280,
    protocols=frozenset({Protocol.DALI, Protocol.SWITCH}), dali_device_types=(6,), dimming_floor_permille=10,
    means=(Means(way=Way.NFC, holds=frozenset({Holds.CURRENT})),), length_mm=280, width_mm=40, height_mm=30,
    inrush_b16=24, leakage_ua=500)

LIMITS = EmergencyLimits(
    modes=frozenset({EmergencyMode.MAINTAINED}), supply=EmergencySupply.SELF_CONTAINED, duration_min=180,
    emergency_current_min_ma=70, emergency_power_max_mw=4_000, battery="BAT-4")
EMERGENCY = Emergency(mode=EmergencyMode.MAINTAINED, supply=EmergencySupply.SELF_CONTAINED, rated_duration_min=180,
                      emergency_level_permille=100)
EMERGENCY_POSITION = replace(POSITION, duty=Duty.GENERAL_AND_EMERGENCY, emergency=LIMITS)
EMERGENCY_RATING = replace(RATING, gears=(EMERGENCY_POSITION,))
EMERGENCY_GEAR = replace(GEAR, duty=Duty.GENERAL_AND_EMERGENCY, settings=replace(GEAR.settings, emergency=EMERGENCY))
ABILITY = EmergencyAbility(
    modes=frozenset({EmergencyMode.MAINTAINED, EmergencyMode.NON_MAINTAINED}), supply=EmergencySupply.SELF_CONTAINED,
    durations_min=(60, 180), emergency_current_min_ma=50, emergency_current_max_ma=100, emergency_power_max_mw=5_000,
    batteries="BAT-3 BAT-4")
EMERGENCY_SPARE = replace(SPARE, model="SPARE-EM", emergency=ABILITY)

TWO_RATING = replace(RATING, gears=(replace(
    POSITION, modules=(replace(MODULE, current_max_ma=350, power_max_mw=16_000),) * 2,
    colours=(1, 2)),))
TWO_GEAR = replace(GEAR, settings=replace(GEAR.settings, channels=(
    replace(CHANNEL, current_ma=350, power_max_mw=16_000, colour=Colour.COOL_WHITE),
    replace(CHANNEL, current_ma=350, power_max_mw=16_000, colour=Colour.WARM_WHITE))))
TWO_SPARE = replace(SPARE, channels=2)

TAPE_RATING = replace(RATING, gears=(replace(
    POSITION, output=Output.CONSTANT_VOLTAGE,
    modules=(Module(nominal_voltage_mv=24_000, power_max_mw=32_000, insulation_max_mv=120_000),)),))
TAPE_GEAR = replace(GEAR, settings=Settings(output=Output.CONSTANT_VOLTAGE, control=CONTROL,
                                            channels=(Channel(voltage_mv=24_000, power_max_mw=32_000),)))
TAPE_SPARE = replace(SPARE, output=Output.CONSTANT_VOLTAGE, constant_voltage_mv=24_000)

LINE = Line(name="L1", revision=1, kind=LineKind.DALI, addresses_from=0, gear_max=64, site_ta_c=30)
# The battery range of one 230 V system: 194 to 254 V.
CIRCUIT = Circuit(name="C4", revision=1, rated_current_ma=16_000, breaker=Breaker.B, central=True, battery_min_v=194,
                  battery_max_v=254, luminaires_max=20, share_max_percent=60, leakage_max_ua=9_000, site_ta_c=30)


def changed(thing: T, **figures: Any) -> T:
    """Any of the examples with other figures."""
    return replace(thing, **figures)  # type: ignore[type-var]


def with_module(rating: Rating, **figures: Any) -> Rating:
    """The rating with other figures in the first module of its first position."""
    first, *others = rating.gears[0].modules
    return with_position(rating, modules=(changed(first, **figures), *others))


def with_position(rating: Rating, **figures: Any) -> Rating:
    """The rating with other figures in its first position."""
    return replace(rating, gears=(changed(rating.gears[0], **figures), *rating.gears[1:]))


def with_channel(gear: Gear, **figures: Any) -> Gear:
    """The gear with other settings in its first channel."""
    first, *others = gear.settings.channels
    return replace(gear, settings=replace(gear.settings, channels=(
        changed(first, **figures), *others)))


def with_control(gear: Gear, **figures: Any) -> Gear:
    """The gear with other control data."""
    return replace(gear, settings=replace(gear.settings, control=changed(
        gear.settings.control, **figures)))


def with_emergency(gear: Gear, **figures: Any) -> Gear:
    """The gear with other emergency settings."""
    return replace(gear, settings=replace(gear.settings, emergency=changed(
        gear.settings.emergency, **figures)))


def with_limits(rating: Rating, **figures: Any) -> Rating:
    """The rating with other emergency limits."""
    return with_position(rating, emergency=changed(
        rating.gears[0].emergency, **figures))


def with_original(rating: Rating, **figures: Any) -> Rating:
    """The rating with another original driver."""
    return with_position(rating, original=changed(rating.gears[0].original, **figures))


def serious(findings: tuple[Finding, ...]) -> set[tuple[str, Severity]]:
    """(rule, severity) of everything but notes."""
    return {(finding.rule, finding.severity) for finding in findings if finding.severity is not Severity.NOTE}
