"""What holds for every spare and every type, not only for the tables of test_fit."""

from __future__ import annotations

from collections.abc import Callable
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
    LIMITS,
    LINE,
    ORIGINAL,
    RATING,
    SPARE,
    WINDOW,
    changed,
    with_limits,
    with_module,
    with_original,
    with_position,
)
from hypothesis import given, settings
from hypothesis import strategies as st

from vault.domain.driver import DriverModel, Window
from vault.domain.findings import Verdict
from vault.domain.fit import fit_spare
from vault.domain.rating import Isolation, Mounting, ProtectionClass, Rating
from vault.domain.settings import EmergencyMode, EmergencySupply, Protocol

# How far a verdict lets the work go on; "cannot tell" and "does not fit" both end it.
GOES_ON = {Verdict.FITS: 2, Verdict.FITS_WITH_CARE: 1, Verdict.CANNOT_TELL: 0, Verdict.DOES_NOT_FIT: 0}

LOW_WINDOW = Window(vertices=((100, 24_000), (900, 24_000), (900, 43_000), (100, 43_000)))
NARROW_WINDOW = replace(WINDOW, power_max_mw=31_000)

# The good figure first. A tolerance above the standard's 10 % is no figure of a driver that may be sold.
SPARE_FIGURES: dict[str, list[Any]] = {
    "window": [WINDOW, LOW_WINDOW, NARROW_WINDOW], "dimming_window": [WINDOW, LOW_WINDOW],
    "current_min_ma": [100, 720, 800], "current_max_ma": [900, 696, 680], "current_step_ma": [1, 7, 50],
    "power_total_max_mw": [40_000, 31_000, 20_000], "tolerance_permille": [50, 20, 100],
    "isolation": [Isolation.SELV, Isolation.BASIC], "output_voltage_max_mv": [59_000, 25_000, 100_000, 130_000],
    "classes": [frozenset(ProtectionClass), frozenset({ProtectionClass.CLASS_III})],
    "mounting": [Mounting.BUILT_IN, Mounting.INDEPENDENT], "ta_max_c": [50, 33, 20], "tc_max_c": [75, 60],
    "loss_mw": [4_000, 4_100, 9_000], "supply_min_v": [198, 230], "supply_max_v": [264, 230], "dc_min_v": [176, 200],
    "dc_max_v": [280, 250], "protocols": [frozenset(Protocol), frozenset({Protocol.SWITCH})],
    "dali_device_types": [(6,), (8,)], "dimming_floor_permille": [10, 50], "length_mm": [280, 300],
    "width_mm": [40, 60], "height_mm": [30, 60], "inrush_b16": [24, 10], "leakage_ua": [500, 20_000],
    "emergency": [ABILITY, replace(ABILITY, supply=EmergencySupply.CENTRAL)],
}
MODULE_FIGURES: dict[str, list[Any]] = {
    "current_min_ma": [200, 705], "current_max_ma": [700, 650], "module_max_ma": [900, 740, 690],
    "voltage_low_mv": [36_400, 25_000], "voltage_high_mv": [42_000, 58_000], "insulation_max_mv": [120_000, 50_000],
}
POSITION_FIGURES: dict[str, list[Any]] = {
    "dali_device_type": [6, 8], "isolation": [Isolation.SELV, Isolation.NONE],
    "mounting": [Mounting.BUILT_IN, Mounting.INDEPENDENT], "original": [ORIGINAL, None],
    "dimming_floor_permille": [10, 5], "dimmed": [True, False], "length_max_mm": [280, 200], "width_max_mm": [40, 20],
    "height_max_mm": [30, 20],
}
RATING_FIGURES: dict[str, list[Any]] = {
    "protection_class": [ProtectionClass.CLASS_I, ProtectionClass.CLASS_III], "ta_c": [35, 60],
    "touchable": [True, False], "wet": [False, True], "supply_min_v": [220, 100], "supply_max_v": [240, 277],
    "dc_min_v": [186, 100], "dc_max_v": [260, 300],
}
ABILITY_FIGURES: dict[str, list[Any]] = {
    "modes": [ABILITY.modes, frozenset({EmergencyMode.NON_MAINTAINED})], "supply": list(EmergencySupply),
    "durations_min": [(60, 180), (60,)], "emergency_current_min_ma": [50, 80], "emergency_current_max_ma": [100, 60],
    "emergency_power_max_mw": [5_000, 1_000], "batteries": ["BAT-3 BAT-4", "BAT-9"],
}
LIMIT_FIGURES: dict[str, list[Any]] = {
    "emergency_current_min_ma": [70, 90], "emergency_power_max_mw": [4_000, 2_000], "battery": ["BAT-4", "BAT-7"],
}


