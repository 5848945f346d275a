"""Where everything stands on a label, computed in whole dots from the top left corner."""

from __future__ import annotations

from dataclasses import dataclass, replace

from labels.boxes import Box, CodeBox, Layout, TextLine
from labels.code import QUIET_MODULES, Symbol, make_symbol
from labels.content import BigFigure, LabelContent
from labels.errors import LabelError
from labels.fonts import ink, size_for_cap, text_width
from labels.media import MIN_CAP_UM, Medium
from labels.typeset import largest_cap, wrap

NOT_CARRIED = "Settings not in this code: look the tag up"
LARGEST_CAP_UM = 5_200
SMALLEST_FIGURE_UM = 2_000
LINK_TAG_CAP_UM = 3_000
GAP_UM = 400
LINE_GAP = 2  # dots more than the quarter of a capital that most letters reach below the line


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


def lay_out(content: LabelContent, medium: Medium) -> Layout:
    """Place both codes in opposite corners and every text in what is left.

    The large figures give way, down to SMALLEST_FIGURE_UM, until every line finds room; lines that still find none
    are left off from the end and named, but never the first `must` lines, the tag or the large figures. Where those find
    no room beside the capsule its modules get smaller, down to capsule_dots_least; then the label bears the link alone
    and says so. Raises LabelError (too-big) when even that is too much.
    """
    sizes = range(medium.module_dots.capsule, medium.module_dots.capsule_least - 1, -1) if content.capsule_text is not None else ()
    for capsule_dots in sizes:
        try:
            return _lay_out(content, medium, capsule_dots)
        except LabelError as problem:
            if problem.kind != "too-big":
                raise
    return _lay_out(content, medium, None)


def _lay_out(content: LabelContent, medium: Medium, capsule_dots: int | None) -> Layout:
    width, height = medium.width_dots, medium.height_dots
    margin, gap, least = medium.dots(medium.margin_um), medium.dots(GAP_UM), medium.dots_up(MIN_CAP_UM)
    link_symbol = make_symbol(content.link_text, level="Q", max_version=_version_that_fits(height, medium.module_dots.link))
    link = _code("link", link_symbol, medium.module_dots.link, 0, 0)
    link = _code("link", link_symbol, medium.module_dots.link, width - link.box.width, height - link.box.height)
    # The capsule leaves room for two small lines under it and for the figures beside it.
    capsule, lines = None, content.lines
    if capsule_dots is not None and content.capsule_text is not None:
        room = min(height - margin - 2 * least, width - link.box.width)
        symbol = make_symbol(content.capsule_text, level="M", max_version=_version_that_fits(room, capsule_dots))
        capsule = _code("capsule", symbol, capsule_dots, 0, 0)
    elif content.capsule_text is not None:
        lines = (NOT_CARRIED, *lines)
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
    required = lines[: len(lines) - len(content.lines) + content.must]
    under = None if capsule is None else Box(left=margin, top=capsule.box.bottom, width=split - margin - gap,
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
