"""Pieces of a work order's page that the library for pages has not: boxes to tick, codes, drawings, large figures."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any
from xml.sax.saxutils import escape

from reportlab.lib.enums import TA_RIGHT
from reportlab.lib.styles import ParagraphStyle
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.platypus import Flowable, Paragraph

from vault.exchange.canvas import Drawing
from vault.exchange.canvas_pdf import FONTS, draw_on_pdf

TEXT, SMALL, HEAD = 8.6, 7.4, 10.5  # sizes of letters in points
LARGE, LARGE_LEAST = 23.0, 12.0
TICK = 8.0  # side of a box to tick, 2.8 mm
SPACE = 14.0  # between one thing to fill in and the next
QUIET_MODULES = 4  # ISO/IEC 18004: four modules of white on every side
MODULE_POINTS = 1.7  # 0.6 mm

_BASE: dict[str, Any] = {"fontName": FONTS[False], "fontSize": TEXT, "leading": TEXT * 1.22, "splitLongWords": 1}
STYLES = {
    "text": ParagraphStyle("text", **_BASE),
    "bold": ParagraphStyle("bold", **{**_BASE, "fontName": FONTS[True]}),
    "bar": ParagraphStyle("bar", **{**_BASE, "fontName": FONTS[True], "textColor": "#FFFFFF"}),
    "small": ParagraphStyle("small", **{**_BASE, "fontSize": SMALL, "leading": SMALL * 1.22}),
    "right": ParagraphStyle("right", **{**_BASE, "alignment": TA_RIGHT}),
    "head": ParagraphStyle("head", **{**_BASE, "fontName": FONTS[True], "fontSize": HEAD, "leading": HEAD * 1.25,
                                      "spaceBefore": 6, "spaceAfter": 2, "keepWithNext": 1}),
    "place": ParagraphStyle("place", **{**_BASE, "fontName": FONTS[True], "fontSize": 15, "leading": 18}),
    "tag": ParagraphStyle("tag", **{**_BASE, "fontName": FONTS[True], "fontSize": 25, "leading": 29}),
}


def words(said: str, style: str = "text") -> Paragraph:
    """Plain text as a paragraph; nothing in it is taken for mark-up."""
    return Paragraph(escape(said), STYLES[style])


@dataclass(frozen=True, slots=True, kw_only=True)
class Blank:
    """One thing to fill in. tick: a box stands before the text. line: points of ruled line behind it, 0 for none."""

    text: str
    tick: bool = True
    line: float = 0.0
    bold: bool = False

    @property
    def width(self) -> float:
        """All of it, with the space to the next."""
        text: float = stringWidth(self.text, FONTS[self.bold], TEXT)
        return (TICK + 4 if self.tick else 0) + text + (self.line + 4 if self.line else 0) + SPACE


class FormLine(Flowable):  # type: ignore[misc]
    """Blanks beside each other, over as many lines as they take."""

    def __init__(self, blanks: Sequence[Blank], *, row: float = 15.5) -> None:
        super().__init__()
        self._blanks, self._row = blanks, row
        self._rows: list[list[Blank]] = []

    def wrap(self, available_width: float, _available_height: float) -> tuple[float, float]:
        """Lay the blanks into rows."""
        self._rows, used = [[]], 0.0
        for blank in self._blanks:
            if self._rows[-1] and used + blank.width - SPACE > available_width:
                self._rows.append([])
                used = 0.0
            self._rows[-1].append(blank)
            used += blank.width
        return available_width, len(self._rows) * self._row

    def draw(self) -> None:
        """Boxes, texts and ruled lines."""
        canvas = self.canv
        for number, row in enumerate(self._rows, 1):
            x, y = 0.0, (len(self._rows) - number) * self._row + 4
            for blank in row:
                at = x
                if blank.tick:
                    tick(canvas, at, y - 1)
                    at += TICK + 4
                canvas.setFont(FONTS[blank.bold], TEXT)
                canvas.setFillGray(0)
                canvas.drawString(at, y, blank.text)
                if blank.line:
                    at += stringWidth(blank.text, FONTS[blank.bold], TEXT) + 4
                    canvas.setLineWidth(0.5)
                    canvas.line(at, y - 2, at + blank.line, y - 2)
                x += blank.width


def tick(canvas: Any, x: float, y: float) -> None:
    """A box to tick, its lower left corner at (x, y)."""
    canvas.setStrokeGray(0)
    canvas.setLineWidth(0.8)
    canvas.rect(x, y, TICK, TICK, stroke=1, fill=0)


class Tick(Flowable):  # type: ignore[misc]
    """One box to tick."""

    def wrap(self, _width: float, _height: float) -> tuple[float, float]:
        """Its side, and a little space below it."""
        return TICK, TICK + 1

    def draw(self) -> None:
        """The box."""
        tick(self.canv, 0, 0)


class Code(Flowable):  # type: ignore[misc]
    """A code with its quiet zone, from its modules."""

    def __init__(self, matrix: Sequence[Sequence[bool]]) -> None:
        super().__init__()
        self._matrix = matrix
        self.side = (len(matrix) + 2 * QUIET_MODULES) * MODULE_POINTS

    def wrap(self, _width: float, _height: float) -> tuple[float, float]:
        """Square."""
        return self.side, self.side

    def draw(self) -> None:
        """One path of squares, so that no hairline shows between them."""
        path = self.canv.beginPath()
        for row, modules in enumerate(self._matrix):
            for column, black in enumerate(modules):
                if black:
                    path.rect((column + QUIET_MODULES) * MODULE_POINTS, self.side - (row + QUIET_MODULES + 1) * MODULE_POINTS,
                              MODULE_POINTS, MODULE_POINTS)
        self.canv.setFillGray(0)
        self.canv.drawPath(path, stroke=0, fill=1)


class Drawn(Flowable):  # type: ignore[misc]
    """A drawing, `scale` times its own size."""

    def __init__(self, drawing: Drawing, scale: float = 1.0) -> None:
        super().__init__()
        self._drawing, self._scale = drawing, scale

    def wrap(self, _width: float, _height: float) -> tuple[float, float]:
        """The drawing's size in points."""
        return self._drawing.width * self._scale, self._drawing.height * self._scale

    def draw(self) -> None:
        """As vectors."""
        draw_on_pdf(self.canv, self._drawing, 0, 0, self._drawing.width * self._scale)


