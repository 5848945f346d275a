"""Where the parts of a chart stand: title, key, axes, names, marks, note; and what is read aloud in its place."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from vault.exchange.canvas import Anchor, Drawing, Point, text_width, wrapped
from vault.exchange.chart_data import Chart, Mark
from vault.exchange.chart_figures import Figures, rounded, shown
from vault.exchange.chart_marks import beside_text, draw_marks, ends_of_runs
from vault.exchange.chart_patterns import SMALL, TEXT, cut, draw_key
from vault.exchange.chart_plane import Plane
from vault.exchange.chart_scale import Scale, scale_for

WIDTH, HEIGHT, MARGIN = 760, 300, 24.0  # HEIGHT: of the field of an upright chart
LINE, LONGEST = 13.0, 400  # points between lines; letters of a text
WIDEST_NAME, SHORT_NAME, WIDEST_LABEL = 230.0, 64.0, 170.0
PALE, MIDDLE = 222, 70


def drawn(chart: Chart) -> Drawing:
    """The chart, 760 points wide. Bars with names too long to stand below them lie on their side."""
    figures, chart = rounded(chart), _printable(chart)
    drawing = Drawing(width=WIDTH, height=0)
    y = MARGIN
    for line in wrapped(chart.title, 16, WIDTH - 2 * MARGIN, bold=True):
        drawing.text((MARGIN, y + 12), line, size=16, bold=True)
        y += 21
    if figures.nothing:
        drawing.frame(MARGIN, y + 4, WIDTH - 2 * MARGIN, 60, grey=PALE)
        drawing.text((WIDTH / 2, y + 38), "There is nothing to draw: no figure is known.", size=12, anchor="middle")
        y += 76
    else:
        y = _field(drawing, chart, figures, y + 4)
    unknown = any(value is None for row in figures.rows for value in row.values) and not figures.nothing
    gaps = "A gap or a question mark: the figure is unknown." if unknown else ""
    for line in wrapped(f"{gaps} {chart.note}", SMALL, WIDTH - 2 * MARGIN):
        drawing.text((MARGIN, y + 10), line, size=SMALL, grey=MIDDLE)
        y += LINE
    drawing.height = round(y + MARGIN / 2)
    return drawing


def _printable(chart: Chart) -> Chart:
    """The chart with texts that can be measured: spaces for what cannot be printed, no more of a name than can be shown."""

    def clean(said: str) -> str:
        return "".join(letter if letter.isprintable() else " " for letter in said[:LONGEST])

    x, y = (replace(axis, label=clean(axis.label), unit=clean(axis.unit)) for axis in (chart.x, chart.y))
    return replace(chart, title=clean(chart.title), x=x, y=y, note=clean(chart.note),
                   categories=tuple(map(clean, chart.categories)),
                   series=tuple(replace(series, name=clean(series.name)) for series in chart.series))


def _scale(chart: Chart, figures: Figures) -> Scale:
    known = [value for row in figures.rows for value in (*row.values, *row.low, *row.high) if value is not None]
    if chart.stacked:
        bars = [row.values for series, row in zip(chart.series, figures.rows, strict=True) if series.kind is Mark.BARS]
        known += [sum((value for value in stack if value is not None), Decimal(0)) for stack in zip(*bars, strict=True)]
    return scale_for(known, zero=True, whole=figures.whole)


def _lies(chart: Chart) -> bool:
    """Whether names are too long to stand below their bars."""
    if not chart.categories or any(series.kind in (Mark.LINE, Mark.STEPS) for series in chart.series):
        return False
    widest = max(text_width(name, SMALL) for name in chart.categories)
    return widest > SHORT_NAME and any(len(wrapped(name, SMALL, _room(chart))) > 2 for name in chart.categories)


def _room(chart: Chart) -> float:
    return (WIDTH - 2 * MARGIN - 50) / chart.places - 6


def _field(drawing: Drawing, chart: Chart, figures: Figures, y: float) -> float:
    lying = _lies(chart)
    named = [(number, series) for number, series in enumerate(chart.series)
             if series.name and series.kind in (Mark.BARS, Mark.POINTS) and len(chart.series) > 1]
    y = draw_key(drawing, named, MARGIN, y, WIDTH - 2 * MARGIN)
    scale = _scale(chart, figures)
    factored = chart.y.unit if not scale.factor else f"{scale.factor} {chart.y.unit}".rstrip()
    y_said = ", ".join(part for part in (chart.y.label, factored) if part)
    first_said = cut(chart.x.said if lying else y_said, TEXT, WIDTH - 2 * MARGIN, bold=True)
    drawing.text((MARGIN, y + 12), first_said, size=TEXT, bold=True)
    y += 34
    if lying:
        return _lying(drawing, chart, figures, _Field(scale=scale, y_said=y_said, top=y))
    return _upright(drawing, chart, figures, _Field(scale=scale, y_said=y_said, top=y))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Field:
    scale: Scale
    y_said: str
    top: float


def _categories_along(chart: Chart) -> tuple[float, ...]:
    return tuple((place + 0.5) / chart.places for place in range(chart.places))


def _lying(drawing: Drawing, chart: Chart, figures: Figures, field: _Field) -> float:
    names = [wrapped(name, SMALL, WIDEST_NAME)[:3] for name in chart.categories]
    names = [[*lines[:1], cut(" ".join(lines[1:]), SMALL, WIDEST_NAME)] if len(lines) > 1 else lines for lines in names]
    widest = max(text_width(line, SMALL) for lines in names for line in lines or [""])
    side_by_side = 1 if chart.stacked else max(len(chart.series), 1)
    row = max(14.0 * side_by_side / 0.76, 30.0 if any(len(lines) > 1 for lines in names) else 22.0)
    values = [beside_text(field.scale, value) for one in figures.rows for value in one.values]
    below = max((text_width(beside_text(field.scale, value), SMALL) for one in figures.rows for value in one.values
                 if value is not None and value < 0), default=0.0)
    plane = Plane(left=MARGIN + widest + below + 10, right=WIDTH - MARGIN - max(text_width(said, SMALL) for said in values) - 8,
                  top=field.top - 10, bottom=field.top - 10 + row * chart.places, scale=field.scale,
                  along=_categories_along(chart), lying=True)
    for tick in field.scale.ticks:
        first, last = plane.at(0, tick), plane.at(1, tick)
        drawing.line(first, last, width=0.6, grey=PALE)
        drawing.text((last[0], last[1] + 16), field.scale.text(tick), size=SMALL, anchor="middle", grey=MIDDLE)
    for share, lines in zip(plane.along, names, strict=True):
        y = plane.at(share, field.scale.low)[1] + 3.5 - LINE / 2 * (len(lines) - 1)
        for number, line in enumerate(lines):
            drawing.text((MARGIN + widest + 2, y + LINE * number), line, size=SMALL, anchor="end")
    draw_marks(drawing, plane, chart, figures)
    drawing.line(plane.at(0, Decimal(0)), plane.at(1, Decimal(0)), width=1.4)
    _said_below(drawing, plane, plane.bottom + 36, field.y_said)
    return plane.bottom + 46


def _upright(drawing: Drawing, chart: Chart, figures: Figures, field: _Field) -> float:
    scale = field.scale
    left = MARGIN + max(text_width(scale.text(tick), SMALL) for tick in scale.ticks) + 8
    x_scale = scale_for(figures.positions, zero=False) if chart.positions else None
    along = tuple(x_scale.share(one) for one in figures.positions) if x_scale else _categories_along(chart)
    plane = Plane(left=left, right=WIDTH - MARGIN, top=field.top, bottom=field.top + HEIGHT, scale=scale, along=along)
    ends = ends_of_runs(plane, chart, figures) if len(chart.series) > 1 else []
    if any(name for _, name in ends):
        aside = min(max(text_width(name, TEXT) for _, name in ends), WIDEST_LABEL)
        plane = replace(plane, right=plane.right - aside - 18)
    for tick in scale.ticks:
        at = plane.at(0, tick)
        drawing.line(at, plane.at(1, tick), width=0.6, grey=PALE)
        drawing.text((at[0] - 6, at[1] + 3.5), scale.text(tick), size=SMALL, anchor="end", grey=MIDDLE)
    below = _positions_below(drawing, plane, x_scale) if x_scale else _names_below(drawing, plane, chart.categories)
    draw_marks(drawing, plane, chart, figures)
    drawing.line(plane.at(0, Decimal(0)), plane.at(1, Decimal(0)), width=1.4)
    if ends:
        _names_aside(drawing, plane, ends_of_runs(plane, chart, figures))
    x_unit = chart.x.unit if not x_scale or not x_scale.factor else f"{x_scale.factor} {chart.x.unit}".rstrip()
    _said_below(drawing, plane, below + 20, ", ".join(part for part in (chart.x.label, x_unit) if part))
    return below + 32


def _said_below(drawing: Drawing, plane: Plane, y: float, said: str) -> None:
    middle = (plane.left + plane.right) / 2
    room = 2 * min(middle, WIDTH - middle) - MARGIN
    drawing.text((middle, y), cut(said, TEXT, room, bold=True), size=TEXT, anchor="middle", bold=True)


def _positions_below(drawing: Drawing, plane: Plane, scale: Scale) -> float:
    for number, tick in enumerate(scale.ticks):
        x = plane.left + (plane.right - plane.left) * scale.share(tick)
        drawing.line((x, plane.bottom), (x, plane.bottom + 4), width=0.8)
        anchor: Anchor = "end" if number == len(scale.ticks) - 1 and plane.right > WIDTH - MARGIN - 1 else "middle"
        drawing.text((x, plane.bottom + 17), scale.text(tick), size=SMALL, anchor=anchor, grey=MIDDLE)
    return plane.bottom + 17


def _names_below(drawing: Drawing, plane: Plane, names: Sequence[str]) -> float:
    """Names in two lines each, or every second, third ... of them on one where they stand too close."""
    room = plane.slot * plane.length - 6
    lines = [wrapped(name, SMALL, room) for name in names]
    widest = max(text_width(name, SMALL) for name in names)
    if max(len(parts) for parts in lines) > 2 or any(" " not in name and len(parts) > 1
                                                     for name, parts in zip(names, lines, strict=True)):
        wide = min(widest, WIDEST_NAME / 2) + 8
        every = next(n for n in itertools.count(1) if n * (room + 6) >= wide or n >= len(names))
        lines = [[cut(name, SMALL, every * (room + 6) - 4)] if place % every == 0 else [] for place, name in enumerate(names)]
    # Below a bar that reaches down to the edge stands its figure.
    first = plane.bottom + (30 if plane.scale.low < 0 else 16)
    for share, parts in zip(plane.along, lines, strict=True):
        x = plane.at(share, plane.scale.low)[0]
        for number, part in enumerate(parts):
            drawing.text((x, first + LINE * number), part, size=SMALL, anchor="middle")
    return first + LINE * (max(len(parts) for parts in lines) - 1)


def _names_aside(drawing: Drawing, plane: Plane, ends: list[tuple[Point, str]]) -> None:
    """Names at the right edge, each as near to its line's end as the others let it, with a thin line from end to name."""
    placed = sorted(((y, x, name) for (x, y), name in ends if name), key=lambda end: end[0])
    heights = [y for y, _, _ in placed]
    for number in range(1, len(heights)):
        heights[number] = max(heights[number], heights[number - 1] + LINE + 1)
    # What ran out below moves up again.
    floor = plane.bottom
    for number in range(len(heights) - 1, -1, -1):
        heights[number] = min(heights[number], floor)
        floor = heights[number] - LINE - 1
    for (y, x, name), height in zip(placed, heights, strict=True):
        drawing.line((x + 3, y), (plane.right + 4, height), (plane.right + 10, height), width=0.7, grey=140)
        drawing.text((plane.right + 13, height + 4), cut(name, TEXT, WIDEST_LABEL), size=TEXT)


def described(chart: Chart) -> str:
    """What the chart says, in sentences: its axes, and of each series the smallest, the largest and the last figure."""
    figures = rounded(chart)
    if figures.nothing:
        return "There is nothing to draw: no figure is known."
    places = list(chart.categories) or [shown(one) for one in figures.positions]
    told = [f"{chart.y.said}, by {chart.x.said}."]
    for series, row in zip(chart.series, figures.rows, strict=True):
        known = [(value, place) for value, place in zip(row.values, places, strict=True) if value is not None]
        missing = len(places) - len(known)
        parts = [f"{series.name or chart.y.label}, {series.kind.value}: {len(known)} figures" if len(known) != 1
                 else f"{series.name or chart.y.label}, {series.kind.value}: one figure"]
        if known:
            least, most = min(known, key=lambda one: one[0]), max(known, key=lambda one: one[0])
            parts += [f"lowest {shown(least[0])} at {least[1]}", f"highest {shown(most[0])} at {most[1]}",
                      f"last {shown(known[-1][0])} at {known[-1][1]}"]
        parts += [f"{missing} unknown"] if missing else []
        told.append(", ".join(parts) + ".")
    return " ".join([*told, chart.note]).strip()
