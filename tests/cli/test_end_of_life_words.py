"""Sentences on models that end: a notice where there is one of a thing and several, and what a set leaves out."""

from __future__ import annotations

from typing import Any

import pytest

from vault.actions.covering_set import Ground
from vault.actions.end_of_life import EndOfLife, Served
from vault.cli.cover_set_text import ended_lines
from vault.cli.end_of_life_text import lines
from vault.spares.needs import Coverage


def _served(pieces: int, *, lost: bool = True, vital: bool = False) -> Served:
    return Served(words="fixed output", pieces=pieces, vital=vital, lost=lost, tags=(), replacement=None)


def _found(days_left: int, *served: Served, **more: Any) -> EndOfLife:
    return EndOfLife(model="M1", last_order_day=100, replaced_by=None, days_left=days_left, changed=False, served=served,
                     buy=None, no_buy="nobody knows", **more)


@pytest.mark.parametrize(("found", "said"), [
    (_found(1), "(1 day left)"), (_found(-1), "(1 day ago)"), (_found(0), "(0 days left)"), (_found(-30), "(30 days ago)"),
    (_found(9, _served(1)), "\nThe one gear that it covers loses cover; it has no emergency duty."),
    (_found(9, _served(1, vital=True)), "\nThe one gear that it covers loses cover; it has an emergency duty."),
    (_found(9, _served(2)), "\nAll 2 gear that it covers lose cover, 0 of them with an emergency duty."),
    (_found(9, _served(1), _served(4, lost=False)), "\n1 of the 5 gear that it covers loses cover, 0 of them"),
    (_found(9, _served(2), _served(4, lost=False)), "\n2 of the 6 gear that it covers lose cover, 0 of them"),
    (_found(9, doubts=("1 movement is in doubt.",)), "\nnote: 1 movement is in doubt."),
])
def test_a_notice_reads_well_aloud(found: EndOfLife, said: str) -> None:
    """Days, gear, and what it rests on that is in doubt."""
    assert said in "\n".join(lines(found, 1))


@pytest.mark.parametrize(("ended", "named", "everything", "said"), [
    ({}, {}, False, []),
    ({"A": 18262}, {"B": 18263}, False, [
        "No longer made, so left out: A (last order 2020-01-01). Keep one.",
        "B is no longer made (last order 2020-01-02); it counts here because it was named."]),
    ({f"M{at}": 18262 for at in range(8)}, {}, False, [
        f"No longer made, so left out: {', '.join(f'M{at} (last order 2020-01-01)' for at in range(6))}, and 2 more. Keep one."]),
    ({f"M{at}": 18262 for at in range(7)}, {}, True, [
        f"No longer made, so left out: {', '.join(f'M{at} (last order 2020-01-01)' for at in range(7))}. Keep one."]),
])
def test_a_set_names_what_can_no_longer_be_ordered(ended: dict[str, int], named: dict[str, int], everything: bool,
                                                   said: list[str]) -> None:
    """Left out, with the day; counted because it was named. Six of them where not all are asked for."""
    ground = Ground(coverage=Coverage(needs=(), models=(), answers=()), luminaires={}, unsettled=(), prices={}, currency="",
                    others={}, ended=ended, ended_others={}, named_ended=named)
    assert ended_lines(ground, everything, " Keep one.") == said
