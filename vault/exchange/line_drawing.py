"""A control line as a drawing: the cabinet, the line that walks past its places, and a box for every gear with its address.

Whatever is new, moved or in conflict is told by the form of its box and in words, never by a colour.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum
from itertools import groupby
from pathlib import Path

from vault.errors import UsageProblem
from vault.exchange.canvas import Drawing, text_width, to_png, to_svg, wrapped
from vault.exchange.files import write_whole

WIDTH, HEIGHT = 595, 842  # A4 in points (ISO 216)
_MARGIN, _TOP, _FOOT = 36.0, 96.0, 26.0
_COLUMNS = 7
_BOX_W, _BOX_H, _GAP = 68.0, 42.0, 7.8
_ROW = 71.5  # from one row of boxes to the next, with the line and the places' names between them
_BUS, _DROP = 15.0, 7.0  # the line below the top of its row, and the boxes below the line
_NOTE, _REFERENCE, _ADDRESS = 6.6, 8.2, 16.0
_LEAST = 6.4  # a long reference is set smaller down to this, then cut
_EDGE = 14.0  # how far the line runs outside the boxes


class Mark(Enum):
    """What is told of a gear's address: its box is drawn accordingly."""

    SET = "set"
    NEW = "new"
    MOVED = "moved"
    CONFLICT = "conflict"


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnGear:
    """One gear on a line. address: as the site writes it, "–" for none. note: a few words below its name: its duty, what it
    was set to. key: the luminaire it belongs to; boxes of one luminaire that stand side by side are tied together.
    """

    address: str
    reference: str
    place: str
    mark: Mark
    note: str = ""
    key: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnLine:
    """One line. title: its name and what it serves; subtitle: numbering, how full it is, the date of the plan or the file."""

    title: str
    subtitle: str
    gears: Sequence[DrawnGear]


