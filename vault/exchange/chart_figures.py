"""A chart's figures, rounded once: the drawing, the table and the CSV are all made from these."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, Context, Decimal

from vault.exchange.chart_data import Axis, Chart, Figure, Number

UNKNOWN = "unknown"
SIGNIFICANT, MOST_DECIMALS = 5, 12
POSITIONS_SIGNIFICANT = 15  # all that a float holds: two positions never become one
_EXACT = Context(prec=60, rounding=ROUND_HALF_EVEN)


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One series' figures, rounded."""

    values: tuple[Decimal | None, ...]
    low: tuple[Decimal | None, ...]
    high: tuple[Decimal | None, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Figures:
    """All figures of a chart. whole: none of them has, or was asked to have, a place after the point."""

    rows: tuple[Row, ...]
    positions: tuple[Decimal, ...]
    whole: bool

    @property
    def nothing(self) -> bool:
        """Whether not one figure is known."""
        return all(value is None for row in self.rows for value in row.values)


def _exact(value: Number) -> Decimal:
    # A float's shortest form is what its writer meant: 0.1, not 0.1000000000000000055.
    return value if isinstance(value, Decimal) else Decimal(value) if isinstance(value, int) else Decimal(repr(float(value)))


def decimals(values: Iterable[Figure], axis: Axis, significant: int = SIGNIFICANT) -> int:
    """Places after the point: those asked for, else those the figures have, as far as they are the first significant ones of
    the largest figure or the very first of the smallest, and at most 12."""
    if axis.decimals is not None:
        return axis.decimals
    exact = [_exact(value).normalize(_EXACT) for value in values if value is not None and value]
    needed = max((-int(value.as_tuple().exponent) for value in exact), default=0)
    sizes = [value.adjusted() for value in exact] or [0]
    return max(0, min(needed, max(significant - 1 - max(sizes), -min(sizes)), MOST_DECIMALS))


def _rounded(value: Number, places: int) -> Decimal:
    return _exact(value).quantize(Decimal(1).scaleb(-places), context=_EXACT) + 0  # never a minus zero


def _row(values: Sequence[Figure], places: int) -> tuple[Decimal | None, ...]:
    return tuple(None if value is None else _rounded(value, places) for value in values)


def rounded(chart: Chart) -> Figures:
    """The chart's figures in fixed decimals: one count of places for each series with its intervals, one for x."""
    every = [decimals(series.every, chart.y) for series in chart.series]
    along = decimals(chart.positions, chart.x, significant=POSITIONS_SIGNIFICANT)
    return Figures(
        rows=tuple(Row(values=_row(one.values, places), low=_row(one.low, places), high=_row(one.high, places))
                   for one, places in zip(chart.series, every, strict=True)),
        positions=tuple(_rounded(one, along) for one in chart.positions), whole=not any(every))


def said(value: Decimal | None) -> str:
    """A figure for a table: fixed decimals, no marks between thousands; "unknown" where there is none."""
    return UNKNOWN if value is None else f"{value:f}"


def shown(value: Decimal | None) -> str:
    """A figure for people's eyes: 12,500.5."""
    return UNKNOWN if value is None else f"{value:,f}".replace("-", "\N{MINUS SIGN}")
