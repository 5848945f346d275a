"""What is to be done today: tasks out of the store's state, and the screen that never runs over."""

from __future__ import annotations

import shlex
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from rich.cells import cell_len
from small_vault import SmallVault

from vault.actions.reorder import reorder
from vault.actions.today import today
from vault.actions.today_tasks import Waiting, gap_tasks, repair_tasks, stock_tasks
from vault.actions.weekly import week
from vault.domain.findings import Verdict
from vault.domain.rating import Rating
from vault.domain.settings import Duty, Gear, Output, Settings
from vault.domain.terms import Importance, Item, ItemTerms
from vault.exchange.today_text import COLUMNS, LINES, screen, whole
from vault.spares.coverage_gaps import Gap, Gaps
from vault.spares.needs import Answer, NeedClass
from vault.spares.stock_state import Due, Kept, Shortfall, StockShelf, StockState
from vault.spares.today import TOPIC_WORDS, Task, Today, Topic, in_order

DAY = 20_000
TAG, OTHER = "F2FT3DBY6", "YHT8F6905"
LIFE = ItemTerms(model="BAT", item=Item.BATTERY, shelf_life_months=24)
NAMES = st.sampled_from(["A", "GEN-50-1050", "M" * 24, "with space", "中文型号", "é;rm"])
DAYS = st.integers(0, 40_000)
TERMS = st.builds(ItemTerms, model=NAMES, last_order_day=st.none() | DAYS, replaced_by=st.none() | NAMES,
                  item=st.none() | st.just(Item.BATTERY), importance=st.none() | st.sampled_from(Importance),
                  shelf_life_months=st.none() | st.integers(1, 600))
SHELVES = st.builds(StockShelf, store=NAMES, model=NAMES, bin=NAMES | st.just(""), good=st.integers(0, 9),
                    needs_reset=st.integers(0, 1_000_000))
ORDERS = st.builds(Due, due_day=DAYS, order=NAMES, model=NAMES, store=NAMES, pieces=st.integers(1, 1_000_000),
                   supplier=st.none() | NAMES, ordered_day=DAYS)
KEPT = st.builds(Kept, store=NAMES, model=NAMES, tag=st.sampled_from([TAG, OTHER]), pieces=st.integers(1, 99), since_day=DAYS)
SHORT = st.builds(Shortfall, store=NAMES, bin=NAMES, model=NAMES, missing=st.integers(1, 9), day=DAYS)
LOTS = st.tuples(NAMES, NAMES, NAMES, st.none() | DAYS, st.integers(1, 99))
TASKS = st.builds(Task, topic=st.sampled_from(Topic), what=st.text(max_size=200), pieces=st.none() | st.integers(0, 10**9),
                  unit=st.just("pieces"), command=st.text(max_size=120), vital=st.booleans(), unknown=st.booleans())


def _state(*, shelves: tuple[StockShelf, ...] = (), orders: tuple[Due, ...] = (), kept: tuple[Kept, ...] = (),
           shortfalls: tuple[Shortfall, ...] = (), terms: tuple[ItemTerms, ...] = (),
           lots: tuple[tuple[str, str, str, int | None, int], ...] = (), last_count: int | None = DAY) -> StockState:
    counted = {(one.store, one.model, one.bin): (DAY - 1000, last_count) for one in shelves}
    return StockState(shelves=shelves, orders=orders, kept=kept, shortfalls=shortfalls, today_day=DAY, lots=lots,
                      terms={one.model: one for one in terms}, counted=counted)


def _day(*tasks: Task) -> Today:
    return Today(site="Baths", day="2024-10-04", tasks=in_order(tasks), looked=("everything",))


def _shelf(good: int, needs_reset: int = 0, *, bin_name: str = "A1") -> StockShelf:
    return StockShelf(store="MAIN", model="M1", bin=bin_name, good=good, needs_reset=needs_reset)


