"""The reorder list, the weekly walk and the end-of-life notice."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import openpyxl
import pypdfium2
import pytest
from small_vault import NOW_S, SmallVault

from vault.actions.end_of_life import end_of_life
from vault.actions.hold_asked import HoldAsked
from vault.actions.reorder import reorder, write_reorder
from vault.actions.stock import one_movement
from vault.actions.stock_load import load_stock
from vault.actions.today import today
from vault.actions.unsure import Unsure
from vault.actions.weekly import week, week_rows, week_text, write_week
from vault.db.stock_rows import MovementRow
from vault.domain.findings import Verdict
from vault.domain.stock import Act
from vault.domain.terms import Importance, ItemTerms
from vault.errors import UsageProblem
from vault.exchange.reorder_file import held_back_words, reorder_rows
from vault.exchange.stock_cells import day_words
from vault.spares.hold_plan import HoldLine, HoldPlan
from vault.spares.holding import Policy
from vault.spares.reorder import reorder_list
from vault.spares.reorder_levels import Levels
from vault.spares.stock_state import Due, StockShelf, StockState
from vault.spares.today import Topic
from vault.spares.weekly import fallen, walk_week

DAY_S, DAY = 86_400, NOW_S // 86_400
TERMS = ("model,quantity,supplier,price,currency,lead_days,pack,importance\n"
         "EM-6-180,0,=Trade,64.50,EUR,900,5,vital\nGEN-50-1050,0,=Trade,24.50,EUR,700,10,essential\n")


def _line(model: str, importance: Importance, position: int, to_order: int | None, *, price: int | None = 100,
          currency: str | None = "EUR") -> HoldLine:
    levels = None if to_order is None else Levels(mean=1.0, service_permille=950, reorder_point=3, order_up_to=4,
                                                  no_shortage=0.98, fill=0.92, backorders=0.1)
    return HoldLine(model=model, shares=(), pieces=10, yearly=1.0, importance=importance,
                    lead_days=None if levels is None else 28, lead_told=True, levels=levels, on_hand=position,
                    on_order=0, reserved=0, to_order=to_order, opening=None,
                    trade_low=1, trade_high=1, price_cents=price, currency=currency)


def _plan(*lines: HoldLine) -> HoldPlan:
    return HoldPlan(lines=lines, uncovered=(), policy=Policy())


def _state(*terms: ItemTerms, shelves: tuple[StockShelf, ...] = ()) -> StockState:
    return StockState(shelves=shelves, orders=(), kept=(), shortfalls=(), terms={one.model: one for one in terms}, today_day=100,
                      lots=(), counted={})


V, E = Importance.VITAL, Importance.ESSENTIAL


def test_suppliers_with_vital_models_come_first_and_the_unknown_one_last() -> None:
    """Within one, vital before essential, then by name."""
    plan = _plan(_line("A", E, 1, 3), _line("B", E, 1, 3), _line("C", V, 1, 3), _line("D", E, 1, 3), _line("E", E, 9, 0))
    terms = [ItemTerms(model=model, supplier=name) for model, name in (("A", "Alpha"), ("B", "Zeta"), ("C", "Zeta"))]
    found = reorder_list(plan, _state(*terms))
    assert [(one.supplier, [line.model for line in one.lines]) for one in found.orders] == [
        ("Zeta", ["C", "B"]), ("Alpha", ["A"]), (None, ["D"])]


def test_sums_are_by_currency_and_never_count_what_has_no_price() -> None:
    """3 at 1.00 EUR and 2 at 2.50 CHF; one without a price is named."""
    found = reorder_list(_plan(_line("A", E, 1, 3), _line("B", E, 1, 2, price=250, currency="CHF"),
                               _line("C", E, 1, 1, price=None, currency=None)), _state())
    (order,) = found.orders
    assert (order.sums, order.unpriced) == ({"EUR": 300, "CHF": 500}, ("C",))


def test_what_is_not_known_or_no_longer_made_stands_apart() -> None:
    """No lead time; no demand; the last order was yesterday, and today it may still go out."""
    terms = (ItemTerms(model="A", last_order_day=99, replaced_by="N"), ItemTerms(model="B", last_order_day=100),
             ItemTerms(model="X", supplier="Alpha"), ItemTerms(model="Y"), ItemTerms(model="Z"))
    ended, last = (replace(_line(name, E, 1, 3), last_order_day=day, ended=day < 100) for name, day in (("A", 99), ("B", 100)))
    found = reorder_list(_plan(ended, last, _line("C", V, 1, None)), _state(*terms), None, {"Y": 7, "Z": 1})
    assert [one.model for one in found.lines] == ["B"] and [one.model for one in found.ended] == ["A"]
    assert [(one.model, one.lacks.partition(":")[0]) for one in found.untold] == [
        ("C", "lead time unknown"), ("X", "demand unknown"), ("Y", "no demand of its own"), ("Z", "no demand of its own")]
    assert [one.lacks.partition("the ")[2] for one in found.untold[2:]] == [
        "7 gear that it fits fall to other models", "1 gear that it fits falls to other models"]
    rows = reorder_rows(found)
    assert [row[-2] for row in rows] == ["state", "order", "no longer made", *["unknown"] * 4]
    # Who sums the columns orders nothing that is no longer made.
    assert [(row[3], row[7]) for row in rows[1:3]] == [(3, 3), (None, None)]
    assert str(rows[2][-1]).startswith("3 needed; last order was")


@pytest.mark.parametrize(("position", "elsewhere", "to_order", "held_back"), [
    (5, (("VAN-1", 2),), 0, ["A"]), (6, (("VAN-1", 2),), 0, []), (5, (), 0, []), (3, (("VAN-1", 2),), 1, []),
])
def test_what_only_a_van_keeps_from_being_ordered_is_told(position: int, elsewhere: tuple[tuple[str, int], ...], to_order: int,
                                                         held_back: list[str]) -> None:
    """Order at 3: without the two in the van there would be 3 of 5, 4 of 6."""
    line = replace(_line("A", E, position, to_order), elsewhere=elsewhere)
    found = reorder_list(_plan(line), _state())
    assert [one.model for one in found.held_back] == held_back
    assert [held_back_words(one) for one in found.held_back] == [
        "A is not ordered: of its 5, 2 in VAN-1; without these it has 3, order at 3"] * len(held_back)
    assert ["(2 in VAN-1)" in one.why for one in found.lines] == [True] * bool(to_order)


@pytest.mark.parametrize(("days_late", "position"), [(28, 4), (29, 1)])
def test_an_order_long_overdue_is_not_counted_as_coming(days_late: int, position: int) -> None:
    """Of an item without demand of its own neither: four weeks late, as with all others."""
    due = Due(due_day=100 - days_late, order="P1", model="X", store="MAIN", pieces=3, supplier=None, ordered_day=0)
    state = replace(_state(ItemTerms(model="X"), shelves=(StockShelf(store="MAIN", model="X", bin="", good=1, needs_reset=0),)),
                    orders=(due,))
    assert [one.position for one in reorder_list(_plan(), state).untold] == [position]


def _moved(day: int, act: Act, quantity: int) -> MovementRow:
    fields: dict[str, Any] = dict.fromkeys(MovementRow._fields)
    return MovementRow(**fields | {"seq": day, "act": int(act), "store": "MAIN", "model": "A", "quantity": quantity,
                                   "time_s": NOW_S - day * DAY_S})


@pytest.mark.parametrize(("moves", "acts", "fell"), [
    ([], [], []),
    ([(8, Act.RECEIPT, 5)], [], []),
    ([(8, Act.RECEIPT, 5), (7, Act.ISSUE, 1)], [(Act.ISSUE, 1, 1)], []),  # 4, above 3
    ([(8, Act.RECEIPT, 5), (2, Act.ISSUE, 1), (1, Act.ISSUE, 1)], [(Act.ISSUE, 2, 2)], [("A", 5, 3)]),
    ([(9, Act.RECEIPT, 5), (8, Act.ISSUE, 2), (1, Act.ISSUE, 1)], [(Act.ISSUE, 1, 1)], []),  # it was below before
    ([(8, Act.RECEIPT, 5), (3, Act.ISSUE, 3), (2, Act.RECEIPT, 4)], [(Act.RECEIPT, 1, 4), (Act.ISSUE, 1, 3)], []),
])
def test_the_week_sums_up_acts_and_tells_what_fell(moves: list[tuple[int, Act, int]], acts: list[tuple[Act, int, int]],
                                                  fell: list[tuple[str, int, int]]) -> None:
    """Reorder point 3: told is what was above it a week ago and is not now."""
    found = walk_week([_moved(*one) for one in moves], {}, now_s=NOW_S)
    assert [(one.act, one.lines, one.pieces) for one in found.acts] == acts
    assert [(one.model, one.before, one.now) for one in fallen(_plan(_line("A", E, 0, 3)), found)] == fell


@pytest.fixture
def short(small: SmallVault, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> SmallVault:
    """Terms of two models, of which none is left; no cache of the user's is touched."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    (tmp_path / "terms.csv").write_text(TERMS, encoding="utf-8")
    load_stock(small.desk("S01"), tmp_path / "terms.csv", store="MAIN")
    for model, bin_name in (("EM-6-180", "C1"), ("GEN-50-1050", "A1")):
        one_movement(small.desk("S01"), act=Act.COUNT, store="MAIN", model=model, quantity=0, bin_name=bin_name, reason="gone")
    return small