@st.composite
def _figures(draw: st.DrawFn, table: dict[str, list[Any]]) -> dict[str, Any]:
    """Mostly good figures: now and then one name of the table takes another value, or none."""
    spoilt = draw(st.lists(st.sampled_from(sorted(table)), max_size=1))
    return {name: draw(st.sampled_from([*table[name], None])) for name in spoilt}


@st.composite
def _spares(draw: st.DrawFn) -> DriverModel:
    ability = changed(ABILITY, **draw(_figures(ABILITY_FIGURES)))
    return changed(EMERGENCY_SPARE, **{"emergency": ability, **draw(_figures(SPARE_FIGURES))})


@st.composite
def _ratings(draw: st.DrawFn) -> Rating:
    limits = changed(LIMITS, **draw(_figures(LIMIT_FIGURES)))
    rating = changed(EMERGENCY_RATING, **draw(_figures(RATING_FIGURES)))
    rating = with_module(rating, **draw(_figures(MODULE_FIGURES)))
    return with_position(rating, emergency=limits, **draw(_figures(POSITION_FIGURES)))


_PLACES = st.sampled_from([{}, {"circuit": CIRCUIT, "line": LINE}])


def _goes_on(rating: Rating, spare: DriverModel, place: dict[str, Any]) -> int:
    return GOES_ON[fit_spare(EMERGENCY_GEAR, rating, spare, **place).verdict]


# The dc window is left out: where it is undeclared the operating window stands in for it, with care.
@settings(max_examples=120)
@given(_ratings(), _spares(), st.sampled_from(sorted(SPARE_FIGURES)), _PLACES)
def test_a_spare_that_tells_less_never_does_better(rating: Rating, spare: DriverModel, name: str,
                                                   place: dict[str, Any]) -> None:
    """Taking a figure of the spare away never lets the work go further."""
    assert _goes_on(rating, changed(spare, **{name: None}), place) <= _goes_on(rating, spare, place)


# Left out: junctions and temperatures (without them the binning is taken as it stands) and hazards (a mark, no figure).
@settings(max_examples=120)
@given(_ratings(), _spares(), _PLACES, st.sampled_from(sorted(
    [("rating", name) for name in RATING_FIGURES] + [("module", name) for name in MODULE_FIGURES]
    + [("position", name) for name in POSITION_FIGURES] + [("limits", name) for name in LIMIT_FIGURES])))
def test_a_type_that_tells_less_never_does_better(rating: Rating, spare: DriverModel, place: dict[str, Any],
                                                  taken: tuple[str, str]) -> None:
    """Taking a figure of the rating away never lets the work go further."""
    part, name = taken
    take: dict[str, Callable[..., Rating]] = {"rating": changed, "module": with_module,
                                             "position": with_position, "limits": with_limits}
    less = take[part](rating, **{name: None})
    assert _goes_on(less, spare, place) <= _goes_on(rating, spare, place)


@settings(max_examples=120)
@given(_ratings(), _spares(), _PLACES, st.integers(0, 100), st.integers(0, 100), st.sampled_from([
    ("power_total_max_mw", 400), ("ta_max_c", 1), ("tc_max_c", 1), ("supply_max_v", 3), ("dc_max_v", 3),
    ("inrush_b16", 1)]))
def test_a_lower_maximum_never_turns_a_stop_into_a_fit(rating: Rating, spare: DriverModel, place: dict[str, Any],
                                                       most: int, less: int, figure: tuple[str, int]) -> None:
    """A driver that can do less never does better."""
    name, unit = figure
    able, weaker = ({name: 1 + n * unit} for n in (most, max(0, most - less)))
    assert _goes_on(rating, changed(spare, **weaker), place) <= _goes_on(rating, changed(spare, **able), place)


@settings(max_examples=100)
@given(_ratings(), _spares(), st.integers(100, 1_200), st.integers(0, 500), st.integers(24_000, 60_000),
       st.integers(0, 20_000), st.integers(10_000, 60_000), st.integers(0, 30_000))
def test_a_smaller_window_never_does_better(rating: Rating, spare: DriverModel, current: int, less_current: int,
                                            voltage: int, less_voltage: int, power: int, less_power: int) -> None:
    """Lowering the highest current, voltage or power of the window never turns a stop into a fit."""
    def window(top_ma: int, top_mv: int, most_mw: int) -> Window:
        return Window(vertices=((90, 23_000), (top_ma, 23_000), (top_ma, top_mv), (90, top_mv)), power_max_mw=most_mw)

    large = replace(spare, window=window(current, voltage, power))
    small = replace(spare, window=window(max(91, current - less_current), max(23_001, voltage - less_voltage),
                                         max(1, power - less_power)))
    assert _goes_on(rating, small, {}) <= _goes_on(rating, large, {})


