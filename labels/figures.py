"""The large figures: as large as the zone allows, one under the other, with their caption beside them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from labels.boxes import TextLine
from labels.content import BigFigure
from labels.fonts import size_for_cap, text_width
from labels.typeset import keeps_words, largest_cap, wrap
from labels.zones import BESIDE, UPPER, Pen

# Capitals of the first, second and third figure as shares of the largest.
SHARES = (1.0, 0.8, 0.6)
CAPTION_GAP = 10
# A zone narrower than so many small capitals takes a figure only without breaking a word.
NARROW = 10


def place_figures(pens: Mapping[str, Pen], figures: Sequence[BigFigure], cap: int,
                  least: int) -> tuple[list[TextLine], dict[str, Pen]] | None:
    """All figures below each other with capitals of `cap` dots, smaller where the width asks for it; or None.

    A figure that finds no room above the link stands beside it.
    """
    done: list[TextLine] = []
    now = dict(pens)
    for figure, share in zip(figures, SHARES, strict=False):
        most = max(least, round(cap * share))
        for name in (UPPER, BESIDE):
            placed = _figure(now[name], figure, most, least)
            if placed is not None:
                break
        else:
            return None
        lines, now[name] = placed
        done += lines
    return done, now


def _figure(pen: Pen, figure: BigFigure, most: int, least: int) -> tuple[list[TextLine], Pen] | None:
    beside = _with_caption_beside(pen, figure, most, least) if figure.caption else None
    if beside is not None:
        return beside
    done: list[TextLine] = []
    if figure.caption:
        caption = pen.paragraph(figure.caption, least)
        if caption is None:
            return None
        done, pen = caption.lines, caption.pen
    value = pen.paragraph(figure.value, largest_cap(figure.value, pen.box.width, True, most, least) or least, bold=True)
    if value is None or (pen.box.width < NARROW * least and not value.whole):
        return None
    return done + value.lines, value.pen


def _with_caption_beside(pen: Pen, figure: BigFigure, most: int, least: int) -> tuple[list[TextLine], Pen] | None:
    """The value, and right of it the caption in one or two lines that stand within its height."""
    width = text_width(figure.value, True, size_for_cap(most, True))
    indent = round(width) + CAPTION_GAP
    room, size = pen.box.width - indent, size_for_cap(least, False)
    words = wrap(figure.caption, room, False, size) if room > 0 else ()
    if not 1 <= len(words) <= 2 or not keeps_words(figure.caption, words):
        return None
    if max(text_width(word, False, size) for word in words) > room:
        return None
    value, below = pen.put(figure.value, most, bold=True)
    captions = []
    side = Pen(pen.box, value.top, pen.taken)
    for word in words:
        line, side = side.put(word, least, indent=indent)
        captions.append(line)
    taken = max(below.taken, side.taken)
    after = Pen(pen.box, max(below.y, side.y), taken)
    return ([value, *captions], after) if taken <= pen.box.bottom else None
