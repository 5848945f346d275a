"""Work orders as one PDF: each begins on a page of its own, and every page says whose it is and which of how many."""

from __future__ import annotations

import io
import itertools
from collections.abc import Callable, Iterator, Sequence
from dataclasses import astuple, dataclass
from pathlib import Path
from typing import Any

from vault.errors import GearkeepError
from vault.exchange.canvas_pdf import FONTS, register_drawing_fonts
from vault.exchange.files import write_whole
from vault.exchange.work_order import WorkOrder

A4 = (595.2756, 841.8898)  # ISO 216: 210 × 297 mm
MARGIN, HEAD_ROOM = 32.0, 18.0
WIDTH = A4[0] - 2 * MARGIN
PAGES = 2
SHRINK = (1.0, 0.95, 0.9)
Progress = Callable[[int, int], None]


def write_work_orders(path: Path, orders: Sequence[WorkOrder], progress: Progress = lambda _done, _total: None) -> list[int]:
    """Write the orders to a PDF of A4 pages, whole or not at all. Returns the pages of each.

    An order that finds no room on two pages is set smaller, and then takes what it takes.
    Raises GearkeepError: no-font, no-glyph (a letter that the font has not), drawing-too-large, unwritable-file.
    """
    register_drawing_fonts()
    laid = []
    for number, order in enumerate(orders, 1):
        _refuse_strange_letters(order)
        laid.append(_fitted(order))
        progress(number, len(orders))
    write_whole(path, _built(laid)[0])
    return [one.pages for one in laid]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Laid:
    """An order as it will be set. pages: how many it takes at that size, 0 while that is being found out."""

    order: WorkOrder
    shrink: float
    pages: int = 0


def _fitted(order: WorkOrder) -> _Laid:
    for shrink in SHRINK:
        laid = _Laid(order=order, shrink=shrink, pages=_built([_Laid(order=order, shrink=shrink)])[1])
        if laid.pages <= PAGES:
            break
    return laid


def _texts(held: Any) -> Iterator[str]:
    if isinstance(held, str):
        yield held
    elif isinstance(held, tuple):
        for one in held:
            yield from _texts(one)


def _refuse_strange_letters(order: WorkOrder) -> None:
    """A letter that the font lacks would be an empty frame on the paper."""
    from reportlab.pdfbase.pdfmetrics import getFont

    held = getFont(FONTS[False]).face.charToGlyph
    missing = sorted({letter for said in _texts(astuple(order)) for letter in said if ord(letter) not in held})
    if missing:
        raise GearkeepError(f"The paper's font has no {' '.join(missing)}, which the sheet of {order.tag_shown} needs.",
                            kind="no-glyph", hint="Write the place, the titles and the models in Latin letters.")


def _built(laid: Sequence[_Laid]) -> tuple[bytes, int]:
    """The PDF, and its pages."""
    from reportlab.platypus import BaseDocTemplate, NextPageTemplate, PageBreak

    from vault.exchange.work_order_sections import story

    flow: list[Any] = []
    for number, one in enumerate(laid):
        if number:
            flow += [NextPageTemplate(str(number)), PageBreak()]
        flow += story(one.order, WIDTH / one.shrink, one.shrink)
    out, first = io.BytesIO(), laid[0].order
    document = BaseDocTemplate(out, pagesize=A4, invariant=1, title=f"Work order {first.tag_shown}", creator="gearkeep",
                               author=first.site, pageTemplates=[_template(number, one) for number, one in enumerate(laid)])
    document.build(flow)
    return out.getvalue(), int(document.page)


def _template(number: int, laid: _Laid) -> Any:
    """Pages of one order: the head in its usual size, everything below it shrunk."""
    from reportlab.platypus import Frame, PageTemplate

    pages = itertools.count(1)

    def begin(canvas: Any, _document: Any) -> None:
        _draw_head(canvas, laid.order, next(pages), laid.pages)
        canvas.saveState()
        canvas.scale(laid.shrink, laid.shrink)

    def end(canvas: Any, _document: Any) -> None:
        canvas.restoreState()

    x, y, width, height = (side / laid.shrink for side in (MARGIN, MARGIN, WIDTH, A4[1] - 2 * MARGIN - HEAD_ROOM))
    frame = Frame(x, y, width, height, leftPadding=0, rightPadding=0, topPadding=0, bottomPadding=0)
    return PageTemplate(id=str(number), frames=[frame], onPage=begin, onPageEnd=end)


def _draw_head(canvas: Any, order: WorkOrder, page: int, pages: int) -> None:
    canvas.saveState()
    top = A4[1] - MARGIN
    canvas.setFillGray(0)
    canvas.setFont(FONTS[True], 9)
    canvas.drawString(MARGIN, top - 7, f"Work order   {order.tag_shown}   version {order.version}   {order.gear}")
    canvas.setFont(FONTS[False], 9)
    canvas.drawRightString(A4[0] - MARGIN, top - 7, f"page {page} of {pages}")
    canvas.setLineWidth(0.8)
    canvas.line(MARGIN, top - 12, A4[0] - MARGIN, top - 12)
    canvas.setFont(FONTS[False], 7)
    canvas.drawString(MARGIN, MARGIN - 12, order.site)
    canvas.restoreState()
