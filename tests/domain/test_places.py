"""Names of places: the same, near one another, and nearest to what was typed."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from vault.domain.places import Nearness, nearest_places, nearness, nearness_words, same_place

KNOWN = ("Changing room women, row 7", "Changing room men, row 7", "Corridor, bay 1", "Corridor, bay 2", "Café, counter")


@pytest.mark.parametrize(("there", "near"), [
    ("Changing room women, row 7", Nearness(differing=0, steps=0)),
    ("changing  ROOM women row 7", Nearness(differing=0, steps=0)),
    ("Changing room women, row 8", Nearness(differing=1, steps=1)),
    ("Changing room women, row 4", Nearness(differing=1, steps=3)),
    ("Changing room men, row 7", Nearness(differing=1, steps=0)), ("Plant room, position 7", None), ("7", None), ("Attic", None)])
def test_nearness(there: str, near: Nearness | None) -> None:
    """One number apart, one word apart, or too little in common."""
    assert nearness("Changing room women, row 7", there) == near


@pytest.mark.parametrize(("near", "said"), [
    (Nearness(differing=0, steps=0), "same place"), (Nearness(differing=1, steps=1), "next to it by the place's number"),
    (Nearness(differing=1, steps=4), "4 on by the place's number"), (Nearness(differing=2, steps=0), "near by the place's name")])
def test_nearness_in_words(near: Nearness, said: str) -> None:
    """As it is told in a list of neighbours."""
    assert nearness_words(near) == said


@pytest.mark.parametrize(("typed", "first"), [
    ("coridor bay 2", "Corridor, bay 2"), ("row 7 women", "Changing room women, row 7"), ("CAFÉ", "Café, counter"),
    ("corridor", "Corridor, bay 1")])
def test_the_nearest_place_first(typed: str, first: str) -> None:
    """Misspelt, in another order, in capitals."""
    assert nearest_places(typed, KNOWN)[0] == first


@pytest.mark.parametrize("typed", ["", "%", "zzzz qqqq"])
def test_nothing_near(typed: str) -> None:
    """What resembles no word offers no place."""
    assert nearest_places(typed, KNOWN) == ()


@given(st.lists(st.from_regex("[a-z]{1,6}|[0-9]{1,3}", fullmatch=True), min_size=1, max_size=5).map(" ".join))
def test_a_place_is_nearest_to_itself(place: str) -> None:
    """In whatever case and with whatever blanks; a name of numbers alone tells nothing."""
    other = f"  {place.upper().replace(' ', '  ')}"
    assert same_place(place, other)
    assert nearness(place, other) in (None if place.replace(" ", "").isdigit() else Nearness(differing=0, steps=0),)
