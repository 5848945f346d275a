"""A drawing set as vectors on a page of a PDF, its text as text that can be selected and searched."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, assert_never

import fontpkg

from vault.errors import GearkeepError
from vault.exchange.canvas import FAMILY, HATCH_STEP, Area, Disc, Drawing, Point, Shape, Stroke, Words

if TYPE_CHECKING:
    from reportlab.pdfgen.canvas import Canvas
    from reportlab.pdfgen.pathobject import PDFPathObject

FONTS = {False: "DrawingRegular", True: "DrawingBold"}


def register_drawing_fonts() -> None:
    """Make FONTS known to reportlab, for embedding. Raises GearkeepError no-font when the package is not installed."""
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont

    known = pdfmetrics.getRegisteredFontNames()
    try:
        for bold, name in FONTS.items():
            if name not in known:
                pdfmetrics.registerFont(TTFont(name, str(fontpkg.path(FAMILY, weight=700 if bold else 400))))
    except (fontpkg.FontpkgError, OSError) as problem:
        raise GearkeepError(f"The font {FAMILY} for PDF was not found.", kind="no-font",
                            hint="Install the package fontpkg-atkinson-hyperlegible.") from problem


def draw_on_pdf(canvas: Canvas, drawing: Drawing, x: float, y: float, width: float) -> float:
    """Draw `drawing` with its lower left corner at (x, y), scaled to `width`; all in the page's points.

    Returns the height it takes, `width * drawing.height / drawing.width`. The canvas keeps its state: fonts, colours and
    scale are as before. Raises GearkeepError no-font.
    """
    register_drawing_fonts()
    scale = width / drawing.width
    canvas.saveState()
    canvas.translate(x, y)
    canvas.scale(scale, scale)
    canvas.setLineJoin(1)
    for shape in drawing.shapes:
        _draw(canvas, shape, drawing.height)
    canvas.restoreState()
    return drawing.height * scale


def _path(canvas: Canvas, points: tuple[Point, ...], height: int) -> PDFPathObject:
    path = canvas.beginPath()
    for number, (x, y) in enumerate(points):
        (path.lineTo if number else path.moveTo)(x, height - y)
    return path


def _draw(canvas: Canvas, shape: Shape, height: int) -> None:
    match shape:
        case Stroke():
            canvas.setStrokeGray(shape.grey / 255)
            canvas.setLineWidth(shape.width)
            canvas.setDash(*([list(shape.dash)] if shape.dash else []))
            canvas.drawPath(_path(canvas, shape.points, height), stroke=1, fill=0)
        case Area():
            _area(canvas, shape, height)
        case Disc():
            canvas.setFillGray(0)
            canvas.setStrokeGray(1)
            canvas.setLineWidth(1.5)
            canvas.setDash()
            canvas.circle(shape.centre[0], height - shape.centre[1], shape.radius, stroke=1, fill=1)
        case Words():
            _words(canvas, shape, height)
        case _:
            assert_never(shape)


def _area(canvas: Canvas, shape: Area, height: int) -> None:
    if shape.fill is not None:
        path = _path(canvas, shape.points, height)
        path.close()
        canvas.setFillGray(shape.fill / 255)
        canvas.drawPath(path, stroke=0, fill=1)
    if shape.hatch == "none":
        return
    canvas.saveState()
    clip = _path(canvas, shape.points, height)
    clip.close()
    canvas.clipPath(clip, stroke=0, fill=0)
    canvas.setStrokeGray(shape.hatch_grey / 255)
    canvas.setLineWidth(1.2)
    canvas.setDash()
    left, right = min(x for x, _ in shape.points), max(x for x, _ in shape.points)
    low, high = min(height - y for _, y in shape.points), max(height - y for _, y in shape.points)
    step = HATCH_STEP * math.sqrt(2)
    rising = shape.hatch == "rising"
    # Every hatched area hangs on one grid of lines, so that neighbours meet.
    first = math.floor((left - high if rising else left + low) / step)
    last = math.ceil((right - low if rising else right + high) / step)
    for place in range(first, last + 1):
        at = place * step
        canvas.line(low + at if rising else at - low, low, high + at if rising else at - high, high)
    canvas.restoreState()


def _words(canvas: Canvas, shape: Words, height: int) -> None:
    from reportlab.pdfbase.pdfmetrics import stringWidth

    name = FONTS[shape.bold]
    extent = stringWidth(shape.said, name, shape.size)
    left = shape.at[0] - {"start": 0.0, "middle": extent / 2, "end": extent}[shape.anchor]
    for halo in (True, False) if shape.halo else (False,):
        text = canvas.beginText(left, height - shape.at[1])
        text.setFont(name, shape.size)
        text.setFillGray(shape.grey / 255)
        if halo:
            canvas.setLineWidth(4)
            canvas.setDash()
            text.setStrokeGray(1)
        text.setTextRenderMode(1 if halo else 0)
        text.textOut(shape.said)
        canvas.drawText(text)
