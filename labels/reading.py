"""Codes out of pictures, with more effort only when the plain try finds nothing."""

from __future__ import annotations

import warnings
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import zxingcpp
from PIL import Image, ImageFilter, ImageOps, UnidentifiedImageError

from labels.errors import LabelError
from labels.raster import MODEL_2

MAX_PIXELS = 120_000_000


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundCode:
    """One code: its text, and its centre in the picture as it was tried."""

    text: str
    centre: tuple[int, int]


def _open(path: Path) -> Image.Image:
    try:
        with warnings.catch_warnings():
            # The size is judged below, in words; Pillow's own warning would only repeat it.
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)
            image = Image.open(path)
            if image.width * image.height > MAX_PIXELS:
                raise LabelError(f"{path} has {image.width} × {image.height} pixels, more than are read.",
                                 kind="too-large", hint="Photograph the label alone, or make the picture smaller.")
            return _grey(ImageOps.exif_transpose(image))
    except FileNotFoundError as problem:
        raise LabelError(f"There is no file {path}.", kind="not-a-picture", hint="Check the name.") from problem
    except Image.DecompressionBombError as problem:
        raise LabelError(f"{path} is a picture too large to be read.", kind="too-large",
                         hint="Photograph the label alone, or make the picture smaller.") from problem
    except (UnidentifiedImageError, OSError, ValueError, SyntaxError) as problem:
        raise LabelError(f"{path} is not a picture that can be read.", kind="not-a-picture",
                         hint="Give a PNG or JPEG file; a broken one has to be taken again.") from problem


def _grey(image: Image.Image) -> Image.Image:
    if image.mode.startswith("I;16"):
        # Pillow would cut 16 bits off at 255 instead of scaling them.
        return Image.fromarray((np.asarray(image) >> 8).astype(np.uint8))
    if image.has_transparency_data:
        paper = Image.new("RGBA", image.size, "white")
        paper.alpha_composite(image.convert("RGBA"))
        return paper.convert("L")
    return image.convert("L")


def _tries(image: Image.Image) -> Iterator[Image.Image]:
    """The picture as it is, then with more contrast, larger, smoothed, and turned a little."""
    yield image
    strong = ImageOps.autocontrast(image, cutoff=2)
    yield strong
    if image.width * image.height <= 4_000_000:
        yield strong.resize((image.width * 2, image.height * 2), Image.Resampling.BICUBIC)
    yield strong.filter(ImageFilter.MedianFilter(3))
    for angle in (15, -15, 30, -30, 45):
        yield strong.rotate(angle, Image.Resampling.BICUBIC, expand=True, fillcolor=255)


def read_picture(path: Path) -> list[FoundCode]:
    """Every code in a picture. Model 2 codes alone: other families gave phantom reads in noise.

    Raises LabelError: not-a-picture, too-large, no-code.
    """
    for image in _tries(_open(path)):
        found = zxingcpp.read_barcodes(image, formats=MODEL_2)
        if found:
            return [FoundCode(text=one.text, centre=_centre(one)) for one in found]
    raise LabelError(f"No code was found in {path}.", kind="no-code",
                     hint="Wipe the label, go closer, hold the camera straight; or type the nine characters.")


def _centre(one: zxingcpp.Barcode) -> tuple[int, int]:
    corners = (one.position.top_left, one.position.bottom_right)
    return sum(c.x for c in corners) // 2, sum(c.y for c in corners) // 2
