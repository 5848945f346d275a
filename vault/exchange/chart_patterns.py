"""How series are told apart without colour: hatches of bars, dashes of lines, shapes of points; and the key that names them."""

from __future__ import annotations

import bisect
from dataclasses import dataclass

from vault.exchange.canvas import Drawing, Hatch, Point, text_width
from vault.exchange.chart_data import Mark, Series

TEXT, SMALL = 11.0, 10.0
SWATCH, ROW = 22.0, 18.0
_DARK, _WHITE = 100, 255


@dataclass(frozen=True, slots=True, kw_only=True)
class _Look:
    """One series' look. hollow: the shape of a point is white inside."""

    fill: int
    hatches: tuple[Hatch, ...] = ()
    line_width: float = 2.0
    line_grey: int = 0
    dash: tuple[float, float] | None = None
    corners: tuple[Point, ...] = ()
    hollow: bool = False


_SQUARE = ((-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0))
_DIAMOND = ((0.0, -1.4), (1.4, 0.0), (0.0, 1.4), (-1.4, 0.0))
_TRIANGLE = ((0.0, -1.3), (1.3, 1.0), (-1.3, 1.0))
_LOOKS = (
    _Look(fill=_DARK),
    _Look(fill=_WHITE, hatches=("rising",), dash=(9, 5), corners=_SQUARE, hollow=True),
    _Look(fill=215, dash=(2, 4), corners=_TRIANGLE),
    _Look(fill=_WHITE, hatches=("falling",), line_width=3.2, line_grey=150, corners=_DIAMOND, hollow=True),
    _Look(fill=_WHITE, hatches=("rising", "falling"), line_width=1.4, dash=(16, 4), corners=_SQUARE),
    _Look(fill=_WHITE, line_width=3.2, line_grey=130, dash=(5, 5), corners=_TRIANGLE, hollow=True),
)


def draw_bar(drawing: Drawing, number: int, first: Point, second: Point) -> None:
    """A bar of series `number` between two opposite corners."""
    (x0, y0), (x1, y1) = first, second
    x, y, width, height = min(x0, x1), min(y0, y1), abs(x1 - x0), abs(y1 - y0)
    look = _LOOKS[number]
    drawing.rectangle(x, y, width, height, fill=look.fill)
    for hatch in look.hatches:
        drawing.rectangle(x, y, width, height, hatch=hatch, hatch_grey=60)
    drawing.frame(x, y, width, height, stroke=0.9)


def draw_line(drawing: Drawing, number: int, *points: Point) -> None:
    """A line of series `number`."""
    look = _LOOKS[number]
    drawing.line(*points, width=look.line_width, grey=look.line_grey, dash=look.dash)


def draw_point(drawing: Drawing, number: int, at: Point, size: float = 4.0) -> None:
    """A point of series `number`."""
    look = _LOOKS[number]
    if not look.corners:
        drawing.circle(at, size)
        return
    corners = tuple((at[0] + size * x, at[1] + size * y) for x, y in look.corners)
    drawing.polygon(*corners, fill=_WHITE if look.hollow else 0)
    drawing.line(*corners, *corners[:2], width=1.4)


def draw_sample(drawing: Drawing, number: int, kind: Mark, x: float, y: float) -> None:
    """What stands before a series' name in the key: x its left edge, y its middle."""
    if kind is Mark.BARS:
        draw_bar(drawing, number, (x, y - 6), (x + SWATCH, y + 6))
    elif kind is Mark.POINTS:
        draw_point(drawing, number, (x + SWATCH / 2, y))
    else:
        draw_line(drawing, number, (x, y), (x + SWATCH, y))


def cut(said: str, size: float, width: float, bold: bool = False) -> str:
    """The text, or as much of its beginning as fits `width` points with an ellipsis."""
    if text_width(said, size, bold) <= width:
        return said
    fits = bisect.bisect_right(range(1, len(said)), width, key=lambda n: text_width(said[:n] + "…", size, bold))
    return said[:fits].rstrip() + "…"


def draw_key(drawing: Drawing, named: list[tuple[int, Series]], x: float, y: float, width: float) -> float:
    """The key of numbered series in rows of at most `width` points, from y downwards. Returns the y below it."""
    at = x
    for number, series in named:
        said = cut(series.name, TEXT, width - SWATCH - 8)
        wide = SWATCH + 8 + text_width(said, TEXT)
        if at > x and at + wide > x + width:
            at, y = x, y + ROW
        draw_sample(drawing, number, series.kind, at, y + ROW / 2)
        drawing.text((at + SWATCH + 8, y + ROW / 2 + 4), said, size=TEXT)
        at += wide + 22
    return y + ROW + 4 if named else y
