"""PWG raster, the page format that every IPP Everywhere printer takes (PWG 5102.4-2012), from 1-bit pictures."""

from __future__ import annotations

import re
import struct
from collections.abc import Iterable, Iterator
from enum import StrEnum

from PIL import Image, ImageChops

SYNC_WORD = b"RaS2"  # clause 4.2
HEADER_BYTES = 1796  # clause 4.3
_POINTS_PER_INCH = 72
_LONGEST = 128  # bytes in one run, and in one stretch of single ones
_LINE_REPEATS = 256
# Shorter runs save nothing, and runs of anything but plain black or white are rare on a label.
_RUN = re.compile(rb"[\x00]{3,128}|[\xff]{3,128}")


class PixelKind(StrEnum):
    """How dots are written, by the keywords of pwg-raster-document-type-supported (PWG 5102.4 clause 5)."""

    BLACK_1 = "black_1"
    SGRAY_8 = "sgray_8"


# bits of a pixel, ColorSpace (clause 4.3.3.1)
_FORMS = {PixelKind.BLACK_1: (1, 3), PixelKind.SGRAY_8: (8, 18)}


def _header(width: int, height: int, dpi: int, kind: PixelKind, medium: str, pages: int) -> bytes:
    """One page's header: width and height in dots; what is left zero is "the printer's own" or "not known"."""
    bits, space = _FORMS[kind]
    header = bytearray(HEADER_BYTES)

    def put(offset: int, *values: int) -> None:
        struct.pack_into(f">{len(values)}I", header, offset, *values)

    header[0:9] = b"PwgRaster"
    put(276, dpi, dpi)  # HWResolution
    put(352, *(round(side * _POINTS_PER_INCH / dpi) for side in (width, height)))  # PageSize
    put(372, width, height)
    put(384, bits, bits, (width * bits + 7) // 8, 0, space)  # BitsPerColor to ColorSpace; 0: chunky
    put(420, 1)  # NumColors
    put(452, pages, 1, 1)  # TotalPageCount, CrossFeedTransform, FeedTransform
    put(480, 0xFFFFFF)  # AlternatePrimary, white
    name = medium.encode("ascii", "replace")[:63]
    header[1732 : 1732 + len(name)] = name  # PageSizeName
    return bytes(header)


def _packed(line: bytes) -> bytes:
    """A line's bytes as runs (count - 1, byte) and stretches of single bytes (257 - count, bytes): clause 4.4."""
    out, done = bytearray(), 0
    for run in _RUN.finditer(line):
        start, end = run.span()
        if start > done:
            out += _stretches(line[done:start])
        out += bytes((end - start - 1, line[start]))
        done = end
    return bytes(out + _stretches(line[done:]))


def _stretches(single: bytes) -> bytes:
    out = bytearray()
    for start in range(0, len(single), _LONGEST):
        part = single[start : start + _LONGEST]
        # A stretch of one byte cannot be told from a run of one, whose count is 0.
        out.append(257 - len(part) if len(part) > 1 else 0)
        out += part
    return bytes(out)


def _lines(image: Image.Image, kind: PixelKind) -> Iterator[bytes]:
    """The page's lines from the top, unpacked; in black_1 a set bit is ink and the bits behind the last dot are 0."""
    dots = ImageChops.invert(image) if kind is PixelKind.BLACK_1 else image.convert("L")
    pixels = dots.tobytes()
    stride = len(pixels) // image.height
    unused = 0xFF << (-image.width % 8) & 0xFF if kind is PixelKind.BLACK_1 else 0xFF
    for start in range(0, len(pixels), stride):
        line = pixels[start : start + stride]
        yield line[:-1] + bytes((line[-1] & unused,))


def page(image: Image.Image, *, dpi: int, kind: PixelKind, medium: str, pages: int = 0) -> bytes:
    """One page, a pixel of the 1-bit picture a dot. medium: the printer's name of it; pages: of the document, 0 unknown."""
    if image.mode != "1" or not image.width or not image.height:
        raise ValueError(f"a page is a 1-bit picture, not {image.mode} of {image.width} by {image.height}")
    out = bytearray(_header(image.width, image.height, dpi, kind, medium, pages))
    last, repeats = b"", 0
    for line in _lines(image, kind):
        if line == last and repeats < _LINE_REPEATS:
            repeats += 1
            continue
        if repeats:
            out += bytes((repeats - 1,)) + _packed(last)
        last, repeats = line, 1
    out += bytes((repeats - 1,)) + _packed(last)
    return bytes(out)


def document(images: Iterable[Image.Image], *, dpi: int, kind: PixelKind, medium: str, pages: int = 0) -> Iterator[bytes]:
    """A document piece by piece, one page at a time in memory; its pieces one behind the other are the file."""
    yield SYNC_WORD
    for image in images:
        yield page(image, dpi=dpi, kind=kind, medium=medium, pages=pages)
