"""The state of the store from its movements alone: what each act leaves, and what holds whatever was moved."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import permutations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vault.domain.stock import Act, Condition
from vault.domain.terms import Importance, Item, ItemTerms
from vault.spares.levels import shelves
from vault.spares.stock_state import StockState
from vault.spares.stock_walk import state_of

DAY_S = 86_400
FIRST, TAG, OTHER = 20_000, "7K3D9QXW6", "28T5CY4G7"


@dataclass(frozen=True, kw_only=True)
class Line:
    """A movement's line as the index gives it."""

    act: int
    quantity: int = 1
    store: str = "MAIN"
    model: str = "M1"
    bin: str | None = "A1"
    to_store: str | None = None
    to_bin: str | None = None
    serial: str | None = None
    tag: str | None = None
    condition: int | None = None
    made_day: int | None = None
    order_number: str | None = None
    due_day: int | None = None
    supplier: str | None = None
    time_s: int = FIRST * DAY_S


def state(*lines: Line, today: int = FIRST, **terms: ItemTerms) -> StockState:
    """Their state, with terms by model."""
    return state_of(lines, {one.model: one for one in terms.values()}, today_day=today)


def _received(quantity: int, **said: object) -> Line:
    return Line(act=Act.RECEIPT, quantity=quantity, **said)  # type: ignore[arg-type]


TEN = _received(10)
BACK = Line(act=Act.RETURN, quantity=2, condition=Condition.NEEDS_RESET)
ORDER = Line(act=Act.ORDER, quantity=10, order_number="PO-7", due_day=FIRST + 30)
KEEP = Line(act=Act.RESERVE, quantity=3, tag=TAG)


@pytest.mark.parametrize(("lines", "usable", "reset", "reserved", "on_order", "free"), [
    ((TEN,), 10, 0, 0, 0, 10),
    ((TEN, Line(act=Act.ISSUE, quantity=4)), 6, 0, 0, 0, 6),
    ((TEN, BACK), 10, 2, 0, 0, 10),
    ((TEN, Line(act=Act.RETURN, quantity=2, condition=Condition.GOOD)), 12, 0, 0, 0, 12),
    ((TEN, Line(act=Act.RETURN, quantity=2), Line(act=Act.COUNT, quantity=5)), 5, 0, 0, 0, 5),  # as version 0.5.0 signed them
    ((TEN, BACK, Line(act=Act.CHECKED)), 11, 1, 0, 0, 11),
    ((TEN, BACK, Line(act=Act.SCRAP, quantity=2, condition=Condition.NEEDS_RESET)), 10, 0, 0, 0, 10),
    ((TEN, Line(act=Act.COUNT, quantity=7)), 7, 0, 0, 0, 7),
    ((TEN, BACK, Line(act=Act.COUNT, quantity=0, condition=Condition.NEEDS_RESET)), 10, 0, 0, 0, 10),
    ((TEN, Line(act=Act.TRANSFER, quantity=3, to_store="VAN-1")), 10, 0, 0, 0, 10),
    ((TEN, KEEP), 10, 0, 3, 0, 7),
    ((TEN, KEEP, Line(act=Act.ISSUE, quantity=2, tag=TAG)), 8, 0, 1, 0, 7),
    ((TEN, KEEP, Line(act=Act.ISSUE, quantity=2, tag=OTHER)), 8, 0, 3, 0, 5),
    ((TEN, KEEP, Line(act=Act.RELEASE, quantity=3, tag=TAG)), 10, 0, 0, 0, 10),
    ((TEN, KEEP, Line(act=Act.RELEASE, quantity=3, tag=OTHER)), 10, 0, 3, 0, 7),
    ((ORDER,), 0, 0, 0, 10, 0),
    ((ORDER, _received(4, order_number="PO-7")), 4, 0, 0, 6, 4),
    ((ORDER, _received(4, order_number="PO-7"), _received(6, order_number="PO-7")), 10, 0, 0, 0, 10),
    ((ORDER, _received(12, order_number="PO-7")), 12, 0, 0, 0, 12),
    ((ORDER, _received(4, order_number="PO-8")), 4, 0, 0, 10, 4),
    ((ORDER, _received(4, order_number="PO-7", model="M2")), 0, 0, 0, 10, 0),
    ((ORDER, Line(act=Act.CANCEL, quantity=9, order_number="PO-7")), 0, 0, 0, 1, 0),
])
def test_what_acts_leave(lines: tuple[Line, ...], usable: int, reset: int, reserved: int, on_order: int, free: int) -> None:
    """Good, needs reset, reserved, on order and free after each of the acts."""
    found = state(*lines)
    assert (found.usable("M1"), found.needs_reset("M1"), found.reserved("M1"), sum(due.pieces for due in found.on_order("M1")),
            found.free("M1")) == (usable, reset, reserved, on_order, free)
    assert found.on_hand("M1") == usable + reset and found.shortfalls == ()


