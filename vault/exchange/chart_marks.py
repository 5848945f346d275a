"""The marks of a chart: bars side by side or stacked, lines, steps, points, whiskers, and what stands beside them."""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from decimal import Decimal

from vault.exchange.canvas import Drawing, Point, text_width
from vault.exchange.chart_data import Chart, Mark
from vault.exchange.chart_figures import UNKNOWN, Figures, shown
from vault.exchange.chart_patterns import SMALL, draw_bar, draw_line, draw_point
from vault.exchange.chart_plane import Plane
from vault.exchange.chart_scale import Scale

GROUP = 0.76  # of a category's room, for its bars
WIDEST_BAR = 56.0
LEAST_NAMED = 7.0  # points of height from which a part of a stack is named beside it
MOST_MARKED = 24  # places up to which each figure of a line gets a point
_ZERO = Decimal(0)


def draw_marks(drawing: Drawing, plane: Plane, chart: Chart, figures: Figures) -> None:
    """All marks: bars below, then lines, whiskers and points, then the texts beside bars."""
    numbers = {kind: [n for n, series in enumerate(chart.series) if series.kind is kind] for kind in Mark}
    bars = numbers[Mark.BARS]
    if chart.stacked:
        _stacks(drawing, plane, figures, bars)
    else:
        for place, number in enumerate(bars):
            _bars(drawing, plane, figures, number, _Place(place=place, count=len(bars), told=len(bars) == len(chart.series)))
    for number in (*numbers[Mark.LINE], *numbers[Mark.STEPS]):
        _run(drawing, plane, figures, number, steps=chart.series[number].kind is Mark.STEPS, slots=bool(chart.categories))
    for place, number in enumerate(numbers[Mark.POINTS]):
        aside = _aside(plane, place, len(numbers[Mark.POINTS]), GROUP) if chart.categories else 0.0
        for share, value, *ends in _each(plane, figures, number):
            _whisker(drawing, plane, share + aside, *ends)
            if value is not None:
                draw_point(drawing, number, plane.at(share + aside, value))


def _each(plane: Plane, figures: Figures, number: int) -> list[tuple[float, Decimal | None, Decimal | None, Decimal | None]]:
    row = figures.rows[number]
    nothing = (None,) * len(row.values)
    return list(zip(plane.along, row.values, row.low or nothing, row.high or nothing, strict=True))


def _group(plane: Plane, count: int) -> float:
    return min(GROUP * plane.slot, count * WIDEST_BAR / plane.length)


def _aside(plane: Plane, place: int, count: int, group: float) -> float:
    """How far the middle of one of `count` marks of a category stands from the category's middle."""
    return ((place + 0.5) / count - 0.5) * group * plane.slot


@dataclass(frozen=True, slots=True, kw_only=True)
class _Place:
    """Which of a category's `count` bars one is, and whether its figure may stand beside it: nothing else is in the way."""

    place: int
    count: int
    told: bool


def _bars(drawing: Drawing, plane: Plane, figures: Figures, number: int, one: _Place) -> None:
    wide = _group(plane, one.count) / one.count
    aside = (one.place + 0.5 - one.count / 2) * wide
    each = _each(plane, figures, number)
    room = wide * plane.length + 4
    for share, value, *_ in each:
        if value is not None:
            draw_bar(drawing, number, plane.at(share + aside - wide / 2, _ZERO), plane.at(share + aside + wide / 2, value))
    # At the end of a whisker a figure would be taken for the interval's.
    told = one.told and not figures.rows[number].low and all(
        _fits(plane, beside_text(plane.scale, value), room) for _, value, *_ in each if value is not None)
    for share, value, low, high in each:
        _whisker(drawing, plane, share + aside, low, high)
        if value is None:
            _beside(drawing, plane, share + aside, _ZERO, UNKNOWN if _fits(plane, UNKNOWN, room) else "?", below=False)
        elif told:
            _beside(drawing, plane, share + aside, value, beside_text(plane.scale, value), below=value < 0)


def beside_text(scale: Scale, value: Decimal | None) -> str:
    """The text beside a bar: the whole figure, or for an axis in thousandths and less the figure in the axis' power."""
    return shown(value if value is None or scale.power >= 0 else value.scaleb(-scale.power))


