"""Forward voltage, hot and cold."""

from __future__ import annotations

from dataclasses import replace

import pytest
from domain_examples import MODULE, RATING
from hypothesis import given
from hypothesis import strategies as st

from vault.domain.rating import Module
from vault.domain.voltage import coldest_c, hot_and_cold_mv


def test_the_worked_example() -> None:
    """14 junctions, 36.4 to 42.0 V, 0 to 85 deg C give 33.0 to 43.4 V (k = 4 mV/K, common practice, no source)."""
    assert hot_and_cold_mv(MODULE, ambient_min_c=0) == (33_000, 43_400)


@pytest.mark.parametrize(("module", "expected"), [
    (replace(MODULE, junctions=None), (36_400, 42_000)),
    (replace(MODULE, tj_max_c=None), (36_400, 43_400)),
    (replace(MODULE, voltage_low_mv=None), (None, 43_400)),
    (replace(MODULE, voltage_high_mv=None), (33_000, None)),
    (Module(), (None, None)),
    (replace(MODULE, tj_max_c=20), (36_400, 43_400)),
    (replace(MODULE, voltage_low_mv=1_000), (0, 43_400)),
])
def test_a_missing_figure_leaves_the_binning_or_nothing(module: Module,
                                                        expected: tuple[int | None, int | None]) -> None:
    """Without junctions or temperature the binning stands; without the binning nothing is known."""
    assert hot_and_cold_mv(module, ambient_min_c=0) == expected


@pytest.mark.parametrize(("below_zero", "expected"), [(None, 0), (0, 0), (25, -25)])
def test_the_lowest_ambient_of_the_type(below_zero: int | None, expected: int) -> None:
    """The rating counts degrees below zero; where it names none, freezing point is taken."""
    assert coldest_c(replace(RATING, ambient_min_below_zero_c=below_zero)) == expected


@given(st.integers(1, 500), st.integers(0, 200), st.integers(-60, 60))
def test_temperature_only_widens_the_range(junctions: int, tj_max_c: int, ambient_min_c: int) -> None:
    """The range of the binning always lies inside the range over temperature."""
    low, high = hot_and_cold_mv(replace(MODULE, junctions=junctions, tj_max_c=tj_max_c), ambient_min_c=ambient_min_c)
    assert low is not None and high is not None and 0 <= low <= 36_400 and high >= 42_000
