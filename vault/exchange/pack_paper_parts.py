"""Pieces of a pack's pages: tables of thousands of rows with their headings on every page, headings with bookmarks, contents."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import Any
from xml.sax.saxutils import escape

from reportlab.lib.utils import simpleSplit
from reportlab.pdfbase.pdfmetrics import getFont, stringWidth
from reportlab.platypus import Flowable, Paragraph

from vault.exchange.canvas_pdf import FONTS
from vault.exchange.pack_paper import PaperTable
from vault.exchange.work_order_parts import STYLES

CELL, LEADING = 7.0, 8.4  # letters of a table and its lines, in points
PAD, GAP = 1.6, 4.0  # above and below a row's lines; between columns
LEAST_ROWS = 2  # of a table that stand under its headings before a page ends
TITLES = ("place", "head", "bold")
NUMBER = "page-of-"  # a heading's page, drawn where the contents name it once the page is known


def in_font(said: str) -> str:
    """The text, letters that the paper's font lacks written as their number in Unicode: an empty frame would tell nothing."""
    held = getFont(FONTS[False]).face.charToGlyph
    if all(ord(letter) in held or letter == "\n" for letter in said):
        return said
    return "".join(letter if ord(letter) in held or letter == "\n" else f"[U+{ord(letter):04X}]" for letter in said)


@lru_cache(maxsize=20_000)
def cell_lines(said: str, width: float, bold: bool) -> tuple[str, ...]:
    """A cell's text broken to a column's width; a word that is wider is cut. Most cells of a schedule say the same few things."""
    said = in_font(said)
    if "\n" not in said and stringWidth(said, FONTS[bold], CELL) <= width:
        return (said,)
    lines: list[str] = []
    for line in simpleSplit(said, FONTS[bold], CELL, width):
        while stringWidth(line, FONTS[bold], CELL) > width and len(line) > 1:
            cut = next(at for at in range(len(line) - 1, 0, -1) if at == 1 or stringWidth(line[:at], FONTS[bold], CELL) <= width)
            lines.append(line[:cut])
            line = line[cut:]
        lines.append(line)
    return tuple(lines)


class Rows(Flowable):  # type: ignore[misc]
    """A table's rows from `first` up to `end`, under its headings.

    The library's own table measures all that is left anew at every page; ten thousand rows would take it minutes.
    """

    def __init__(self, table: PaperTable, width: float, first: int = 0, end: int | None = None,
                 heights: Sequence[float] | None = None) -> None:
        super().__init__()
        self._table, self._width, self._first = table, width, first
        self._end = len(table.rows) if end is None else end
        shares = sum(table.widths)
        self._columns = [width * share / shares for share in table.widths]
        self._heights = heights if heights is not None else [
            self._height(self._lines(row, number in table.loud)) for number, row in enumerate(table.rows)]
        self._head = self._lines(table.headings, True)

    def _lines(self, cells: Sequence[str], bold: bool) -> list[tuple[str, ...]]:
        return [cell_lines(cell, width - GAP, bold) for cell, width in zip(cells, self._columns, strict=True)]

    def _height(self, lines: Sequence[tuple[str, ...]]) -> float:
        return max(map(len, lines)) * LEADING + 2 * PAD

    def wrap(self, _width: float, _height: float) -> tuple[float, float]:
        """All of the rows, and the headings."""
        return self._width, self._height(self._head) + sum(self._heights[self._first : self._end])

    def split(self, _width: float, height: float) -> list[Flowable]:
        """As many rows as find room; none where that would be a row or two alone."""
        left, at = height - self._height(self._head), self._first
        while at < self._end and self._heights[at] <= left:
            left -= self._heights[at]
            at += 1
        if at - self._first < min(LEAST_ROWS, self._end - self._first):
            return []
        return [Rows(self._table, self._width, first, end, self._heights) for first, end in ((self._first, at), (at, self._end))
                if first < end]

    def draw(self) -> None:
        """Headings on grey, then the rows with a line below each."""
        canvas = self.canv
        y = self.height = self.wrap(0, 0)[1]
        head = self._height(self._head)
        canvas.setFillGray(0.88)
        canvas.rect(0, y - head, self._width, head, stroke=0, fill=1)
        canvas.setFillGray(0)
        self._draw_row(self._head, y, True)
        y -= head
        canvas.setLineWidth(0.3)
        canvas.setStrokeGray(0.6)
        for number in range(self._first, self._end):
            loud = number in self._table.loud
            self._draw_row(self._lines(self._table.rows[number], loud), y, loud)
            y -= self._heights[number]
            if loud:
                canvas.setFillGray(0)
                canvas.rect(-4, y + 1, 2, self._heights[number] - 2, stroke=0, fill=1)
            canvas.line(0, y, self._width, y)
        canvas.note_rows(self._end - self._first)

    def _draw_row(self, cells: Sequence[tuple[str, ...]], top: float, bold: bool) -> None:
        canvas, x = self.canv, 0.0
        canvas.setFont(FONTS[bold], CELL)
        for lines, width in zip(cells, self._columns, strict=True):
            y = top - PAD - CELL + 0.6
            for line in lines:
                if line:
                    canvas.drawString(x + GAP / 2, y, line)
                y -= LEADING
            x += width