@settings(max_examples=100)
@given(_ratings(), _spares(), st.sampled_from(["module_max_ma", "current_max_ma", "insulation_max_mv"]),
       st.integers(1, 400))
def test_more_margin_of_the_module_never_does_worse(rating: Rating, spare: DriverModel, name: str, more: int) -> None:
    """A light source that bears more never makes a spare fit worse."""
    figure = getattr(rating.gears[0].modules[0], name)
    larger = with_module(rating, **{name: None if figure is None else figure + more})
    assert _goes_on(larger, spare, {}) >= _goes_on(rating, spare, {})


@pytest.mark.parametrize("name", [
    "window", "current_min_ma", "current_max_ma", "current_step_ma", "power_total_max_mw", "isolation",
    "output_voltage_max_mv", "classes", "mounting", "ta_max_c", "tc_max_c", "loss_mw", "supply_min_v", "supply_max_v",
    "dc_min_v", "dc_max_v", "protocols", "dali_device_types", "length_mm", "width_mm", "height_mm"])
def test_a_spare_without_a_figure_that_protects_cannot_tell(name: str) -> None:
    """A missing figure in a rule that guards people, equipment or a duty is never a fit."""
    assert fit_spare(GEAR, RATING, changed(SPARE, **{name: None}), circuit=CIRCUIT).verdict is Verdict.CANNOT_TELL


@pytest.mark.parametrize("rating", [
    *(changed(RATING, **{name: None}) for name in ("protection_class", "ta_c", "supply_min_v", "supply_max_v",
                                                   "dc_min_v", "dc_max_v")),
    *(with_position(RATING, **{name: None}) for name in ("isolation", "mounting", "original", "dali_device_type",
                                                         "length_max_mm", "width_max_mm", "height_max_mm")),
    *(with_module(RATING, **{name: None}) for name in ("current_min_ma", "current_max_ma", "voltage_low_mv",
                                                       "voltage_high_mv", "insulation_max_mv")),
    *(with_original(RATING, **{name: None}) for name in ("loss_mw", "tc_max_c")),
    with_module(with_original(RATING, tolerance_permille=None), module_max_ma=None),
    # Without `touchable` the answer stands while 60 V of SELV are enough; without `wet` 30 V would have to be.
    replace(RATING, wet=None), replace(RATING, touchable=None, wet=None),
], ids=range(23))
def test_a_type_without_a_figure_that_protects_cannot_tell(rating: Rating) -> None:
    """The same for the figures of the type, on a central supply whose battery range is not known."""
    central = replace(CIRCUIT, battery_min_v=None, site_ta_c=None)
    assert fit_spare(GEAR, rating, SPARE, circuit=central).verdict is Verdict.CANNOT_TELL



@pytest.mark.parametrize(("name", "value"), [(n, v) for n, values in SPARE_FIGURES.items() for v in values])
def test_no_figure_of_a_spare_is_better_left_out(name: str, value: Any) -> None:
    """Each figure of the table alone: saying nothing is never better than saying it."""
    assert _goes_on(EMERGENCY_RATING, changed(EMERGENCY_SPARE, **{name: None}), {}) <= _goes_on(
        EMERGENCY_RATING, changed(EMERGENCY_SPARE, **{name: value}), {})


@pytest.mark.parametrize(("name", "value"), [(n, v) for n, values in POSITION_FIGURES.items() for v in values])
def test_no_figure_of_a_position_is_better_left_out(name: str, value: Any) -> None:
    """The same for the figures of the gear's position in the type."""
    assert _goes_on(with_position(EMERGENCY_RATING, **{name: None}), EMERGENCY_SPARE, {}) <= _goes_on(
        with_position(EMERGENCY_RATING, **{name: value}), EMERGENCY_SPARE, {})


@pytest.mark.parametrize(("name", "value"), [(n, v) for n, values in RATING_FIGURES.items() for v in values])
def test_no_figure_of_a_type_is_better_left_out(name: str, value: Any) -> None:
    """The same for the figures of the type, on a central circuit."""
    assert _goes_on(changed(EMERGENCY_RATING, **{name: None}), EMERGENCY_SPARE, {"circuit": CIRCUIT}) <= _goes_on(
        changed(EMERGENCY_RATING, **{name: value}), EMERGENCY_SPARE, {"circuit": CIRCUIT})


@pytest.mark.parametrize(("name", "value"), [(n, v) for n, values in ABILITY_FIGURES.items() for v in values])
def test_no_emergency_figure_of_a_spare_is_better_left_out(name: str, value: Any) -> None:
    """The same for the emergency abilities of the spare."""
    said, silent = (replace(EMERGENCY_SPARE, emergency=changed(ABILITY, **{name: v})) for v in (value, None))
    assert _goes_on(EMERGENCY_RATING, silent, {}) <= _goes_on(EMERGENCY_RATING, said, {})
