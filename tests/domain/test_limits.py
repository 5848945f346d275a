"""Settings against the rating of the fixture type."""

from __future__ import annotations

from dataclasses import replace

import pytest
from domain_examples import (
    CIRCUIT,
    EMERGENCY_GEAR,
    EMERGENCY_RATING,
    GEAR,
    LINE,
    RATING,
    TAPE_GEAR,
    TAPE_RATING,
    TWO_GEAR,
    TWO_RATING,
    serious,
    with_channel,
    with_control,
    with_emergency,
    with_limits,
    with_module,
    with_original,
    with_position,
)
from hypothesis import given
from hypothesis import strategies as st

from vault.domain.findings import Severity
from vault.domain.limits import check_against_two, check_gears
from vault.domain.rating import Hazard, Rating
from vault.domain.settings import (
    NOT_SET,
    Colour,
    Curve,
    Duty,
    EmergencyMode,
    EmergencySupply,
    Gear,
    Protocol,
)

STOP, UNKNOWN, CARE = Severity.STOP, Severity.UNKNOWN, Severity.CARE
CENTRAL_GEAR = with_emergency(EMERGENCY_GEAR, supply=EmergencySupply.CENTRAL)
CENTRAL_RATING = with_limits(EMERGENCY_RATING, supply=EmergencySupply.CENTRAL)


@pytest.mark.parametrize(("gear", "rating"), [
    (GEAR, RATING), (EMERGENCY_GEAR, EMERGENCY_RATING), (TWO_GEAR, TWO_RATING), (TAPE_GEAR, TAPE_RATING),
    (CENTRAL_GEAR, CENTRAL_RATING),
    (with_control(GEAR, short_address=NOT_SET, power_on_level=NOT_SET), RATING),
    (with_control(GEAR, power_on_level=0, system_failure_level=255), RATING),
    (replace(GEAR, settings=replace(GEAR.settings, control=None)), RATING),
    (GEAR, with_original(RATING, tolerance_permille=None)),
    # Approved with this driver at this current: an assumed 10 % above 900 mA is not held against it.
    (GEAR, with_module(with_original(RATING, tolerance_permille=None), module_max_ma=700)),
    (GEAR, with_position(RATING, original=None)),
    (GEAR, with_position(RATING, power_max_mw=None)),
    (GEAR, with_module(RATING, power_max_mw=None)),
], ids=lambda _: "")
def test_a_plainly_good_luminaire_gives_no_finding_that_counts(gear: Gear, rating: Rating) -> None:
    """No stop, no unknown and no care for what is plainly good."""
    assert serious(check_gears((gear,), rating, line=LINE, circuit=CIRCUIT)) == set()