@pytest.mark.parametrize("deliveries", tuple(permutations((1, 2, 3, 4))))
def test_part_deliveries_in_any_order_complete_the_order(deliveries: tuple[int, ...]) -> None:
    """Four part deliveries of ten pieces leave nothing on order, however they come."""
    found = state(ORDER, *(_received(pieces, order_number="PO-7") for pieces in deliveries))
    assert found.on_order("M1") == () and found.usable("M1") == 10


@pytest.mark.parametrize("act", [Act.ISSUE, Act.SCRAP, Act.TRANSFER, Act.CHECKED])
def test_what_takes_too_much_is_told(act: Act) -> None:
    """Nothing falls below nought, and what was missing is said; a transfer takes over only what was there."""
    to_store = "VAN-1" if act is Act.TRANSFER else None
    found = state(_received(1), replace(BACK, quantity=1), Line(act=act, quantity=5, to_store=to_store))
    assert [(one.missing, one.model, one.bin) for one in found.shortfalls] == [(4, "M1", "A1")]
    assert found.on_hand("M1") <= 2


def test_levels_count_what_may_be_issued() -> None:
    """What needs a reset is not in stock for a swap."""
    assert [(one.bin, one.pieces) for one in shelves([TEN, BACK])] == [("A1", 10)]


@pytest.mark.parametrize(("terms", "today", "due"), [
    (ItemTerms(model="M1", importance=Importance.VITAL), 90, False),
    (ItemTerms(model="M1", importance=Importance.VITAL), 91, True),
    (ItemTerms(model="M1", importance=Importance.ESSENTIAL), 364, False),
    (ItemTerms(model="M1", importance=Importance.DESIRABLE), 365, True),
    (ItemTerms(model="M1", supplier="S"), 364, False),
    (ItemTerms(model="M1", importance=Importance.VITAL, count_every_days=10), 10, True),
    (ItemTerms(model="M1", count_every_days=400), 399, False),
])
def test_counts_fall_due_by_class(terms: ItemTerms, today: int, due: bool) -> None:
    """Vital quarterly, others yearly (common practice, no source), or as the item's own terms say."""
    counted = Line(act=Act.COUNT, quantity=5)
    found = state(_received(1, time_s=0), counted, today=FIRST + today, terms=terms).counts_due()
    assert [(one.last_day, one.pieces) for one in found] == ([(FIRST, 5)] if due else [])


@pytest.mark.parametrize(("terms", "due"), [
    ({}, True), ({"it": ItemTerms(model="M1", supplier="S")}, True),
    ({"it": ItemTerms(model="M1", importance=Importance.DESIRABLE)}, False),
    ({"it": ItemTerms(model="M1", count_every_days=92)}, False),
])
def test_an_emergency_driver_is_counted_as_a_vital_one(terms: dict[str, ItemTerms], due: bool) -> None:
    """After 91 days, unless its terms say otherwise."""
    held = replace(state(_received(1, time_s=0), Line(act=Act.COUNT, quantity=5), today=FIRST + 91, **terms), emergency={"M1"})
    assert bool(held.counts_due()) == due


