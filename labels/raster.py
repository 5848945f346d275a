"""A label as dots, and the proof that its codes can be read from them."""

from __future__ import annotations

from functools import lru_cache
from typing import Any

import numpy as np
import numpy.typing as npt
import zxingcpp
from PIL import Image, ImageDraw

from labels.boxes import CodeBox, Layout, TextLine
from labels.check import problems_of
from labels.code import QUIET_MODULES
from labels.errors import LabelError
from labels.fonts import advance, font

Dots = npt.NDArray[np.uint8]  # rows of dots, 0 black and 255 white

# Model 2 codes alone: readers found phantom codes of other families in noise.
MODEL_2 = zxingcpp.BarcodeFormats(zxingcpp.BarcodeFormat.QRCodeModel2)
# A picture of whole dots is neither turned, scaled, inverted nor grey, so nothing is gained by looking for that.
_AS_DRAWN: dict[str, Any] = {"formats": MODEL_2, "try_rotate": False, "try_downscale": False, "try_invert": False,
                             "binarizer": zxingcpp.Binarizer.BoolCast}
BLACK, WHITE = 0, 255


@lru_cache(maxsize=4096)
def _glyph(letter: str, bold: bool, size: int) -> tuple[int, int, Dots, float]:
    """A letter's dots, 255 where it is inked: how far they begin right of the pen and below the line, they themselves, and
    how far the pen moves on.
    """
    face = font(bold, size)
    left, top, right, bottom = map(int, face.getbbox(letter, mode="1", anchor="ls"))
    picture = Image.new("1", (max(0, right - left), max(0, bottom - top)))
    draw = ImageDraw.Draw(picture)
    draw.fontmode = "1"
    draw.text((-left, -top), letter, fill=1, font=face, anchor="ls")
    return left, top, np.asarray(picture, dtype=np.uint8) * np.uint8(WHITE), advance(letter, bold, size)


@lru_cache(maxsize=256)  # a plant's labels share most of their lines
def _line(text: str, bold: bool, size: int) -> tuple[int, int, Dots]:
    """A line's dots in the same way."""
    # Letter by letter: the drawing library rounds every letter's width to whole dots, and a long line would grow too wide.
    pen, placed = 0.0, []
    left = top = right = bottom = 0
    for letter in text:
        beyond, y, ink, onward = _glyph(letter, bold, size)
        x = round(pen) + beyond
        pen += onward
        height, width = ink.shape
        left, top, right, bottom = min(left, x), min(top, y), max(right, x + width), max(bottom, y + height)
        placed.append((x, y, x + width, y + height, ink))
    whole = np.zeros((bottom - top, right - left), np.uint8)
    for x, y, end, under, ink in placed:
        whole[y - top : under - top, x - left : end - left] |= ink
    return left, top, whole


def _paint_text(dots: Dots, line: TextLine) -> None:
    left, top, ink = _line(line.text, line.bold, line.size)
    x, y = line.left + left, line.top + line.cap + top
    # What would stand off the label is cut off here, and found by the geometry's check.
    ink, x, y = ink[max(0, -y) :, max(0, -x) :], max(0, x), max(0, y)
    place = dots[y : y + ink.shape[0], x : x + ink.shape[1]]
    ink = ink[: place.shape[0], : place.shape[1]]
    if line.white:
        np.bitwise_or(place, ink, out=place)
    else:
        np.bitwise_and(place, ~ink, out=place)


@lru_cache(maxsize=4)  # painting and proving ask for the same ones
def _enlarged(matrix: bytes, modules: int, dots: int) -> Dots:
    with_zone = np.full((modules + 2 * QUIET_MODULES,) * 2, WHITE, np.uint8)
    with_zone[QUIET_MODULES:-QUIET_MODULES, QUIET_MODULES:-QUIET_MODULES][
        np.frombuffer(matrix, dtype=bool).reshape(modules, modules)] = BLACK
    return with_zone.repeat(dots, axis=1).repeat(dots, axis=0)


def _code_dots(code: CodeBox) -> Dots:
    """A code with its quiet zone as it has to stand on the label."""
    return _enlarged(code.symbol.matrix.tobytes(), code.symbol.modules, code.dots)


def paint(layout: Layout) -> Dots:
    """The label's dots, one byte each: 0 black, 255 white."""
    medium = layout.medium
    dots = np.full((medium.height_dots, medium.width_dots), WHITE, np.uint8)
    for bar in layout.bars:
        dots[bar.top : bar.bottom, bar.left : bar.right] = BLACK
    for line in layout.texts:
        _paint_text(dots, line)
    for code in layout.codes:
        inset = QUIET_MODULES * code.dots
        symbol = _code_dots(code)[inset:-inset, inset:-inset]
        top, left = code.box.top + inset, code.box.left + inset
        place = dots[top : top + symbol.shape[0], left : left + symbol.shape[1]]
        place[...] = symbol[: place.shape[0], : place.shape[1]]
    return dots


def picture_of(dots: Dots) -> Image.Image:
    """Dots as a 1-bit picture."""
    return Image.fromarray(dots).convert("1", dither=Image.Dither.NONE)


def raster(layout: Layout) -> Image.Image:
    """A 1-bit picture, one pixel a dot."""
    return picture_of(paint(layout))


def _faults_of(code: CodeBox, dots: Dots) -> list[str]:
    box = code.box
    cut = dots[max(0, box.top) : box.bottom, max(0, box.left) : box.right]
    found = {one.text for one in zxingcpp.read_barcodes(np.ascontiguousarray(cut), **_AS_DRAWN)} if cut.size else set()
    faults = [] if found == {code.symbol.text} else [f"the {code.name} code does not read back"]
    if not np.array_equal(cut, _code_dots(code)):
        faults.append(f"the {code.name} code or its quiet zone is damaged")
    return faults


def prove_dots(layout: Layout, dots: Dots) -> None:
    """Every code, read from its own place on the label, gives its exact text; its dots and its quiet zone are undamaged,
    and the geometry is sound.

    Raises LabelError (proof-failed): such a label is never handed out.
    """
    wrong = list(problems_of(layout))
    for code in layout.codes:
        wrong += _faults_of(code, dots)
    if wrong:
        raise LabelError(f"The label cannot be handed out: {'; '.join(wrong)}.", kind="proof-failed",
                         hint="Please report this with the schedule row that caused it.")


def prove(layout: Layout, image: Image.Image) -> None:
    """The same from a picture. Raises LabelError (proof-failed)."""
    prove_dots(layout, np.asarray(image.convert("L")))
