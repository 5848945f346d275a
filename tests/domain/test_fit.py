"""Whether a spare can take the settings: every stop rule is guarded by one spoilt figure."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from domain_examples import (
    ABILITY,
    CIRCUIT,
    EMERGENCY_GEAR,
    EMERGENCY_RATING,
    EMERGENCY_SPARE,
    GEAR,
    LINE,
    RATING,
    SPARE,
    TAPE_GEAR,
    TAPE_RATING,
    TAPE_SPARE,
    TWO_GEAR,
    TWO_RATING,
    TWO_SPARE,
    WINDOW,
    serious,
    with_channel,
    with_control,
    with_emergency,
    with_limits,
    with_module,
    with_original,
    with_position,
)

from vault.domain.driver import DriverModel, Window
from vault.domain.findings import Severity, Verdict
from vault.domain.fit import Fit, fit_offline, fit_spare, rank
from vault.domain.rating import Hazard, Isolation, Mounting, ProtectionClass, Rating, essentials_of
from vault.domain.settings import Duty, EmergencyMode, EmergencySupply, Gear, Protocol
from vault.domain.site import Circuit, Line

STOP, UNKNOWN, CARE = Severity.STOP, Severity.UNKNOWN, Severity.CARE


@pytest.mark.parametrize(("circuit", "line"), [(None, None), (CIRCUIT, LINE)])
@pytest.mark.parametrize(("gear", "rating", "spare"), [
    (GEAR, RATING, SPARE),
    (GEAR, RATING, replace(SPARE, model="ORIGINAL-40")),
    (EMERGENCY_GEAR, EMERGENCY_RATING, EMERGENCY_SPARE),
    (TWO_GEAR, TWO_RATING, TWO_SPARE),
    (TAPE_GEAR, TAPE_RATING, TAPE_SPARE),
], ids=["equal", "same-model", "emergency", "two-channels", "constant-voltage"])
def test_a_spare_equal_in_every_figure_fits(gear: Gear, rating: Rating, spare: DriverModel, circuit: Circuit | None,
                                            line: Line | None) -> None:
    """What is the original's equal in every figure is never cried at."""
    fit = fit_spare(gear, rating, spare, circuit=circuit, line=line)
    assert (fit.verdict, serious(fit.findings)) == (Verdict.FITS, set())


def _spare(**figures: Any) -> DriverModel:
    return replace(SPARE, **figures)


def _window(**figures: Any) -> Window:
    return replace(WINDOW, **figures)


@pytest.mark.parametrize(("spare", "rule"), [
    (TAPE_SPARE, "output"),
    (_spare(current_max_ma=660), "current-match"),
    (_spare(current_min_ma=740), "current-match"),
    (_spare(current_min_ma=100, current_step_ma=400), "current-match"),
    (_spare(current_min_ma=720), "current-permitted"),
    (_spare(tolerance_permille=286), "current-tolerance"),
    (_spare(window=_window(power_max_mw=30_379)), "window"),  # 0.7 A × 43.4 V = 30.38 W
    (_spare(window=_window(vertices=((100, 24_000), (690, 24_000), (690, 54_000), (100, 54_000)))), "window"),
    (_spare(window=_window(vertices=((100, 33_100), (900, 33_100), (900, 54_000), (100, 54_000)))), "window"),
    (_spare(window=_window(vertices=((100, 24_000), (900, 24_000), (900, 43_300), (100, 43_300)))), "window"),
    (_spare(dc_window=_window(power_max_mw=30_379)), "dc-window"),
    (_spare(power_total_max_mw=30_379), "total-power"),
    (_spare(isolation=Isolation.DOUBLE), "isolation"),
    (_spare(output_voltage_max_mv=60_001), "touchable-voltage"),  # 60 V d.c., IEC 60598-1:2008 8.2.3 c)
    (_spare(output_voltage_max_mv=120_001), "selv-voltage"),  # 120 V d.c., IEC 61558-1, IEC 61140
    (_spare(output_voltage_max_mv=120_001), "insulation-voltage"),
    (_spare(classes=frozenset({ProtectionClass.CLASS_II})), "protection-class"),
    (_spare(ta_max_c=29), "ambient"),
    (_spare(tc_max_c=74), "case-temperature"),
    (_spare(loss_mw=4_201), "heat"),
    (_spare(length_mm=281), "size"),
    (_spare(width_mm=41), "size"),
    (_spare(height_mm=31), "size"),
    (_spare(supply_min_v=221), "supply-ac"),
    (_spare(supply_max_v=239), "supply-ac"),
    (_spare(dc_min_v=187), "supply-dc"),  # 194 V less 4 % is 186.24 V
    (_spare(dc_max_v=253), "supply-dc"),  # the battery's highest is 254 V
    (_spare(protocols=frozenset({Protocol.PHASE_CUT})), "protocol"),
    (_spare(dali_device_types=(8,)), "device-type"),
])
def test_a_stop_rule_stops(spare: DriverModel, rule: str) -> None:
    """One figure beyond its limit makes the spare unfit."""
    fit = fit_spare(GEAR, RATING, spare, circuit=CIRCUIT, line=LINE)
    assert (rule, STOP) in serious(fit.findings) and fit.verdict is Verdict.DOES_NOT_FIT