def test_a_bin_never_counted_is_due_from_its_first_movement() -> None:
    """A year after the receipt; an empty bin is never due."""
    (due,) = state(TEN, _received(1, bin="A2"), Line(act=Act.ISSUE, bin="A2"), today=FIRST + 365).counts_due()
    assert due.last_day is None


BATTERY = ItemTerms(model="M1", item=Item.BATTERY, shelf_life_months=12)


@pytest.mark.parametrize(("lines", "lots"), [
    ((_received(4, made_day=100), _received(6, made_day=200), Line(act=Act.ISSUE, quantity=5)), [(200, 5)]),
    ((_received(4, made_day=200), _received(6, made_day=100), Line(act=Act.ISSUE, quantity=5)), [(100, 1), (200, 4)]),
    ((_received(4, made_day=100), _received(6), Line(act=Act.ISSUE, quantity=7)), [(100, 3)]),
    ((_received(4, made_day=100), _received(6, made_day=200), Line(act=Act.ISSUE, made_day=200)), [(100, 4), (200, 5)]),
    ((_received(4, made_day=100), Line(act=Act.COUNT, quantity=6)), [(None, 2), (100, 4)]),
    ((_received(4, made_day=100), Line(act=Act.TRANSFER, quantity=4, to_store="VAN-1")), [(100, 4)]),
    ((_received(2), Line(act=Act.COUNT, quantity=2, made_day=100)), [(100, 2)]),
    ((_received(3), Line(act=Act.COUNT, quantity=2, made_day=100)), [(None, 1), (100, 2)]),
    ((_received(2), Line(act=Act.COUNT, quantity=3, made_day=100)), [(100, 3)]),
    ((_received(2), _received(4, made_day=100), Line(act=Act.COUNT, quantity=5, made_day=100)), [(None, 1), (100, 5)]),
    ((_received(2), _received(4, made_day=100), Line(act=Act.COUNT, quantity=3, made_day=100)), [(None, 2), (100, 3)]),
    ((_received(2, bin="B1"), Line(act=Act.COUNT, quantity=2, made_day=100)), [(None, 2), (100, 2)]),
    ((BACK, Line(act=Act.COUNT, quantity=2, made_day=100, condition=1)), [(100, 2)]),
])
def test_the_oldest_batteries_leave_first(lines: tuple[Line, ...], lots: list[tuple[int | None, int]]) -> None:
    """Lots by the day they were made, those of unknown age before all; a lot that is named is the one that goes. What is counted
    with its day is first what lay there with none.
    """
    found = state(*lines, today=300, terms=BATTERY).batteries()
    assert [(lot.made_day, lot.pieces) for lot in found] == lots


@pytest.mark.parametrize(("made", "life", "age", "too_old"), [(0, 12, 365, False), (0, 12, 366, True), (0, None, 366, None),
                                                             (None, 12, None, None)])
def test_a_battery_is_too_old_past_its_shelf_life(
        made: int | None, life: int | None, age: int | None, too_old: bool | None) -> None:
    """Age and shelf life in days; what is not known is not said."""
    terms = ItemTerms(model="M1", item=Item.BATTERY, shelf_life_months=life)
    (lot,) = state(_received(1, made_day=made), today=365 if age is None else age, terms=terms).batteries()
    assert (lot.age_days, lot.too_old) == (age, too_old)


