"""What a model's end of life takes away, and what another model would bring."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from set_cases import CARE, FITS, STOP, UNKNOWN, coverage, driver

from vault.errors import UsageProblem
from vault.spares.what_if import add, drop

MADE = coverage({"A": (0, 1), "B": (1, 2), "C": (2,)}, pieces=[10, 20, 30])


@settings(max_examples=12)
@given(st.lists(st.sets(st.integers(0, 5)), min_size=1, max_size=5), st.data())
def test_dropping_a_model_names_exactly_the_classes_that_lose_cover(fits: list[set[int]], data: st.DataObject) -> None:
    """Those that it covers and no other does; the best set after covers all the rest."""
    made = coverage({f"M{at}": classes for at, classes in enumerate(fits)}, pieces=[1] * 6)
    gone = data.draw(st.integers(0, len(fits) - 1))
    rest = set().union(*(classes for at, classes in enumerate(fits) if at != gone))
    found = drop(made, f"M{gone}")
    assert set(found.covered) == fits[gone] and set(found.lost) == fits[gone] - rest
    assert found.after is not None and found.after.best.covered == len(rest) and f"M{gone}" not in found.after.models


def test_the_sets_before_and_after_a_drop() -> None:
    """B is replaced by C; without A its own class is lost."""
    without_b, without_a = drop(MADE, "B"), drop(MADE, "A")
    assert without_b.before is not None and without_b.after is not None
    assert (without_b.before.models, without_b.after.models, without_b.lost) == (("A", "B"), ("A", "C"), ())
    assert (without_a.covered, without_a.lost) == ((0, 1), (0,))


def test_an_unknown_model_cannot_be_dropped() -> None:
    """It is named."""
    with pytest.raises(UsageProblem, match="no driver model X"):
        drop(MADE, "X")


def test_what_a_candidate_would_cover_save_and_replace() -> None:
    """One model in place of two, 10.00 less."""
    found = add(MADE, driver("N"), [FITS, FITS, FITS], costs={"A": 2000, "B": 2000, "C": 2000}, price_cents=3000)
    assert (found.covered, found.gained, found.chosen) == ((0, 1, 2), (), True)
    assert (found.replaces, found.saves_models, found.saves_cents, found.worth_cents) == (("A", "B"), 1, 1000, None)


def test_a_candidate_without_a_price_is_worth_what_it_saves() -> None:
    """At 40.00 the set of two costs the same."""
    found = add(MADE, driver("N"), [FITS, FITS, FITS], costs={"A": 2000, "B": 2000, "C": 2000})
    assert (found.saves_cents, found.worth_cents) == (None, 4000)


def test_a_candidate_that_alone_covers_some_is_worth_no_sum() -> None:
    """Nothing else covers the third class, so that it is taken at any price."""
    made = coverage({"A": (0,), "B": (1,)}, pieces=[1, 1, 7])
    found = add(made, driver("N"), [STOP, STOP, FITS], costs={"A": 2000, "B": 2000})
    assert (found.gained, found.chosen, found.worth_cents, found.saves_cents) == ((2,), True, None, None)


def test_a_candidate_is_told_by_what_it_covers_alone_with_care_and_not_surely() -> None:
    """Each in a list of its own; only what fits counts."""
    made = coverage({"A": (1,)}, pieces=[1, 1, 1, 1])
    found = add(made, driver("N"), [FITS, FITS, CARE, UNKNOWN])
    assert (found.covered, found.gained, found.care, found.unknown) == ((0, 1), (0,), (2,), (3,))
    assert (found.chosen, found.replaces, found.saves_models) == (True, ("A",), 0)


def test_a_candidate_takes_the_place_of_a_model_of_its_name() -> None:
    """A newer revision is held against the others, not against itself."""
    found = add(MADE, driver("A"), [STOP, FITS, FITS])
    assert [one.model for one in found.coverage.models] == ["B", "C", "A"]
    assert (found.covered, found.gained) == ((1, 2), ())
    assert found.after is not None and [gap.need for gap in found.after.uncoverable] == [0]


def test_what_nobody_can_price_is_said_in_place_of_a_set() -> None:
    """The classes are told all the same."""
    found = drop(MADE, "B", costs={"B": 1000})
    assert (found.before, found.after, found.lost) == (None, None, ())
    assert "no price of A" in found.unpriced
