"""One label as SVG: exact size in millimetres, codes and letters as outlines, so that no program needs the font."""

from __future__ import annotations

from collections.abc import Iterator
from xml.sax.saxutils import escape, quoteattr

from labels.boxes import CodeBox, Layout, TextLine
from labels.code import QUIET_MODULES
from labels.content import LabelContent
from labels.faces import outline
from labels.fonts import advance
from labels.media import MICROMETRES_PER_INCH, Medium
from labels.page_stream import INSET, number, runs_of


def _millimetres(dots: int, medium: Medium) -> str:
    return f"{number(round(dots * MICROMETRES_PER_INCH / medium.dpi / 1000, 5))}mm"


def _text(line: TextLine) -> str:
    pen, outlines = float(line.left), []
    for letter in line.text:
        outlines.append(outline(letter, line.bold, line.size, pen, line.top + line.cap))
        pen += advance(letter, line.bold, line.size)
    white = ' fill="#fff"' if line.white else ""
    return f'<path{white} aria-label={quoteattr(line.text)} d="{"".join(outlines)}"/>'


def _code(code: CodeBox) -> str:
    modules, side = code.symbol.modules, number(1 - 2 * INSET)
    path = []
    for start, run in zip(*runs_of(code.symbol.matrix), strict=True):
        row, column = divmod(start, modules)
        width = number(round(run - 2 * INSET, 2))
        path.append(f"M{column} {row}h{width}v{side}h-{width}z")
    edge = (QUIET_MODULES + INSET) * code.dots
    place = f"translate({number(code.box.left + edge)} {number(code.box.top + edge)}) scale({code.dots})"
    return f'<path aria-label={quoteattr(code.name)} transform="{place}" d="{"".join(path)}"/>'


def _parts(content: LabelContent, layout: Layout) -> Iterator[str]:
    medium = layout.medium
    width, height = medium.width_dots, medium.height_dots
    yield '<?xml version="1.0" encoding="UTF-8"?>'
    yield (f'<svg xmlns="http://www.w3.org/2000/svg" version="1.1" width="{_millimetres(width, medium)}" '
           f'height="{_millimetres(height, medium)}" viewBox="0 0 {width} {height}">')
    yield f"<title>{escape(content.tag_shown)}</title>"
    yield f'<path fill="#fff" d="M0 0h{width}v{height}H0z"/>'
    for bar in layout.bars:
        yield f'<path d="M{bar.left} {bar.top}h{bar.width}v{bar.height}h-{bar.width}z"/>'
    yield from map(_text, layout.texts)
    yield from map(_code, layout.codes)
    yield "</svg>\n"


def svg_of(content: LabelContent, layout: Layout) -> str:
    """The label as an SVG 1.1 document; one unit is a printer's dot."""
    return "\n".join(_parts(content, layout))