@pytest.mark.parametrize(("gear", "rating", "spare", "rule"), [
    (replace(GEAR, duty=Duty.EMERGENCY_CONVERTER), RATING, SPARE, "duty"),
    (TWO_GEAR, TWO_RATING, SPARE, "channels"),
    (GEAR, TWO_RATING, TWO_SPARE, "channels"),
    (TWO_GEAR, with_position(TWO_RATING, colours=(2, 1)), TWO_SPARE, "colour-order"),
    (TWO_GEAR, TWO_RATING, replace(TWO_SPARE, power_total_max_mw=30_379), "total-power"),
    (GEAR, replace(RATING, hazards=frozenset({Hazard.RAIL})), SPARE, "hazard"),
    (GEAR, replace(RATING, wet=True), SPARE, "touchable-voltage"),  # 30 V d.c., IEC 60598-1:2008 8.2.3 c)
    (GEAR, with_position(RATING, mounting=Mounting.INDEPENDENT), SPARE, "mounting"),
    (GEAR, with_module(RATING, insulation_max_mv=58_999), SPARE, "insulation-voltage"),
    (TAPE_GEAR, TAPE_RATING, replace(TAPE_SPARE, constant_voltage_mv=25_201), "constant-voltage"),
    (with_channel(TAPE_GEAR, voltage_mv=48_000), TAPE_RATING, TAPE_SPARE, "constant-voltage"),
    (TAPE_GEAR, TAPE_RATING, replace(TAPE_SPARE, power_total_max_mw=31_999), "total-power"),
])
def test_a_stop_rule_stops_for_the_type(gear: Gear, rating: Rating, spare: DriverModel, rule: str) -> None:
    """The same from the side of the record and of the type."""
    fit = fit_spare(gear, rating, spare)
    assert (rule, STOP) in serious(fit.findings) and fit.verdict is Verdict.DOES_NOT_FIT


def _able(**figures: Any) -> DriverModel:
    return replace(EMERGENCY_SPARE, emergency=replace(ABILITY, **figures))


@pytest.mark.parametrize(("spare", "rule"), [
    (_able(modes=frozenset({EmergencyMode.NON_MAINTAINED})), "emergency-mode"),
    (_able(supply=EmergencySupply.CENTRAL), "emergency-supply"),
    (_able(durations_min=(60, 120)), "emergency-duration"),
    (_able(batteries="BAT-3 BAT-44"), "battery"),
    (_able(emergency_current_max_ma=69), "emergency-current"),
    (_able(emergency_current_min_ma=71), "emergency-current"),
    (_able(emergency_power_max_mw=3_037), "emergency-power"),  # 0.070 A × 43.4 V = 3.038 W
    # Half a per cent less light is nothing in a room and a broken duty on an escape route.
    (replace(EMERGENCY_SPARE, current_max_ma=696), "emergency-current"),
])
def test_an_emergency_stop_rule_stops(spare: DriverModel, rule: str) -> None:
    """One emergency figure that does not suit makes the spare unfit."""
    fit = fit_spare(EMERGENCY_GEAR, EMERGENCY_RATING, spare)
    assert (rule, STOP) in serious(fit.findings) and fit.verdict is Verdict.DOES_NOT_FIT


