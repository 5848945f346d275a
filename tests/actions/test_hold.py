"""Holding plans: which class falls to which model, levels, what is unknown, and the commands over a vault."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import pytest
from small_vault import SmallVault

from vault.actions.holding import HoldAsked, hold_plan, what_money_buys
from vault.actions.last_time import LastTimeAsked, last_time
from vault.actions.stock_load import load_stock
from vault.domain.driver import DriverModel
from vault.domain.findings import Verdict
from vault.domain.rating import Rating
from vault.domain.settings import Duty, Gear, Output, Settings
from vault.domain.terms import Importance, ItemTerms
from vault.errors import UsageProblem
from vault.spares.burning_hours import HoursTable
from vault.spares.failure_rate import GammaRate
from vault.spares.hold_plan import HoldLine, HoldPlan, OrderCosts, Origin, plan
from vault.spares.holding import Policy
from vault.spares.needs import Answer, Coverage, NeedClass
from vault.spares.stock_state import Due, Kept, StockShelf, StockState

FITS, CARE, STOP, UNKNOWN = (Answer(verdict=verdict, rule="", limit="") for verdict in (
    Verdict.FITS, Verdict.FITS_WITH_CARE, Verdict.DOES_NOT_FIT, Verdict.CANNOT_TELL))
RATING = Rating(code="T1", revision=1, title="Downlight", gears=())
LEAD = {"lead_days": 56}
TERMS = "model,price,currency,lead_days,importance\nGEN-50-1050,24.50,EUR,56,essential\nGEN-25-800,18.00,EUR,56,desirable\n"


def _model(name: str) -> DriverModel:
    return DriverModel(model=name, revision=1, title=name, output=Output.CONSTANT_CURRENT, channels=1)


def _need(key: int, pieces: int, *, duty: Duty = Duty.GENERAL) -> NeedClass:
    gear = Gear(duty=duty, settings=Settings(output=Output.CONSTANT_CURRENT, channels=()))
    return NeedClass(key=bytes([key] * 8), gear=gear, ratings=(RATING,), line=None, circuit=None, pieces=pieces, tags=())


def _stock(*terms: ItemTerms, shelves: tuple[StockShelf, ...] = (), orders: tuple[Due, ...] = (), kept: tuple[Kept, ...] = (),
           ) -> StockState:
    return StockState(shelves=shelves, orders=orders, kept=kept, shortfalls=(), terms={one.model: one for one in terms},
                      today_day=0, lots=(), counted={})


def _one(found: HoldPlan) -> HoldLine:
    (line,) = found.lines
    return line


COVERAGE = Coverage(needs=(_need(1, 300), _need(2, 200)), models=(_model("A"), _model("B")),
                    answers=((FITS, FITS), (FITS, STOP)))
BOTH = {"A", "B"}


@pytest.mark.parametrize(("price_a", "price_b", "chosen", "expected"), [
    (900, 800, BOTH, {"A": 200, "B": 300}),  # the cheaper takes what it fits
    (800, 900, BOTH, {"A": 500}),
    (800, None, BOTH, {"A": 500}),  # no price is never the cheapest
    (None, None, BOTH, {"A": 500}),  # equals: in the order of the catalogue
    (900, 800, {"A"}, {"A": 500}),
    (900, 800, {"B"}, {"B": 300}),
])
def test_a_class_falls_to_the_cheapest_that_fits(price_a: int | None, price_b: int | None, chosen: set[str],
                                                 expected: Mapping[str, int]) -> None:
    """Gear by model."""
    stock = _stock(ItemTerms(model="A", price_cents=price_a, **LEAD), ItemTerms(model="B", price_cents=price_b, **LEAD))
    assert {line.model: line.pieces for line in plan(COVERAGE, stock, chosen, Policy()).lines} == expected


def test_gear_falls_to_the_model_that_it_bears_where_that_is_chosen() -> None:
    """Though another is cheaper; what bears a model that is not chosen falls to the cheapest."""
    stock = _stock(ItemTerms(model="A", price_cents=900, **LEAD), ItemTerms(model="B", price_cents=800, **LEAD))
    made_of = (Origin(model="A", circuit=None, pieces=120), Origin(model="OLD", circuit=None, pieces=180))
    one_class = Coverage(needs=COVERAGE.needs[:1], models=COVERAGE.models, answers=COVERAGE.answers[:1])
    found = plan(one_class, stock, BOTH, Policy(), origins_of=lambda _: made_of)
    assert {line.model: (line.pieces, line.shares[0].own) for line in found.lines} == {"A": (120, True), "B": (180, False)}


@pytest.mark.parametrize(("answer", "with_care", "covered"), [
    (FITS, False, True), (CARE, True, True), (CARE, False, False), (UNKNOWN, True, False), (STOP, True, False),
])
def test_what_does_not_fit_holds_nothing(answer: Answer, with_care: bool, covered: bool) -> None:
    """Unknown never fits; the class is named instead."""
    need = _need(1, 40)
    coverage = Coverage(needs=(need,), models=(_model("A"),), answers=((answer,),))
    found = plan(coverage, _stock(), {"A"}, Policy(), with_care=with_care)
    assert (bool(found.lines), found.uncovered) == (covered, () if covered else (need,))


def test_demand_is_pooled_over_classes() -> None:
    """500 gear of two classes, 4000 h, 0.2 % in 1000 h: 4 a year; 12 weeks at 95 %: reorder at 3 (common practice)."""
    line = _one(plan(COVERAGE, _stock(ItemTerms(model="A", **LEAD)), {"A"}, Policy()))
    assert line.yearly == pytest.approx(4) and line.levels is not None
    assert (line.levels.reorder_point, line.levels.mean, len(line.shares)) == (3, pytest.approx(0.923, abs=5e-4), 2)
    assert (line.trade_low, line.trade_high) == (10, 50)


def test_a_learned_rate_and_hours_of_a_circuit_count() -> None:
    """Twice the rate on half the gear with twice the hours: 1.5 and 2 of the plain 4 a year (by hand)."""
    made_of = (Origin(model="X", circuit="C1", pieces=250), Origin(model="Y", circuit=None, pieces=250))
    rates = {"X": GammaRate(shape=4, hours=1_000_000), "Y": GammaRate(shape=2, hours=1_000_000)}
    whole = Coverage(needs=(_need(1, 500),), models=(_model("A"),), answers=((FITS,),))
    found = plan(whole, _stock(ItemTerms(model="A", **LEAD)), {"A"}, Policy(), origins_of=lambda _: made_of,
                 belief_of=lambda _, origin: rates[origin.model or ""], hours=HoursTable(by_circuit={"C1": 8000}))
    assert [share.yearly for share in _one(found).shares] == [pytest.approx(8), pytest.approx(2)]


@pytest.mark.parametrize(("duty", "told", "importance"), [
    (Duty.GENERAL, None, Importance.ESSENTIAL), (Duty.GENERAL, Importance.DESIRABLE, Importance.DESIRABLE),
    (Duty.EMERGENCY_CONVERTER, Importance.DESIRABLE, Importance.VITAL), (Duty.GENERAL, Importance.VITAL, Importance.VITAL),
])
def test_emergency_duty_is_vital_whatever_the_terms_say(duty: Duty, told: Importance | None, importance: Importance) -> None:
    """Else the terms, else essential."""
    coverage = Coverage(needs=(_need(1, 1, duty=duty),), models=(_model("A"),), answers=((FITS,),))
    line = _one(plan(coverage, _stock(ItemTerms(model="A", importance=told, **LEAD)), {"A"}, Policy()))
    assert line.importance is importance
    assert line.opening == (1 if importance is Importance.VITAL else 0)  # at least one of each vital model


@pytest.mark.parametrize(("told", "default", "lead", "by_terms"), [
    (56, None, 56, True), (56, 14, 56, True), (None, 14, 14, False), (None, None, None, False), (0, None, 0, True),
])
def test_a_lead_time_that_nobody_told_is_unknown(told: int | None, default: int | None, lead: int | None, by_terms: bool) -> None:
    """No figure comes of it, and never a lead time of nought."""
    line = _one(plan(COVERAGE, _stock(ItemTerms(model="A", lead_days=told)), {"A"}, Policy(lead_days=default)))
    assert (line.lead_days, line.lead_told) == (lead, by_terms)
    assert [figure is None for figure in (line.levels, line.to_order, line.opening)] == [lead is None] * 3


@pytest.mark.parametrize(("good", "coming", "kept", "multiple", "ordered"), [
    (4, 0, 0, None, 0), (3, 0, 0, None, 1), (3, 1, 0, None, 0), (4, 0, 2, None, 2), (0, 0, 0, 5, 5), (0, 3, 4, 5, 5),
])
def test_the_trigger_counts_what_is_coming_and_kept(good: int, coming: int, kept: int, multiple: int | None,
                                                    ordered: int) -> None:
    """On hand + on order - reserved at or below the reorder point of 3; what needs a reset does not count."""
    stock = _stock(ItemTerms(model="A", order_multiple=multiple, **LEAD),
                   shelves=(StockShelf(store="MAIN", model="A", bin="", good=good, needs_reset=9),),
                   orders=(Due(due_day=9, order="P", model="A", store="MAIN", pieces=coming, supplier=None, ordered_day=0),),
                   kept=(Kept(store="MAIN", model="A", tag="7K3D9QXW6", pieces=kept, since_day=0),))
    assert _one(plan(COVERAGE, stock, {"A"}, Policy())).to_order == ordered


def test_the_cost_of_an_order_decides_how_much_at_once() -> None:
    """4 a year, 25.00 an order, 20 % of 10.00 a year for keeping: sqrt(2 · 25 · 4 / 2) = 10 at once."""
    stock = _stock(ItemTerms(model="A", price_cents=1000, **LEAD))
    levels = _one(plan(COVERAGE, stock, {"A"}, Policy(), costs=OrderCosts(order_cents=2500, keeping_percent=20))).levels
    assert levels is not None and levels.order_up_to - levels.reorder_point == 10


@pytest.fixture
def priced(small: SmallVault, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> SmallVault:
    """The small vault with terms of two of its stocked models; no cache of the user's is touched."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    file = tmp_path / "terms.csv"
    file.write_text(TERMS, encoding="utf-8")
    load_stock(small.desk("S01"), file, store="MAIN")
    return small