def draw_line(line: DrawnLine) -> list[Drawing]:
    """The line on as many A4 pages as it takes, 70 gear on each at most."""
    rows_a_page = int((HEIGHT - _TOP - _FOOT) // _ROW)
    rows = [line.gears[at:at + _COLUMNS] for at in range(0, len(line.gears), _COLUMNS)] or [[]]
    pages = [rows[at:at + rows_a_page] for at in range(0, len(rows), rows_a_page)]
    drawn, before = [], ""
    for number, some in enumerate(pages, 1):
        page = Drawing(width=WIDTH, height=HEIGHT)
        _head(page, line, number, len(pages))
        for at, gears in enumerate(some):
            last = number == len(pages) and at == len(some) - 1
            before = _row(page, gears, _TOP + at * _ROW, before, first=number == 1 and at == 0, last=last)
        if number < len(pages):
            page.text((_MARGIN, HEIGHT - _FOOT), f"on to page {number + 1}", size=_NOTE)
        _legend(page)
        drawn.append(page)
    return drawn


def _head(page: Drawing, line: DrawnLine, number: int, count: int) -> None:
    title = wrapped(line.title, 15, WIDTH - 2 * _MARGIN - 70, bold=True)
    page.text((_MARGIN, 44), title[0] if title else "", size=15, bold=True)
    page.text((WIDTH - _MARGIN, 44), f"page {number} of {count}", size=8, anchor="end")
    for at, text in enumerate(wrapped(line.subtitle, 8.4, WIDTH - 2 * _MARGIN)[:2]):
        page.text((_MARGIN, 60 + at * 11), text, size=8.4)


def _row(page: Drawing, gears: Sequence[DrawnGear], top: float, before: str, *, first: bool, last: bool) -> str:
    """One stretch of the line with the boxes that hang on it. Returns the place at its end."""
    bus = top + _BUS
    left_edge, right_edge = _MARGIN - _EDGE, WIDTH - _MARGIN + _EDGE
    if first:
        _cabinet(page, bus)
    lefts = [_MARGIN + at * (_BOX_W + _GAP) for at in range(len(gears))]
    end = (lefts[-1] + _BOX_W / 2 + 9 if gears else _MARGIN + _BOX_W) if last else right_edge
    page.line((_MARGIN - 8 if first else left_edge, bus), (end, bus), width=2.2)
    if last:
        page.line((end, bus - 4), (end, bus + 4), width=2.2)
    else:
        # The line goes on in the next row: down the edge of the page and back.
        back = top + _ROW - 5
        page.line((end, bus), (end, back), width=2.2)
        page.line((end, back), (left_edge, back), width=0.8, dash=(5, 3))
        page.line((left_edge, back), (left_edge, top + _ROW + _BUS), width=2.2)
    place = before
    at = 0
    for name, some in groupby(gears, key=lambda gear: gear.place):
        count = len(list(some))
        left, right = lefts[at], lefts[at + count - 1] + _BOX_W
        _heading(page, f"… {name}" if name == before and at == 0 and not first else name, left, right, top + 3)
        at, place = at + count, name
    for number, (gear, left) in enumerate(zip(gears, lefts, strict=True)):
        page.circle((left + _BOX_W / 2, bus), 2.6)
        page.line((left + _BOX_W / 2, bus), (left + _BOX_W / 2, bus + _DROP), width=1.2)
        _box(page, gear, left, bus + _DROP)
        if number and gears[number - 1].key == gear.key and gear.key:
            page.line((left - _GAP, bus + _DROP + _BOX_H / 2), (left, bus + _DROP + _BOX_H / 2), width=1.6)
    return place


def _cabinet(page: Drawing, bus: float) -> None:
    left = _MARGIN - 28
    page.frame(left, bus - 30, 20, 42, stroke=1.6)
    page.line((left, bus - 19), (left + 20, bus - 19), width=1.0)
    page.text((left, bus - 34), "cabinet", size=_NOTE)


def _heading(page: Drawing, name: str, left: float, right: float, y: float) -> None:
    said, size = name or "no place", next(
        (size for size in (8.0, 7.2, _LEAST) if text_width(name, size, bold=True) <= right - left), _LEAST)
    if text_width(said, size, bold=True) > right - left:
        # Neighbouring places differ at their end.
        said = _cut(said[::-1], right - left, size, bold=True)[::-1]
    page.text((left, y), said, size=size, bold=True)
    page.line((left, y + 3), (right, y + 3), width=0.6)


def _box(page: Drawing, gear: DrawnGear, left: float, top: float) -> None:
    """set: a plain frame. new: a thick frame. moved: a dashed frame. conflict: hatched, in a double frame."""
    if gear.mark is Mark.CONFLICT:
        page.rectangle(left, top, _BOX_W, _BOX_H, hatch="rising", hatch_grey=190)
        page.rectangle(left + 4, top + 3, _BOX_W - 8, _BOX_H - 6, fill=255)
        page.frame(left + 2.5, top + 2.5, _BOX_W - 5, _BOX_H - 5, stroke=0.8)
        page.frame(left, top, _BOX_W, _BOX_H, stroke=1.4)
    else:
        page.rectangle(left, top, _BOX_W, _BOX_H, fill=255)
    if gear.mark is Mark.MOVED:
        corners = ((left, top), (left + _BOX_W, top), (left + _BOX_W, top + _BOX_H), (left, top + _BOX_H), (left, top))
        page.line(*corners, width=1.6, dash=(4, 2.5))
    elif gear.mark is not Mark.CONFLICT:
        page.frame(left, top, _BOX_W, _BOX_H, stroke=2.6 if gear.mark is Mark.NEW else 0.8)
    inner = _BOX_W - 11
    page.text((left + 6, top + 17), gear.address, size=_ADDRESS, bold=True)
    page.text((left + _BOX_W - 5.5, top + 11), gear.mark.value, size=_NOTE, anchor="end", bold=gear.mark is not Mark.SET)
    size = next((size for size in (_REFERENCE, 7.2, _LEAST) if text_width(gear.reference, size, bold=True) <= inner), _LEAST)
    page.text((left + 6, top + 27), _cut(gear.reference, inner, size, bold=True), size=size, bold=True)
    page.text((left + 6, top + 36), _cut(gear.note, inner, _NOTE), size=_NOTE)


def _cut(said: str, width: float, size: float, bold: bool = False) -> str:
    """The text, its end left off where it is wider than `width` points."""
    if text_width(said, size, bold) <= width:
        return said
    while said and text_width(f"{said}…", size, bold) > width:
        said = said[:-1]
    return f"{said.rstrip()}…"


def _legend(page: Drawing) -> None:
    page.text((_MARGIN, HEIGHT - 14), "Frame: thin – set already and kept; thick – new; dashed – moved from another address; "
              "hatched and double – conflict. A bar between boxes: one luminaire.", size=7.2)


def write_drawing(path: Path, lines: Sequence[DrawnLine]) -> tuple[Path, ...]:
    """Write lines to a PDF, all in one, or to SVG or PNG files, one a page: NAME.svg, or NAME-1.svg, NAME-2.svg … .

    Returns the files. Raises UsageProblem (bad-format, exists), GearkeepError (no-font, unwritable-file).
    """
    pages = [page for line in lines for page in draw_line(line)]
    suffix = path.suffix.lower()
    if suffix == ".pdf":
        write_whole(path, _pdf(pages))
        return (path,)
    writer = {".svg": to_svg, ".png": to_png}.get(suffix)
    if writer is None:
        raise UsageProblem(f"{path.name} is no PDF, SVG or PNG.", kind="bad-format",
                           hint="Give a file name that ends in .pdf, .svg or .png.")
    files = drawing_files(path, len(pages))
    taken = [file.name for file in files if file.exists()]
    if taken:
        raise UsageProblem(f"{', '.join(taken)} {'is' if len(taken) == 1 else 'are'} there already.", kind="exists",
                           hint="Name another file, or move it away.")
    for file, page in zip(files, pages, strict=True):
        write_whole(file, writer(page))
    return files


def drawing_files(path: Path, pages: int) -> tuple[Path, ...]:
    """The names of the files that so many pages are written to."""
    if pages == 1 or path.suffix.lower() == ".pdf":
        return (path,)
    return tuple(path.with_name(f"{path.stem}-{number}{path.suffix}") for number in range(1, pages + 1))


def _pdf(pages: Sequence[Drawing]) -> bytes:
    from reportlab.pdfgen.canvas import Canvas

    from vault.exchange.canvas_pdf import draw_on_pdf

    out = io.BytesIO()
    canvas = Canvas(out, pagesize=(WIDTH, HEIGHT), invariant=1, pageCompression=1)
    canvas.setTitle("Lines and addresses")
    canvas.setCreator("gearkeep")
    for page in pages:
        draw_on_pdf(canvas, page, 0, 0, WIDTH)
        canvas.showPage()
    canvas.save()
    return out.getvalue()


__all__ = ["DrawnGear", "DrawnLine", "Mark", "draw_line", "drawing_files", "write_drawing"]