class Title(Paragraph):  # type: ignore[misc]
    """A section's heading, which the contents and the reader's list of bookmarks lead to."""

    def __init__(self, key: str, said: str, level: int) -> None:
        super().__init__(escape(in_font(said)), STYLES[TITLES[min(level, len(TITLES) - 1)]])
        self._key, self._said, self._level = key, said, level

    def draw(self) -> None:
        """The heading; its page becomes known here."""
        top = self.canv.absolutePosition(0, self.height)[1]
        self.canv.bookmarkPage(self._key, fit="XYZ", left=0, top=top + 6)
        self.canv.addOutlineEntry(self._said, self._key, self._level, closed=self._level > 0)
        self.canv.note_page(self._key)
        super().draw()


class ContentsLine(Flowable):  # type: ignore[misc]
    """One line of the contents: a title that leads to its page, and the page's number."""

    HEIGHT = 13.0

    def __init__(self, key: str, said: str, level: int) -> None:
        super().__init__()
        self._key, self._said, self._level = key, in_font(said), level

    def wrap(self, width: float, _height: float) -> tuple[float, float]:
        """One line over the whole width."""
        self.width, self.height = width, self.HEIGHT
        return width, self.HEIGHT

    def draw(self) -> None:
        """The number is drawn by a form that is filled in when the last page is done."""
        canvas: Any = self.canv
        canvas.setFillGray(0)
        canvas.setFont(FONTS[self._level == 0], 9)
        indent = 14.0 * self._level
        said = cut_to(self._said, self.width - indent - 40, FONTS[self._level == 0], 9)
        canvas.drawString(indent, 3.5, said)
        start = indent + stringWidth(said, FONTS[self._level == 0], 9) + 4
        canvas.setLineWidth(0.4)
        canvas.setDash(0.6, 2.4)
        canvas.line(start, 4, self.width - 30, 4)
        canvas.setDash()
        canvas.saveState()
        canvas.translate(self.width - 28, 3.5)
        canvas.doForm(f"{NUMBER}{self._key}")
        canvas.restoreState()
        canvas.linkRect("", self._key, (0, 0, self.width, self.HEIGHT), relative=1, Border="[0 0 0]")


def text(said: str, style: str = "text") -> Paragraph:
    """Plain text as a paragraph."""
    return Paragraph(escape(in_font(said)), STYLES[style])


def cut_to(said: str, width: float, font: str, size: float) -> str:
    """The text, its end left out where it is wider than that."""
    if stringWidth(said, font, size) <= width:
        return said
    while said and stringWidth(f"{said}…", font, size) > width:
        said = said[:-1]
    return f"{said.rstrip()}…"
