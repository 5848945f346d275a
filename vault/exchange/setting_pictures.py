"""Each kind of setting drawn by itself, as wide as it is told: the switch, dial, place, resistor or table as it will stand."""

from __future__ import annotations

import math
from collections.abc import Sequence

from vault.domain.pictures import Dials, Figures, Places, Resistor, Switches
from vault.exchange.canvas import Drawing, text_width, wrapped
from vault.exchange.setting_block import GAP, Sizes, TooWide, block

QUIET = 90  # the grey of what is not to be touched: still plain on a laser print
LEAST_PITCH = 20.0  # below it the words ON and OFF under neighbouring switches touch


def listed(items: Sequence[object]) -> str:
    """ "1, 2 and 5"."""
    names = [str(item) for item in items]
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def _arrow(drawing: Drawing, x: float, y: float, length: float, breadth: float, *, down: bool) -> None:
    """An upright arrow, its middle at (x, y)."""
    tip, tail = (y + length / 2, y - length / 2) if down else (y - length / 2, y + length / 2)
    neck = tip + (-breadth if down else breadth) * 1.5
    drawing.line((x, tail), (x, neck), width=2.4)
    drawing.polygon((x, tip), (x - breadth / 2, neck), (x + breadth / 2, neck), fill=0)


def draw_switches(picture: Switches, width: float, sizes: Sizes) -> Drawing:
    """A bank as it looks when set: black levers, ON side named; no lever where the ON side is not known.

    Raises TooWide.
    """
    made = block(width, sizes, picture.caption)
    if picture.on_is_down is None:
        made.note("The driver model does not say which way ON is: look for the word ON beside the switches, then go by "
                  "the words below.")
        made.y += GAP
    states: dict[int, bool | None] = dict(zip(picture.numbers, picture.on, strict=True))
    states |= dict.fromkeys(picture.off_limits)
    numbers = picture.numbers
    if not set(picture.off_limits) <= set(numbers):
        numbers = tuple(sorted(states, reverse=numbers[0] > numbers[-1]))
    side = 0.0 if picture.on_is_down is None else text_width("OFF", sizes.words * 1.2, True) + sizes.words + 3 * GAP
    pitch = min(sizes.figure * 2, (width - side) / len(numbers))
    if pitch < max(LEAST_PITCH, text_width("OFF", sizes.words, True) + 4):
        raise TooWide
    top, height, slot = made.y, sizes.figure * 2.6, pitch * 0.6
    made.drawing.frame(side, top, pitch * len(numbers), height, stroke=1.6)
    number_size = sizes.figure if text_width(str(max(numbers)), sizes.figure, True) < pitch - 4 else sizes.words
    # Without levers the words are the setting, and as large as there is room for.
    word_size = sizes.words
    if picture.on_is_down is None:
        room = sizes.words * (pitch - 9) / text_width("OFF", sizes.words, True)
        word_size = max(sizes.words, min(sizes.figure, room))
    for place, number in enumerate(numbers):
        middle = side + pitch * (place + 0.5)
        _slot(made.drawing, middle - slot / 2, top + GAP, slot, height - 2 * GAP, states[number], picture.on_is_down)
        quiet = states[number] is None
        made.drawing.text((middle, top + height + number_size), str(number), size=number_size, anchor="middle",
                          bold=not quiet, grey=QUIET if quiet else 0)
        if states[number] is not None:
            made.drawing.text((middle, top + height + number_size + word_size * 1.2), "ON" if states[number] else "OFF",
                              size=word_size, anchor="middle", bold=bool(states[number]))
    if picture.on_is_down is not None:
        _sides(made.drawing, side, top, height, sizes, down=picture.on_is_down)
    made.y = top + height + number_size + word_size * 1.6
    if picture.off_limits:
        many = len(picture.off_limits) > 1
        made.note(f"Crossed out: leave switch{'es' if many else ''} {listed(picture.off_limits)} as "
                  f"{'they are' if many else 'it is'}.")
    made.result(picture.gives)
    return made.done()


