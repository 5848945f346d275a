"""A plain A4 page: a heading, paragraphs, codes. For what belongs into a binder."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from qrcode import util
from reportlab.lib.pagesizes import A4
from reportlab.lib.utils import simpleSplit

from labels.code import QUIET_MODULES, make_symbol
from labels.drawing import FONTS, new_canvas, whole_file
from labels.errors import LabelError

MARGIN, LINE, SIZE = 56.0, 15.0, 10.5
MODULE_POINTS = 1.44  # 0.51 mm


def sheet_pdf(path: Path, title: str, paragraphs: Sequence[str], codes: Sequence[tuple[str, str]]) -> None:
    """Write the page. codes: (caption, text), side by side; any text, as a byte segment.

    Raises LabelError: too-big when something would leave the page, cannot-write.
    """
    width, height = A4
    with whole_file(path) as partial:
        canvas = new_canvas(partial, width, height, title)
        y = height - MARGIN
        for text, bold, size in [(title, True, 17.0), *((p, False, SIZE) for p in paragraphs)]:
            for line in simpleSplit(text, FONTS[bold], size, width - 2 * MARGIN):
                canvas.setFont(FONTS[bold], size)
                canvas.drawString(MARGIN, y - size, line)
                y -= LINE * size / SIZE
                if y < MARGIN:
                    raise LabelError("The text is too long for one page.", kind="too-big", hint="Shorten it.")
            y -= LINE / 2
        x = MARGIN
        for caption, text in codes:
            x += _code(canvas, caption, text, x, y) + 24
        canvas.showPage()
        canvas.save()


def _code(canvas: Any, caption: str, text: str, x: float, top: float) -> float:
    symbol = make_symbol(text, level="M", max_version=40, parts=[util.QRData(text.encode(), mode=util.MODE_8BIT_BYTE)])
    side = (symbol.modules + 2 * QUIET_MODULES) * MODULE_POINTS
    if x + side > A4[0] or side + LINE > top:
        raise LabelError(f"The code {caption!r} finds no room on the page.", kind="too-big",
                         hint="Put fewer codes or less text on one page.")
    canvas.setFont(FONTS[False], SIZE)
    canvas.drawString(x, top - SIZE, caption)
    path = canvas.beginPath()
    for row, modules in enumerate(symbol.matrix):
        for column, black in enumerate(modules):
            if black:
                path.rect(x + (column + QUIET_MODULES) * MODULE_POINTS,
                          top - LINE - (row + QUIET_MODULES + 1) * MODULE_POINTS, MODULE_POINTS, MODULE_POINTS)
    canvas.drawPath(path, stroke=0, fill=1)
    return float(side)