@pytest.mark.parametrize(("state", "expected"), [
    (_state(), []),
    (_state(shelves=(_shelf(3),)), []),  # counted today
    (_state(shelves=(_shelf(3),), last_count=DAY - 364), []),
    (_state(shelves=(_shelf(3),), last_count=DAY - 365), [(Topic.COUNT, 3, "stock count M1 FOUND --because WHY --bin A1")]),
    (_state(shelves=(_shelf(0, 2),)), [(Topic.RESET, 2, "stock check M1 2 --bin A1")]),
    (_state(shelves=(_shelf(0, 2, bin_name="$X"),)), [(Topic.RESET, 2, "stock check M1 2 --bin '$X'")]),
    (_state(orders=(Due(due_day=DAY, order="PO", model="M1", store="MAIN", pieces=4, supplier=None, ordered_day=1),)), []),
    (_state(orders=(Due(due_day=DAY - 1, order="PO 7", model="M1", store="VAN", pieces=4, supplier=None, ordered_day=1),)),
     [(Topic.OVERDUE, 4, "stock receive M1 4 --order 'PO 7' --store VAN")]),
    (_state(terms=(LIFE,), lots=(("MAIN", "BAT", "X", DAY - 731, 3),)),
     [(Topic.BATTERY, 3, "stock scrap BAT 3 --made 2022-10-04 --because old --stream battery --bin X")]),
    (_state(terms=(LIFE,), lots=(("MAIN", "BAT", "X", DAY - 700, 3),)), [(Topic.BATTERY, 3, "stock list --model BAT")]),
    (_state(terms=(LIFE,), lots=(("MAIN", "BAT", "X", DAY - 300, 3),)), []),
    (_state(terms=(LIFE,), lots=(("MAIN", "BAT", "", None, 3),)),
     [(Topic.BATTERY, 3, "stock count BAT FOUND --made DAY --because WHY")]),
    (_state(shortfalls=(Shortfall(store="MAIN", bin="", model="M1", missing=2, day=DAY),)),
     [(Topic.COUNT, None, "stock count M1 FOUND --because WHY")]),
    (_state(shelves=(replace(_shelf(0), model="BAT"),), terms=(LIFE,)),
     [(Topic.TO_ORDER, None, "stock order BAT N --order NUMBER --due DAY")]),
    (_state(shelves=(_shelf(0),)), []),  # of a driver the plan speaks
])
def test_what_the_store_asks_for(state: StockState, expected: list[tuple[Topic, int | None, str]]) -> None:
    """Topic, number and command; nothing where nothing is due. What a shell would run is quoted."""
    assert [(one.topic, one.pieces, one.command) for one in stock_tasks(state, set())] == expected


@pytest.mark.parametrize("state", [
    _state(shelves=(_shelf(3),), last_count=DAY - 365), _state(shelves=(_shelf(0, 2),)),
    _state(terms=(LIFE,), lots=(("MAIN", "BAT", "X", DAY - 9 * 365, 4),)),
    _state(terms=(LIFE,), lots=(("MAIN", "BAT", "", None, 3),)),
    _state(terms=(LIFE,), lots=(("MAIN", "BAT", "X", DAY - 700, 3),)),
    _state(shortfalls=(Shortfall(store="MAIN", bin="", model="M1", missing=2, day=DAY),)),
    _state(shelves=(replace(_shelf(0), model="BAT"),), terms=(LIFE,)),
    _state(orders=(Due(due_day=DAY - 1, order="PO", model="M1", store="VAN", pieces=4, supplier=None, ordered_day=1),)),
])
def test_what_a_vital_model_asks_for_cannot_wait(state: StockState) -> None:
    """Its batteries, resets, counts and orders alike."""
    assert [[one.vital for one in stock_tasks(state, models)] for models in ({"BAT", "M1"}, set[str]())] == [[True], [False]]


