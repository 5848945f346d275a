"""The drawing of a spare's settings: one page, black and grey, to be read at arm's length (0.7 m).

Capitals are never lower than 2.4 mm, and what is to be set never lower than 5 mm (common practice, no source).
"""

from __future__ import annotations

import io
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import assert_never

from vault.domain.pictures import Dials, Figures, Picture, Places, Resistor, Switches
from vault.errors import GearkeepError
from vault.exchange.canvas import Drawing, to_png, to_svg
from vault.exchange.canvas_pdf import FONTS, draw_on_pdf, register_drawing_fonts
from vault.exchange.files import write_whole
from vault.exchange.setting_block import Block, Sizes, TooWide
from vault.exchange.setting_pictures import draw_dials, draw_figures, draw_places, draw_resistor, draw_switches

WIDTH, HEIGHT = 595, 842  # A4 in points
MARGIN = 36.0
BETWEEN = 16.0
CAUTIONS_IN_FULL = 2
LONG_TABLE = 8  # rows; a longer table is cut in two where there are two columns


@dataclass(frozen=True, slots=True, kw_only=True)
class _Way:
    """One way to fill a page."""

    sizes: Sizes
    columns: int


# From the most readable to the least that is allowed.
WAYS = tuple(_Way(sizes=Sizes(words=words, figure=figure), columns=columns) for words, figure, columns in (
    (17.0, 36.0, 1), (14.0, 30.0, 1), (12.0, 25.0, 1), (12.0, 25.0, 2), (10.5, 21.5, 1), (10.5, 21.5, 2)))


def _twice(marks: Sequence[str]) -> str:
    return "a mark stands twice" if len(set(marks)) != len(marks) else ""


def _refuse_unsound(picture: Picture) -> None:
    """Refuse what would draw a setting that the driver does not have. Raises GearkeepError not-drawable."""
    match picture:
        case Switches():
            wrong = ("it has no switch" if not picture.numbers else
                     f"it has {len(picture.numbers)} switches and {len(picture.on)} positions"
                     if len(picture.numbers) != len(picture.on) else
                     "a switch number stands twice" if len(set(picture.numbers)) != len(picture.numbers) else "")
        case Dials():
            strange = [digit for digit in picture.digits if digit not in picture.marks]
            wrong = ("it has no dial" if not picture.digits or not picture.marks else
                     f"no dial has the mark {strange[0]!r}; the marks are {', '.join(picture.marks)}" if strange else
                     _twice(picture.marks))
        case Places():
            wrong = _twice(picture.marks) if picture.chosen in picture.marks else (
                f"no place has the mark {picture.chosen!r}; the marks are {', '.join(picture.marks)}")
        case Resistor():
            wrong = "" if picture.ohms_words else "it has no value"
        case Figures():
            wrong = "" if picture.rows else "it has no row"
        case _:
            assert_never(picture)
    if wrong:
        raise GearkeepError(f"{picture.caption or 'A setting'} cannot be drawn: {wrong}.", kind="not-drawable",
                            hint="Correct the driver model, and plan the setting again.")


def _drawn(picture: Picture, width: float, sizes: Sizes) -> Drawing:
    match picture:
        case Switches():
            return draw_switches(picture, width, sizes)
        case Dials():
            return draw_dials(picture, width, sizes)
        case Places():
            return draw_places(picture, width, sizes)
        case Resistor():
            return draw_resistor(picture, width, sizes)
        case Figures():
            return draw_figures(picture, width, sizes)
        case _:
            assert_never(picture)


def _pieces(pictures: Sequence[Picture], columns: int) -> list[Picture]:
    """The pictures numbered in their order, long tables cut in two for two columns."""
    pieces: list[Picture] = []
    for number, picture in enumerate(pictures, 1):
        named = replace(picture, caption=f"{number}. {picture.caption}") if len(pictures) > 1 else picture
        if columns == 2 and isinstance(named, Figures) and len(named.rows) > LONG_TABLE:
            half = math.ceil(len(named.rows) / 2)
            pieces += [replace(named, rows=named.rows[:half]),
                       replace(named, rows=named.rows[half:], caption=f"{named.caption}, continued")]
        else:
            pieces.append(named)
    return pieces


def _laid(pictures: Sequence[Picture], width: float, way: _Way) -> Drawing:
    """Row by row from the left; a picture that is too wide for its column takes a whole row. Raises TooWide."""
    if not pictures:
        nothing = Block(width=width, sizes=way.sizes, drawing=Drawing(width=math.ceil(width), height=0))
        nothing.say("Nothing is set by hand on this spare.", way.sizes.figure, bold=True)
        return nothing.done()
    drawing = Drawing(width=math.ceil(width), height=0)
    column = (width - BETWEEN * (way.columns - 1)) / way.columns
    y, x, row = 0.0, 0.0, 0.0
    for picture in _pieces(pictures, way.columns):
        try:
            made, takes = _drawn(picture, column, way.sizes), column
        except TooWide:
            if way.columns == 1:
                raise
            made, takes = _drawn(picture, width, way.sizes), width
        if x + takes > width + 0.01:
            y, x, row = y + row + BETWEEN, 0.0, 0.0
        if x == 0.0 and y:
            drawing.line((0, y - BETWEEN / 2), (width, y - BETWEEN / 2), width=0.8, grey=150)
        drawing.lay(made, x, y)
        x, row = x + takes + BETWEEN, max(row, made.height)
    drawing.height = math.ceil(y + row)
    return drawing