@pytest.mark.parametrize(("lines", "figures"), [
    ((_received(4, made_day=0),), (0, 4, 0, 4)),
    ((_received(4, made_day=0), _received(3, made_day=1)), (3, 4, 3, 7)),
    ((_received(4, made_day=0), _received(2), Line(act=Act.RESERVE, quantity=5, tag=TAG)), (2, 4, -3, 6)),
    ((_received(4, made_day=0), Line(act=Act.RETURN, quantity=1, made_day=0, condition=1)), (0, 4, 0, 5)),
    ((_received(4, made_day=0), Line(act=Act.SCRAP, quantity=3, made_day=0)), (0, 1, 0, 1)),
    ((_received(4, made_day=0), _received(3, made_day=1), Line(act=Act.COUNT, quantity=2)), (2, 0, 2, 2)),
    ((_received(4, made_day=0), Line(act=Act.TRANSFER, quantity=4, to_store="VAN-1")), (0, 4, 0, 4)),
])
def test_a_battery_known_to_be_too_old_is_not_usable(lines: tuple[Line, ...], figures: tuple[int, int, int, int]) -> None:
    """It stays on hand and is told, and is neither usable nor free; one of unknown day may still be good."""
    found = state(*lines, today=366, terms=BATTERY)
    assert (found.usable("M1"), found.too_old("M1"), found.free("M1"), found.on_hand("M1")) == figures


def test_only_batteries_are_listed_by_age() -> None:
    """A driver has no shelf life."""
    assert state(TEN, terms=ItemTerms(model="M1", item=Item.DRIVER)).batteries() == ()


@pytest.mark.parametrize(("lines", "serials"), [
    ((_received(1, serial="S1"), _received(1, serial="S2")), ("S1", "S2")),
    ((_received(1, serial="S1"), _received(1, serial="S2"), Line(act=Act.ISSUE, serial="S1")), ("S2",)),
    ((_received(1, serial="S1"), Line(act=Act.ISSUE)), ()),
    ((_received(1, serial="S1"), _received(4), Line(act=Act.ISSUE)), ("S1",)),
    ((_received(1, serial="S1"), Line(act=Act.COUNT, quantity=0)), ()),
])
def test_which_serial_numbers_lie_there(lines: tuple[Line, ...], serials: tuple[str, ...]) -> None:
    """A piece that left without its number makes the numbers of its bin unknown once they cannot all be there."""
    assert state(*lines).shelves[0].serials == serials


NUMBERED = (_received(1, serial="S1"), Line(act=Act.RETURN, serial="X9", condition=Condition.NEEDS_RESET))


@pytest.mark.parametrize(("line", "figures", "numbers", "resets"), [
    (Line(act=Act.ISSUE, serial="X9"), (1, 0), ("S1",), ()),
    (Line(act=Act.ISSUE, serial="S1"), (0, 1), ("X9",), ("X9",)),
    (Line(act=Act.ISSUE), (0, 1), ("X9",), ("X9",)),
    (Line(act=Act.SCRAP, serial="X9"), (1, 0), ("S1",), ()),
    (Line(act=Act.SCRAP, condition=Condition.NEEDS_RESET), (1, 0), ("S1",), ()),
    (Line(act=Act.TRANSFER, serial="X9", to_store="VAN-1"), (1, 0), ("S1",), ()),
    (Line(act=Act.TRANSFER, to_store="VAN-1"), (0, 1), ("X9",), ("X9",)),
    (Line(act=Act.CHECKED, serial="X9"), (2, 0), ("S1", "X9"), ()),
    (Line(act=Act.CHECKED), (2, 0), ("S1", "X9"), ()),
    (Line(act=Act.COUNT, serial="X9"), (1, 1), ("S1", "X9"), ("X9",)),
    (Line(act=Act.COUNT, quantity=0, condition=Condition.NEEDS_RESET), (1, 0), ("S1",), ()),
    (Line(act=Act.RETURN, serial="Y1"), (2, 1), ("S1", "X9", "Y1"), ("X9",)),  # as version 0.5.0 signed them: good
])
def test_a_number_keeps_the_condition_of_its_piece(line: Line, figures: tuple[int, int], numbers: tuple[str, ...],
                                                   resets: tuple[str, ...]) -> None:
    """One good piece and one that needs a reset, each with its number: which of them leaves, and what the other is."""
    shelf = state(*NUMBERED, line).shelves[0]
    assert ((shelf.good, shelf.needs_reset), shelf.serials, shelf.reset_serials) == (figures, numbers, resets)


