"""Switches, rotary switches and jumpers: which position, and how it is drawn in plain text."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import product


def nearest_position(positions: Iterable[tuple[int, int]], wanted_ma: int) -> tuple[int, int] | None:
    """The row (position, mA) nearest to the wanted current; the lower current of two as near. None for no rows."""
    return min(positions, key=lambda row: (abs(row[1] - wanted_ma), row[1]), default=None)


def switch_states(position: int, weights: Sequence[int]) -> tuple[bool, ...] | None:
    """Which switches are on so that their weights add up to the position, the first switch first; None if none do."""
    for states in product((False, True), repeat=len(weights)):
        if sum(weight for weight, is_on in zip(weights, states, strict=True) if is_on) == position:
            return states
    return None


def switches_drawn(states: Iterable[bool]) -> str:
    """ "1 ON  2 OFF  3 ON"."""
    return "  ".join(f"{number} {'ON' if is_on else 'OFF'}" for number, is_on in enumerate(states, 1))


def rotary_digits(position: int, *, hexadecimal: bool, dials: int = 1) -> tuple[str, ...] | None:
    """The marks to turn the dials to, the highest digit first; None where so many dials cannot show the position."""
    base = 16 if hexadecimal else 10
    if not 0 <= position < base**dials:
        return None
    return tuple(f"{position // base**place % base:X}" for place in reversed(range(dials)))


def on_words(on_is_down: bool | None) -> str:
    """Where ON is; models differ, and a wrong guess inverts every switch."""
    if on_is_down is None:
        return "Look on the driver which way ON is: the model does not say."
    return f"ON is {'down' if on_is_down else 'up'} on this driver."
