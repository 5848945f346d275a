"""The reorder list as a PDF of A4 pages: a table for each supplier, with boxes to tick off; then what nobody can tell."""

from __future__ import annotations

import io
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

from vault.domain.terms import Importance
from vault.exchange.canvas_pdf import FONTS, register_drawing_fonts
from vault.exchange.files import write_whole
from vault.exchange.reorder_file import UNKNOWN, ended_words, money_words, notice_words, sums_words
from vault.spares.reorder import OrderLine, ReorderList, SupplierOrder

A4 = (595.2756, 841.8898)  # ISO 216: 210 × 297 mm
MARGIN, HEAD_ROOM = 34.0, 20.0
WIDTH = A4[0] - 2 * MARGIN
_COLUMNS = (16.0, 96.0, 56.0, 36.0, 60.0, 54.0, 50.0)
_WIDTHS = (*_COLUMNS, WIDTH - sum(_COLUMNS))
_HEADINGS = ("", "Model", "Importance", "Order", "Price", "Sum", "Lead days", "Why")
_RIGHT = (3, 4, 5, 6)


def write_reorder_paper(path: Path, found: ReorderList, *, site: str, day: str, notes: Sequence[str]) -> None:
    """Write the list, whole or not at all. Letters that the font lacks stand as their number. Raises GearkeepError: no-font,
    unwritable-file.
    """
    register_drawing_fonts()
    write_whole(path, _pdf(found, site, day, notes))


def _pdf(found: ReorderList, site: str, day: str, notes: Sequence[str]) -> bytes:
    from reportlab.platypus import BaseDocTemplate, Frame, PageTemplate

    def built(pages: int | None) -> tuple[bytes, int]:
        out = io.BytesIO()
        frame = Frame(MARGIN, MARGIN, WIDTH, A4[1] - 2 * MARGIN - HEAD_ROOM, leftPadding=0, rightPadding=0, topPadding=0,
                      bottomPadding=0)
        document = BaseDocTemplate(
            out, pagesize=A4, invariant=1, title=f"Reorder list {day}: {site}", author=site, creator="gearkeep",
            pageTemplates=[PageTemplate(id="page", frames=[frame],
                                        onPage=lambda canvas, _document: _draw_head(canvas, site, day, pages))])
        document.build(list(_story(found, notes)))
        return out.getvalue(), int(document.page)

    # How many pages there are is known when it has been set once.
    return built(built(None)[1])[0]


def _draw_head(canvas: Any, site: str, day: str, pages: int | None) -> None:
    from vault.exchange.pack_paper_parts import cut_to, in_font

    canvas.saveState()
    top = A4[1] - MARGIN
    canvas.setFillGray(0)
    canvas.setFont(FONTS[True], 10)
    canvas.drawString(MARGIN, top - 8, cut_to(in_font(f"Reorder list   {day}   {site}"), WIDTH - 80, FONTS[True], 10))
    canvas.setFont(FONTS[False], 9)
    canvas.drawRightString(A4[0] - MARGIN, top - 8, f"page {canvas.getPageNumber()} of {pages or 0}")
    canvas.setLineWidth(0.8)
    canvas.line(MARGIN, top - 13, A4[0] - MARGIN, top - 13)
    canvas.restoreState()


def _story(found: ReorderList, notes: Sequence[str]) -> Iterator[Any]:
    from reportlab.platypus import Spacer

    if not found.orders:
        yield _words("Nothing is to be ordered.", "head")
    for order in found.orders:
        yield _words(order.supplier or "Supplier unknown", "head")
        yield _order_table(order)
        yield Spacer(0, 3)
        yield _words(f"Sum: {sums_words(order.sums, len(order.unpriced))}", "bold")
        yield Spacer(0, 8)
    if found.ended:
        yield _words("Needed, but no longer made", "head")
        yield _plain_table(("Model", "Importance", "Needed", "Says"), (110.0, 60.0, 46.0), [
            (line.model, line.importance.name.lower(), str(line.pieces), ended_words(line)) for line in found.ended])
        yield Spacer(0, 8)
    if found.untold:
        yield _words("Unknown: nobody can say whether to order these", "head")
        yield _plain_table(("Model", "Importance", "Position", "Missing"), (110.0, 60.0, 46.0), [
            (one.model, UNKNOWN if one.importance is None else one.importance.name.lower(), str(one.position), one.lacks)
            for one in found.untold])
        yield Spacer(0, 8)
    for note in notes:
        yield _words(note, "small")


def _words(said: str, style: str = "text") -> Any:
    from vault.exchange.pack_paper_parts import in_font
    from vault.exchange.work_order_parts import words

    return words(in_font(said), style)


def _order_table(order: SupplierOrder) -> Any:
    rows: list[list[Any]] = [[_words(said, "right" if at in _RIGHT else "text") for at, said in enumerate(_HEADINGS)]]
    rows += [_order_row(line) for line in order.lines]
    vital = [number for number, line in enumerate(order.lines, 1) if line.importance is Importance.VITAL]
    return _table(rows, _WIDTHS, [("BACKGROUND", (0, number), (-1, number), "#E6E6E6") for number in vital]
                  + [("BOX", (0, number), (0, number), 0.8, "#000000") for number in range(1, len(rows))])


def _order_row(line: OrderLine) -> list[Any]:
    price = UNKNOWN if line.price_cents is None else f"{money_words(line.price_cents)} {line.currency or ''}".strip()
    why = "; ".join(filter(None, (line.why, notice_words(line))))
    days = f"{line.lead_days}" if line.lead_told else f"{line.lead_days} assumed"
    said = ("", line.model, line.importance.name.lower(), str(line.pieces), price, money_words(line.sum_cents), days, why)
    return [_words(one, "right" if at in _RIGHT else "bold" if at == 1 else "small" if at == 7 else "text")
            for at, one in enumerate(said)]


def _plain_table(headings: Sequence[str], widths: Sequence[float], rows: Sequence[Sequence[str]]) -> Any:
    cells = [[_words(said) for said in headings], *([_words(said) for said in row] for row in rows)]
    return _table(cells, (*widths, WIDTH - sum(widths)), [])


def _table(rows: Sequence[Sequence[Any]], widths: Sequence[float], more: Sequence[tuple[Any, ...]]) -> Any:
    from reportlab.platypus import Table, TableStyle

    return Table(rows, colWidths=widths, repeatRows=1, style=TableStyle([
        ("VALIGN", (0, 0), (-1, -1), "TOP"), ("LINEBELOW", (0, 0), (-1, 0), 0.8, "#000000"),
        ("LINEBELOW", (0, 1), (-1, -1), 0.3, "#888888"), ("LEFTPADDING", (0, 0), (-1, -1), 3),
        ("RIGHTPADDING", (0, 0), (-1, -1), 3), ("TOPPADDING", (0, 0), (-1, -1), 2),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 3), *more]))
