"""Switches, rotary switches, jumpers and plugs: which position, and how it is said in plain text."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import cache


def nearest_position(positions: Iterable[tuple[int, int]], wanted_ma: int) -> tuple[int, int] | None:
    """The row (position, mA) nearest to the wanted current; the lower current of two as near. None for no rows."""
    return min(positions, key=lambda row: (abs(row[1] - wanted_ma), row[1]), default=None)


@cache
def switch_sums(weights: tuple[int, ...]) -> dict[int, tuple[bool, ...]]:
    """Every sum that switches of these weights can form, with the fewest switches counting, the first ones of as few."""
    sums: dict[int, tuple[bool, ...]] = {0: ()}
    for weight in weights:
        longer = [(total + weight * counts, (*states, counts)) for total, states in sums.items() for counts in (False, True)]
        # True sorts last: of as few, the one whose first switches count.
        longer.sort(key=lambda row: (sum(row[1]), tuple(not counts for counts in row[1])))
        sums = {}
        for total, states in longer:
            sums.setdefault(total, states)
    return sums


def switch_states(position: int, weights: Sequence[int]) -> tuple[bool, ...] | None:
    """Which switches count so that their weights add up to the position, the first switch first; None if none do."""
    return switch_sums(tuple(weights)).get(position)


def switches_drawn(states: Iterable[bool], numbers: Iterable[int] | None = None) -> str:
    """ "1 ON  2 OFF  3 ON". numbers: as printed, default 1, 2, 3 …"""
    drawn = list(states)
    named = range(1, len(drawn) + 1) if numbers is None else numbers
    return "  ".join(f"{number} {'ON' if is_on else 'OFF'}" for number, is_on in zip(named, drawn, strict=True))


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


def listed(numbers: Sequence[int]) -> str:
    """ "1, 2 and 7"."""
    said = [str(number) for number in numbers]
    return f"{', '.join(said[:-1])} and {said[-1]}" if len(said) > 1 else "".join(said)