@pytest.mark.parametrize(("gear", "rating", "rule", "severity"), [
    (with_channel(GEAR, current_ma=701), RATING, "current-permitted", STOP),
    (with_channel(GEAR, current_ma=199), RATING, "current-permitted", STOP),
    (GEAR, with_module(RATING, current_max_ma=None), "current-permitted", UNKNOWN),
    (GEAR, with_module(RATING, current_min_ma=None), "current-permitted", UNKNOWN),
    (GEAR, with_module(RATING, module_max_ma=734), "current-tolerance", STOP),
    (GEAR, with_module(RATING, module_max_ma=None), "current-tolerance", UNKNOWN),
    (with_channel(GEAR, voltage_min_mv=33_100), RATING, "voltage-window", STOP),
    (with_channel(GEAR, voltage_max_mv=43_300), RATING, "voltage-window", STOP),
    (GEAR, with_module(RATING, voltage_low_mv=None), "voltage-window", UNKNOWN),
    (with_channel(GEAR, voltage_min_mv=None), RATING, "voltage-stated", CARE),
    (GEAR, with_module(RATING, power_max_mw=29_399), "power", STOP),
    (GEAR, with_module(RATING, power_max_mw=30_000), "power", STOP),
    (with_channel(GEAR, power_max_mw=None), with_module(RATING, power_max_mw=30_000), "power", CARE),
    (GEAR, with_position(with_module(RATING, power_max_mw=None), power_max_mw=None), "power", UNKNOWN),
    (with_channel(GEAR, power_max_mw=None), replace(RATING, power_max_mw=29_000), "power", STOP),
    (with_channel(GEAR, power_max_mw=32_001), RATING, "power", STOP),
    (replace(GEAR, duty=Duty.EMERGENCY_CONVERTER), RATING, "duty", STOP),
    (TAPE_GEAR, RATING, "output", STOP),
    (TWO_GEAR, RATING, "channels", STOP),
    (with_channel(TWO_GEAR, colour=Colour.WARM_WHITE), TWO_RATING, "colour-order", STOP),
    (with_channel(TWO_GEAR, colour=None), TWO_RATING, "colour-order", UNKNOWN),
    (with_channel(TAPE_GEAR, voltage_mv=25_201), TAPE_RATING, "constant-voltage", STOP),
    (TAPE_GEAR, with_module(TAPE_RATING, nominal_voltage_mv=None), "constant-voltage", UNKNOWN),
    (with_control(GEAR, protocol=Protocol.PHASE_CUT), RATING, "protocol", STOP),
    (GEAR, with_position(RATING, protocols=None), "protocol", UNKNOWN),
    (with_control(GEAR, short_address=64), RATING, "address", STOP),
    (with_control(GEAR, central_address=256), RATING, "central-address", STOP),
    (with_control(GEAR, min_level=200, max_level=100), RATING, "levels", CARE),
    (with_control(GEAR, power_on_level=84), RATING, "levels", CARE),
    (with_control(GEAR, scenes=(80, *[255] * 15)), RATING, "levels", CARE),
    (with_control(GEAR, min_level=84), RATING, "dimming-floor", CARE),
    (with_control(GEAR, min_level=2, curve=Curve.LINEAR), RATING, "dimming-floor", CARE),
    (GEAR, with_position(RATING, dimming_floor_permille=None), "dimming-floor", CARE),
    (GEAR, replace(RATING, hazards=frozenset({Hazard.MEDICAL})), "hazard", STOP),
    (GEAR, replace(RATING, ta_c=25), "ambient", STOP),
    (GEAR, replace(RATING, ta_c=None), "ambient", UNKNOWN),
    (GEAR, with_position(RATING, isolation=None), "essentials", CARE),
    (GEAR, replace(RATING, protection_class=None), "essentials", CARE),
])
def test_a_mismatch_is_found(gear: Gear, rating: Rating, rule: str, severity: Severity) -> None:
    """One spoilt figure gives the finding of its rule."""
    assert (rule, severity) in serious(check_gears((gear,), rating, line=LINE, circuit=CIRCUIT))