def _fits(plane: Plane, text: str, room: float) -> bool:
    return room >= SMALL + 2 if plane.lying else text_width(text, SMALL) <= room


def _beside(drawing: Drawing, plane: Plane, share: float, end: Decimal, text: str, *, below: bool) -> None:
    x, y = plane.at(share, end)
    if plane.lying:
        drawing.text((x - 5 if below else x + 5, y + 3.5), text, size=SMALL, anchor="end" if below else "start", halo=True)
    else:
        drawing.text((x, y + 13 if below else y - 5), text, size=SMALL, anchor="middle", halo=True)


def _stacks(drawing: Drawing, plane: Plane, figures: Figures, bars: list[int]) -> None:
    wide = _group(plane, 1)
    for place, share in enumerate(plane.along):
        below = _ZERO
        for number in bars:
            value = figures.rows[number].values[place]
            if value:
                draw_bar(drawing, number, plane.at(share - wide / 2, below), plane.at(share + wide / 2, below + value))
                below += value
        if any(figures.rows[number].values[place] is None for number in bars):
            _beside(drawing, plane, share, below, "?", below=False)


def _whisker(drawing: Drawing, plane: Plane, share: float, low: Decimal | None, high: Decimal | None) -> None:
    if low is None or high is None:
        return
    cap = min(5 / plane.length, plane.slot / 4)
    strokes = [(plane.at(share, low), plane.at(share, high)),
               *((plane.at(share - cap, end), plane.at(share + cap, end)) for end in (low, high))]
    for width, grey in ((4.0, 255), (1.4, 0)):
        for stroke in strokes:
            drawing.line(*stroke, width=width, grey=grey)


def _run(drawing: Drawing, plane: Plane, figures: Figures, number: int, *, steps: bool, slots: bool) -> None:
    """A line or steps, broken where a figure is unknown. slots: a step is as wide as its category."""
    each = _each(plane, figures, number)
    for known, part in itertools.groupby(range(len(each)), key=lambda place: each[place][1] is not None):
        if not known:
            continue
        places = list(part)
        points = [plane.at(each[place][0], each[place][1] or _ZERO) for place in places]
        if steps:
            lasts = [_until(plane, place, slots) for place in places]
            points = [point for place, last in zip(places, lasts, strict=True) for point in (
                plane.at(each[place][0] - (plane.slot / 2 if slots else 0), each[place][1] or _ZERO),
                plane.at(last, each[place][1] or _ZERO))]
        if len(points) > 1:
            draw_line(drawing, number, *points)
    for share, _, low, high in each:
        _whisker(drawing, plane, share, low, high)
    for place, (share, value, *_) in enumerate(each):
        alone = all(each[n][1] is None for n in (place - 1, place + 1) if 0 <= n < len(each))
        if value is not None and (alone or (len(each) <= MOST_MARKED and not steps)):
            draw_point(drawing, number, plane.at(share, value), 3.2)


def _until(plane: Plane, place: int, slots: bool) -> float:
    if slots:
        return plane.along[place] + plane.slot / 2
    return plane.along[min(place + 1, len(plane.along) - 1)]


def ends_of_runs(plane: Plane, chart: Chart, figures: Figures) -> list[tuple[Point, str]]:
    """Where lines, and the parts of the last stack if each is high enough, stand last, and their names at the right edge."""
    ends: list[tuple[Point, str]] = []
    parts: list[tuple[Point, str]] = []
    below, lowest = _ZERO, LEAST_NAMED
    for series, row in zip(chart.series, figures.rows, strict=True):
        places = [place for place, value in enumerate(row.values) if value is not None]
        if series.kind in (Mark.LINE, Mark.STEPS) and places:
            ends.append((plane.at(plane.along[places[-1]], row.values[places[-1]] or _ZERO), series.name))
        elif series.kind is Mark.BARS and chart.stacked:
            value = row.values[-1] or _ZERO
            parts.append((plane.at(plane.along[-1] + _group(plane, 1) / 2, below + value / 2), series.name))
            lowest = min(lowest, plane.bottom - plane.at(0, plane.scale.low + value)[1])
            below += value
    return ends + parts if lowest >= LEAST_NAMED else ends
