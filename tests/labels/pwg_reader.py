"""Reads PWG raster with the CUPS library (libcups.so.2), which knows nothing of this project."""

from __future__ import annotations

import ctypes
import struct
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt

HEADER_BYTES = 1796


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """A page: its figures as the library gives them, and its dots, 0 black and 255 white."""

    dpi: tuple[int, int]
    points: tuple[int, int]
    bits: int
    colour_space: int
    pages: int
    medium: str
    dots: npt.NDArray[np.uint8]


def _library() -> ctypes.CDLL:
    try:
        cups = ctypes.CDLL("libcups.so.2")
    except OSError:
        raise RuntimeError("libcups.so.2 is missing; install the Debian package cups-ipp-utils") from None
    cups.cupsRasterOpen.restype = ctypes.c_void_p
    cups.cupsRasterReadHeader2.argtypes = [ctypes.c_void_p, ctypes.c_char_p]
    cups.cupsRasterReadPixels.argtypes = [ctypes.c_void_p, ctypes.c_char_p, ctypes.c_uint]
    cups.cupsRasterClose.argtypes = [ctypes.c_void_p]
    return cups


def pages_of_file(path: Path) -> list[Page]:
    """All pages of a file."""
    with path.open("rb") as file:
        return list(_pages(file.fileno()))


def pages_of(data: bytes) -> list[Page]:
    """All pages of a document."""
    with tempfile.TemporaryFile() as file:
        file.write(data)
        file.seek(0)
        return list(_pages(file.fileno()))


def _pages(descriptor: int) -> Iterator[Page]:
    cups = _library()
    raster = cups.cupsRasterOpen(descriptor, 0)
    if not raster:
        raise ValueError("the CUPS library does not take this for a raster")
    try:
        header = ctypes.create_string_buffer(HEADER_BYTES)
        while cups.cupsRasterReadHeader2(raster, header):
            yield _page(cups, raster, header.raw)
    finally:
        cups.cupsRasterClose(raster)


def _page(cups: ctypes.CDLL, raster: int, header: bytes) -> Page:
    def number(offset: int, count: int = 1) -> tuple[int, ...]:
        return struct.unpack_from(f"={count}I", header, offset)

    (width, height), (_, bits, stride, _, space) = number(372, 2), number(384, 5)
    pixels = ctypes.create_string_buffer(stride * height)
    for line in range(height):  # in its structure cups_page_header2_t; one line each, as a printer reads
        part = ctypes.create_string_buffer(stride)
        if cups.cupsRasterReadPixels(raster, part, stride) != stride:
            raise ValueError(f"line {line} is missing")
        pixels[line * stride : (line + 1) * stride] = part.raw
    rows = np.frombuffer(pixels.raw, np.uint8).reshape(height, stride)
    dots = np.where(np.unpackbits(rows, axis=1)[:, :width] == 1, 0, 255).astype(np.uint8) if bits == 1 else rows
    dpi, points = number(276, 2), number(352, 2)
    return Page(dpi=(dpi[0], dpi[1]), points=(points[0], points[1]), bits=bits, colour_space=space, pages=number(452)[0],
                medium=header[1732:1796].split(b"\0")[0].decode(), dots=dots)