def test_every_gear_in_service_is_planned_for_once(priced: SmallVault) -> None:
    """The twenty gear of the vault: held for or named as uncovered; and what has no lead time is told."""
    found = hold_plan(priced.desk(), HoldAsked())
    assert sum(line.pieces for line in found.plan.lines) + sum(need.pieces for need in found.plan.uncovered) == 20
    assert {line.model for line in found.plan.lines if line.levels} == {"GEN-50-1050", "GEN-25-800"}
    assert "CC-40-700" in " ".join(found.notes) and "unknown" in " ".join(found.notes)


def test_money_buys_only_what_has_a_price(priced: SmallVault) -> None:
    """The others are named."""
    found = what_money_buys(priced.desk(), HoldAsked())
    assert {item.model for item in found.curve.items} == {"GEN-50-1050", "GEN-25-800"} and found.currency == "EUR"
    assert "CC-40-700" in found.unpriced and "CC-40-700" in found.no_lead


@pytest.mark.parametrize(("model", "wish", "kind"), [
    ("NO-SUCH", LastTimeAsked(years=8), "not-found"),
    ("GEN-50-1050", LastTimeAsked(years=8, wear_shape=3.0, wear_life_h=60_000), "bad-value"),
    ("GEN-50-1050", LastTimeAsked(years=8, ages=((None, 20_000),)), "bad-value"),
])
def test_a_last_time_buy_that_cannot_be_reckoned(priced: SmallVault, model: str, wish: LastTimeAsked, kind: str) -> None:
    """An unknown model; wear-out without ages, which are never taken as nought; ages without wear-out."""
    with pytest.raises(UsageProblem) as caught:
        last_time(priced.desk(), model, wish, HoldAsked())
    assert caught.value.kind == kind
