"""A replacement is held against the gear that the model serves."""

from __future__ import annotations

from dataclasses import replace

import pytest
from set_cases import coverage

from vault.domain.rating import Rating
from vault.domain.terms import ItemTerms
from vault.spares.hold_plan import HoldPlan, plan
from vault.spares.holding import Policy
from vault.spares.stock_state import StockState
from vault.spares.successor import successors

BARE = coverage({"A": (0, 1), "B": (1,), "C": (0, 1, 2)}, pieces=[10, 20, 30])
TYPE = Rating(code="T", revision=1, title="x", gears=())
MADE = replace(BARE, needs=[replace(one, ratings=(TYPE,)) for one in BARE.needs])


def _state(replaced_by: str) -> StockState:
    return StockState(shelves=(), orders=(), kept=(), shortfalls=(), today_day=0, lots=(), counted={},
                      terms={"A": ItemTerms(model="A", replaced_by=replaced_by)})


@pytest.mark.parametrize(("replaced_by", "expected"), [
    ("B", (30, 20, True)), ("C", (30, 30, False)), ("NONE", (30, None, False)),
])
def test_a_replacement_fits_what_the_coverage_says(replaced_by: str, expected: tuple[int, int | None, bool]) -> None:
    """Gear of the two classes that A covers, by what falls to it in a plan, and without one by all that it covers."""
    state = _state(replaced_by)
    for made in (plan(MADE, state, {"A"}, Policy(lead_days=28)), HoldPlan(lines=(), uncovered=(), policy=Policy())):
        after = successors(made, MADE, state.terms)["A"]
        assert (after.serves, after.fits, after.refused) == expected
