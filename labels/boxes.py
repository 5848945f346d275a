"""The parts of a laid-out label, in whole dots from the top left corner."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil

from labels.code import Symbol
from labels.fonts import ink, size_for_cap, text_width
from labels.media import Medium


@dataclass(frozen=True, slots=True, kw_only=True)
class Box:
    """A rectangle: left, top, width, height in dots."""

    left: int
    top: int
    width: int
    height: int

    @property
    def right(self) -> int:
        """First dot behind it."""
        return self.left + self.width

    @property
    def bottom(self) -> int:
        """First dot below it."""
        return self.top + self.height

    def overlaps(self, other: Box) -> bool:
        """Whether the two share a dot."""
        return (self.left < other.right and other.left < self.right
                and self.top < other.bottom and other.top < self.bottom)

    def within(self, other: Box) -> bool:
        """Whether all of it lies in the other."""
        return (other.left <= self.left and other.top <= self.top
                and self.right <= other.right and self.bottom <= other.bottom)


@dataclass(frozen=True, slots=True, kw_only=True)
class CodeBox:
    """A code with its quiet zone: `box` is both together."""

    name: str
    box: Box
    symbol: Symbol
    dots: int


@dataclass(frozen=True, slots=True, kw_only=True)
class TextLine:
    """One line of text. left: where the pen begins; top: upper edge of its capitals; white: on a black bar."""

    text: str
    left: int
    top: int
    cap: int
    bold: bool
    white: bool = False

    @property
    def size(self) -> int:
        """Font size in dots."""
        return size_for_cap(self.cap, self.bold)

    @property
    def box(self) -> Box:
        """What it covers: its ink, accents and descenders with it."""
        left, above, _, below = ink(self.text, self.bold, self.size)
        above = max(above, self.cap)
        return Box(left=self.left - left, top=self.top + self.cap - above, height=above + below,
                   width=ceil(text_width(self.text, self.bold, self.size)))


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """A label ready to be drawn. left_off: lines that found no room. carries_settings: the capsule is on it."""

    medium: Medium
    codes: tuple[CodeBox, ...]
    texts: tuple[TextLine, ...]
    bars: tuple[Box, ...]
    left_off: tuple[str, ...]
    carries_settings: bool
