"""The order in which somebody walks past luminaires, told from the names of their places."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import TypeAlias, TypeVar

T = TypeVar("T")

# (0, a number, "") or (1, 0, a word): numbers before words, and each among its own kind.
_Token: TypeAlias = tuple[int, int, str]
WalkingKey: TypeAlias = tuple[_Token, ...]

ATTIC = 99
_ORDINALS: Mapping[str, int] = {"first": 1, "second": 2, "third": 3, "fourth": 4, "fifth": 5}
_DOWN, _UP = "ug|kg|tg", "og"  # Untergeschoss, Kellergeschoss, Tiefgarage; Obergeschoss

# Floors as schedules write them, in English, German and French (common practice, no source).
_FLOORS: tuple[tuple[re.Pattern[str], Callable[[re.Match[str]], int]], ...] = tuple(
    (re.compile(rf"(?<![^\W_])(?:{pattern})(?![^\W_])"), level) for pattern, level in (
        (rf"(\d{{1,2}})\s?\.?\s?(?:{_DOWN})", lambda found: -int(found[1])),
        (rf"(?:{_DOWN})\s?(\d{{1,2}})", lambda found: -int(found[1])),
        (rf"{_DOWN}|basement|lower ground(?: floor)?|cellar|keller|sous-sol", lambda _: -1),
        (rf"(\d{{1,2}})\s?\.?\s?(?:{_UP})", lambda found: int(found[1])),
        (rf"(?:{_UP})\s?(\d{{1,2}})", lambda found: int(found[1])),
        (r"eg|ground floor|erdgeschoss|erdgeschoß|rdc|rez-de-chaussée", lambda _: 0),
        (_UP, lambda _: 1),
        (r"r\+(\d{1,2})", lambda found: int(found[1])),
        (r"(\d{1,2})(?:st|nd|rd|th) floor", lambda found: int(found[1])),
        (rf"({'|'.join(_ORDINALS)}) floor", lambda found: _ORDINALS[found[1]]),
        (r"(\d{1,2})(?:er|e|ème|eme) étage", lambda found: int(found[1])),
        (r"(?:floor|level|storey|etage|étage|geschoss)\s?(-?\d{1,2})", lambda found: int(found[1])),
        (r"dg|attic|dachgeschoss|dachgeschoß|roof", lambda _: ATTIC),
    ))
# A minus counts where it cannot be a hyphen: "-1" at the start or behind a blank.
_TOKEN = re.compile(r"(?<![^\s/,;(])-\d{1,9}(?!\d)|\d{1,9}|[^\W\d_]+")


def walking_key(place: str) -> WalkingKey:
    """What places are sorted by: numbers as numbers ("Room 2" before "Room 10"), and floors as numbers too (UG, EG, 1.OG;
    basement, ground floor, 1st floor; -1, 0, 1).
    """
    text = place.casefold()
    for pattern, level in _FLOORS:
        text = pattern.sub(lambda found, level=level: f" {level(found)} ", text)  # type: ignore[misc]
    return natural_key(text)


def natural_key(text: str) -> WalkingKey:
    """Words, and numbers as numbers: "L2" before "L10"."""
    tokens = (found[0] for found in _TOKEN.finditer(text.casefold()))
    return tuple((0, int(token), "") if token.lstrip("-").isdecimal() else (1, 0, token) for token in tokens)


def in_walking_order(items: Iterable[T], *, place: Callable[[T], str], reference: Callable[[T], str],
                     order: Sequence[str] = ()) -> list[T]:
    """Items sorted by place, then by reference. Those whose reference stands in `order` come first, as it says."""
    listed = {name: at for at, name in enumerate(order)}

    def key(item: T) -> tuple[int, WalkingKey, WalkingKey, str]:
        name = reference(item)
        if name in listed:
            return listed[name], (), (), name
        return len(listed), walking_key(place(item)), natural_key(name), name

    return sorted(items, key=key)
