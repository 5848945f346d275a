"""The operating window of a driver: a polygon in the current-voltage plane, cut by power hyperbolas.

All arithmetic is exact. The border belongs to the window: a driver rated to 54.0 V gives 54.0 V.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from vault.domain.driver import Window
from vault.domain.units import Figure

Span = tuple[Fraction, Fraction]


@dataclass(frozen=True, slots=True, kw_only=True)
class Inside:
    """Whether a voltage range lies in a window at one current.

    lowest_mv, highest_mv: the span of the window at that current that was held against, None where it has none.
    margin_percent: distance to the nearer edge in per cent of that edge, below zero outside; None without a span.
    """

    inside: bool
    margin_percent: float | None
    lowest_mv: Fraction | None
    highest_mv: Fraction | None


def _edges(window: Window) -> list[tuple[tuple[int, int], tuple[int, int]]]:
    corners = window.vertices
    return list(zip(corners, corners[1:] + corners[:1], strict=True))


def _crossings(window: Window, current_ma: Figure) -> list[Fraction]:
    """Voltages at which the border meets the vertical line at that current, in order."""
    found: set[Fraction] = set()
    for (i1, v1), (i2, v2) in _edges(window):
        if i1 == i2 == current_ma:
            found |= {Fraction(v1), Fraction(v2)}
        elif i1 != i2 and min(i1, i2) <= current_ma <= max(i1, i2):
            found.add(v1 + Fraction((v2 - v1) * (current_ma - i1), i2 - i1))
    return sorted(found)


def _within(window: Window, current_ma: Figure, voltage_mv: Fraction) -> bool:
    """Even-odd rule for a point that no sloping edge passes through."""
    inside = False
    for (i1, v1), (i2, v2) in _edges(window):
        if (v1 > voltage_mv) == (v2 > voltage_mv):
            continue
        crossed_ma = i1 + Fraction(i2 - i1) * (voltage_mv - v1) / (v2 - v1)
        if crossed_ma == current_ma:
            return True
        inside ^= crossed_ma > current_ma
    return inside


def _polygon_spans(window: Window, current_ma: Figure) -> list[Span]:
    spans: list[Span] = []
    for voltage in _crossings(window, current_ma):
        if spans and _within(window, current_ma, (spans[-1][1] + voltage) / 2):
            spans[-1] = (spans[-1][0], voltage)
        else:
            spans.append((voltage, voltage))
    return spans


def voltage_span_at(window: Window, current_ma: Figure) -> list[Span]:
    """The spans of voltage (mV, lowest first) that the window allows at a current; none outside it."""
    if current_ma <= 0:
        return []
    # mW * 1000 = mA * mV
    least = Fraction((window.power_min_mw or 0) * 1000, current_ma)
    most = None if window.power_max_mw is None else Fraction(window.power_max_mw * 1000, current_ma)
    cut = [(max(low, least), high if most is None else min(high, most))
           for low, high in _polygon_spans(window, current_ma)]
    return [(low, high) for low, high in cut if low <= high]


def holds_point(window: Window, current_ma: Figure, voltage_mv: int) -> bool:
    """Whether the window allows that voltage at that current."""
    return any(low <= voltage_mv <= high for low, high in voltage_span_at(window, current_ma))


def _margin(span: Span, vlo_mv: int, vhi_mv: int) -> Fraction:
    low, high = span
    above = (vlo_mv - low) / low * 100 if low else Fraction(100)
    below = (high - vhi_mv) / high * 100 if high else Fraction(-100)
    return min(above, below)


def hold(window: Window, current_ma: Figure, vlo_mv: int, vhi_mv: int) -> Inside:
    """Hold a range of voltage against the window at one current; the whole range must lie in one span."""
    spans = voltage_span_at(window, current_ma)
    if not spans:
        return Inside(inside=False, margin_percent=None, lowest_mv=None, highest_mv=None)
    best = max(spans, key=lambda span: _margin(span, vlo_mv, vhi_mv))
    return Inside(inside=best[0] <= vlo_mv and vhi_mv <= best[1], lowest_mv=best[0], highest_mv=best[1],
                  margin_percent=float(_margin(best, vlo_mv, vhi_mv)))
