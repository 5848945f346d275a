"""Opening pictures: picture files, a phone's HEIC files, the pages of a PDF."""

from __future__ import annotations

import warnings
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from PIL import Image, ImageOps, UnidentifiedImageError

from labels.errors import LabelError

MAX_PIXELS = 120_000_000
MAX_PAGES = 500
PDF_DPI = 300
PICTURE_SUFFIXES = frozenset({".png", ".jpg", ".jpeg", ".bmp", ".gif", ".tif", ".tiff", ".webp", ".heic", ".heif", ".pdf"})
HEIC_SUFFIXES = frozenset({".heic", ".heif"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """One grey picture, number so many (from 1) of the file's `count`."""

    number: int
    count: int
    image: Image.Image


def open_pages(path: Path) -> Iterator[Page]:
    """The pictures in a file: one, or a PDF's pages at 300 dpi.

    Raises LabelError: not-a-picture, too-large.
    """
    if path.suffix.lower() == ".pdf":
        yield from _pdf_pages(path)
    else:
        yield Page(number=1, count=1, image=open_picture(path))


def open_picture(path: Path) -> Image.Image:
    """A picture file as grey, the way up that the camera says. Raises LabelError: not-a-picture, too-large."""
    if path.suffix.lower() in HEIC_SUFFIXES:
        import pillow_heif

        pillow_heif.register_heif_opener()
    try:
        with warnings.catch_warnings():
            # The size is judged below, in words; Pillow's own warning would only repeat it.
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)
            image = Image.open(path)
            _check_size(path, image.width, image.height)
            if image.format == "JPEG" and image.mode in ("RGB", "YCbCr"):
                image.draft("L", image.size)  # the colour planes are not even decoded
            return _grey(ImageOps.exif_transpose(image))
    except FileNotFoundError as problem:
        raise LabelError(f"There is no file {path}.", kind="not-a-picture", hint="Check the name.") from problem
    except Image.DecompressionBombError as problem:
        raise LabelError(f"{path} is a picture too large to be read.", kind="too-large",
                         hint="Photograph the label alone, or make the picture smaller.") from problem
    except (UnidentifiedImageError, OSError, ValueError, SyntaxError, EOFError) as problem:
        raise LabelError(f"{path} is not a picture that can be read.", kind="not-a-picture",
                         hint="Give a PNG, JPEG, HEIC or PDF file; a broken one has to be taken again.") from problem


def _check_size(path: Path, width: int, height: int) -> None:
    if width * height > MAX_PIXELS:
        raise LabelError(f"{path} has {width} × {height} pixels, more than the {MAX_PIXELS} that are read.", kind="too-large",
                         hint="Photograph the label alone, or make the picture smaller.")


def _grey(image: Image.Image) -> Image.Image:
    if image.mode.startswith("I;16"):
        # Pillow would cut 16 bits off at 255 instead of scaling them.
        return Image.fromarray((np.asarray(image) >> 8).astype(np.uint8))
    if image.has_transparency_data:
        paper = Image.new("RGBA", image.size, "white")
        paper.alpha_composite(image.convert("RGBA"))
        return paper.convert("L")
    return image.convert("L")


def _pdf_pages(path: Path) -> Iterator[Page]:
    import pypdfium2

    hint = "Give a PDF file that opens without a password, or photographs of its pages."
    if not path.is_file():
        raise LabelError(f"There is no file {path}.", kind="not-a-picture", hint="Check the name.")
    try:
        document = pypdfium2.PdfDocument(path)
    except (pypdfium2.PdfiumError, OSError) as problem:
        raise LabelError(f"{path} is not a PDF file that can be read.", kind="not-a-picture", hint=hint) from problem
    try:
        if len(document) > MAX_PAGES:
            raise LabelError(f"{path} has {len(document)} pages; at most {MAX_PAGES} are read.", kind="too-large",
                             hint="Split it, or photograph the label alone.")
        for number in range(len(document)):
            page = document[number]
            width, height = (side * PDF_DPI / 72 for side in page.get_size())
            _check_size(path, round(width), round(height))
            image = page.render(scale=PDF_DPI / 72, grayscale=True).to_pil()
            page.close()
            yield Page(number=number + 1, count=len(document), image=_grey(image))
    except pypdfium2.PdfiumError as problem:
        raise LabelError(f"A page of {path} cannot be drawn.", kind="not-a-picture", hint=hint) from problem
    finally:
        document.close()
