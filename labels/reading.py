"""Codes out of pictures: cheap looks first, costlier ones only while something that was seen is still unread."""

from __future__ import annotations

import re
import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from math import hypot
from pathlib import Path

import zxingcpp
from PIL import Image

from labels.errors import LabelError
from labels.pictures import open_pages
from labels.raster import MODEL_2
from labels.tries import View, closer, crop, first, whole

# Pixels looked at for one picture at most: about a second for one in which nothing can be read.
EFFORT_PIXELS = 60_000_000
# The last stop, for pictures full of what looks like corners of codes; anything else ends by its effort.
DEADLINE_S = 1.5
# The two codes stand in opposite corners: so many sides of the small one reach over the whole label.
REACH_SIDES = 3.2
# Seen at 70° a square is three times as long as it is wide.
LONGEST_SIDE = 3.0
_WIPE = "Wipe the label, go closer, hold the camera straight; or type the nine characters."
# A luminaire's link (vault/FORMAT.md); with "#" and a number behind it, it is the same label's capsule.
_LINK = re.compile(r"HTTPS://[^/#]+/L/[^/#]+", re.IGNORECASE)
# Any code of such labels and pages: a link with one letter for what it stands on, or lines of text.
_OWN = re.compile(r"HTTPS://[^/#]+/[A-Z]/|[^\n]+\n", re.IGNORECASE)

Point = tuple[float, float]


def sides_of(corners: Sequence[Point]) -> list[float]:
    """The lengths between neighbouring corners."""
    return [hypot(x - u, y - v) for (x, y), (u, v) in zip(corners, [*corners[1:], corners[0]], strict=True)]


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundCode:
    """One code: its exact text, and its corners in the picture, pixels: top left, top right, bottom right, bottom left."""

    text: str
    corners: tuple[Point, Point, Point, Point]

    @property
    def centre(self) -> tuple[int, int]:
        """Its middle, pixels."""
        return round(sum(x for x, _ in self.corners) / 4), round(sum(y for _, y in self.corners) / 4)

    @property
    def side(self) -> float:
        """The mean length of its sides, pixels."""
        return sum(sides_of(self.corners)) / 4

    def covers(self, other: FoundCode) -> bool:
        """Whether both stand on the same place."""
        (x, y), (u, v) = self.centre, other.centre
        return max(abs(x - u), abs(y - v)) < max(self.side, other.side) / 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """What one picture gave. unread: codes that were found but cannot be decoded, without a text. tried: names of the looks
    taken.
    """

    codes: tuple[FoundCode, ...]
    unread: tuple[FoundCode, ...]
    tried: tuple[str, ...]

    @property
    def damaged(self) -> int:
        """How many codes were found but cannot be decoded."""
        return len(self.unread)


def links_without_capsule(texts: Iterable[str]) -> set[str]:
    """The luminaires' links among these texts behind which none of the texts carries a record."""
    held = {text.upper() for text in texts}
    whole_ones = {text.partition("#")[0] for text in held if "#" in text}
    return {text for text in held if _LINK.fullmatch(text)} - whole_ones


def on_same_label(link: FoundCode, capsule: FoundCode) -> bool:
    """Whether the capsule stands where the link's own has to stand: on its left, and no further than a label is long."""
    left_top, right_top = link.corners[:2]
    (x, y), (u, v) = link.centre, capsule.centre
    away = complex(u - x, v - y)
    onward = complex(right_top[0] - left_top[0], right_top[1] - left_top[1])
    return abs(away) < REACH_SIDES * link.side and (away * onward.conjugate()).real < 0


def beside(code: FoundCode, other: FoundCode) -> bool:
    """Whether both stand so close that they may be of one label."""
    (x, y), (u, v) = code.centre, other.centre
    return abs(complex(u - x, v - y)) < REACH_SIDES * max(code.side, other.side)


