"""Where everything stands on a label, computed in whole dots from the top left corner."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from labels.code import QUIET_MODULES, Symbol, make_symbol
from labels.content import BigFigure, LabelContent
from labels.errors import LabelError
from labels.fonts import size_for_cap, text_width
from labels.media import MIN_CAP_UM, Medium
from labels.typeset import largest_cap, wrap

NOT_CARRIED = "Settings not in this code: look the tag up"
LARGEST_CAP_UM = 5_200
SMALLEST_FIGURE_UM = 2_200
LINK_TAG_CAP_UM = 3_000
GAP_UM = 400


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


@dataclass(frozen=True, slots=True, kw_only=True)
class CodeBox:
    """A code with its quiet zone: `box` is both together."""

    name: str
    box: Box
    symbol: Symbol
    dots: int


@dataclass(frozen=True, slots=True, kw_only=True)
class TextLine:
    """One line of text. top: upper edge of its capitals; size: of the font; white: on a black bar."""

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
        """What it covers, with room for letters that reach below the line."""
        return Box(left=self.left, top=self.top, width=int(text_width(self.text, self.bold, self.size)) + 1,
                   height=self.cap + -(-self.cap // 4))


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
    """Writes lines downwards inside a box."""

    box: Box
    line_gap: int
    y: int

    def put(self, text: str, cap: int, *, bold: bool = False) -> TextLine:
        line = TextLine(text=text, left=self.box.left, top=self.y, cap=cap, bold=bold)
        self.y += cap + self.line_gap
        return line


def _pen(box: Box, cap: int) -> _Pen:
    # Letters reach a quarter of a capital below the line.
    return _Pen(box, line_gap=-(-cap // 4) + 2, y=box.top)


def _figure(pen: _Pen, figure: BigFigure, most: int, least: int) -> list[TextLine]:
    width = pen.box.width
    lines = [pen.put(line, least) for line in wrap(figure.caption, width, False, size_for_cap(least, False))]
    cap = largest_cap(figure.value, width, True, most, least)
    pen.line_gap = -(-(cap or least) // 4) + 2
    broken = [figure.value] if cap else wrap(figure.value, width, True, size_for_cap(least, True))
    lines += [pen.put(line, cap or least, bold=True) for line in broken]
    pen.line_gap = -(-least // 4) + 2
    return lines


def _figures(box: Box, content: LabelContent, cap: int, least: int) -> tuple[list[TextLine], _Pen] | None:
    """The big figures with capitals of `cap` dots where their width allows, or None when they do not fit the box."""
    pen = _pen(box, least)
    lines = [line for figure in content.big for line in _figure(pen, figure, cap, least)]
    pen.y += 2
    return None if lines and lines[-1].box.bottom > box.bottom else (lines, pen)


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
            broken = wrap(text, pen.box.width, False, size)
            if pen.y + (len(broken) - 1) * (cap + pen.line_gap) + cap + -(-cap // 4) <= pen.box.bottom:
                choices.append((len(broken), pen.box.width, broken, pen))
        if choices:
            _, _, broken, pen = min(choices, key=lambda choice: choice[:2])
            done += [pen.put(line, cap) for line in broken]
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
        bars = [bar]
        upper = Box(left=upper.left, top=bar.bottom + gap, width=upper.width, height=upper.bottom - bar.bottom - gap)
    tag_most = medium.dots(LARGEST_CAP_UM if capsule else LINK_TAG_CAP_UM)
    tag_lines, after_tag = _tag(content.tag_shown, beside, tag_most, least)
    if not tag_lines:
        lines = (content.tag_shown, *lines)
    under = None if capsule is None else Box(left=margin, top=capsule.box.bottom, width=split - margin,
                                             height=height - margin - capsule.box.bottom)
    tried = None
    for cap in range(medium.dots(LARGEST_CAP_UM), medium.dots(SMALLEST_FIGURE_UM) - 1, -1):
        placed = _figures(upper, content, cap, least)
        if placed is None:
            continue
        figures, after = placed
        pens = [_Pen(after_tag.box, after_tag.line_gap, after_tag.y), after]
        pens += [_pen(under, least)] if under else []
        small, left_off = _flow(lines, pens, least)
        if tried is None or len(left_off) < len(tried[2]):
            tried = figures, small, left_off
        if not left_off:
            break
    if tried is None:
        raise LabelError("The large figures find no room on this label.", kind="too-big",
                         hint="Use a larger label, or shorter texts.")
    figures, small, left_off = tried
    codes = tuple(code for code in (capsule, link) if code is not None)
    return Layout(medium=medium, codes=codes, texts=(*texts, *figures, *tag_lines, *small), bars=tuple(bars),
                  left_off=tuple(left_off), carries_settings=capsule is not None)


def _banner(text: str, room: Box, least: int, gap: int) -> tuple[Box, list[TextLine]]:
    inner = Box(left=room.left + gap, top=room.top + gap, width=room.width - 2 * gap, height=room.height)
    pen = _pen(inner, least)
    broken = wrap(text, inner.width, True, size_for_cap(least, True))
    words = [TextLine(text=line.text, left=line.left, top=line.top, cap=line.cap, bold=True, white=True)
             for line in (pen.put(one, least, bold=True) for one in broken)]
    return Box(left=room.left, top=room.top, width=room.width, height=words[-1].box.bottom + gap - room.top), words


def _tag(shown: str, room: Box, most: int, least: int) -> tuple[list[TextLine], _Pen]:
    """The tag in one line where that is large enough, else a group a line; no line where the box is too narrow."""
    small_gap = -(-least // 4) + 2
    one = largest_cap(shown, room.width, True, most, least)
    groups = [shown] if one is not None else shown.split()
    caps = [largest_cap(group, room.width, True, most, least) for group in groups]
    fitting = [cap for cap in caps if cap is not None]
    if len(fitting) < len(groups):
        return [], _Pen(room, line_gap=small_gap, y=room.top)
    pen = _pen(room, min(fitting))
    lines = [pen.put(group, min(fitting), bold=True) for group in groups]
    return lines, _Pen(room, line_gap=small_gap, y=pen.y + 4)


def problems_of(layout: Layout) -> Iterator[str]:
    """What is wrong with a layout, by geometry: overlaps, texts outside the margins, too small, quiet zones broken."""
    medium = layout.medium
    page = Box(left=0, top=0, width=medium.width_dots, height=medium.height_dots)
    least = medium.dots_up(MIN_CAP_UM)
    for line in layout.texts:
        box = line.box
        if line.cap < least:
            yield f"{line.text!r} is under 2 mm"
        if box.left < 0 or box.top < 0 or box.right > page.right or box.bottom > page.bottom:
            yield f"{line.text!r} leaves the label"
    solid = [(line.text, line.box) for line in layout.texts if not line.white]
    # A code's box holds its quiet zone, so anything that overlaps the box breaks the quiet zone.
    solid += [(code.name, code.box) for code in layout.codes] + [("bar", bar) for bar in layout.bars]
    for number, (name, box) in enumerate(solid):
        for other_name, other in solid[number + 1 :]:
            if box.overlaps(other):
                yield f"{name!r} and {other_name!r} overlap"
    for code in layout.codes:
        if code.box.right > page.right or code.box.bottom > page.bottom:
            yield f"{code.name} leaves the label"
