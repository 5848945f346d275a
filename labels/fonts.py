"""The label's typeface, and how wide and high its letters are."""

from __future__ import annotations

from functools import lru_cache
from math import ceil
from pathlib import Path

import fontpkg
from PIL import ImageFont

from labels.errors import LabelError

FAMILY = "Atkinson Hyperlegible"
_FALLBACK = "/usr/share/fonts/truetype/dejavu/DejaVuSansCondensed{}.ttf"


@lru_cache(maxsize=2)
def font_path(bold: bool) -> Path:
    """The font file. Raises LabelError when neither the packaged font nor its substitute is there."""
    try:
        return Path(fontpkg.path(FAMILY, weight=700 if bold else 400))
    except fontpkg.FontpkgError:
        other = Path(_FALLBACK.format("-Bold" if bold else ""))
        if other.is_file():
            return other
        raise LabelError("No font for labels was found.", kind="no-font",
                         hint="Install the package fontpkg-atkinson-hyperlegible.") from None


@lru_cache(maxsize=256)
def font(bold: bool, size_dots: int) -> ImageFont.FreeTypeFont:
    """The font at a size in dots, unhinted so that every drawing agrees on widths."""
    return ImageFont.truetype(str(font_path(bold)), size_dots, layout_engine=ImageFont.Layout.BASIC)


@lru_cache(maxsize=2)
def cap_ratio(bold: bool) -> float:
    """Height of a capital as a share of the font's size."""
    box = font(bold, 1000).getbbox("H")
    return float(box[3] - box[1]) / 1000


@lru_cache(maxsize=1024)
def size_for_cap(cap_dots: int, bold: bool) -> int:
    """The least font size whose capitals are not lower than `cap_dots`."""
    return int(-(-cap_dots // cap_ratio(bold)))


@lru_cache(maxsize=2048)
def _letter_advance(letter: str, bold: bool) -> float:
    return float(font(bold, 1000).getlength(letter)) / 1000


def advance(text: str, bold: bool, size_dots: int) -> float:
    """How far the pen moves, in dots, letter by letter without kerning, as every drawing here sets it.

    Measured at 1000 dots and scaled: a printer draws unhinted outlines.
    """
    return sum(_letter_advance(letter, bold) for letter in text) * size_dots


@lru_cache(maxsize=16384)
def _letter_ink(letter: str, bold: bool, size_dots: int) -> tuple[int, int, int, int]:
    left, top, right, bottom = (edge * size_dots / 1000 for edge in font(bold, 1000).getbbox(letter, anchor="ls"))
    # In whole dots a letter can come out a dot higher or deeper than its outline.
    _, dots_top, _, dots_bottom = font(bold, size_dots).getbbox(letter, mode="1", anchor="ls")
    top, bottom = min(top, dots_top), max(bottom, dots_bottom)
    return max(0, ceil(-left)), max(0, ceil(-top)), max(0, ceil(right)), max(0, ceil(bottom))


@lru_cache(maxsize=8192)
def ink(text: str, bold: bool, size_dots: int) -> tuple[int, int, int, int]:
    """How far a text's black reaches left of the pen, above the line, right of the pen and below the line, in dots."""
    letters = [_letter_ink(letter, bold, size_dots) for letter in text]
    if not letters:
        return 0, 0, 0, 0
    right = ceil(advance(text[:-1], bold, size_dots) + letters[-1][2])
    return letters[0][0], max(edges[1] for edges in letters), right, max(edges[3] for edges in letters)


@lru_cache(maxsize=4096)
def text_width(text: str, bold: bool, size_dots: int) -> float:
    """Width of a text in dots, with what its first and last letter (j, q) reach beyond their own width."""
    left, _, right, _ = ink(text, bold, size_dots)
    return left + max(advance(text, bold, size_dots), right)
