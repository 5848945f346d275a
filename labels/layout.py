"""Where everything stands on a label, computed in whole dots from the top left corner."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import NamedTuple

from labels.boxes import Box, CodeBox, Layout, TextLine
from labels.code import QUIET_MODULES, Symbol, make_symbol
from labels.content import BigFigure, LabelContent
from labels.errors import LabelError
from labels.figures import place_figures
from labels.fonts import size_for_cap, text_width
from labels.media import MEDIA, MIN_CAP_UM, Medium, cap_um_for
from labels.typeset import largest_cap
from labels.zones import BESIDE, GAP_UM, STRIP, UPPER, Pen, code_edge, zones_of

NOT_CARRIED = "Settings not in this code: look the tag up"
# The first figure is read from 1.7 m where there is room for that, the tag from 1.2 m and never less than 0.8 m.
LARGEST_CAP_UM, STEP_UM = cap_um_for(1_700), 200
TAG_CAP_UM, TAG_CAP_LEAST_UM = cap_um_for(1_200), cap_um_for(800)

# Lines that were set, the zones' pens below them, and whether no word was broken.
Placed = tuple[list[TextLine], dict[str, Pen], bool]
# A small text, the zones that it is offered in turn, and whether it must stand on the label.
Small = tuple[str, tuple[str, ...], bool]
FIGURES_FIRST, MARKS_FIRST, DIGEST_FIRST = (UPPER, BESIDE, STRIP), (BESIDE, STRIP, UPPER), (STRIP, BESIDE, UPPER)


def lay_out(content: LabelContent, medium: Medium) -> Layout:
    """Place both codes in opposite corners and every text in what is left.

    The tag, the digest and the marks stand first, each in its own zone; then the large figures, as large as leaves room
    for all lines. Lines that still find none are left off from the end and named. The capsule's modules get smaller only
    where something would be left off otherwise. Raises LabelError (too-big) when what must stand finds no room, naming
    the sizes that would do.
    """
    try:
        return _best(content, medium)
    except LabelError as problem:
        if problem.kind != "too-big":
            raise
        raise LabelError(problem.what, hint=_sizes_that_do(content, medium), kind="too-big") from problem


def _best(content: LabelContent, medium: Medium) -> Layout:
    dots = medium.module_dots
    sizes: list[int | None] = list(range(dots.capsule, dots.capsule_least - 1, -1)) if content.capsule_text else [None]
    if content.capsule_text and content.capsule_optional:
        sizes.append(None)
    best: Layout | None = None
    refusal: LabelError | None = None
    for capsule_dots in sizes:
        if best is not None and capsule_dots is None:
            break
        try:
            found = _with_codes(content, medium, capsule_dots)
        except LabelError as problem:
            if problem.kind != "too-big":
                raise
            refusal = refusal or problem
            continue
        if not found.left_off:
            return found
        best = found if best is None or len(found.left_off) < len(best.left_off) else best
    if best is None:
        assert refusal is not None  # the loop ran at least once and found nothing
        raise refusal
    return best


def _sizes_that_do(content: LabelContent, medium: Medium) -> str:
    names = []
    for other in MEDIA.values():
        try:
            if (other.width_um, other.height_um) != (medium.width_um, medium.height_um):
                _best(content, replace(other, dpi=medium.dpi))
                names.append(other.name)
        except LabelError:
            continue
    if names:
        return f"It finds room on: {', '.join(names)}."
    return "No size has room for it."


def _code(name: str, symbol: Symbol, dots: int, left: int, top: int) -> CodeBox:
    side = (symbol.modules + 2 * QUIET_MODULES) * dots
    return CodeBox(name=name, box=Box(left=left, top=top, width=side, height=side), symbol=symbol, dots=dots)


def _version_that_fits(side_dots: int, dots: int) -> int:
    return (side_dots // dots - 2 * QUIET_MODULES - 17) // 4


def _with_codes(content: LabelContent, medium: Medium, capsule_dots: int | None) -> Layout:
    edge, link_dots = code_edge(medium), medium.module_dots.link
    height = medium.height_dots - 2 * edge
    symbol = make_symbol(content.link_text, level=medium.link_level, max_version=_version_that_fits(height, link_dots))
    side = (symbol.modules + 2 * QUIET_MODULES) * link_dots
    link = _code("link", symbol, link_dots, medium.width_dots - edge - side, medium.height_dots - edge - side)
    capsule = None
    if capsule_dots is not None and content.capsule_text is not None:
        room = min(height, link.box.left - edge)
        symbol = make_symbol(content.capsule_text, level="M", max_version=_version_that_fits(room, capsule_dots))
        capsule = _code("capsule", symbol, capsule_dots, edge, edge)
    return _with_texts(content, medium, capsule, link)


def _with_texts(content: LabelContent, medium: Medium, capsule: CodeBox | None, link: CodeBox) -> Layout:
    lines = content.lines
    if content.capsule_text is not None and capsule is None:
        lines = (NOT_CARRIED, *lines)
    required = len(lines) - len(content.lines) + (0 if medium.sparse else content.must)
    zones = zones_of(medium, capsule, link)
    least = medium.dots_up(MIN_CAP_UM)
    # Small print as large as the size asks for, then as small as may be, then a smaller tag as well.
    tries = [(medium.dots_up(medium.text_um), medium.dots(TAG_CAP_UM)), (least, medium.dots(TAG_CAP_UM)),
             (least, medium.dots(TAG_CAP_LEAST_UM))]
    best: _Texts | None = None
    refusal: LabelError | None = None
    for small, tag in dict.fromkeys(tries):
        try:
            found = _texts(content, medium, zones, lines, required, small, tag)
        except LabelError as problem:
            refusal = problem
            continue
        if best is None or _worse(found) < _worse(best):
            best = found
        if _worse(best) == (0, 0):
            break
    if best is None:
        assert refusal is not None  # every try was refused
        raise refusal
    codes = tuple(code for code in (capsule, link) if code is not None)
    return Layout(medium=medium, codes=codes, texts=tuple(best.lines), bars=best.bars, left_off=tuple(best.left_off),
                  carries_settings=capsule is not None)


def _texts(content: LabelContent, medium: Medium, zones: Mapping[str, Box], lines: Sequence[str], required: int,
           least: int, tag: int) -> _Texts:
    bars, warning, pens = _banner(content.banner, medium, zones, least)
    first, later = _small_texts(content, medium, pens, lines, required, least)
    heading = _heading(content.tag_shown, first, pens, tag, least)
    if heading is None:
        raise LabelError("The tag, its digest and its version find no room on this label.", kind="too-big")
    fixed, pens = heading
    best = _figures_and_lines(content.big, later, pens, least, least)
    if best is None:
        raise LabelError("The large figures and the place find no room on this label.", kind="too-big")
    # The largest figures that leave off no line that small figures leave room for, in steps that nobody sees.
    step = medium.dots_up(STEP_UM)
    fits, over = 0, (medium.dots(LARGEST_CAP_UM) - least) // step + 1
    while over - fits > 1:
        middle = (fits + over) // 2
        tried = _figures_and_lines(content.big, later, pens, least + middle * step, least)
        if tried is not None and _worse(tried) <= _worse(best):
            fits, best = middle, tried
        else:
            over = middle
    texts, now = best.texts, best.pens
    for text in content.extras:
        spot = _into_first(text, FIGURES_FIRST, now, least)
        if spot is not None and len(spot[0]) == 1:
            written, now, _ = spot
            texts = texts + written
    return _Texts(bars, [*warning, *fixed, *texts], best.left_off, best.broken)


class _Texts(NamedTuple):
    """All texts of a label, and how many of the small ones had to be broken within a word."""

    bars: tuple[Box, ...]
    lines: list[TextLine]
    left_off: list[str]
    broken: int


class _Flowed(NamedTuple):
    """The figures and the small texts behind them, with the pens below."""

    texts: list[TextLine]
    left_off: list[str]
    broken: int
    pens: dict[str, Pen]


def _worse(found: _Texts | _Flowed) -> tuple[int, int]:
    """The less the better: lines left off, then words broken."""
    return len(found.left_off), found.broken


def _banner(text: str | None, medium: Medium, zones: Mapping[str, Box],
            least: int) -> tuple[tuple[Box, ...], list[TextLine], dict[str, Pen]]:
    pens = {name: Pen.at_top(box) for name, box in zones.items()}
    if text is None:
        return (), [], pens
    gap, room = medium.dots(GAP_UM), zones[UPPER]
    inner = Box(left=room.left + gap, top=room.top + gap, width=room.width - 2 * gap, height=room.height - 2 * gap)
    written = Pen.at_top(inner).paragraph(text, least, bold=True, white=True)
    if written is None:
        raise LabelError("The warning finds no room on this label.", kind="too-big")
    bottom = max(line.box.bottom for line in written.lines) + gap
    bar = Box(left=room.left, top=room.top, width=room.width, height=bottom - room.top)
    pens[UPPER] = Pen(room, bottom + gap, bottom)
    return (bar,), written.lines, pens


def _small_texts(content: LabelContent, medium: Medium, pens: Mapping[str, Pen], lines: Sequence[str], required: int,
                 least: int) -> tuple[list[Small], list[Small]]:
    """The small texts that stand before the large figures are set, and those that take what room these leave."""
    digest, marks = content.digest, list(content.marks)
    first: list[Small] = []
    if digest and marks and _one_line(f"{marks[0]}  {digest}", pens[STRIP], least):
        # Version and digest are read out together, so they stand together where that is one line.
        first.append((f"{marks.pop(0)}  {digest}", (STRIP,), True))
        digest = ""
    elif marks:
        first.append((marks.pop(0), MARKS_FIRST, True))
    if digest and not medium.sparse:
        first.append((digest, DIGEST_FIRST, True))
        digest = ""
    later: list[Small] = [(line, FIGURES_FIRST, True) for line in lines[:required]]
    later += [(mark, MARKS_FIRST, False) for mark in marks]
    later += [(digest, DIGEST_FIRST, False)] if digest else []
    later += [(line, FIGURES_FIRST, False) for line in lines[required:]]
    return first, later


def _heading(shown: str, texts: Sequence[Small], pens: Mapping[str, Pen], tag: int,
             least: int) -> tuple[list[TextLine], dict[str, Pen]] | None:
    """The tag and the small texts that go with it; None where one of them finds no room."""
    under = _line_height(least) if any(STRIP in order[:1] for _, order, _ in texts) else 0
    placed = _tag(shown, pens, tag, least, under)
    if placed is None:
        return None
    done, now, _ = placed
    for text, order, _ in texts:
        spot = _into_first(text, order, now, least)
        if spot is None:
            return None
        written, now, _ = spot
        done = done + written
    return done, now


def _line_height(cap: int) -> int:
    return cap + cap // 2


def _one_line(text: str, pen: Pen, cap: int) -> bool:
    return text_width(text, False, size_for_cap(cap, False)) <= pen.box.width and pen.left_over >= 2 * _line_height(cap)


def _tag(shown: str, pens: Mapping[str, Pen], most: int, least: int, under: int) -> Placed | None:
    """The tag in one line where there is a zone for that, else a group a line."""
    for name in (STRIP, UPPER, BESIDE):
        pen = pens[name]
        # A quarter of a capital is kept for what letters reach below the line.
        highest = (pen.left_over - (under if name == STRIP else 0)) * 4 // 5
        cap = largest_cap(shown, pen.box.width, True, min(most, highest), least)
        written = pen.paragraph(shown, cap, bold=True) if cap else None
        if written:
            return written.lines, {**pens, name: written.pen}, written.whole
    return _into_first(shown, (BESIDE, UPPER), pens, least, bold=True)


def _into_first(text: str, order: Sequence[str], pens: Mapping[str, Pen], least: int, bold: bool = False) -> Placed | None:
    """A text in the first zone that takes it without breaking a word, else in the first that takes it at all."""
    broken: Placed | None = None
    for name in order:
        written = pens[name].paragraph(text, least, bold=bold)
        if written is None:
            continue
        placed = written.lines, {**pens, name: written.pen}, written.whole
        if written.whole:
            return placed
        broken = broken or placed
    return broken


def _figures_and_lines(figures: Sequence[BigFigure], texts: Sequence[Small], pens: Mapping[str, Pen], cap: int,
                       least: int) -> _Flowed | None:
    """The figures with capitals of `cap` dots and every text that finds room; None when one that must stand does not."""
    placed = place_figures(pens, figures, cap, least)
    if placed is None:
        return None
    done, now = placed
    left_off: list[str] = []
    broken = 0
    for text, order, required in texts:
        spot = _into_first(text, order, now, least)
        if spot is not None:
            written, now, whole = spot
            done, broken = done + written, broken + (not whole)
        elif required:
            return None
        else:
            left_off.append(text)
    return _Flowed(done, left_off, broken, now)