def _slot(drawing: Drawing, x: float, y: float, width: float, height: float, state: bool | None, down: bool | None) -> None:
    if state is None:
        drawing.rectangle(x, y, width, height, fill=235)
        drawing.frame(x, y, width, height, grey=QUIET)
        drawing.line((x, y), (x + width, y + height), width=1.6, grey=QUIET)
        drawing.line((x + width, y), (x, y + height), width=1.6, grey=QUIET)
        return
    drawing.frame(x, y, width, height)
    if down is not None:
        # ON is down and the switch is on, or ON is up and it is off: the lever stands low.
        low = state == down
        drawing.rectangle(x + 2, y + height / 2 if low else y + 2, width - 4, height / 2 - 2, fill=0)


def _sides(drawing: Drawing, side: float, top: float, height: float, sizes: Sizes, *, down: bool) -> None:
    size = sizes.words * 1.2
    high_line, low_line = top + GAP + size * 0.8, top + height - GAP
    right = side - 2 * GAP - sizes.words * 0.8
    drawing.text((right, low_line if down else high_line), "ON", size=size, anchor="end", bold=True)
    drawing.text((right, high_line if down else low_line), "OFF", size=size, anchor="end", grey=QUIET)
    _arrow(drawing, side - GAP - sizes.words * 0.4, top + height / 2, height * 0.8, sizes.words * 0.8, down=down)


def draw_dials(picture: Dials, width: float, sizes: Sizes) -> Drawing:
    """Dials with every mark, the chosen one white on black and pointed at, its digit large below. Raises TooWide."""
    made = block(width, sizes, picture.caption)
    broadest = max(text_width(mark, sizes.words, True) for mark in picture.marks)
    disc = max(broadest, sizes.words) * 0.72
    ring = max(len(picture.marks) * (disc * 2 + 2) / math.tau, sizes.words * 3)
    cell = 2 * (ring + disc) + 2 * GAP
    if cell * len(picture.digits) > width:
        raise TooWide
    several = len(picture.digits) > 1
    centre_y = made.y + ring + disc + GAP / 2
    for place, digit in enumerate(picture.digits):
        x = cell * (place + 0.5)
        _dial(made.drawing, (x, centre_y), ring, disc, picture.marks, digit, sizes.words)
        y = centre_y + ring + disc + sizes.figure
        made.drawing.text((x, y), digit, size=sizes.figure, anchor="middle", bold=True)
        if several:
            made.drawing.text((x, y + sizes.words * 1.25), f"dial {place + 1}", size=sizes.words, anchor="middle")
    made.y = centre_y + ring + disc + sizes.figure + sizes.words * (1.7 if several else 0.6)
    made.note(("Dial 1 is the highest digit. " if several else "") + "Go by the marks on the dial, not by the angle drawn.")
    made.result(picture.gives)
    return made.done()


def _dial(drawing: Drawing, centre: tuple[float, float], ring: float, disc: float, marks: Sequence[str], digit: str,
          size: float) -> None:
    def at(turn: float, radius: float) -> tuple[float, float]:
        return centre[0] + radius * math.sin(turn * math.tau), centre[1] - radius * math.cos(turn * math.tau)

    body = ring - disc - 2
    drawing.line(*(at(step / 60, body) for step in range(61)), width=1.6)
    for number, mark in enumerate(marks):
        x, y = at(number / len(marks), ring)
        chosen = mark == digit
        if chosen:
            drawing.circle((x, y), disc)
        drawing.text((x, y + size * 0.34), mark, size=size, anchor="middle", bold=chosen, grey=255 if chosen else 0)
    turn = marks.index(digit) / len(marks)
    drawing.line(at(turn + 0.5, body * 0.75), at(turn, body * 0.5), width=4)
    drawing.polygon(at(turn, body * 0.95), at(turn - 0.09, body * 0.5), at(turn + 0.09, body * 0.5), fill=0)


