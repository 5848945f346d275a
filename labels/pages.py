"""A4 pages for a binder: a heading, paragraphs, then codes with their words below, in two columns."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from labels.code import QUIET_MODULES, Symbol, make_symbol
from labels.drawing import FONTS, new_canvas, whole_file
from labels.errors import LabelError

if TYPE_CHECKING:
    from reportlab.pdfgen.canvas import Canvas

MARGIN, GAP = 56.0, 24.0
TEXT, SMALL, HEADING = 10.5, 8.5, 17.0  # sizes of letters in points
LEADING = 1.4
MODULE_POINTS = 1.44  # 0.51 mm
A4 = (595.2756, 841.8898)  # ISO 216: 210 × 297 mm


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """One code with the words below it. link: the text is a link, with or without digits (labels.code.segments);
    else any text, as bytes.
    """

    text: str
    words: tuple[str, ...]
    link: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Chapter:
    """A heading on a new page, paragraphs, then blocks in two columns over as many pages as they need."""

    title: str
    paragraphs: tuple[str, ...]
    blocks: tuple[Block, ...]


def symbol_of(block: Block) -> Symbol:
    """The code of a block, as large as it has to be. Raises LabelError where no code holds so much."""
    return make_symbol(block.text, level="M", max_version=40, parts=None if block.link else _as_bytes(block.text))


class _Page:
    """Where the pen stands; a new page begins when something finds no room."""

    def __init__(self, canvas: Canvas, title: str) -> None:
        self.canvas, self.title = canvas, title
        self.y = A4[1] - MARGIN
        self.write(title, HEADING, bold=True)

    def write(self, text: str, size: float, *, bold: bool = False) -> None:
        from reportlab.lib.utils import simpleSplit

        for line in simpleSplit(text, FONTS[bold], size, A4[0] - 2 * MARGIN):
            self.room(size * LEADING)
            self.canvas.setFont(FONTS[bold], size)
            self.canvas.drawString(MARGIN, self.y - size, line)
            self.y -= size * LEADING
        self.y -= size * LEADING / 2

    def room(self, height: float) -> None:
        """Begin a page where less than that is left. Raises LabelError (too-big) when no page has so much."""
        if self.y - height >= MARGIN:
            return
        if height > A4[1] - 2 * MARGIN - HEADING * LEADING * 1.5:
            raise LabelError("Something is larger than a page.", kind="too-big", hint="Put less on one page.")
        self.canvas.showPage()
        self.y = A4[1] - MARGIN
        self.write(f"{self.title}, continued", TEXT, bold=True)

    def row(self, blocks: Sequence[Block]) -> None:
        from reportlab.lib.utils import simpleSplit

        width = (A4[0] - 2 * MARGIN - GAP) / 2
        symbols = [symbol_of(block) for block in blocks]
        lines = [[line for words in block.words for line in simpleSplit(words, FONTS[False], SMALL, width)]
                 for block in blocks]
        sides = [(symbol.modules + 2 * QUIET_MODULES) * MODULE_POINTS for symbol in symbols]
        if max(sides) > width:
            raise LabelError("A code is wider than its column.", kind="too-big", hint="Print it on a page of its own.")
        self.room(max(sides) + max(map(len, lines)) * SMALL * LEADING)
        for number, symbol in enumerate(symbols):
            x, y = MARGIN + number * (width + GAP), self.y - max(sides)
            # The quiet zone at the left is white paper in any case, so the code stands flush with its words.
            _code(self.canvas, symbol, x - QUIET_MODULES * MODULE_POINTS, y + sides[number])
            self.canvas.setFont(FONTS[False], SMALL)
            for line in lines[number]:
                self.canvas.drawString(x, y - SMALL, line)
                y -= SMALL * LEADING
        self.y -= max(sides) + max(map(len, lines)) * SMALL * LEADING + SMALL


def _as_bytes(text: str) -> list[Any]:
    from qrcode import util

    return [util.QRData(text.encode(), mode=util.MODE_8BIT_BYTE)]


def _code(canvas: Canvas, symbol: Symbol, left: float, top: float) -> None:
    path: Any = canvas.beginPath()
    for row, modules in enumerate(symbol.matrix):
        for column, black in enumerate(modules):
            if black:
                path.rect(left + (column + QUIET_MODULES) * MODULE_POINTS, top - (row + QUIET_MODULES + 1) * MODULE_POINTS,
                          MODULE_POINTS, MODULE_POINTS)
    canvas.drawPath(path, stroke=0, fill=1)


def pages_pdf(path: Path, chapters: Sequence[Chapter]) -> None:
    """Write the chapters to a PDF, each beginning on a page of its own. Raises LabelError: too-big, cannot-write."""
    with whole_file(path) as partial:
        canvas = new_canvas(partial, *A4, chapters[0].title)
        for chapter in chapters:
            page = _Page(canvas, chapter.title)
            for paragraph in chapter.paragraphs:
                page.write(paragraph, TEXT)
            for start in range(0, len(chapter.blocks), 2):
                page.row(chapter.blocks[start : start + 2])
            canvas.showPage()
        canvas.save()