@pytest.mark.parametrize(("gear", "rating", "rule"), [
    (EMERGENCY_GEAR, with_limits(EMERGENCY_RATING, emergency_current_min_ma=71), "emergency-current"),
    (EMERGENCY_GEAR, with_limits(EMERGENCY_RATING, emergency_power_max_mw=3_037), "emergency-power"),
    (with_emergency(EMERGENCY_GEAR, emergency_power_mw=4_001), EMERGENCY_RATING, "emergency-power"),
])
def test_the_type_s_emergency_limits_stop(gear: Gear, rating: Rating, rule: str) -> None:
    """Below the least emergency current or above the highest emergency power is a stop."""
    assert (rule, STOP) in serious(fit_spare(gear, rating, EMERGENCY_SPARE).findings)


@pytest.mark.parametrize(("rating", "spare"), [
    (with_limits(EMERGENCY_RATING, emergency_current_min_ma=None), EMERGENCY_SPARE),
    (with_limits(EMERGENCY_RATING, emergency_power_max_mw=None), EMERGENCY_SPARE),
    (EMERGENCY_RATING, SPARE),
])
def test_a_missing_emergency_figure_cannot_tell(rating: Rating, spare: DriverModel) -> None:
    """Without the type's limits, or a spare's abilities, there is no answer."""
    assert fit_spare(EMERGENCY_GEAR, rating, spare).verdict is Verdict.CANNOT_TELL


@pytest.mark.parametrize(("rating", "spare", "rule"), [
    (RATING, _spare(current_max_ma=680), "current-match"),
    (RATING, _spare(tolerance_permille=None), "current-tolerance"),
    (RATING, _spare(window=_window(power_max_mw=31_000)), "window"),
    (RATING, _spare(power_total_max_mw=31_000), "total-power"),
    (RATING, _spare(dimming_window=None), "dimming-window"),
    (RATING, _spare(dimming_window=_window(power_max_mw=20_000)), "dimming-window"),
    (RATING, _spare(dc_window=None), "dc-window"),
    (RATING, _spare(loss_mw=4_200), "heat"),
    (RATING, _spare(mounting=Mounting.INDEPENDENT), "mounting"),
    (RATING, _spare(dimming_floor_permille=30), "dimming-floor"),
    (RATING, _spare(dimming_floor_permille=None), "dimming-floor"),
    (RATING, _spare(inrush_b16=19), "inrush"),
    (RATING, _spare(inrush_b16=None), "inrush"),
    (RATING, _spare(leakage_ua=9_001), "leakage"),
    (RATING, _spare(leakage_ua=None), "leakage"),
])
def test_what_works_but_needs_a_decision_is_care(rating: Rating, spare: DriverModel, rule: str) -> None:
    """Edges, assumed figures and nuisance rules ask for care and stop nobody."""
    fit = fit_spare(GEAR, rating, spare, circuit=CIRCUIT, line=LINE)
    assert (serious(fit.findings), fit.verdict) == ({(rule, CARE)}, Verdict.FITS_WITH_CARE)


