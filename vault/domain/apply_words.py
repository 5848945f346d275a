"""A position of switches, a rotary switch, a jumper or plugs in words."""

from __future__ import annotations

from collections.abc import Collection

from vault.domain.means import Means, Way
from vault.domain.positions import listed, on_words, rotary_digits, switches_drawn


def means_words(means: Means) -> str:
    """ "rotary switch RS1", as a technician looks for it on the driver."""
    named = {Way.SWITCHES: "switches", Way.ROTARY: "rotary switch", Way.PLUG: "coded plug",
             Way.JUMPER: "jumper", Way.RESISTOR: "set resistor"}[means.way]
    return f"{named} {means.bank}" if means.bank is not None else named


def position_words(means: Means, position: int) -> tuple[str, list[str]]:
    """(what to do, lines about it) for a position of a means set by hand."""
    if means.way is Way.SWITCHES:
        return _switches(means, position)
    mark = means.mark(position)
    if means.way is Way.ROTARY:
        return _rotary(means, position, mark), []
    if means.way is Way.PLUG:
        return (f"Fit the coded plug marked {mark}." if mark is not None else f"Fit coded plug {position}."), []
    named = means_words(means)
    return (f"Put the {named} on the place marked {mark}." if mark is not None
            else f"Put the {named} at position {position}."), []


def _switches(means: Means, position: int) -> tuple[str, list[str]]:
    states, named = means.states(position), means_words(means)
    if states is None:
        return f"Set the {named} to position {position}, as the table on the driver draws it.", []
    lines = [on_words(means.on_is_down)]
    left = others_left(means, means.numbers)
    if len(left) == 1:
        lines.append(f"Switch {left[0]} of this bank means something else: this step leaves it as it is.")
    elif left:
        lines.append(f"Switches {listed(left)} of this bank mean something else: this step leaves them as they are.")
    pairs = sorted(zip(means.numbers, states, strict=True))
    return (f"Set the {named}: "
            f"{switches_drawn([is_on for _, is_on in pairs], [number for number, _ in pairs])}"), lines


def others_left(means: Means, used: Collection[int]) -> tuple[int, ...]:
    """Printed numbers of the switches of the bank that are none of those used."""
    return tuple(number for number in range(1, (means.bank_size or 0) + 1) if number not in used)


def dial_marks(means: Means, position: int) -> tuple[tuple[str, ...], tuple[str, ...]] | None:
    """(mark for each dial, every mark round a dial) of a rotary; None where the dials cannot show the position."""
    mark = means.mark(position)
    if means.dials == 1 and mark is not None and means.marks:
        return (mark,), tuple(means.marks.split())
    digits = rotary_digits(position, hexadecimal=bool(means.hexadecimal), dials=means.dials)
    if digits is None:
        return None
    return digits, tuple(f"{place:X}" for place in range(means.base))


def _rotary(means: Means, position: int, mark: str | None) -> str:
    shown, named = dial_marks(means, position), means_words(means)
    if shown is None:
        return f"Set the {named} to position {position}, as the table on the driver shows it."
    digits, marks = shown
    kind = f"{'hexadecimal' if means.hexadecimal else 'decimal'} marks" if mark is None else f"marks {marks[0]} to {marks[-1]}"
    if len(digits) == 1:
        return f"Turn the {named} to {digits[0]} ({kind})."
    return f"Turn the {named.replace('switch', 'switches', 1)} to {' '.join(digits)}, the highest digit first ({kind})."