def draw_places(picture: Places, width: float, sizes: Sizes) -> Drawing:
    """Boxes, the chosen one filled: a jumper's places with their two pins, or plugs by their marks. Raises TooWide."""
    made = block(width, sizes, picture.caption)
    cell = max(text_width(mark, sizes.figure, True) for mark in picture.marks) + 3 * GAP
    cell = max(cell, sizes.figure * 2)
    columns = int(width // (cell + GAP))
    if columns < 1:
        raise TooWide
    pins = 0.0 if picture.plug else sizes.figure
    height = pins + sizes.figure * 1.5
    for place, mark in enumerate(picture.marks):
        x = (cell + GAP) * (place % columns)
        y = made.y + (height + GAP) * (place // columns)
        chosen = mark == picture.chosen
        if chosen:
            made.drawing.rectangle(x, y, cell, height, fill=0)
        made.drawing.frame(x, y, cell, height, stroke=1.2)
        if not picture.plug:
            for pin in (-1, 1):
                made.drawing.circle((x + cell / 2 + pin * sizes.figure * 0.45, y + sizes.figure * 0.75), sizes.figure * 0.17)
            if chosen:
                middle = (x + cell / 2, y + sizes.figure * 0.75)
                made.drawing.line((middle[0] - sizes.figure * 0.45, middle[1]), (middle[0] + sizes.figure * 0.45, middle[1]),
                                  width=sizes.figure * 0.2, grey=255)
        made.drawing.text((x + cell / 2, y + height - sizes.figure * 0.42), mark, size=sizes.figure, anchor="middle",
                          bold=chosen, grey=255 if chosen else 0)
    made.y += (height + GAP) * math.ceil(len(picture.marks) / columns) + GAP / 2
    made.note(f"Fit the plug marked {picture.chosen}, no other." if picture.plug else
              f"Jumper on the place marked {picture.chosen}, none elsewhere.")
    made.result(picture.gives)
    return made.done()


def draw_resistor(picture: Resistor, width: float, sizes: Sizes) -> Drawing:
    """The value in the largest type; a resistor whose bands are named in words, in their order. Raises TooWide."""
    made = block(width, sizes, picture.caption)
    made.say(picture.ohms_words, sizes.figure * 1.5, bold=True)
    if picture.bands:
        made.y += GAP
        pitch = max(text_width(name, sizes.words, True) for name in picture.bands) + 8
        lead, height = sizes.words * 1.5, sizes.figure * 1.3
        body = pitch * len(picture.bands)
        if 2 * lead + body > width:
            raise TooWide
        top = made.y + sizes.words * 1.2
        made.drawing.line((0, top + height / 2), (lead, top + height / 2), width=2.5)
        made.drawing.line((lead + body, top + height / 2), (2 * lead + body, top + height / 2), width=2.5)
        made.drawing.frame(lead, top, body, height, stroke=1.6)
        for place, name in enumerate(picture.bands):
            x = lead + pitch * (place + 0.5)
            made.drawing.text((x, top - 4), str(place + 1), size=sizes.words, anchor="middle")
            made.drawing.rectangle(x - 5, top, 10, height, fill=205)
            made.drawing.frame(x - 5, top, 10, height)
            made.drawing.text((x, top + height + sizes.words * 1.15), name, size=sizes.words, anchor="middle", bold=True)
        made.y = top + height + sizes.words * 1.6
        made.note("Colours of the bands, the tolerance last. Measure the resistor before it goes in.")
    made.result(picture.gives)
    return made.done()


def draw_figures(picture: Figures, width: float, sizes: Sizes) -> Drawing:
    """A table of settings, each value in large type; long ones run over lines."""
    made = block(width, sizes, picture.caption)
    split = width * 0.46
    made.drawing.line((0, made.y), (width, made.y), width=1.2)
    for name, value in picture.rows:
        names = wrapped(name, sizes.words, split - GAP)
        values = wrapped(value, sizes.figure, width - split, True)
        # A short name shares the value's first base line; a longer one starts higher.
        first, pitch = made.y + sizes.figure, sizes.words * 1.2
        start = max(first - pitch * (len(names) - 1), made.y + sizes.words * 1.1)
        for number, line in enumerate(names):
            made.drawing.text((0, start + pitch * number), line, size=sizes.words)
        for number, line in enumerate(values):
            made.drawing.text((split, first + sizes.figure * 1.2 * number), line, size=sizes.figure, bold=True)
        last = max(first + sizes.figure * 1.2 * (len(values) - 1), start + pitch * (len(names) - 1), first)
        made.y = last + sizes.figure * 0.32
        made.drawing.line((0, made.y), (width, made.y), width=0.6, grey=QUIET)
    made.y += 2
    return made.done()
