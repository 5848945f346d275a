"""A picture under work: text and shapes that grow downwards from its top, in one pair of type sizes."""

from __future__ import annotations

import math
from dataclasses import dataclass

from vault.exchange.canvas import Drawing, wrapped

GAP = 6.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Sizes:
    """Sizes of type in points. words: captions and notes. figure: what is to be set."""

    words: float
    figure: float


class TooWide(Exception):
    """A picture cannot be drawn so narrow; caught by the page, which gives it more room or smaller type."""


@dataclass(slots=True, kw_only=True)
class Block:
    """A drawing that grows downwards. y: how far it reaches, in points; its drawing's own height is set from it."""

    width: float
    sizes: Sizes
    drawing: Drawing
    y: float = 0.0

    def say(self, said: str, size: float, *, bold: bool = False, x: float = 0.0) -> None:
        """Text over as many lines as it takes."""
        for line in wrapped(said, size, self.width - x, bold):
            self.drawing.text((x, self.y + size * 0.95), line, size=size, bold=bold)
            self.y += size * 1.25

    def note(self, said: str) -> None:
        """A line of plain words."""
        self.say(said, self.sizes.words)

    def result(self, said: str) -> None:
        """What the setting comes to, in large type; nothing where nothing is known."""
        if said:
            self.y += GAP / 2
            self.say(f"gives {said}", self.sizes.figure, bold=True)

    def done(self) -> Drawing:
        """The drawing, as high as what stands on it."""
        self.drawing.height = math.ceil(self.y)
        return self.drawing


def block(width: float, sizes: Sizes, caption: str) -> Block:
    """A new block with its caption."""
    made = Block(width=width, sizes=sizes, drawing=Drawing(width=math.ceil(width), height=0))
    made.say(caption, sizes.words * 1.2, bold=True)
    made.y += GAP
    return made
