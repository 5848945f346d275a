"""Names of places: which are the same, which lie near one another, which come closest to what somebody typed."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from difflib import get_close_matches

_WORD = re.compile(r"\d+|[^\W\d_]+")


def same_place(one: str, other: str) -> bool:
    """Whether two names of places differ in nothing but case and blanks."""
    return one.casefold().split() == other.casefold().split()


def place_words(place: str) -> tuple[str, ...]:
    """The words and the numbers of a place's name, in order: "Row 7b" is row, 7, b."""
    return tuple(_WORD.findall(place.casefold()))


@dataclass(frozen=True, slots=True, kw_only=True, order=True)
class Nearness:
    """How near two places lie by their names; the least is the nearest.

    differing: words of the first that the other lacks. steps: the difference of the one number in which they differ,
    0 where they differ otherwise or not at all.
    """

    differing: int
    steps: int


def nearness(here: str, there: str) -> Nearness | None:
    """How near `there` lies to `here`; None when they share less than half of its words, numbers left aside.

    The first word names the room: bay 4 of another room is not near.
    """
    ours, theirs = place_words(here), place_words(there)
    shared = set(ours) & set(theirs)
    names = {word for word in ours if not word.isdigit()}
    room = next((word for word in ours if not word.isdigit()), None)
    if room not in shared or 2 * len(names & shared) < len(names):
        return None
    if len(ours) == len(theirs):
        pairs = [(one, other) for one, other in zip(ours, theirs, strict=True) if one != other]
        if len(pairs) == 1 and all(word.isdigit() for word in pairs[0]):
            return Nearness(differing=1, steps=abs(int(pairs[0][0]) - int(pairs[0][1])))
    return Nearness(differing=max(len(set(ours) - shared), len(set(theirs) - shared)), steps=0)


def nearness_words(near: Nearness) -> str:
    """How one place lies to another, as people say it."""
    if near.differing == 0:
        return "same place"
    if near.steps:
        return "next to it by the place's number" if near.steps == 1 else f"{near.steps} on by the place's number"
    return "near by the place's name"


def nearest_places(said: str, known: Collection[str], most: int = 3) -> tuple[str, ...]:
    """The known places that come closest to what was typed, the closest first; words may be misspelt."""
    typed = place_words(said)
    vocabulary = sorted({word for place in known for word in place_words(place) if not word.isdigit()})
    meant = {near for word in typed for near in ([word] if word.isdigit() else get_close_matches(word, vocabulary, 1, 0.6))}
    names = {word for word in meant if not word.isdigit()}
    ranked = sorted(((-len(meant & words), len(words), place) for place, words in _with_words(known)
                     if names & words or (not names and meant & words)))
    return tuple(place for _, _, place in ranked[:most])


def _with_words(places: Iterable[str]) -> Iterable[tuple[str, set[str]]]:
    return ((place, set(place_words(place))) for place in places)