def _kept(pieces: int, tag: str = TAG) -> tuple[Kept, ...]:
    return (Kept(store="MAIN", model="M1", tag=tag, pieces=pieces, since_day=DAY - 3),)


@pytest.mark.parametrize(("good", "kept", "in_service", "vital", "expected"), [
    (2, _kept(2), {TAG: False}, set(), (2, f"swap {TAG} --spare M1", False)),
    (2, _kept(2), {TAG: True}, set(), (2, f"swap {TAG} --spare M1", True)),
    (2, _kept(2), {TAG: False}, {"M1"}, (2, f"swap {TAG} --spare M1", True)),
    (1, _kept(3), {TAG: False}, set(), (2, "reorder", False)),
    (2, _kept(2), {}, set(), (2, f"stock release M1 2 --for {TAG}", False)),
])
def test_what_is_kept_for_a_swap(good: int, kept: tuple[Kept, ...], in_service: dict[str, bool], vital: set[str],
                                 expected: tuple[int, str, bool]) -> None:
    """It waits for its swap, lacks pieces, or is kept for a luminaire that is gone."""
    (task,) = repair_tasks(_state(shelves=(_shelf(good),), kept=kept), (), in_service, vital)
    assert (task.pieces, task.command, task.vital) == expected


@pytest.mark.parametrize(("waiting", "command"), [
    (Waiting(tag=TAG, why="two newest versions differ"), f"show {TAG}"),
    (Waiting(tag=TAG, why="provisional", stops=("current",)), f"approve {TAG} --as CLASS --because WHY"),
])
def test_a_luminaire_that_waits_for_somebody(waiting: Waiting, command: str) -> None:
    """To be looked at, or to be approved."""
    assert [one.command for one in repair_tasks(_state(), (waiting,), {}, set())] == [command]


def _gap(need: int, code: str, duty: Duty, pieces: int) -> Gap:
    of = NeedClass(key=bytes(8), gear=Gear(duty=duty, settings=Settings(output=Output.CONSTANT_CURRENT, channels=())),
                   ratings=(Rating(code=code, revision=1, title="x", gears=()),), line=None, circuit=None, pieces=pieces, tags=())
    return Gap(need=need, of=of, pieces=pieces, model="M1", answer=Answer(verdict=Verdict.DOES_NOT_FIT, rule="", limit=""))


def test_types_without_a_spare_are_added_up_emergency_first() -> None:
    """By type and whether any model at all fits."""
    unsaved = (_gap(0, "T1", Duty.GENERAL, 5), _gap(1, "T1", Duty.GENERAL, 2), _gap(2, "T2", Duty.EMERGENCY_CONVERTER, 1))
    tasks = in_order(gap_tasks(Gaps(unsaved=unsaved, uncovered=unsaved[2:])))
    assert [(one.what, one.pieces, one.vital) for one in tasks] == [
        ("1 emergency gear of T2: no model fits", 1, True), ("7 general gear of T1: none on the shelf fits", 7, False)]


@settings(max_examples=40)
@given(st.lists(TASKS, max_size=60), st.text(max_size=60))
def test_a_screen_never_runs_over(tasks: list[Task], site: str) -> None:
    """Less than 24 lines of at most 80 columns, whatever the texts; each topic that has a task is there; nothing is cut."""
    lines = screen(Today(site="Baths", day="2024-10-04", tasks=in_order(tasks), looked=(site, site)))
    assert len(lines) < LINES and max(map(cell_len, lines)) <= COLUMNS and not any(line.endswith("…") for line in lines)
    assert {TOPIC_WORDS[one.topic] for one in tasks} <= {line[2:].partition(":")[0] for line in lines}


@settings(max_examples=25)
@given(st.lists(SHELVES, max_size=12), st.lists(ORDERS, max_size=12), st.lists(KEPT, max_size=12), st.lists(SHORT, max_size=5),
       st.lists(TERMS, max_size=6), st.lists(LOTS, max_size=9))
