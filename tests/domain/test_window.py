"""The operating window in the current-voltage plane."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from vault.domain.driver import Window
from vault.domain.window import hold, holds_point, voltage_span_at

RECTANGLE = ((100, 10_000), (1_000, 10_000), (1_000, 50_000), (100, 50_000))
SLANTED = ((100, 10_000), (1_000, 10_000), (500, 50_000), (100, 50_000))
# Two fingers at high current with a gap between them.
FORKED = ((100, 10_000), (900, 10_000), (900, 20_000), (300, 30_000), (900, 40_000), (900, 50_000), (100, 50_000))


@pytest.mark.parametrize(("vertices", "power_max", "power_min", "current", "spans"), [
    (RECTANGLE, None, None, 700, [(10_000, 50_000)]),
    (RECTANGLE, None, None, 100, [(10_000, 50_000)]),
    (RECTANGLE, None, None, 99, []),
    (RECTANGLE, None, None, 0, []),
    (RECTANGLE, 14_000, None, 350, [(10_000, 40_000)]),  # P = U·I: 0.350 A × 40 V = 14.0 W
    (RECTANGLE, 14_000, 7_000, 350, [(20_000, 40_000)]),
    (RECTANGLE, 5_000, None, 1_000, []),
    (SLANTED, None, None, 750, [(10_000, 30_000)]),  # half-way along the slanted edge
    (FORKED, None, None, 600, [(10_000, 25_000), (35_000, 50_000)]),
    (FORKED, None, None, 300, [(10_000, 50_000)]),
    (FORKED, None, None, 900, [(10_000, 20_000), (40_000, 50_000)]),
])
def test_the_span_at_a_current(vertices: tuple[tuple[int, int], ...], power_max: int | None, power_min: int | None,
                               current: int, spans: list[tuple[Fraction, Fraction]]) -> None:
    """The vertical line at a current, cut by the polygon and by the powers, worked by hand."""
    window = Window(vertices=vertices, power_max_mw=power_max, power_min_mw=power_min)
    assert voltage_span_at(window, current) == spans


@pytest.mark.parametrize(("low", "high", "inside", "margin"), [
    (20_000, 40_000, True, 20.0), (10_000, 50_000, True, 0.0), (9_000, 40_000, False, -10.0),
    (20_000, 51_000, False, -2.0), (12_000, 49_000, True, 2.0),
])
def test_a_range_is_held_with_its_margin(low: int, high: int, inside: bool, margin: float) -> None:
    """The margin is the distance to the nearer edge, in per cent of that edge."""
    found = hold(Window(vertices=RECTANGLE), 700, low, high)
    assert found.inside is inside
    assert found.margin_percent == pytest.approx(margin)


def test_a_range_may_not_bridge_a_gap() -> None:
    """Both ends may be allowed and the range between them not."""
    window = Window(vertices=FORKED)
    assert holds_point(window, 600, 24_000) and holds_point(window, 600, 36_000)
    assert not hold(window, 600, 24_000, 36_000).inside


def test_no_room_at_a_current_has_no_margin() -> None:
    """Beyond the highest current the window has no span to measure against."""
    found = hold(Window(vertices=RECTANGLE), 1_001, 20_000, 30_000)
    assert (found.inside, found.margin_percent, found.lowest_mv, found.highest_mv) == (False, None, None, None)


def _in_polygon(corners: list[tuple[int, int]], x: int, y: int) -> bool:
    """Even-odd with a ray towards higher voltage, the border counted in: written without the code under test."""
    crossings = 0
    for (x1, y1), (x2, y2) in zip(corners, [*corners[1:], corners[0]], strict=True):
        level = (x2 - x1) * (y - y1) - (x - x1) * (y2 - y1) == 0
        if level and min(x1, x2) <= x <= max(x1, x2) and min(y1, y2) <= y <= max(y1, y2):
            return True
        if (x1 <= x < x2 or x2 <= x < x1) and y1 + Fraction((x - x1) * (y2 - y1), x2 - x1) > y:
            crossings += 1
    return crossings % 2 == 1


_CORNER = st.tuples(st.integers(0, 12), st.integers(0, 12))


@given(st.lists(_CORNER, min_size=3, max_size=7), st.integers(1, 12), st.integers(0, 12),
       st.none() | st.integers(1, 60))
def test_a_window_holds_the_points_inside_it_and_no_other(corners: list[tuple[int, int]], current: int, voltage: int,
                                                          power: int | None) -> None:
    """Over random polygons, crossed and flat ones too, the spans agree with an independent even-odd test."""
    window = Window(vertices=tuple((i, v * 1000) for i, v in corners), power_max_mw=power)
    expected = _in_polygon(corners, current, voltage) and (power is None or current * voltage <= power)
    assert holds_point(window, current, voltage * 1000) == expected


@given(st.lists(_CORNER, min_size=3, max_size=7), st.integers(1, 12), st.integers(0, 12), st.integers(0, 12))
def test_a_range_inside_has_every_point_inside(corners: list[tuple[int, int]], current: int, one: int,
                                               two: int) -> None:
    """What is accepted as a range is accepted at each whole volt of it."""
    window = Window(vertices=tuple((i, v * 1000) for i, v in corners))
    low, high = min(one, two), max(one, two)
    accepted = hold(window, current, low * 1000, high * 1000).inside
    assert not accepted or all(_in_polygon(corners, current, voltage) for voltage in range(low, high + 1))
