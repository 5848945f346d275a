"""The free room on a label around its codes, and a pen that writes down a zone."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from math import ceil
from typing import NamedTuple

from labels.boxes import Box, CodeBox, TextLine
from labels.fonts import ink, size_for_cap, text_width
from labels.media import MIN_CAP_UM, Medium
from labels.typeset import keeps_words, wrap

GAP_UM = 400
LINE_GAP = 2  # dots more than the quarter of a capital that most letters reach below the line
CODE_GAP = 2
UPPER, BESIDE, STRIP = "upper", "beside", "strip"
# Corner of a square box that a rounded corner of radius r cuts: r × (1 − 1/√2).
_CORNER_SHARE = 0.293


def code_edge(medium: Medium) -> int:
    """How far codes stay off the label's edge, in dots: bleed, and what a rounded corner cuts off."""
    return medium.dots_up(medium.bleed_um) + ceil(medium.dots(medium.corner_um) * _CORNER_SHARE)


def zones_of(medium: Medium, capsule: CodeBox | None, link: CodeBox) -> Mapping[str, Box]:
    """upper: above the link, right of the capsule. beside: left of the link. strip: under the capsule, up to the link.

    Without a capsule `upper` is all the room left of the link.
    """
    margin = medium.dots_up(medium.margin_um + medium.bleed_um)
    gap, least = medium.dots(GAP_UM), medium.dots_up(MIN_CAP_UM)
    floor = medium.height_dots - margin
    if capsule is None:
        none = Box(left=margin, top=floor, width=0, height=0)
        return {UPPER: Box(left=margin, top=margin, width=link.box.left - gap - margin, height=floor - margin),
                BESIDE: none, STRIP: none}
    # A renderer may round a letter's edge to the next dot, so letters keep two dots off a quiet zone.
    left = capsule.box.right + CODE_GAP
    strip = Box(left=margin, top=capsule.box.bottom + CODE_GAP, width=link.box.left - gap - margin,
                height=floor - capsule.box.bottom - CODE_GAP)
    if strip.height < least + -(-least // 4):
        strip = Box(left=margin, top=floor, width=strip.width, height=0)
    upper_bottom = min(link.box.top, strip.top)
    return {
        UPPER: Box(left=left, top=margin, width=medium.width_dots - margin - left, height=upper_bottom - margin),
        BESIDE: Box(left=left, top=upper_bottom + gap, width=link.box.left - gap - left,
                    height=max(0, strip.top - gap - upper_bottom - gap) if strip.height else floor - upper_bottom - gap),
        STRIP: strip,
    }


def _next(y: int, taken: int, cap: int, above: int, below: int) -> tuple[int, int, int]:
    """Where a line's capitals begin; then y and taken (see Pen) below it. above, below: what its ink reaches.

    Accents above the capitals, and a j that reaches left, must touch neither the line above nor a code.
    """
    top = max(y, taken + above - cap if above > cap else taken)
    return top, top + cap + -(-cap // 4) + LINE_GAP, top + cap + below


class _Block(NamedTuple):
    """A text broken to a width. lines: each with what its ink reaches left of the pen, above and below the line, in dots.
    whole: no word is broken.
    """

    lines: tuple[tuple[str, int, int, int], ...]
    whole: bool


@lru_cache(maxsize=8192)
def _block(text: str, width: int, cap: int, bold: bool) -> _Block | None:
    """None where a single letter is wider."""
    size = size_for_cap(cap, bold)
    parts = wrap(text, width, bold, size)
    if any(text_width(part, bold, size) > width for part in parts):
        return None
    lines = []
    for part in parts:
        left, above, _, below = ink(part, bold, size)
        lines.append((part, left, above, below))
    return _Block(tuple(lines), keeps_words(text, parts))


class Paragraph(NamedTuple):
    """Lines that were set, the pen below them, and whether no word was broken."""

    lines: list[TextLine]
    pen: Pen
    whole: bool


class Pen(NamedTuple):
    """Where the next line begins. y: its capitals; taken: the last line's ink ends here."""

    box: Box
    y: int
    taken: int

    @classmethod
    def at_top(cls, box: Box) -> Pen:
        """A pen at the top of a zone."""
        return cls(box, box.top, box.top)

    @property
    def left_over(self) -> int:
        """Dots of height still free."""
        return self.box.bottom - self.taken

    def put(self, text: str, cap: int, *, bold: bool = False, indent: int = 0) -> tuple[TextLine, Pen]:
        """One line of text and the pen below it, whether it finds room or not."""
        left, above, _, below = ink(text, bold, size_for_cap(cap, bold))
        top, y, taken = _next(self.y, self.taken, cap, above, below)
        line = TextLine(text=text, left=self.box.left + indent + left, top=top, cap=cap, bold=bold)
        return line, Pen(self.box, y, taken)

    def paragraph(self, text: str, cap: int, *, bold: bool = False, white: bool = False) -> Paragraph | None:
        """A text broken to the zone's width, or None where it leaves the zone."""
        block = _block(text, self.box.width, cap, bold)
        if block is None:
            return None
        _, y, taken = self
        lines = []
        for part, left, above, below in block.lines:
            top, y, taken = _next(y, taken, cap, above, below)
            lines.append((part, self.box.left + left, top))
        if taken > self.box.bottom:
            return None
        return Paragraph([TextLine(text=part, left=left, top=top, cap=cap, bold=bold, white=white) for part, left, top in lines],
                         Pen(self.box, y, taken), block.whole)