@pytest.mark.parametrize(("gear", "rating", "rule", "severity"), [
    (with_emergency(EMERGENCY_GEAR, mode=EmergencyMode.NON_MAINTAINED), EMERGENCY_RATING, "emergency-mode", STOP),
    (with_emergency(EMERGENCY_GEAR, mode=NOT_SET), EMERGENCY_RATING, "emergency-mode", UNKNOWN),
    (EMERGENCY_GEAR, with_limits(EMERGENCY_RATING, modes=None), "emergency-mode", UNKNOWN),
    (CENTRAL_GEAR, EMERGENCY_RATING, "emergency-supply", STOP),
    (EMERGENCY_GEAR, with_limits(EMERGENCY_RATING, supply=None), "emergency-supply", UNKNOWN),
    (with_emergency(EMERGENCY_GEAR, rated_duration_min=60), EMERGENCY_RATING, "emergency-duration", STOP),
    (EMERGENCY_GEAR, with_limits(EMERGENCY_RATING, duration_min=60), "emergency-duration", STOP),
    (EMERGENCY_GEAR, with_limits(EMERGENCY_RATING, duration_min=None), "emergency-duration", UNKNOWN),
    (with_emergency(EMERGENCY_GEAR, emergency_level_permille=99), EMERGENCY_RATING, "emergency-current", STOP),
    (with_emergency(EMERGENCY_GEAR, emergency_current_ma=69), EMERGENCY_RATING, "emergency-current", STOP),
    (with_emergency(EMERGENCY_GEAR, emergency_level_permille=None), EMERGENCY_RATING, "emergency-current", UNKNOWN),
    (EMERGENCY_GEAR, with_limits(EMERGENCY_RATING, emergency_current_min_ma=None), "emergency-current", UNKNOWN),
    (with_emergency(EMERGENCY_GEAR, emergency_level_permille=200), EMERGENCY_RATING, "emergency-power", STOP),
    (with_emergency(EMERGENCY_GEAR, emergency_power_mw=4_001), EMERGENCY_RATING, "emergency-power", STOP),
    (EMERGENCY_GEAR, with_limits(EMERGENCY_RATING, emergency_power_max_mw=None), "emergency-power", UNKNOWN),
    (replace(EMERGENCY_GEAR, settings=GEAR.settings), EMERGENCY_RATING, "emergency-settings", UNKNOWN),
    (CENTRAL_GEAR, replace(CENTRAL_RATING, dc_min_v=187), "supply-dc", STOP),
    (CENTRAL_GEAR, replace(CENTRAL_RATING, dc_max_v=253), "supply-dc", STOP),
    (CENTRAL_GEAR, replace(CENTRAL_RATING, dc_max_v=None), "supply-dc", UNKNOWN),
])
def test_an_emergency_mismatch_is_found(gear: Gear, rating: Rating, rule: str, severity: Severity) -> None:
    """One spoilt emergency figure gives the finding of its rule."""
    assert (rule, severity) in serious(check_gears((gear,), rating, line=LINE, circuit=CIRCUIT))


def test_a_type_with_an_emergency_gear_misses_it() -> None:
    """A luminaire that leaves out a gear of its type is not the type."""
    both = replace(RATING, gears=(*RATING.gears, *EMERGENCY_RATING.gears))
    assert ("duty", STOP) in serious(check_gears((GEAR,), both))


def test_a_finding_names_both_figures_with_their_unit() -> None:
    """What was found and what was allowed stand in the unit that the finding names; the sentence bears it."""
    findings = check_gears((with_channel(GEAR, current_ma=735),), RATING)
    (finding,) = (f for f in findings if f.rule == "current-permitted")
    assert (finding.found, finding.allowed, finding.unit, finding.margin_percent) == ("735", "at most 700", "mA", -5.0)
    assert "735 mA" in finding.says and "700 mA" in finding.says
    assert finding.where == "general gear"


def test_a_newer_rating_is_checked_as_well() -> None:
    """Findings against the named and the newest revision stand together, with a note that says so."""
    newer = replace(with_module(RATING, current_max_ma=600), revision=2)
    findings = check_against_two((GEAR,), RATING, newer)
    assert {f.rule for f in findings if f.severity is Severity.NOTE} == {"rating-superseded"}
    assert serious(findings) == {("current-permitted", STOP)}


def test_one_revision_is_checked_once() -> None:
    """Where the named revision is the newest there is no note."""
    assert check_against_two((GEAR,), RATING, RATING) == check_gears((GEAR,), RATING)


@given(st.integers(1, 2_000), st.integers(0, 300))
def test_no_current_above_the_maximum_passes(current: int, tolerance: int) -> None:
    """Whatever the current and the declared tolerance, the worst case never passes above the module's maximum."""
    findings = serious(check_gears((with_channel(GEAR, current_ma=current),),
                                   with_original(RATING, tolerance_permille=tolerance)))
    assert (("current-tolerance", STOP) in findings) == (current * (1000 + tolerance) > 900 * 1000)


@given(st.integers(1, 900))
def test_what_the_type_permits_is_never_stopped_for_an_assumed_tolerance(permitted: int) -> None:
    """With no declared tolerance a permitted current is at most a note."""
    rating = with_module(with_original(RATING, tolerance_permille=None), current_min_ma=1, current_max_ma=permitted)
    findings = check_gears((with_channel(GEAR, current_ma=permitted),), rating)
    assert not [f for f in serious(findings) if f[0] == "current-tolerance"]