@pytest.mark.parametrize(("rating", "spare"), [
    # A current within 2 % of the record is good.
    (RATING, _spare(current_max_ma=686)),
    # The same current with a tolerance no worse than the original's adds no risk, whatever the module bears.
    (with_module(RATING, module_max_ma=700), _spare(tolerance_permille=50)),
    (with_module(RATING, module_max_ma=None), _spare(tolerance_permille=30)),
    # The very model that the type was approved with.
    (with_module(with_original(RATING, tolerance_permille=None), module_max_ma=700),
     _spare(model="ORIGINAL-40", tolerance_permille=None, length_mm=None, loss_mw=None, tc_max_c=None)),
    (RATING, _spare(model="ORIGINAL-40", power_total_max_mw=31_000)),
    # Double isolation and a high output voltage, where the type was so and nothing can be touched.
    (with_position(replace(RATING, touchable=False), isolation=Isolation.DOUBLE),
     _spare(isolation=Isolation.DOUBLE, output_voltage_max_mv=110_000)),
    (with_position(replace(RATING, touchable=False), isolation=Isolation.BASIC), _spare(isolation=Isolation.DOUBLE)),
    # Independent gear has all the room it needs.
    (with_position(RATING, mounting=Mounting.INDEPENDENT), _spare(mounting=Mounting.INDEPENDENT, length_mm=500)),
    (with_position(RATING, dimmed=False), _spare(dimming_window=None, dimming_floor_permille=None)),
])
def test_what_is_plainly_good_is_not_cried_at(rating: Rating, spare: DriverModel) -> None:
    """Good spares that a coarser rule would stop."""
    assert serious(fit_spare(GEAR, rating, spare, line=LINE).findings) == set()


@pytest.mark.parametrize(("touchable", "wet", "isolation", "highest_mv", "severity"), [
    (True, False, Isolation.SELV, 60_000, None), (True, False, Isolation.SELV, 60_001, STOP),
    (True, True, Isolation.SELV, 30_000, None), (True, True, Isolation.SELV, 30_001, STOP),
    (True, None, Isolation.SELV, 30_000, None), (True, None, Isolation.SELV, 30_001, UNKNOWN),
    (None, False, Isolation.SELV, 60_000, None), (None, False, Isolation.SELV, 60_001, UNKNOWN),
    (False, False, Isolation.SELV, 120_000, None), (False, False, Isolation.SELV, 120_001, STOP),
    # Voltage alone never proves isolation.
    (True, False, Isolation.DOUBLE, 24_000, STOP), (True, False, None, 24_000, UNKNOWN),
])
def test_the_limits_of_touchable_and_selv_parts(touchable: bool | None, wet: bool | None, isolation: Isolation | None,
                                                highest_mv: int, severity: Severity | None) -> None:
    """60 V, in wet places 30 V (IEC 60598-1:2008 8.2.3 c), as quoted); SELV to 120 V d.c. (IEC 61140)."""
    rating = with_module(replace(RATING, touchable=touchable, wet=wet), insulation_max_mv=500_000)
    found = fit_spare(GEAR, rating, _spare(isolation=isolation, output_voltage_max_mv=highest_mv)).findings
    assert {kind for _, kind in serious(found)} == ({severity} if severity else set())


@pytest.mark.parametrize(("wanted", "spare", "severity"), [
    (500, _spare(current_min_ma=510, current_max_ma=510), None),
    (500, _spare(current_min_ma=490, current_max_ma=490), None),
    (500, _spare(current_min_ma=511, current_max_ma=511), CARE),
    (500, _spare(current_min_ma=475, current_max_ma=475), CARE),
    (500, _spare(current_min_ma=526, current_max_ma=526), STOP),
    (500, _spare(current_step_ma=50), None),
    (500, _spare(current_step_ma=None), UNKNOWN),
    (500, _spare(current_min_ma=None), UNKNOWN),
])
def test_the_settable_current_against_the_recorded_one(wanted: int, spare: DriverModel,
                                                       severity: Severity | None) -> None:
    """2 % is good, 5 % is care, more is a stop (common practice, no source); no step, no answer."""
    found = serious(fit_spare(with_channel(GEAR, current_ma=wanted), RATING, spare).findings)
    assert {kind for rule, kind in found if rule == "current-match"} == ({severity} if severity else set())


