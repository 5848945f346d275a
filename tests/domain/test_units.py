"""Figures read as people read them."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

import pytest

from vault.domain import units


@pytest.mark.parametrize(("show", "value", "text"), [
    (units.ma, 700, "700 mA"), (units.ma, Fraction(1401, 2), "700.5 mA"), (units.mv, 27_000, "27.0 V"),
    (units.mv, 33_040, "33.04 V"), (units.mv, Fraction(161_539, 3), "53.85 V"), (units.mw, 28_500, "28.5 W"),
    (units.permille, 100, "10 %"), (units.permille, 25, "2.5 %"), (units.amps, 9_600, "9.6 A"),
    (units.ua, 500, "0.5 mA"), (units.volts, 230, "230 V"), (units.celsius, 40, "40 °C"), (units.mv, -400, "-0.4 V"),
    (units.mm, 280, "280 mm"), (units.minutes, 180, "180 min"), (units.percent, 5, "5 %"),
])
def test_a_figure_is_shown_with_its_unit(show: Callable[[int | Fraction], str], value: int, text: str) -> None:
    """Milliamperes, volts, watts and the rest are the figure, a space and the unit."""
    assert show(value) == text


def test_a_range_names_its_unit_once() -> None:
    """A range is spoken "33.0 to 43.4 V"."""
    assert (units.mv_range(33_000, 43_400), units.volts_range(194, 254)) == ("33.0 to 43.4 V", "194 to 254 V")