def test_the_list_is_written_as_each_file(short: SmallVault, tmp_path: Path) -> None:
    """Whole packs; price and sum as numbers; a supplier's name that a spreadsheet would run behind an apostrophe; an A4 page."""
    found = reorder(short.desk())
    for ending in ("csv", "xlsx", "pdf"):
        write_reorder(tmp_path / f"list.{ending}", found)
    text = (tmp_path / "list.csv").read_text(encoding="utf-8-sig")
    assert '"\'=Trade","EM-6-180","vital",5,5,64.50,"EUR",322.50,900,0,0,0,0,' in text
    cells = openpyxl.load_workbook(tmp_path / "list.xlsx").active.iter_rows(max_col=8, values_only=True)
    assert ("'=Trade", "EM-6-180", "vital", 5, 5, 64.5, "EUR", 322.5) in cells
    with pypdfium2.PdfDocument(tmp_path / "list.pdf") as document:
        (size, said), = [(page.get_size(), page.get_textpage().get_text_range()) for page in document]
    assert tuple(map(round, size)) == (595, 842)  # ISO 216 in points
    assert "Sum: 567.50 EUR" in said and "page 1 of 1" in said and "CC-40-700" in said


def test_an_end_of_life_notice_is_signed_once_and_counts_down(short: SmallVault) -> None:
    """Which luminaires lose cover, the last-time buy, where the replacement fits; then today says the days that are left."""
    def act() -> Any:
        return end_of_life(short.desk("S01"), "EM-6-180", last_order_day=DAY + 30, replaced_by="GEN-50-1050", sure=True)

    sizes, first, again = short.sizes(), act(), act()
    assert (first.changed, again.changed, first.days_left) == (True, False, 30)
    assert short.sizes() == (sizes[0], sizes[1] + 1)
    assert [one.tags for one in first.served if one.lost] == [(short.tags["ER-001"],)] and first.lost_pieces == 1
    assert first.replaced_pieces(Verdict.FITS) == 0 and first.buy is not None and first.buy.buy.to_buy == first.buy.buy.pieces
    (task,) = today(short.desk()).of(Topic.END_OF_LIFE)
    assert (task.model, task.vital) == ("EM-6-180", True)
    assert f"in 30 days, {day_words(DAY + 30)}" in task.what and "GEN-50-1050 fits none of its 3" in task.what


