"""A handover pack's paper as one PDF of A4 pages: title page, contents with page numbers, sections, bookmarks."""

from __future__ import annotations

import io
from collections.abc import Callable, Iterator, Sequence
from typing import Any

from vault.errors import GearkeepError
from vault.exchange.canvas_pdf import FONTS, register_drawing_fonts
from vault.exchange.pack_paper import Paper, PaperCode, PaperSection

A4 = (595.2756, 841.8898)  # ISO 216: 210 × 297 mm
MARGIN, HEAD_ROOM = 34.0, 20.0
WIDTH = A4[0] - 2 * MARGIN
NUMBER_WIDTH = 28.0
PAGES = "pages-in-all"
SMALL_ROWS, SMALL_HEIGHT = 25, 240.0  # a section that begins on a page of its own only where less than that is left
HEADED = 70.0  # points of a heading with its first paragraph
TOGETHER, BEGUN = 330.0, 60.0  # of a table that need not be broken; of the first rows of one that is
Progress = Callable[[int, int], None]


def paper_pdf(paper: Paper, progress: Progress = lambda _done, _total: None) -> bytes:
    """The PDF's bytes: the same for the same paper. progress: rows of tables set, of all.

    Raises GearkeepError: no-font.
    """
    register_drawing_fonts()
    from reportlab.platypus import BaseDocTemplate, Frame, PageTemplate

    out = io.BytesIO()
    frame = Frame(MARGIN, MARGIN, WIDTH, A4[1] - 2 * MARGIN - HEAD_ROOM, leftPadding=0, rightPadding=0, topPadding=0,
                  bottomPadding=0)
    document = BaseDocTemplate(
        out, pagesize=A4, invariant=1, title=f"{paper.title}: {paper.site}", author=paper.site, creator="gearkeep",
        pageTemplates=[PageTemplate(id="page", frames=[frame],
                                    onPage=lambda canvas, _document: _draw_head(canvas, paper.running_head))])
    document.build(list(_story(paper)), canvasmaker=_numbered_canvas(paper, progress))
    return out.getvalue()


def _numbered_canvas(paper: Paper, progress: Progress) -> Any:
    """A canvas that knows the page of every heading, and how many pages there are, when it is saved."""
    from reportlab.pdfgen.canvas import Canvas

    from vault.exchange.pack_paper_parts import NUMBER

    total = sum(len(table.rows) for section, _ in _walk(paper.sections, 0) for table in section.tables)

    class Numbered(Canvas):  # type: ignore[misc]
        def __init__(self, *args: Any, **kwargs: Any) -> None:
            super().__init__(*args, **kwargs)
            self._page_of: dict[str, int] = {}
            self._last = 0
            self._rows = 0

        def note_page(self, key: str) -> None:
            self._page_of[key] = self.getPageNumber()

        def note_rows(self, drawn: int) -> None:
            self._rows += drawn
            progress(self._rows, total)

        def showPage(self) -> None:
            self._last = self.getPageNumber()
            super().showPage()

        def save(self) -> None:
            if self._code:
                self.showPage()
            for key, page in self._page_of.items():
                self._form(f"{NUMBER}{key}", str(page), 9, NUMBER_WIDTH)
            self._form(PAGES, str(self._last), 8, None)
            super().save()

        def _form(self, name: str, said: str, size: float, right: float | None) -> None:
            self.beginForm(name, 0, -3, 60, size + 3)
            self.setFont(FONTS[False], size)
            (self.drawString if right is None else self.drawRightString)(right or 0, 0, said)
            self.endForm()

    return Numbered


def _draw_head(canvas: Any, running_head: str) -> None:
    from reportlab.pdfbase.pdfmetrics import stringWidth

    from vault.exchange.pack_paper_parts import cut_to, in_font

    canvas.saveState()
    top = A4[1] - MARGIN
    canvas.setFillGray(0)
    canvas.setFont(FONTS[False], 8)
    canvas.drawString(MARGIN, top - 7, cut_to(in_font(running_head), WIDTH - 90, FONTS[False], 8))
    said = f"page {canvas.getPageNumber()} of "
    start = A4[0] - MARGIN - stringWidth(f"{said}0000", FONTS[False], 8)
    canvas.drawString(start, top - 7, said)
    # How many there are is known when the last is done.
    canvas.translate(start + stringWidth(said, FONTS[False], 8), top - 7)
    canvas.doForm(PAGES)
    canvas.restoreState()
    canvas.saveState()
    canvas.setLineWidth(0.6)
    canvas.line(MARGIN, top - 12, A4[0] - MARGIN, top - 12)
    canvas.restoreState()


