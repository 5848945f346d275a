"""Luminaires that may go on several lines, shared out so that neighbours stay together and lines are filled alike."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import accumulate, pairwise, permutations
from typing import TypeAlias

MOST_TURNED = 4  # lines of which every order along the walk is tried; more are taken as they are given


@dataclass(frozen=True, slots=True, kw_only=True)
class Bin:
    """A line to be filled: how many gear it holds already, and how many it may hold."""

    held: int
    most: int


def shared_out(weights: Sequence[int], places: Sequence[str], bins: Sequence[Bin]) -> list[int] | None:
    """For each item, in walking order, the bin it goes into; None where they cannot all go in.

    weights: gear of each item, at least 1. Every bin gets one run of neighbours. Of all ways to do that, one with the least
    difference between the fullest and the emptiest bin is taken; among those, one that cuts the fewest places in two, and then
    the most even.
    """
    ends = [0, *accumulate(weights)]
    turned = [tuple(range(len(bins)))] if len(bins) > MOST_TURNED else list(permutations(range(len(bins))))
    # An order that differs in nothing but equal bins gives nothing new.
    orders = list({tuple((bins[at].held, bins[at].most) for at in order): order for order in reversed(turned)}.values())[::-1]
    best: tuple[int, tuple[int, ...]] | None = None
    for order in orders:
        spread = _least_spread(ends, [bins[at] for at in order], None if best is None else best[0] - 1)
        if spread is not None:
            best = spread, order
    if best is None:
        return None
    spread, order = best
    in_order = [bins[at] for at in order]
    *_, cuts = min(way for low in _lows(ends, bins) if (way := _cheapest(ends, places, in_order, low, low + spread)))
    return [order[bin_at] for bin_at, (start, end) in enumerate(pairwise([0, *cuts])) for _ in range(start, end)]


def _lows(ends: Sequence[int], bins: Sequence[Bin]) -> range:
    """What the emptiest bin may hold in the end: no less than what it holds, no more than the mean."""
    return range(min(one.held for one in bins), (sum(one.held for one in bins) + ends[-1]) // len(bins) + 1)


def _least_spread(ends: Sequence[int], bins: Sequence[Bin], at_most: int | None) -> int | None:
    """The least difference between fullest and emptiest, None where there is no way (or none so good)."""
    marks = sum(1 << end for end in ends)
    top = max(one.held for one in bins) + ends[-1]

    def possible(spread: int) -> bool:
        return any(_reaches(marks, ends[-1], bins, low, low + spread) for low in _lows(ends, bins))

    bad, good = -1, top if at_most is None else at_most
    if good < 0 or not possible(good):
        return None
    while good - bad > 1:
        middle = (good + bad) // 2
        bad, good = (bad, middle) if possible(middle) else (middle, good)
    return good


def _reaches(marks: int, total: int, bins: Sequence[Bin], low: int, high: int) -> bool:
    """Whether runs that fill every bin to between `low` and `high` use up all items. marks: a bit at every possible cut."""
    reached = 1
    for one in bins:
        after = 0
        for size in range(max(0, low - one.held), min(high, one.most) - one.held + 1):
            after |= reached << size
        reached = after & marks
    return bool(reached >> total & 1)


# Places cut in two, sum of the squares of what the bins hold, where each run ends.
_Way: TypeAlias = tuple[int, int, tuple[int, ...]]


def _cheapest(ends: Sequence[int], places: Sequence[str], bins: Sequence[Bin], low: int, high: int) -> _Way | None:
    """The best way that fills every bin to between `low` and `high`; None where there is none."""
    if not _reaches(sum(1 << end for end in ends), ends[-1], bins, low, high):
        return None
    ways: dict[int, _Way] = {0: (0, 0, ())}
    for one in bins:
        longer: dict[int, _Way] = {}
        for start, (cost, squares, cuts) in ways.items():
            for end in _ends_within(ends, start, low - one.held, min(high, one.most) - one.held):
                cut = int(start < end < len(places) and places[end - 1] == places[end])
                way = cost + cut, squares + (one.held + ends[end] - ends[start]) ** 2, (*cuts, end)
                longer[end] = min(longer.get(end, way), way)
        ways = longer
    return ways.get(len(ends) - 1)


def _ends_within(ends: Sequence[int], start: int, least: int, most: int) -> Iterator[int]:
    for end in range(start, len(ends)):
        size = ends[end] - ends[start]
        if size > most:
            return
        if size >= least:
            yield end
