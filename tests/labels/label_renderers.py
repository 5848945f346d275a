"""Programs that turn a page into dots, each with its own code: poppler, Ghostscript, MuPDF."""

from __future__ import annotations

import subprocess
from collections.abc import Callable
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pymupdf
from PIL import Image

Black = npt.NDArray[np.bool_]  # rows of dots, True is black
Renderer = Callable[[Path, int], Black]


def opened(picture: Path) -> Black:
    """A picture's dots."""
    with Image.open(picture) as image:
        return ~np.array(image.convert("1", dither=Image.Dither.NONE))


def poppler(pdf: Path, dpi: int) -> Black:
    """The first page in black and white."""
    subprocess.run(["pdftoppm", "-r", str(dpi), "-mono", "-singlefile", pdf, pdf.with_suffix("")], check=True)
    return opened(pdf.with_suffix(".pbm"))


def ghostscript(pdf: Path, dpi: int) -> Black:
    """The first page in black and white."""
    picture = pdf.with_suffix(".gs.pbm")
    subprocess.run(["gs", "-q", "-dSAFER", "-dBATCH", "-dNOPAUSE", "-dLastPage=1", "-sDEVICE=pbmraw", f"-r{dpi}",
                    f"-sOutputFile={picture}", pdf], check=True)
    return opened(picture)


def mupdf(page: Path, dpi: int) -> Black:
    """The first page, of a PDF or an SVG, in greys and then black where it is darker than the middle."""
    with pymupdf.open(page) as document:
        drawn = document[0].get_pixmap(dpi=dpi, colorspace=pymupdf.csGRAY, alpha=False)
    grey = np.frombuffer(drawn.samples, np.uint8).reshape(drawn.height, drawn.stride)[:, : drawn.width]
    return grey < 128


RENDERERS = [poppler, ghostscript, mupdf]