def _head(width: float, sizes: Sizes, heading: str, cautions: Sequence[str]) -> Drawing:
    made = Block(width=width, sizes=sizes, drawing=Drawing(width=math.ceil(width), height=0))
    made.say(heading, sizes.words * 1.5, bold=True)
    made.y += 4
    if cautions:
        top, many = made.y, len(cautions)
        told = cautions[:CAUTIONS_IN_FULL]
        rest = "" if many <= CAUTIONS_IN_FULL else f" The other {many - len(told)} stand before the steps: read them there."
        made.say(f"{many} caution{'s' if many > 1 else ''} first.{rest}", sizes.words, bold=True, x=10)
        for number, caution in enumerate(told, 1):
            made.say(f"{number}. {caution}", sizes.words, x=10)
        made.drawing.line((2, top), (2, made.y), width=4)
    made.y += 8
    made.drawing.line((0, made.y), (width, made.y), width=1.6)
    return made.done()


def _too_much(pictures: Sequence[Picture]) -> GearkeepError:
    many = len(pictures)
    return GearkeepError(
        f"The drawing of {many} setting{'s' if many != 1 else ''} does not fit one page at a readable size "
        "(capitals of 2.4 mm, settings of 5 mm).", kind="drawing-too-large",
        hint="Draw one gear at a time, or fewer settings on one drawing.")


def draw_pictures(pictures: Sequence[Picture], *, width: float, height: float) -> Drawing:
    """The pictures alone, for a page of another make: at most `width` by `height` points, drawn at full size.

    Raises GearkeepError: not-drawable, drawing-too-large.
    """
    for picture in pictures:
        _refuse_unsound(picture)
    for way in WAYS:
        try:
            drawing = _laid(pictures, width, way)
        except TooWide:
            continue
        if drawing.height <= height:
            return drawing
    raise _too_much(pictures)


def draw_setting(pictures: Sequence[Picture], *, heading: str, cautions: Sequence[str], foot: str) -> Drawing:
    """An A4 page of 595 by 842 points: heading, the first cautions, every picture in order, foot.

    The largest type is taken in which all fits. Without pictures the page says that nothing is set by hand.
    Raises GearkeepError: not-drawable, drawing-too-large.
    """
    for picture in pictures:
        _refuse_unsound(picture)
    inner = WIDTH - 2 * MARGIN
    for way in WAYS:
        head = _head(inner, way.sizes, heading, cautions)
        tail = Block(width=inner, sizes=way.sizes, drawing=Drawing(width=math.ceil(inner), height=0))
        tail.note(foot)
        bottom = tail.done()
        try:
            middle = _laid(pictures, inner, way)
        except TooWide:
            continue
        if head.height + BETWEEN + middle.height + BETWEEN + bottom.height > HEIGHT - 2 * MARGIN:
            continue
        page = Drawing(width=WIDTH, height=HEIGHT)
        page.lay(head, MARGIN, MARGIN)
        page.lay(middle, MARGIN, MARGIN + head.height + BETWEEN)
        page.lay(bottom, MARGIN, HEIGHT - MARGIN - bottom.height)
        return page
    raise _too_much(pictures)


def _to_pdf(drawing: Drawing, title: str) -> bytes:
    from reportlab.pdfgen.canvas import Canvas

    register_drawing_fonts()
    out = io.BytesIO()
    canvas = Canvas(out, pagesize=(drawing.width, drawing.height), invariant=1, pageCompression=1,
                    initialFontName=FONTS[False])
    canvas.setTitle(title)
    canvas.setCreator("gearkeep")
    canvas.setViewerPreference("PrintScaling", "None")
    draw_on_pdf(canvas, drawing, 0, 0, drawing.width)
    canvas.showPage()
    canvas.save()
    return out.getvalue()


def write_setting(path: Path, pictures: Sequence[Picture], *, heading: str, cautions: Sequence[str], foot: str) -> None:
    """Write `draw_setting` as SVG, PNG or a PDF of one page, by the ending of `path`; the whole file or none.

    Raises GearkeepError: unknown-format, unwritable-file, no-font, and what draw_setting raises.
    """
    ending = path.suffix.lower()
    if ending not in (".svg", ".png", ".pdf"):
        raise GearkeepError(f"{path.name}: a drawing ending in {ending or 'nothing'} is not known.", kind="unknown-format",
                            hint="Give a file that ends in .svg, .png or .pdf.")
    drawing = draw_setting(pictures, heading=heading, cautions=cautions, foot=foot)
    if ending == ".pdf":
        data = _to_pdf(drawing, heading)
    else:
        data = to_svg(drawing, hold_widths=True) if ending == ".svg" else to_png(drawing)
    write_whole(path, data)