def _story(paper: Paper) -> Iterator[Any]:
    from reportlab.platypus import CondPageBreak, PageBreak, Spacer

    from vault.exchange.pack_paper_parts import ContentsLine, text

    yield Spacer(0, 60)
    yield text(paper.title, "place")
    yield Spacer(0, 6)
    yield text(paper.site, "tag")
    yield Spacer(0, 26)
    yield from _facts(paper.facts)
    yield Spacer(0, 12)
    for said in paper.opening:
        yield from (text(said), Spacer(0, 6))
    yield PageBreak()
    yield text("Contents", "place")
    yield Spacer(0, 8)
    for section, level in _walk(paper.sections, 0):
        if level < 2:
            yield ContentsLine(section.key, section.title, level)
    for section in paper.sections:
        small = not section.parts and not section.codes and sum(len(table.rows) for table in section.tables) <= SMALL_ROWS
        yield from (CondPageBreak(SMALL_HEIGHT), Spacer(0, 14)) if small else (PageBreak(),)
        yield from _section(section, 0)


def _walk(sections: Sequence[PaperSection], level: int) -> Iterator[tuple[PaperSection, int]]:
    for section in sections:
        yield section, level
        yield from _walk(section.parts, level + 1)


def _facts(facts: Sequence[tuple[str, str]]) -> Iterator[Any]:
    from reportlab.platypus import Table

    from vault.exchange.pack_paper_parts import text

    rows = [[text(label), text(value, "bold")] for label, value in facts]
    if rows:
        yield Table(rows, colWidths=[130, WIDTH - 130], hAlign="LEFT", style=[
            ("VALIGN", (0, 0), (-1, -1), "TOP"), ("LEFTPADDING", (0, 0), (-1, -1), 0), ("TOPPADDING", (0, 0), (-1, -1), 2),
            ("BOTTOMPADDING", (0, 0), (-1, -1), 2)])


def _section(section: PaperSection, level: int) -> Iterator[Any]:
    from reportlab.platypus import CondPageBreak, Spacer

    from vault.exchange.pack_paper_parts import Rows, Title, text

    tables = [Rows(table, WIDTH) for table in section.tables if table.rows]
    if level:
        tall = tables[0].wrap(WIDTH, 0)[1] if tables else 0.0
        yield CondPageBreak(HEADED + (tall if tall <= TOGETHER else BEGUN))
    yield Title(section.key, section.title, level)
    yield Spacer(0, 4 if level else 8)
    for said in section.paragraphs:
        yield from (text(said), Spacer(0, 3))
    for rows in tables:
        yield from (Spacer(0, 3), rows, Spacer(0, 7))
    yield from _codes(section.codes)
    for part in section.parts:
        yield from _section(part, level + 1)


def _codes(codes: Sequence[PaperCode]) -> Iterator[Any]:
    """Two beside each other where both find room; each with its lines below."""
    from reportlab.platypus import KeepTogether, Spacer, Table

    from vault.exchange.pack_paper_parts import text
    from vault.exchange.work_order_parts import Code

    def cell(code: PaperCode) -> list[Any]:
        return [Code(code.matrix), *(text(line, "small") for line in code.lines)]

    waiting = list(codes)
    while waiting:
        first, *rest = waiting
        beside = rest[:1] if rest and all(Code(one.matrix).side <= WIDTH / 2 for one in (first, rest[0])) else []
        if not beside and Code(first.matrix).side > WIDTH:
            raise GearkeepError("A code is wider than the page.", kind="drawing-too-large", hint="Use the file instead of it.")
        row = [cell(one) for one in (first, *beside)]
        widths = [WIDTH / 2] * 2 if beside else [WIDTH]
        yield KeepTogether([Table([row], colWidths=widths, style=[
            ("VALIGN", (0, 0), (-1, -1), "TOP"), ("LEFTPADDING", (0, 0), (-1, -1), 0), ("BOTTOMPADDING", (0, 0), (-1, -1), 2)]),
            Spacer(0, 6)])
        waiting = rest[len(beside):]