def test_any_store_fits_on_a_screen(shelves: list[StockShelf], orders: list[Due], kept: list[Kept], short: list[Shortfall],
                                    terms: list[ItemTerms], lots: list[tuple[str, str, str, int | None, int]]) -> None:
    """And its tasks are all on the uncut list."""
    known = {one.model for one in terms}
    state = _state(shelves=tuple(shelves), orders=tuple(orders), kept=tuple(kept), shortfalls=tuple(short), terms=tuple(terms),
                   lots=tuple(lot for lot in lots if lot[1] in known), last_count=None)
    found = _day(*stock_tasks(state, {"A"}), *repair_tasks(state, (), {TAG: False}, {"A"}))
    lines = screen(found)
    assert len(lines) < LINES and max(map(cell_len, lines)) <= COLUMNS
    assert len(whole(found)) == 2 + 2 * len(found.tasks)


def _tasks(count: int, topic: Topic = Topic.RESET) -> list[Task]:
    return [Task(topic=topic, what=f"{number} of M{number}", pieces=number, unit="pieces", command=f"stock check M{number}")
            for number in range(1, count + 1)]


LONG = "stock receive GEN-50-1050 10 --order 'PO 7  of May' --store 'VAN 1' --bin 'A 12' --because 'came without a note'"


def test_a_long_command_stands_whole_below_its_task() -> None:
    """Folded as a shell reads it (POSIX 2.2.1: a \\ before a line's end joins two); where no terminal folds, beside its task."""
    task = Task(topic=Topic.OVERDUE, what="10 of GEN-50-1050, 9 days late", pieces=10, unit="pieces", command=LONG)
    _, first, *below = screen(_day(task))[:4]
    assert first == "  Order overdue: 10 of GEN-50-1050, 9 days late"
    assert shlex.split("\n".join(below).replace("\\\n", "")) == shlex.split(LONG)
    assert screen(_day(task), columns=None)[1] == f"{first}  {LONG}"


def test_what_finds_no_room_is_counted() -> None:
    """Thirty of one topic: twenty stand there, the sum of the other ten behind them."""
    lines = screen(_day(*_tasks(30)))
    assert "Needs reset: 20 of M20" in lines[20] and "10 more (255 pieces)" in lines[21]


def test_every_topic_has_its_line_when_all_are_full() -> None:
    """Vital first; no topic crowds another out."""
    lines = screen(_day(*(task for topic in Topic for task in _tasks(40, topic))))
    assert len(lines) == LINES - 1
    assert [words for words in TOPIC_WORDS.values() if f"{words}:" not in "".join(lines)] == []


def test_nothing_to_do_says_what_was_looked_at() -> None:
    """Two lines."""
    assert screen(_day()) == ["2024-10-04: nothing to do today. Baths", "Looked at: everything."]


def _once(*_given: object, **_named: object) -> None:
    raise AssertionError("reckoned a second time")


def test_coverage_and_rates_are_reckoned_once(small: SmallVault, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What the screen, the list and the week have already, the plan beneath them takes from them."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    monkeypatch.setattr("vault.actions.holding.stock_state", _once)
    with monkeypatch.context() as patched:
        patched.setattr("vault.actions.holding.covering_of", _once)
        assert today(small.desk()).tasks and reorder(small.desk()).list.untold
    monkeypatch.setattr("vault.actions.holding.rates_in", _once)
    assert week(small.desk()).unknown


def test_a_missing_figure_is_something_to_do(small: SmallVault, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The small vault has no terms: every minimum is unknown, those of emergency gear are vital."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    found = today(small.desk())
    assert {one.topic for one in found.tasks if one.unknown and one.vital} == {Topic.BELOW}
    assert {one.model for one in found.of(Topic.BELOW)} >= {"EM-6-180"} and found.vital
    assert all("unknown" in one.what for one in found.of(Topic.BELOW))