LINES = st.builds(
    Line, act=st.sampled_from(sorted(Act)), quantity=st.integers(1, 9), store=st.sampled_from(("MAIN", "VAN-1")),
    bin=st.sampled_from((None, "A1")), to_store=st.sampled_from(("MAIN", "VAN-2")), to_bin=st.sampled_from((None, "B1")),
    tag=st.sampled_from((TAG, OTHER)), condition=st.sampled_from((None, 0, 1)), made_day=st.sampled_from((None, 100, 200)),
    order_number=st.sampled_from((None, "PO-7")), due_day=st.just(FIRST), serial=st.sampled_from((None, "S1")),
).map(lambda line: replace(line, quantity=line.quantity - 1) if line.act == Act.COUNT else line)


@settings(max_examples=40, deadline=None)
@given(st.lists(LINES, max_size=12))
def test_no_figure_is_ever_negative(lines: list[Line]) -> None:
    """Whatever is moved, in whatever order."""
    found = state(*lines, terms=BATTERY)
    assert all(one.good >= 0 and one.needs_reset >= 0 and len(one.reset_serials) <= one.needs_reset
               and len(one.serials) - len(one.reset_serials) <= one.good for one in found.shelves)
    assert all(due.pieces > 0 for due in found.orders) and all(one.pieces > 0 for one in found.kept)
    assert sum(lot.pieces for lot in found.batteries()) == found.on_hand("M1")


@settings(max_examples=30, deadline=None)
@given(st.lists(LINES, max_size=8), LINES)
def test_a_transfer_and_a_check_keep_the_total(lines: list[Line], last: Line) -> None:
    """Pieces go elsewhere or become good; none is made and none is lost."""
    for act in (Act.TRANSFER, Act.CHECKED):
        moved = replace(last, act=act)
        assert state(*lines, moved).on_hand("M1") == state(*lines).on_hand("M1")


@settings(max_examples=30, deadline=None)
@given(st.lists(st.integers(0, 5), min_size=4, max_size=4), st.sampled_from((100, 200)), st.integers(0, 20))
def test_a_count_with_a_day_never_adds_what_may_lie_there(pieces: list[int], day: int, found: int) -> None:
    """Up to the pieces of that day and of no day the total stays; what is found beyond them is all that is added."""
    unknown, first, second, other = pieces
    before = (_received(unknown), _received(first, made_day=100), _received(second, made_day=200), _received(other, bin="B1"))
    of_day = {100: first, 200: second}[day]
    after = state(*before, Line(act=Act.COUNT, quantity=found, made_day=day), terms=BATTERY)
    assert after.on_hand("M1") - sum(pieces) == min(found - of_day, 0) + max(found - of_day - unknown, 0)


def test_the_numbers_of_a_bin_go_along_when_all_of_it_does() -> None:
    """A transfer of everything takes the serial numbers with it; of a part nobody knows which."""
    both = (_received(1, serial="S1"), _received(1, serial="S2"))
    whole = state(*both, Line(act=Act.TRANSFER, quantity=2, to_store="VAN-1"))
    part = state(*both, Line(act=Act.TRANSFER, quantity=1, to_store="VAN-1"))
    assert [one.serials for one in whole.shelves] == [(), ("S1", "S2")] and [one.serials for one in part.shelves] == [(), ()]


@settings(max_examples=30, deadline=None)
@given(st.lists(LINES, max_size=10), st.integers(0, 20))
def test_a_model_alone_says_the_same_as_among_others(lines: list[Line], cut: int) -> None:
    """A model's figures do not depend on which other models move, so that they may be read by an index."""
    others = [replace(line, model="M2") for line in lines]
    mixed = [*lines[:cut], *others, *lines[cut:]]
    assert [one for one in state(*mixed).shelves if one.model == "M1"] == list(state(*lines).shelves)
    assert state(*mixed).on_order("M1") == state(*lines).on_order("M1")
