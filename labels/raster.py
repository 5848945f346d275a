"""A label as dots, and the proof that its codes can be read from them."""

from __future__ import annotations

import zxingcpp
from PIL import Image, ImageDraw

from labels.boxes import Layout
from labels.check import problems_of
from labels.code import QUIET_MODULES
from labels.errors import LabelError
from labels.fonts import advance, font

# Model 2 codes alone: readers found phantom codes of other families in noise.
MODEL_2 = zxingcpp.BarcodeFormats(zxingcpp.BarcodeFormat.QRCodeModel2)


def raster(layout: Layout) -> Image.Image:
    """A 1-bit picture, one pixel a dot."""
    medium = layout.medium
    image = Image.new("1", (medium.width_dots, medium.height_dots), 1)
    draw = ImageDraw.Draw(image)
    draw.fontmode = "1"
    for bar in layout.bars:
        draw.rectangle((bar.left, bar.top, bar.right - 1, bar.bottom - 1), fill=0)
    for line in layout.texts:
        # Letter by letter: the library rounds every letter's width to whole dots, and a long line would grow too wide.
        pen = float(line.left)
        for letter in line.text:
            draw.text((round(pen), line.top + line.cap), letter, fill=1 if line.white else 0,
                      font=font(line.bold, line.size), anchor="ls")
            pen += advance(letter, line.bold, line.size)
    for code in layout.codes:
        modules = Image.fromarray(~code.symbol.matrix).convert("1")
        side = code.symbol.modules * code.dots
        inset = QUIET_MODULES * code.dots
        image.paste(modules.resize((side, side), Image.Resampling.NEAREST),
                    (code.box.left + inset, code.box.top + inset))
    return image


def prove(layout: Layout, image: Image.Image) -> None:
    """Every code reads back with its exact text and no damage, and the geometry is sound.

    Raises LabelError (proof-failed): such a label is never handed out.
    """
    wrong = list(problems_of(layout))
    found = {one.text for one in zxingcpp.read_barcodes(image.convert("L"), formats=MODEL_2)}
    wrong += [f"the {code.name} code does not read back" for code in layout.codes if code.symbol.text not in found]
    if wrong:
        raise LabelError(f"The label cannot be handed out: {'; '.join(wrong)}.", kind="proof-failed",
                         hint="Please report this with the schedule row that caused it.")