class Large(Flowable):  # type: ignore[misc]
    """Settings to be read from a ladder: each a label with its value in large type below, packed into rows."""

    SPACE, HEIGHT = 22.0, 41.0

    def __init__(self, figures: Sequence[tuple[str, str]]) -> None:
        super().__init__()
        self._figures = figures
        self._placed: list[tuple[float, int, str, str, float]] = []
        self._rows = 0

    def wrap(self, available_width: float, _available_height: float) -> tuple[float, float]:
        """Pack the cells; a value wider than the page is set smaller."""
        self._placed, x, row = [], 0.0, 0
        for label, value in self._figures:
            wide = stringWidth(value, FONTS[True], 1)
            size = max(LARGE_LEAST, min(LARGE, available_width / wide)) if wide else LARGE
            width = max(wide * size, stringWidth(label, FONTS[False], TEXT))
            if x and x + width > available_width:
                x, row = 0.0, row + 1
            self._placed.append((x, row, label, value, size))
            x += width + self.SPACE
        self._rows = row + 1
        return available_width, self._rows * self.HEIGHT

    def draw(self) -> None:
        """Label above value."""
        canvas = self.canv
        canvas.setFillGray(0)
        for x, row, label, value, size in self._placed:
            top = (self._rows - row) * self.HEIGHT
            canvas.setFont(FONTS[False], TEXT)
            canvas.drawString(x, top - 10, label)
            canvas.setFont(FONTS[True], size)
            canvas.drawString(x, top - 33, value)
