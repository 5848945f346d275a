"""How temperature makes things age."""

from __future__ import annotations

import pytest

from vault.spares.arrhenius import acceleration, ten_kelvin_rule

# The handbook adds 273 to make kelvin, this program 273.15.
HANDBOOK_ZERO_C = 273 - 273.15


@pytest.mark.parametrize(("from_c", "to_c", "activation_ev", "factor"), [
    (55, 125, 0.4, 12.02), (55, 125, 0.6, 41.70), (55, 125, 0.7, 77.65),  # standard accelerated-test numbers
    (65, 75, 0.7, 1.994), (40, 85, 0.7, 26.03),
])
def test_acceleration(from_c: float, to_c: float, activation_ev: float, factor: float) -> None:
    """The Arrhenius equation with k = 8.617e-5 eV/K."""
    assert acceleration(from_c, to_c, activation_ev) == pytest.approx(factor, rel=1e-3)


@pytest.mark.parametrize(("to_c", "factor"), [(25, 1.000), (40, 1.922), (65, 5.018), (85, 9.819)])
def test_the_temperature_factor_of_the_military_handbook(to_c: float, factor: float) -> None:
    """MIL-HDBK-217F, pi T with Ea 0.35 eV and T0 298 K (25 °C)."""
    assert acceleration(25 + HANDBOOK_ZERO_C, to_c + HANDBOOK_ZERO_C, 0.35) == pytest.approx(factor, rel=1e-3)


@pytest.mark.parametrize(("to_c", "life_h"), [(65, 100_000), (75, 50_000), (85, 25_000), (70, 70_711)])
def test_the_rule_of_ten_kelvin(to_c: float, life_h: float) -> None:
    """50,000 h at 75 °C are 100,000 h at 65 °C (common rule of thumb)."""
    assert 50_000 / ten_kelvin_rule(75, to_c) == pytest.approx(life_h, abs=1)


def test_a_way_there_and_back_is_none() -> None:
    """Factors of two ways multiply to 1."""
    assert acceleration(25, 60) * acceleration(60, 25) == pytest.approx(1)