def test_an_undeclared_tolerance_that_may_be_too_much_is_left_open() -> None:
    """10 % above 700 mA may exceed 735 mA: not a stop, and not a fit."""
    fit = fit_spare(GEAR, with_module(RATING, module_max_ma=735), _spare(tolerance_permille=None))
    assert (serious(fit.findings), fit.verdict) == ({("current-tolerance", UNKNOWN)}, Verdict.CANNOT_TELL)


def test_a_control_that_is_not_on_record_is_taken_from_the_type() -> None:
    """Without control data the spare must suit one of the type's protocols."""
    silent = replace(GEAR, settings=replace(GEAR.settings, control=None))
    assert fit_spare(silent, RATING, SPARE).verdict is Verdict.FITS
    assert ("protocol", STOP) in serious(
        fit_spare(silent, RATING, _spare(protocols=frozenset({Protocol.PHASE_CUT}))).findings)


def test_a_gear_without_control_takes_any_spare() -> None:
    """Open control terminals give full output."""
    alone = with_control(GEAR, protocol=Protocol.NONE, min_level=None)
    assert fit_spare(alone, with_position(RATING, dimmed=False), _spare(protocols=None)).verdict is Verdict.FITS


def test_a_fit_names_what_was_checked() -> None:
    """A fit without findings still shows which rules were asked."""
    checked = fit_spare(GEAR, RATING, SPARE, circuit=CIRCUIT).checked
    assert {"window", "isolation", "supply-dc", "current-tolerance"} <= set(checked)
    assert "emergency-mode" not in checked


def test_offline_what_is_carried_stops_and_the_rest_stays_open() -> None:
    """From a record alone no spare fits, but one with the wrong isolation is found."""
    carried = essentials_of(RATING)
    assert fit_offline(GEAR, carried, SPARE).verdict is Verdict.CANNOT_TELL
    unfit = fit_offline(GEAR, carried, _spare(isolation=Isolation.BASIC))
    assert unfit.verdict is Verdict.DOES_NOT_FIT and ("isolation", STOP) in serious(unfit.findings)


@pytest.mark.parametrize(("gear", "spare", "rule"), [
    (GEAR, _spare(current_max_ma=500), "current-match"),
    (GEAR, _spare(tolerance_permille=286), "current-tolerance"),
    (GEAR, TAPE_SPARE, "output"),
    (TWO_GEAR, SPARE, "channels"),
    (GEAR, _spare(mounting=Mounting.BUILT_IN, ta_max_c=34), "ambient"),
    (GEAR, _spare(classes=frozenset({ProtectionClass.CLASS_III})), "protection-class"),
    (GEAR, _spare(protocols=frozenset({Protocol.SWITCH})), "protocol"),
    (EMERGENCY_GEAR, _able(modes=frozenset({EmergencyMode.NON_MAINTAINED})), "emergency-mode"),
])
def test_offline_stops_are_found(gear: Gear, spare: DriverModel, rule: str) -> None:
    """What the record itself proves wrong is a stop without any vault."""
    assert (rule, STOP) in serious(fit_offline(gear, essentials_of(RATING), spare).findings)


def test_offline_a_maximum_of_another_light_source_stops_nothing() -> None:
    """The carried maximum is the strictest of the luminaire, perhaps that of its emergency module."""
    carried = replace(essentials_of(RATING), module_max_ma=150)
    assert not [f for f in serious(fit_offline(GEAR, carried, SPARE).findings) if f[1] is STOP]


def test_the_best_spare_comes_first() -> None:
    """Fits, fits with care, cannot tell, does not fit; alike ones by fewer findings, then by name."""
    fits: list[Fit] = [fit_spare(GEAR, RATING, spare) for spare in (
        _spare(model="E-STOP", isolation=Isolation.NONE), _spare(model="D-OPEN", window=None),
        _spare(model="C-CARES", inrush_b16=None, leakage_ua=None), _spare(model="C-CARE-2", inrush_b16=None),
        _spare(model="B"), _spare(model="A"))]
    assert [fit.model for fit in rank(fits)] == ["A", "B", "C-CARE-2", "C-CARES", "D-OPEN", "E-STOP"]
