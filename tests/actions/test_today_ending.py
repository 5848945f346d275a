"""What an end of life asks of the store, before the last order and after it; no replacement is advised that does not fit."""

from __future__ import annotations

import pytest

from vault.actions.today_ending import ending_tasks
from vault.actions.today_tasks import below_tasks
from vault.domain.terms import Importance, ItemTerms
from vault.spares.hold_plan import HoldLine, HoldPlan
from vault.spares.holding import Policy
from vault.spares.reorder import reorder_list
from vault.spares.reorder_levels import Levels
from vault.spares.stock_state import StockState
from vault.spares.successor import Successor, successor_words

DAY = 20_000  # 2024-10-04
GOOD, BAD, PART = (Successor(model="M2", serves=12, fits=fits) for fits in (12, 0, 5))
SHOW, ASK = "stock end-of-life M1", "stock end-of-life M1 --last-order 2024-10-03 --replaced-by MODEL"


def _plan(to_order: int, left: int) -> HoldPlan:
    levels = Levels(mean=1.0, service_permille=950, reorder_point=3, order_up_to=4, no_shortage=0.98, fill=0.92, backorders=0.1)
    line = HoldLine(model="M1", shares=(), pieces=12, yearly=1.0, importance=Importance.VITAL, lead_days=28, lead_told=True,
                    levels=levels, on_hand=2, on_order=0, reserved=0, to_order=to_order, opening=None,
                    trade_low=1, trade_high=1, price_cents=None, currency=None,
                    last_order_day=DAY + left, ended=left < 0)
    return HoldPlan(lines=(line,), uncovered=(), policy=Policy())


def _state(last_order_day: int) -> StockState:
    terms = ItemTerms(model="M1", last_order_day=last_order_day, replaced_by="M2")
    return StockState(shelves=(), orders=(), kept=(), shortfalls=(), terms={"M1": terms}, today_day=DAY, lots=(), counted={})


@pytest.mark.parametrize(("left", "to_order", "after", "told"), [
    (0, 0, GOOD, ("M1, last order in 0 days, 2024-10-04, then M2", SHOW)),
    (1, 0, BAD, ("M1, last order in 1 day, 2024-10-05, M2 fits none of its 12", SHOW)),
    (1, 0, None, ("M1, last order in 1 day, 2024-10-05, no replacement named", SHOW)),
    (-1, 2, GOOD, ("M1 has 2, order at 3; last order was 2024-10-03, then M2", SHOW)),
    (-1, 2, BAD, ("M1 has 2, order at 3; last order was 2024-10-03, M2 fits none of its 12", SHOW)),
    (-10_000, 2, PART, ("M1 has 2, order at 3; last order was 1997-05-19, M2 fits 5 of its 12", SHOW)),
    (-1, 0, None, ("M1, last order was 2024-10-03, no replacement named", ASK)),
    (-1, 0, PART, ("M1, last order was 2024-10-03, M2 fits 5 of its 12", ASK)),
    (-1, 0, GOOD, None), (-366, 0, None, None),
])
def test_a_model_that_ends(left: int, to_order: int, after: Successor | None, told: tuple[str, str] | None) -> None:
    """It counts down; past its last order it is told while it is needed, or for a year while nothing that fits replaces it."""
    tasks = ending_tasks(_plan(to_order, left), _state(DAY + left), {} if after is None else {"M1": after}, {"M1"})
    assert [(one.what, one.command, one.vital) for one in tasks] == ([] if told is None else [(*told, True)])


@pytest.mark.parametrize(("left", "ordered"), [(0, 1), (-1, 0)])
def test_what_is_made_no_more_is_never_to_be_ordered(left: int, ordered: int) -> None:
    """Neither on the screen nor on the list of what to order."""
    assert len(list(below_tasks(_plan(2, left)))) == ordered
    found = reorder_list(_plan(2, left), _state(DAY + left), {"M1": BAD})
    assert (len(found.lines), [one.successor for one in found.ended]) == (ordered, [BAD] * (1 - ordered))


@pytest.mark.parametrize(("after", "says"), [
    (None, "no replacement is named"), (GOOD, "replaced by M2, which fits all its 12 gear"),
    (BAD, "M2 is named in its place, but fits none of its 12 gear"),
    (PART, "M2 is named in its place, but fits 5 of its 12 gear"),
    (Successor(model="M2", serves=12, fits=None), "replaced by M2, of which the vault has no figures"),
    (Successor(model="M2", serves=0, fits=0), "replaced by M2"),
])
def test_a_replacement_is_told_with_what_it_fits(after: Successor | None, says: str) -> None:
    """A name alone is no advice."""
    assert successor_words(after) == says
