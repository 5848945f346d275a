"""An order that is later than it takes to order anew is given up: everywhere alike."""

from __future__ import annotations

from dataclasses import replace

import pytest

from vault.actions.stock_checks import keeping_notes
from vault.actions.today_tasks import repair_tasks
from vault.domain.stock import Act, Movement, MovementLine
from vault.domain.tag import to_bytes
from vault.domain.terms import Importance, ItemTerms
from vault.errors import GearkeepError
from vault.spares.coming import coming, given_up, position
from vault.spares.hold_plan import HoldLine, HoldPlan
from vault.spares.holding import Policy
from vault.spares.reorder_levels import Levels
from vault.spares.stock_state import Due, Kept, StockShelf, StockState
from vault.spares.weekly import Movements, fallen

DAY, TAG = 20_000, "F2FT3DBY6"


def _state(days_late: int, *, lead_days: int | None = None, kept: int = 0, good: int = 1) -> StockState:
    due = Due(due_day=DAY - days_late, order="P1", model="A", store="MAIN", pieces=3, supplier=None, ordered_day=0)
    return StockState(
        shelves=(StockShelf(store="MAIN", model="A", bin="", good=good, needs_reset=0),), orders=(due,), shortfalls=(),
        kept=(Kept(store="MAIN", model="A", tag=TAG, pieces=kept, since_day=0),) if kept else (), lots=(), counted={},
        terms={"A": ItemTerms(model="A", lead_days=lead_days)}, today_day=DAY)


@pytest.mark.parametrize(("days_late", "told", "assumed", "store", "pieces", "at"), [
    (0, None, None, None, 3, 4), (28, None, None, None, 3, 4), (29, None, None, None, 0, 1),
    (56, 56, None, None, 3, 4), (57, 56, None, None, 0, 1), (56, None, 56, None, 3, 4), (57, None, 56, None, 0, 1),
    (57, 30, 90, None, 0, 1), (29, 0, None, None, 0, 1), (0, None, None, "MAIN", 3, 4), (0, None, None, "VAN", 0, 4),
])
def test_what_still_counts_as_coming(days_late: int, told: int | None, assumed: int | None, store: str | None, pieces: int,
                                     at: int) -> None:
    """Four weeks late, or as late as its lead time where that is longer; what the terms tell goes before what is assumed."""
    state = _state(days_late, lead_days=told)
    there = coming(state, "A", store=store, lead_days=assumed)
    gone = given_up(state, "A", store=store, lead_days=assumed)
    assert (sum(due.pieces for due in there), position(state, "A", lead_days=assumed)) == (pieces, at)
    assert {*there, *gone} == set(state.on_order("A", store)) and not {*there} & {*gone}


@pytest.mark.parametrize(("days_late", "fell"), [(28, []), (29, [("A", 4, 1)])])
def test_a_model_falls_to_its_minimum_when_its_order_is_given_up(days_late: int, fell: list[tuple[str, int, int]]) -> None:
    """As the plan has it: the week before it still counted."""
    line = HoldLine(model="A", shares=(), pieces=10, yearly=2.0, importance=Importance.ESSENTIAL, lead_days=28, lead_told=False,
                    levels=Levels(mean=1.0, service_permille=950, reorder_point=2, order_up_to=4, no_shortage=0.98, fill=0.92,
                                  backorders=0.1),
                    on_hand=1, on_order=0, reserved=0, to_order=1, opening=None, trade_low=1, trade_high=1, price_cents=None,
                    currency=None)
    moved = Movements(acts=(), before=replace(_state(days_late), today_day=DAY - 7), now=_state(days_late))
    found = fallen(HoldPlan(lines=(line,), uncovered=(), policy=Policy()), moved)
    assert [(one.model, one.before, one.now) for one in found] == fell


@pytest.mark.parametrize(("days_late", "lead_days", "says", "command"), [
    (28, None, "lacks 1 of A, 3 on order", "stock list"), (29, None, "lacks 1 of A, 0 on order, 3 too late to count", "reorder"),
    (29, 56, "lacks 1 of A, 3 on order", "stock list"),
])
def test_a_repair_waits_for_no_order_that_is_given_up(days_late: int, lead_days: int | None, says: str, command: str) -> None:
    """Then it is to be ordered."""
    (task,) = repair_tasks(_state(days_late, kept=2), (), {TAG: False}, set(), lead_days=lead_days)
    assert says in task.what and task.command == command


def _reserve(pieces: int) -> Movement:
    return Movement(act=Act.RESERVE, store="MAIN", time_s=DAY * 86_400, main_size=1,
                    lines=(MovementLine(model="A", quantity=pieces, tag=to_bytes(TAG)),))


def test_nothing_is_kept_of_an_order_that_is_given_up() -> None:
    """One lies there and three are 28 days late: up to four are kept; a day later one, and why is said."""
    assert "can only be kept once the order comes" in keeping_notes(_reserve(4), _state(28))[0]
    assert keeping_notes(_reserve(1), _state(29)) == []
    with pytest.raises(GearkeepError, match=r"1 of A free and 0 on order, and 2 would be kept\. 3 more are on order, but"):
        keeping_notes(_reserve(2), _state(29))
