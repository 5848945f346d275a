"""Labels as the operators of a PDF page (ISO 32000-1 clause 8), in whole dots from the page's top left corner."""

from __future__ import annotations

import zlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from operator import add

import numpy as np
import numpy.typing as npt

from labels.boxes import CodeBox, Layout, TextLine
from labels.code import QUIET_MODULES
from labels.content import LabelContent
from labels.errors import LabelError
from labels.faces import face
from labels.media import Medium, Sheet
from labels.proof import Drawn, drawn, proven_dots

# A filled edge on a dot's border would paint the next dot as well; this share of a module keeps it off.
INSET = 0.01
FONT_NAMES = {False: "F1", True: "F2"}
DEFLATE = (4, zlib.DEFLATED, 15, 8, zlib.Z_FILTERED)  # smaller than level 6 on a code's short numbers, in two thirds of its time


def number(value: float) -> str:
    """A number as a PDF may hold it: plain decimals, no exponent."""
    return f"{value:.8f}".rstrip("0").rstrip(".")


def _points(dots: int, medium: Medium) -> str:
    """Whole dots in points, never rounded up: some programs would add a row of dots for a millionth too much."""
    return number(dots * 72 * 1_000_000 // medium.dpi / 1_000_000)


def _text(line: TextLine, left: int, top: int) -> str:
    glyphs = line.text.translate(face(line.bold).codes)
    # The page's y runs downwards, so every text is turned upright again.
    return (f"BT {1 if line.white else 0} g /{FONT_NAMES[line.bold]} {line.size} Tf "
            f"1 0 0 -1 {left + line.left} {top + line.top + line.cap} Tm <{glyphs}> Tj ET\n")


@lru_cache(maxsize=8)
def _corners(modules: int) -> list[str]:
    """Where each module begins, row by row. Made once for a size of code: a label has some thousand runs."""
    return [f"{column} {row} " for row in range(modules) for column in range(modules)]


@lru_cache(maxsize=8)
def _sizes(modules: int) -> list[str]:
    """A run of so many modules as a rectangle's size."""
    lengths = [f"{max(run - 2 * INSET, 0):.2f}".lstrip("0") for run in range(modules + 1)]
    return [f"{length} {lengths[1]} re\n" for length in lengths]


def runs_of(matrix: npt.NDArray[np.bool_]) -> tuple[list[int], list[int]]:
    """Runs of black modules along rows: where each begins, counted row by row, and its modules."""
    rows, modules = matrix.shape
    padded = np.zeros((rows, modules + 2), bool)
    padded[:, 1:-1] = matrix
    edges = np.flatnonzero(padded[:, 1:] != padded[:, :-1])  # a row's white ends make modules + 1 places for an edge
    starts, ends = edges[::2], edges[1::2]
    return (starts - starts // (modules + 1)).tolist(), (ends - starts).tolist()


def _code(code: CodeBox, left: int, top: int) -> str:
    """A code as one filled path in units of a module."""
    modules, size = code.symbol.modules, code.dots
    edge = (QUIET_MODULES + INSET) * size
    starts, runs = runs_of(code.symbol.matrix)
    path = "".join(map(add, map(_corners(modules).__getitem__, starts), map(_sizes(modules).__getitem__, runs)))
    return (f"q 0 g {size} 0 0 {size} {number(left + code.box.left + edge)} {number(top + code.box.top + edge)} cm\n"
            f"{path}f Q\n")


def operators(layout: Layout, left: int = 0, top: int = 0) -> Iterator[str]:
    """One label with its top left corner at (left, top) dots."""
    for bar in layout.bars:
        yield f"0 g {left + bar.left} {top + bar.top} {bar.width} {bar.height} re f\n"
    for line in layout.texts:
        yield _text(line, left, top)
    for code in layout.codes:
        yield _code(code, left, top)


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """One finished page: its deflated operators, and what stands on it."""

    stream: bytes
    drawn: tuple[Drawn, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class PagePlan:
    """How pages look: their size in dots and the corners of the labels on each. Make it with `plan`."""

    medium: Medium
    width_dots: int
    height_dots: int
    corners: tuple[tuple[int, int], ...]

    @property
    def points(self) -> tuple[str, str]:
        """The page's width and height in points, as numbers in a PDF."""
        return _points(self.width_dots, self.medium), _points(self.height_dots, self.medium)


def plan(medium: Medium, sheet: Sheet | None = None) -> PagePlan:
    """One label a page, or a sheet's grid, in whole dots.

    Raises LabelError (bad-medium) when labels of this size overlap on the sheet or leave it.
    """
    if sheet is None:
        return PagePlan(medium=medium, width_dots=medium.width_dots, height_dots=medium.height_dots, corners=((0, 0),))
    for count, first, step, label, page, word in (
            (sheet.columns, sheet.left_um, sheet.across_um, medium.width_um, sheet.width_um, "column"),
            (sheet.rows, sheet.top_um, sheet.down_um, medium.height_um, sheet.height_um, "row")):
        if count < 1:
            raise LabelError(f"The sheet {sheet.name} has no {word}.", kind="bad-medium", hint="Give one or more.")
        if count > 1 and step < label:
            raise LabelError(f"Labels of {medium.name} overlap on the sheet {sheet.name}: a {word} begins {step / 1000:g} mm "
                             f"behind the last one, and a label takes {label / 1000:g} mm.", kind="bad-medium",
                             hint="Set them further apart, or choose a smaller label.")
        if first < 0 or first + (count - 1) * step + label > page:
            raise LabelError(f"Labels of {medium.name} leave the sheet {sheet.name}, which has {page / 1000:g} mm for its "
                             f"{word}s.", kind="bad-medium", hint=f"Use fewer {word}s, or a smaller label.")
    across = [medium.dots(sheet.left_um + sheet.across_um * column) for column in range(sheet.columns)]
    down = [medium.dots(sheet.top_um + sheet.down_um * row) for row in range(sheet.rows)]
    return PagePlan(medium=medium, width_dots=medium.dots(sheet.width_um), height_dots=medium.dots(sheet.height_um),
                    corners=tuple((x, y) for y in down for x in across))


def page_of(contents: Sequence[LabelContent], planned: PagePlan) -> Page:
    """A page of proved labels. Raises LabelError as `proven_dots` does."""
    scale = number(planned.medium.points(1))
    parts = [f"{scale} 0 0 -{scale} 0 {planned.points[1]} cm\n"]
    told = []
    for content, (left, top) in zip(contents, planned.corners, strict=False):
        layout, _ = proven_dots(content, planned.medium)
        parts += operators(layout, left, top)
        told.append(drawn(content, layout))
    packer = zlib.compressobj(*DEFLATE)
    stream = packer.compress("".join(parts).encode("ascii")) + packer.flush()
    return Page(stream=stream, drawn=tuple(told))
