"""The label's two faces as files that embed them need them: glyph numbers, widths, outlines, the file itself."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from io import BytesIO

from fontTools.pens.svgPathPen import SVGPathPen
from fontTools.pens.transformPen import TransformPen
from fontTools.ttLib import TTFont

from labels.fonts import font_path


@dataclass(frozen=True, slots=True, kw_only=True)
class Face:
    """One font file. glyphs: glyph number of each code point; codes: the same as four hexadecimal digits; letters: those it
    has. box, ascent, descent, cap and widths (by glyph number) in thousandths of the font's size.
    """

    name: str
    data: bytes
    glyphs: Mapping[int, int]
    codes: Mapping[int, str]
    letters: frozenset[str]
    widths: tuple[float, ...]
    box: tuple[int, int, int, int]
    ascent: int
    descent: int
    cap: int
    bold: bool


def _opened(bold: bool) -> TTFont:
    return TTFont(BytesIO(font_path(bold).read_bytes()))


@lru_cache(maxsize=2)
def face(bold: bool) -> Face:
    """The regular or the bold face. Raises LabelError (no-font)."""
    opened = _opened(bold)
    per_em = int(opened["head"].unitsPerEm)
    head, metrics, across = opened["head"], opened["OS/2"], opened["hhea"]
    order, advances = opened.getGlyphOrder(), opened["hmtx"]
    numbers = {name: number for number, name in enumerate(order)}

    def scaled(units: float) -> int:
        return round(units * 1000 / per_em)

    glyphs = {point: numbers[name] for point, name in opened.getBestCmap().items()}
    return Face(
        name=str(opened["name"].getDebugName(6)), data=font_path(bold).read_bytes(),
        glyphs=glyphs, codes={point: f"{glyph:04X}" for point, glyph in glyphs.items()}, letters=frozenset(map(chr, glyphs)),
        widths=tuple(round(advances[name][0] * 1000 / per_em, 3) for name in order),
        box=(scaled(head.xMin), scaled(head.yMin), scaled(head.xMax), scaled(head.yMax)),
        ascent=scaled(across.ascent), descent=scaled(across.descent), cap=scaled(metrics.sCapHeight), bold=bold)


@lru_cache(maxsize=2)
def _outlines(bold: bool) -> TTFont:
    return _opened(bold)


def outline(letter: str, bold: bool, size: float, x: float, y: float) -> str:
    """A letter's outline as SVG path data: pen at x, base line at y, y downwards, in the unit of `size`."""
    opened = _outlines(bold)
    glyphs = opened.getGlyphSet()
    scale = size / opened["head"].unitsPerEm
    pen = SVGPathPen(glyphs, lambda number: f"{number:.2f}".rstrip("0").rstrip("."))
    glyphs[opened.getBestCmap().get(ord(letter), ".notdef")].draw(TransformPen(pen, (scale, 0, 0, -scale, x, y)))
    return str(pen.getCommands())