@dataclass(slots=True, kw_only=True)
class _Search:
    """What was found so far, and what may still be spent."""

    width: int
    height: int
    effort: int
    until_s: float
    found: list[FoundCode] = field(default_factory=list)
    broken: list[FoundCode] = field(default_factory=list)
    tried: list[str] = field(default_factory=list)

    def look(self, view: View) -> None:
        """Read one view; what is new is kept."""
        self.effort -= view.pixels
        self.tried.append(view.name)
        for one in zxingcpp.read_barcodes(view.image, formats=MODEL_2, return_errors=not view.guessed,
                                          try_invert=view.thorough, try_downscale=view.thorough):
            place = one.position
            points = (place.top_left, place.top_right, place.bottom_right, place.bottom_left)
            corners = [view.origin_of(point.x, point.y) for point in points]
            code = FoundCode(text=one.text if one.valid else "", corners=(corners[0], corners[1], corners[2], corners[3]))
            known = self.found if one.valid else self.broken
            if not one.valid and not self._likely(code):
                continue
            if not any(code.text == other.text and code.covers(other) for other in known):
                known.append(code)

    def _likely(self, code: FoundCode) -> bool:
        """Whether three corners make a code at all, or are of different ones or of none."""
        (x, y), sides = code.centre, sides_of(code.corners)
        return 0 <= x < self.width and 0 <= y < self.height and max(sides) < LONGEST_SIDE * min(sides)

    def free(self, point: Point) -> bool:
        """Whether a point lies on no code that was read."""
        return not any(max(abs(point[0] - x), abs(point[1] - y)) < code.side * 0.7
                       for code in self.found for x, y in [code.centre])

    @property
    def unread(self) -> list[FoundCode]:
        """Damaged codes on whose place nothing was read."""
        return [code for code in self.broken if not any(code.covers(known) for known in self.found)]

    @property
    def lacking(self) -> list[FoundCode]:
        """Links of luminaires whose capsule is still unread."""
        links = links_without_capsule(code.text for code in self.found)
        return [code for code in self.found if code.text.upper() in links]

    @property
    def own(self) -> bool:
        """Whether a label was seen; a maker's code beside it is none."""
        return any(_OWN.match(code.text) for code in self.found)

    @property
    def done(self) -> bool:
        """Whether a label was seen and every one seen is read whole."""
        return self.own and not self.lacking and not self.unread

    def climb(self, views: Iterable[View], code: FoundCode | None = None) -> None:
        """Look at one view after the other until all that is wanted (what `code` lacks, or everything) is read, or the
        effort is spent.
        """
        for view in views:
            wanted = not self.done if code is None else code in self.lacking or code in self.unread
            if not wanted or view.pixels > self.effort or time.monotonic() > self.until_s:
                return
            self.look(view)


def read_image(image: Image.Image, *, effort_pixels: int = EFFORT_PIXELS) -> Reading:
    """Every code in a picture. Model 2 codes alone: other families gave phantom reads in noise.

    A label of which the link alone was read is looked at again, from close by, for its capsule; so is a code that was
    found but not decoded. Nothing is guessed: a text is returned as its own error correction proved it.
    """
    grey = image if image.mode == "L" else image.convert("L")
    search = _Search(width=grey.width, height=grey.height, effort=effort_pixels, until_s=time.monotonic() + DEADLINE_S)
    search.climb(first(grey))
    if not search.own:
        search.climb(closer(whole(grey), search.free))
    for code in search.lacking:
        search.climb(closer(crop(grey, code.centre, REACH_SIDES * code.side, code.side), search.free), code)
    for code in search.unread:
        search.climb(closer(crop(grey, code.centre, code.side, code.side), search.free), code)
    return Reading(codes=tuple(search.found), unread=tuple(search.unread), tried=tuple(search.tried))


def read_pages(path: Path, progress: Callable[[int, int], None] | None = None) -> Iterator[Reading]:
    """One reading for each picture in a file: one, or a PDF's pages. progress: called with pages read and pages in all.

    Raises LabelError: not-a-picture, too-large.
    """
    for page in open_pages(path):
        yield read_image(page.image)
        if progress is not None:
            progress(page.number, page.count)


def nothing_read(where: str, *, damaged: int) -> LabelError:
    """The error that says what was not found: no code at all, or damaged ones alone."""
    if damaged:
        return LabelError(f"A code was found in {where}, but it is too damaged or too blurred to be read.",
                          kind="damaged-code", hint=_WIPE)
    return LabelError(f"No code was found in {where}.", kind="no-code", hint=_WIPE)


def read_picture(path: Path) -> list[FoundCode]:
    """Every code in a picture file; of a PDF, in all its pages.

    Raises LabelError: not-a-picture, too-large, no-code, damaged-code.
    """
    readings = list(read_pages(path))
    found = [code for reading in readings for code in reading.codes]
    if not found:
        raise nothing_read(str(path), damaged=sum(reading.damaged for reading in readings))
    return found
