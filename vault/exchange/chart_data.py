"""What a chart shows, as plain data: axes, series of figures with their intervals, categories or positions along x."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass
from decimal import Decimal
from enum import Enum
from typing import TypeAlias

from vault.errors import GearkeepError

Number: TypeAlias = int | float | Decimal
Figure: TypeAlias = Number | None

MOST_SERIES = 6  # as many patterns and dashes as can be told apart in black and grey
LARGEST = 10**15


class Mark(Enum):
    """How a series is drawn."""

    BARS = "bars"
    LINE = "line"
    STEPS = "steps"
    POINTS = "points"


@dataclass(frozen=True, slots=True, kw_only=True)
class Axis:
    """What an axis says. unit: "EUR", "h", empty where figures are plain counts. decimals: places after the point in the
    table and beside bars; None takes as many as the figures have, so far as they say something."""

    label: str
    unit: str = ""
    decimals: int | None = None

    @property
    def said(self) -> str:
        """ "cost, EUR", or the label alone."""
        return f"{self.label}, {self.unit}" if self.unit else self.label


@dataclass(frozen=True, slots=True, kw_only=True)
class Series:
    """One row of figures, one for each category or position; None is unknown and leaves a gap.

    low, high: ends of an interval about each figure, in the same order, drawn as whiskers; both or neither.
    """

    name: str
    values: tuple[Figure, ...]
    kind: Mark = Mark.BARS
    low: tuple[Figure, ...] = ()
    high: tuple[Figure, ...] = ()

    @property
    def every(self) -> tuple[Figure, ...]:
        """Figures and ends of intervals."""
        return (*self.values, *self.low, *self.high)


@dataclass(frozen=True, slots=True, kw_only=True)
class Chart:
    """What a chart shows. Give categories (names, in the order in which they stand) or positions (numbers along x, rising).

    stacked: bars stand on each other (none below zero, no intervals) instead of side by side. note: a sentence below, such
    as what the whiskers are. A step lasts from its position to the next one. Raises GearkeepError (bad-chart) for lengths
    that differ, figures that are no number or beyond 10^15, bars over positions, more than six series.
    """

    title: str
    x: Axis
    y: Axis
    series: tuple[Series, ...]
    categories: tuple[str, ...] = ()
    positions: tuple[Number, ...] = ()
    stacked: bool = False
    note: str = ""

    def __post_init__(self) -> None:
        _check(self)

    @property
    def places(self) -> int:
        """How many categories or positions there are."""
        return len(self.categories) or len(self.positions)


def _refused(chart: Chart, what: str, hint: str) -> GearkeepError:
    return GearkeepError(f"The chart {chart.title!r} cannot be drawn: {what}.", hint=hint, kind="bad-chart")


def _check(chart: Chart) -> None:
    if chart.categories and chart.positions:
        raise _refused(chart, "it has categories and positions", "Give one of the two.")
    if len(chart.series) > MOST_SERIES:
        raise _refused(chart, f"it has {len(chart.series)} series", f"Give at most {MOST_SERIES}; join the small ones.")
    values: list[Number | None] = [*chart.positions, *(value for series in chart.series for value in series.every)]
    for value in values:
        if value is not None and not (math.isfinite(value) and -LARGEST <= float(value) <= LARGEST):
            raise _refused(chart, f"{value} is no figure that can be drawn",
                           "Give numbers from -10^15 to 10^15, and None for what is unknown.")
    if not all(a < b for a, b in itertools.pairwise(chart.positions)):
        raise _refused(chart, "its positions do not rise", "Give each position once, the smallest first.")
    for series in chart.series:
        _check_series(chart, series)


def _check_series(chart: Chart, series: Series) -> None:
    for name, values in (("figures", series.values), ("low ends", series.low), ("high ends", series.high)):
        if len(values) != chart.places and (values or name == "figures"):
            raise _refused(chart, f"{series.name} has {len(values)} {name} for {chart.places} places",
                           "Give one for each place, None for what is unknown.")
    if bool(series.low) != bool(series.high):
        raise _refused(chart, f"{series.name} has one end of its intervals only", "Give low and high, or neither.")
    if any(a is not None and b is not None and a > b for a, b in zip(series.low, series.high, strict=True)):
        raise _refused(chart, f"an interval of {series.name} ends before it begins", "Give the low end as low.")
    if chart.positions and series.kind is Mark.BARS:
        raise _refused(chart, f"{series.name} has bars over positions", "Give categories, or draw a line, steps or points.")
    if chart.stacked and series.kind is Mark.BARS and (series.low or any(v is not None and v < 0 for v in series.values)):
        raise _refused(chart, f"{series.name} is stacked and has intervals or figures below zero",
                       "Put the bars side by side.")