@pytest.mark.parametrize(("given", "asked"), [
    ({"last_order_day": DAY - 1}, f"the last order of EM-6-180 was {day_words(DAY - 1)}, 1 day ago"),
    ({"last_order_day": DAY, "replaced_by": "GEN-50-1050"}, "GEN-50-1050 fits none of the 3 gear in service"),
])
def test_a_notice_that_is_better_looked_at_again(small: SmallVault, monkeypatch: pytest.MonkeyPatch, tmp_path: Path,
                                                given: dict[str, Any], asked: str) -> None:
    """What a stock list asks about the same cells; nothing is signed before it is confirmed."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    before = small.sizes()
    with pytest.raises(Unsure) as unsure:
        end_of_life(small.desk("S01"), "EM-6-180", **given)
    (told,) = unsure.value.asked
    assert told.startswith(asked) and (unsure.value.kind, small.sizes()) == ("not-confirmed", before)


@pytest.mark.parametrize(("model", "given", "kind"), [
    ("EM-6-180", {}, "no-notice"), ("EM-6-180", {"replaced_by": "GEN-50-1050"}, "no-notice"),
    ("EM-6-180", {"last_order_day": DAY, "replaced_by": "EM-6-180"}, "bad-value"),
    ("EM-6-180", {"last_order_day": DAY, "replaced_by": "NO-SUCH"}, "not-found"),
    ("NO-SUCH", {"last_order_day": DAY}, "not-found"),
])
def test_a_notice_that_cannot_be(small: SmallVault, model: str, given: dict[str, Any], kind: str) -> None:
    """Nothing is signed."""
    before = small.sizes()
    with pytest.raises(UsageProblem) as caught:
        end_of_life(small.desk("S01"), model, **given)
    assert (caught.value.kind, small.sizes()) == (kind, before)


def test_the_week_is_written_as_text_and_table(short: SmallVault, tmp_path: Path) -> None:
    """An order that is due in a week is named, one that is due later is not."""
    from vault.actions.stock import Said

    for order, due in (("PO-1", DAY + 7), ("PO-2", DAY + 8)):
        one_movement(short.desk("S01"), act=Act.ORDER, store="MAIN", model="EM-6-180", quantity=2,
                     said=Said(order=order, due_day=due))
    found = week(short.desk(), HoldAsked())
    write_week(tmp_path / "week.txt", found)
    write_week(tmp_path / "week.csv", found)
    said = (tmp_path / "week.txt").read_text(encoding="utf-8")
    assert said.splitlines() == week_text(found) and "PO-1" in said and "PO-2" not in said
    assert len((tmp_path / "week.csv").read_text(encoding="utf-8-sig").splitlines()) == len(week_rows(found))
