"""Where everything stands on a label, computed in whole dots from the top left corner."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import ceil

from labels.code import QUIET_MODULES, Symbol, make_symbol
from labels.content import BigFigure, LabelContent
from labels.errors import LabelError
from labels.fonts import ink, size_for_cap, text_width
from labels.media import MIN_CAP_UM, Medium
from labels.typeset import largest_cap, wrap

NOT_CARRIED = "Settings not in this code: look the tag up"
LARGEST_CAP_UM = 5_200
SMALLEST_FIGURE_UM = 2_200
LINK_TAG_CAP_UM = 3_000
GAP_UM = 400
LINE_GAP = 2  # dots more than the quarter of a capital that most letters reach below the line


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


@dataclass(slots=True)
class _Pen:
    """Writes lines downwards inside a box. y: the next line's capitals; taken: the last line's ink ends here."""

    box: Box
    y: int
    taken: int

    def put(self, text: str, cap: int, *, bold: bool = False, white: bool = False) -> TextLine:
        # Accents above the capitals, and a j that reaches left, must touch neither the line above nor a code.
        left, above, _, below = ink(text, bold, size_for_cap(cap, bold))
        top = max(self.y, self.taken + max(0, above - cap))
        self.y, self.taken = top + cap + -(-cap // 4) + LINE_GAP, top + cap + below
        return TextLine(text=text, left=self.box.left + left, top=top, cap=cap, bold=bold, white=white)

    def fits(self) -> bool:
        """Whether all that was written stands inside the box."""
        return self.taken <= self.box.bottom


def _pen(box: Box) -> _Pen:
    return _Pen(box, box.top, box.top)


def _figure(pen: _Pen, figure: BigFigure, most: int, least: int) -> list[TextLine]:
    width = pen.box.width
    lines = [pen.put(line, least) for line in wrap(figure.caption, width, False, size_for_cap(least, False))]
    cap = largest_cap(figure.value, width, True, most, least)
    broken = [figure.value] if cap else wrap(figure.value, width, True, size_for_cap(least, True))
    lines += [pen.put(line, cap or least, bold=True) for line in broken]
    return lines


def _figures(box: Box, content: LabelContent, cap: int, least: int) -> tuple[list[TextLine], _Pen] | None:
    """The big figures with capitals of `cap` dots where their width allows, or None when they do not fit the box."""
    pen = _pen(box)
    lines = [line for figure in content.big for line in _figure(pen, figure, cap, least)]
    if not pen.fits():
        return None
    pen.y += LINE_GAP
    return lines, pen


def _flow(lines: tuple[str, ...], pens: list[_Pen], cap: int) -> tuple[list[TextLine], list[str]]:
    """Small lines through the free boxes, the most important first.

    A line goes into the narrowest box that holds it unbroken, else broken into the first box with room for all of it.
    """
    done: list[TextLine] = []
    left_off = []
    size = size_for_cap(cap, False)
    for text in lines:
        choices = []
        for pen in pens:
            if max(text_width(word, False, size) for word in text.split(" ")) > pen.box.width:
                continue  # no word is broken where another box may hold it whole
            further = replace(pen)
            placed = [further.put(line, cap) for line in wrap(text, pen.box.width, False, size)]
            if further.fits():
                choices.append((len(placed), pen.box.width, placed, pen, further))
        if choices:
            _, _, placed, pen, further = min(choices, key=lambda choice: choice[:2])
            pen.y, pen.taken = further.y, further.taken
            done += placed
        else:
            left_off.append(text)
    return done, left_off


def _code(name: str, symbol: Symbol, dots: int, left: int, top: int) -> CodeBox:
    side = (symbol.modules + 2 * QUIET_MODULES) * dots
    return CodeBox(name=name, box=Box(left=left, top=top, width=side, height=side), symbol=symbol, dots=dots)


def _version_that_fits(side_dots: int, dots: int) -> int:
    return (side_dots // dots - 2 * QUIET_MODULES - 17) // 4


def _capsule(content: LabelContent, medium: Medium, room: int) -> CodeBox | None:
    if content.capsule_text is None:
        return None
    try:
        symbol = make_symbol(content.capsule_text, level="M", max_version=_version_that_fits(room, medium.capsule_dots))
    except LabelError as problem:
        if problem.kind != "too-big":
            raise
        return None
    return _code("capsule", symbol, medium.capsule_dots, 0, 0)


def lay_out(content: LabelContent, medium: Medium) -> Layout:
    """Place both codes in opposite corners and every text in what is left.

    The large figures give way, down to SMALLEST_FIGURE_UM, until every line finds room; lines that still find none
    are left off from the end and named. A record too big for the medium gives a label with the link alone, which
    says so. Raises LabelError (too-big) when even the large figures find no room.
    """
    width, height = medium.width_dots, medium.height_dots
    margin, gap, least = medium.dots(medium.margin_um), medium.dots(GAP_UM), medium.dots_up(MIN_CAP_UM)
    link_symbol = make_symbol(content.link_text, level="Q", max_version=_version_that_fits(height, medium.link_dots))
    link = _code("link", link_symbol, medium.link_dots, 0, 0)
    link = _code("link", link_symbol, medium.link_dots, width - link.box.width, height - link.box.height)
    # The capsule leaves room for two small lines under it and for the figures beside it.
    capsule = _capsule(content, medium, min(height - margin - 2 * least, width - link.box.width))
    lines = content.lines if capsule is not None or content.capsule_text is None else (NOT_CARRIED, *content.lines)
    split = capsule.box.right if capsule else margin
    beside = Box(left=split, top=link.box.top + gap, width=link.box.left - split - gap,
                 height=height - margin - link.box.top - gap)
    upper = Box(left=split, top=margin, width=width - margin - split, height=link.box.top - margin)
    bars: list[Box] = []
    texts: list[TextLine] = []
    if content.banner:
        bar, texts = _banner(content.banner, upper, least, gap)
        if bar.bottom > upper.bottom:
            raise LabelError("The banner finds no room on this label.", kind="too-big",
                             hint="Use a larger label, or a shorter banner.")
        bars = [bar]
        upper = Box(left=upper.left, top=bar.bottom + gap, width=upper.width, height=upper.bottom - bar.bottom - gap)
    tag_most = medium.dots(LARGEST_CAP_UM if capsule else LINK_TAG_CAP_UM)
    tag_lines, after_tag = _tag(content.tag_shown, beside, tag_most, least)
    if not tag_lines:
        lines = (content.tag_shown, *lines)
    required = lines[: len(lines) - len(content.lines)]
    under = None if capsule is None else Box(left=margin, top=capsule.box.bottom, width=split - margin,
                                             height=height - margin - capsule.box.bottom)
    tried = None
    for cap in range(medium.dots(LARGEST_CAP_UM), medium.dots(SMALLEST_FIGURE_UM) - 1, -1):
        placed = _figures(upper, content, cap, least)
        if placed is None:
            continue
        figures, after = placed
        pens = [replace(after_tag), after, *([_pen(under)] if under else [])]
        small, left_off = _flow(lines, pens, least)
        if any(line in left_off for line in required):
            continue
        if tried is None or len(left_off) < len(tried[2]):
            tried = figures, small, left_off
        if not left_off:
            break
    if tried is None:
        raise LabelError("The tag and the large figures find no room on this label.", kind="too-big",
                         hint="Use a larger label, or shorter texts.")
    figures, small, left_off = tried
    codes = tuple(code for code in (capsule, link) if code is not None)
    return Layout(medium=medium, codes=codes, texts=(*texts, *figures, *tag_lines, *small), bars=tuple(bars),
                  left_off=tuple(left_off), carries_settings=capsule is not None)


def _banner(text: str, room: Box, least: int, gap: int) -> tuple[Box, list[TextLine]]:
    inner = Box(left=room.left + gap, top=room.top + gap, width=room.width - 2 * gap, height=room.height)
    pen = _pen(inner)
    words = [pen.put(line, least, bold=True, white=True)
             for line in wrap(text, inner.width, True, size_for_cap(least, True))]
    return Box(left=room.left, top=room.top, width=room.width, height=words[-1].box.bottom + gap - room.top), words


def _tag(shown: str, room: Box, most: int, least: int) -> tuple[list[TextLine], _Pen]:
    """The tag in one line where that is large enough, else a group a line; no line where the box is too narrow."""
    one = largest_cap(shown, room.width, True, most, least)
    groups = [shown] if one is not None else shown.split()
    caps = [largest_cap(group, room.width, True, most, least) for group in groups]
    fitting = [cap for cap in caps if cap is not None]
    if len(fitting) < len(groups):
        return [], _pen(room)
    pen = _pen(room)
    lines = [pen.put(group, min(fitting), bold=True) for group in groups]
    if not pen.fits():
        return [], _pen(room)
    pen.y += 2 * LINE_GAP
    return lines, pen


def problems_of(layout: Layout) -> Iterator[str]:
    """What is wrong with a layout, by geometry: overlaps, texts off the label, too small, quiet zones broken."""
    medium = layout.medium
    page = Box(left=0, top=0, width=medium.width_dots, height=medium.height_dots)
    least = medium.dots_up(MIN_CAP_UM)
    for line in layout.texts:
        box = line.box
        if line.cap < least:
            yield f"{line.text!r} is under 2 mm"
        if not box.within(page):
            yield f"{line.text!r} leaves the label"
        if line.white and not any(box.within(bar) for bar in layout.bars):
            yield f"{line.text!r} is white on white"
    solid = [(line.text, line.box) for line in layout.texts if not line.white]
    # A code's box holds its quiet zone, so anything that overlaps the box breaks the quiet zone.
    solid += [(code.name, code.box) for code in layout.codes] + [("bar", bar) for bar in layout.bars]
    for number, (name, box) in enumerate(solid):
        for other_name, other in solid[number + 1 :]:
            if box.overlaps(other):
                yield f"{name!r} and {other_name!r} overlap"
    for code in layout.codes:
        if not code.box.within(page):
            yield f"{code.name} leaves the label"
        if {code.box.width, code.box.height} != {(code.symbol.modules + 2 * QUIET_MODULES) * code.dots}:
            yield f"{code.name} has no quiet zone of four modules"
