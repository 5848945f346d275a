"""Holding plans: which class falls to which model, levels, what is unknown, late or no longer made."""

from __future__ import annotations

from collections.abc import Mapping

import pytest

from vault.actions.failure_rates import Asked, Rates
from vault.actions.hold_asked import HoldAsked
from vault.actions.hold_notes import late_notes, plan_notes
from vault.domain.driver import DriverModel
from vault.domain.findings import Verdict
from vault.domain.rating import Rating
from vault.domain.settings import Duty, Gear, Output, Settings
from vault.domain.terms import Importance, ItemTerms
from vault.errors import UsageProblem
from vault.spares.burning_hours import HoursTable
from vault.spares.failure_rate import Evidence, GammaRate, prior
from vault.spares.hold_plan import HoldLine, HoldPlan, OrderCosts, Origin, plan
from vault.spares.holding import Policy
from vault.spares.needs import Answer, Coverage, NeedClass
from vault.spares.stock_state import Due, Kept, StockShelf, StockState
from vault.spares.stores import of_stores

FITS, CARE, STOP, UNKNOWN = (Answer(verdict=verdict, rule="", limit="") for verdict in (
    Verdict.FITS, Verdict.FITS_WITH_CARE, Verdict.DOES_NOT_FIT, Verdict.CANNOT_TELL))
RATING = Rating(code="T1", revision=1, title="Downlight", gears=())
LEAD = {"lead_days": 56}
DAY = 20_000


def _model(name: str) -> DriverModel:
    return DriverModel(model=name, revision=1, title=name, output=Output.CONSTANT_CURRENT, channels=1)


def _need(key: int, pieces: int, *, duty: Duty = Duty.GENERAL) -> NeedClass:
    gear = Gear(duty=duty, settings=Settings(output=Output.CONSTANT_CURRENT, channels=()))
    return NeedClass(key=bytes([key] * 8), gear=gear, ratings=(RATING,), line=None, circuit=None, pieces=pieces, tags=())


def _stock(*terms: ItemTerms, shelves: tuple[StockShelf, ...] = (), orders: tuple[Due, ...] = (), kept: tuple[Kept, ...] = (),
           ) -> StockState:
    return StockState(shelves=shelves, orders=orders, kept=kept, shortfalls=(), terms={one.model: one for one in terms},
                      today_day=DAY, lots=(), counted={})


def _notes(found: HoldPlan) -> list[str]:
    """What is said beside a plan, nothing learned of rates."""
    rates = Rates(asked=Asked(), rates=(), groups=(), false_alarms=0.0, notes=())
    return list(plan_notes(HoldAsked(), found, rates, (), DAY))


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


@pytest.mark.parametrize(("of_a", "of_b", "expected", "mixed"), [
    ((900, "EUR"), (800, "EUR"), {"A": 200, "B": 300}, ()),
    ((30_000, "JPY"), (800, "EUR"), {"A": 500}, ("EUR", "JPY")),
    ((900, "EUR"), (800, "JPY"), {"A": 500}, ("EUR", "JPY")),
    ((900, None), (800, "EUR"), {"A": 500}, ("EUR", "no currency")),
    ((None, "JPY"), (800, "EUR"), {"A": 200, "B": 300}, ()),  # what has no price has no currency either
    ((900, "EUR"), (0, "JPY"), {"A": 500}, ()),  # nought is no price
])
def test_prices_of_two_currencies_are_never_compared(of_a: tuple[int | None, str | None], of_b: tuple[int | None, str | None],
                                                     expected: Mapping[str, int], mixed: tuple[str, ...]) -> None:
    """Where both fit, the first of the catalogue counts, and it is said."""
    stock = _stock(*(ItemTerms(model=name, price_cents=price, currency=currency, **LEAD)
                     for name, (price, currency) in (("A", of_a), ("B", of_b))))
    found = plan(COVERAGE, stock, BOTH, Policy())
    assert ({line.model: line.pieces for line in found.lines}, found.mixed) == (expected, mixed)
    assert [" and ".join(mixed) in note for note in _notes(found) if "cannot be compared" in note] == [True] * bool(mixed)


@pytest.mark.parametrize(("own", "answers", "ended", "compared"), [
    ("A", (FITS, FITS), None, True), (None, (FITS, STOP), None, True), (None, (FITS, FITS), DAY - 1, True),
    (None, (FITS, FITS), None, False),
])
def test_currencies_count_only_where_a_price_would_choose(own: str | None, answers: tuple[Answer, ...], ended: int | None,
                                                          compared: bool) -> None:
    """Not for gear that stays with the model that it bears, nor where one model alone fits or is still made."""
    stock = _stock(ItemTerms(model="A", price_cents=900, currency="EUR", **LEAD),
                   ItemTerms(model="B", price_cents=800, currency="JPY", last_order_day=ended, **LEAD))
    one_class = Coverage(needs=COVERAGE.needs[:1], models=COVERAGE.models, answers=(answers,))
    found = plan(one_class, stock, BOTH, Policy(), origins_of=lambda _: (Origin(model=own, circuit=None, pieces=300),))
    assert (_one(found).model, not found.mixed) == ("A", compared)


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
    rates = {name: Evidence(name=name, before=prior(), after=GammaRate(shape=shape, hours=1_000_000))
             for name, shape in (("X", 4), ("Y", 2))}
    whole = Coverage(needs=(_need(1, 500),), models=(_model("A"),), answers=((FITS,),))
    found = plan(whole, _stock(ItemTerms(model="A", **LEAD)), {"A"}, Policy(), origins_of=lambda _: made_of,
                 evidence_of=lambda _, origin: rates[origin.model or ""], hours=HoursTable(by_circuit={"C1": 8000}))
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
                   orders=(Due(due_day=DAY, order="P", model="A", store="MAIN", pieces=coming, supplier=None, ordered_day=0),),
                   kept=(Kept(store="MAIN", model="A", tag="7K3D9QXW6", pieces=kept, since_day=0),))
    assert _one(plan(COVERAGE, stock, {"A"}, Policy())).to_order == ordered


COSTS = OrderCosts(order_cents=2500, keeping_percent=20)


def test_the_cost_of_an_order_decides_how_much_at_once() -> None:
    """4 a year, 25.00 an order, 20 % of 10.00 a year for keeping: sqrt(2 · 25 · 4 / 2) = 10; the reorder point stays at 3."""
    line = _one(plan(COVERAGE, _stock(ItemTerms(model="A", price_cents=1000, **LEAD)), {"A"}, Policy(), costs=COSTS))
    assert line.ordering is not None and line.levels is not None
    assert (line.ordering.eoq, line.levels.reorder_point, line.levels.order_up_to) == (
        pytest.approx(10), 3, line.ordering.up_to)


@pytest.mark.parametrize("terms", [
    {"lead_days": 56}, {"price_cents": 1000}, {"price_cents": 1000, "lead_days": 56, "last_order_day": DAY - 1}])
def test_an_order_quantity_needs_a_price_and_a_lead_time(terms: dict[str, int]) -> None:
    """None is said without them, nor of what can no longer be ordered."""
    assert _one(plan(COVERAGE, _stock(ItemTerms(model="A", **terms)), {"A"}, Policy(), costs=COSTS)).ordering is None


@pytest.mark.parametrize(("terms", "order_cents", "told"), [
    ({"price_cents": 1}, 100_000_000, "No order quantity of A: more than 2,000 pieces at once cannot be"),
    ({"price_cents": 1000, "order_multiple": 2000}, 2500, "No order quantity of A in packs of 2,000: more than 2,000 pieces"),
])
def test_an_order_quantity_beyond_all_stores_is_left_out(terms: dict[str, int], order_cents: int, told: str) -> None:
    """A million for an order of what costs a cent, packs of two thousand: that model keeps its levels, and the others theirs."""
    stock = _stock(ItemTerms(model="A", **terms, **LEAD), ItemTerms(model="B", price_cents=800, **LEAD))
    made_of = {300: (Origin(model="B", circuit=None, pieces=300),), 200: (Origin(model="A", circuit=None, pieces=200),)}
    costs = OrderCosts(order_cents=order_cents, keeping_percent=100)
    dear, plain = (plan(COVERAGE, stock, BOTH, Policy(), origins_of=lambda need: made_of[need.pieces], costs=one)
                   for one in (costs, None))
    assert [line.ordering is None for line in dear.lines] == [True, False]
    assert dear.lines[0].levels == plain.lines[0].levels
    assert any(note.startswith(told) for note in _notes(dear)) and not any("No order quantity" in note for note in _notes(plain))


def _due(order: str, days: int, pieces: int = 5) -> Due:
    return Due(due_day=DAY + days, order=order, model="A", store="MAIN", pieces=pieces, supplier=None, ordered_day=0)


@pytest.mark.parametrize(("lead", "days", "late", "counted"), [
    (56, 0, False, True), (56, -1, True, True), (56, -56, True, True), (56, -57, True, False), (7, -28, True, True),
    (7, -29, True, False), (None, -29, True, False),
])
def test_an_order_later_than_a_new_one_would_be_counts_no_more(lead: int | None, days: int, late: bool, counted: bool) -> None:
    """Later than the lead time and than four weeks: it is named as late, and the position leaves it out."""
    line = _one(plan(COVERAGE, _stock(ItemTerms(model="A", lead_days=lead), orders=(_due("P1", days), _due("P2", 9, 2))), {"A"},
                     Policy()))
    assert ([due.order for due in line.late], line.on_order, bool(line.uncounted)) == (
        ["P1"] if late else [], 7 if counted else 2, not counted)
    assert ["not counted" in note for note in late_notes(line, DAY)] == [not counted for _ in line.late]


@pytest.mark.parametrize(("last_order", "ended", "order_now"), [(None, False, 4), (0, False, 4), (-1, True, 0)])
def test_what_can_no_longer_be_ordered_is_not_ordered(last_order: int | None, ended: bool, order_now: int) -> None:
    """On the day of the last order it still may; after it nothing is ordered, though it is wanted."""
    terms = ItemTerms(model="A", last_order_day=None if last_order is None else DAY + last_order, **LEAD)
    line = _one(plan(COVERAGE, _stock(terms), {"A"}, Policy()))
    assert (line.ended, line.order_now, line.to_order) == (ended, order_now, 4)


def test_what_there_is_lasts_as_long_as_it_covers_the_demand() -> None:
    """500 gear of 4000 h, one failure believed in 500,000 h: P(D <= n) = 1 - q^(n + 1), q = t / (t + 500,000), is 95 %."""
    shelf = StockShelf(store="MAIN", model="A", bin="", good=2, needs_reset=0)
    lasts = [_one(plan(COVERAGE, _stock(shelves=shelves), {"A"}, Policy())).lasts_years(950) for shelves in ((shelf,), ())]
    assert lasts == [pytest.approx(500_000 / (0.05 ** (-1 / (n + 1)) - 1) / 2_000_000) for n in (2, 0)]


def test_a_rate_that_is_not_known_would_ask_for_more() -> None:
    """500 gear for 12 of 52 weeks at 95 %: Poisson 3 (table); of one believed failure 1 - 0.48^(n + 1), so 4."""
    line = _one(plan(COVERAGE, _stock(ItemTerms(model="A", **LEAD)), {"A"}, Policy()))
    assert line.levels is not None and (line.levels.reorder_point, line.unsure_point) == (3, 4)


@pytest.mark.parametrize(("stores", "position", "elsewhere"), [
    (None, 6, (("VAN-1", 4),)), (("MAIN",), 2, ()), (("VAN-1",), 4, ()), (("MAIN", "VAN-1"), 6, ()),
])
def test_what_lies_in_a_van_is_told_or_left_out(stores: tuple[str, ...] | None, position: int,
                                               elsewhere: tuple[tuple[str, int], ...]) -> None:
    """2 in the main store; 3 in a van and 1 coming to it: all of them, or one store as if there were no other."""
    stock = _stock(ItemTerms(model="A", **LEAD), orders=(Due(due_day=DAY, order="P", model="A", store="VAN-1", pieces=1,
                                                             supplier=None, ordered_day=0),),
                   shelves=tuple(StockShelf(store=store, model="A", bin="", good=good, needs_reset=0)
                                 for store, good in (("MAIN", 2), ("VAN-1", 3))))
    line = _one(plan(COVERAGE, of_stores(stock, stores) if stores else stock, {"A"}, Policy()))
    assert (line.position, line.elsewhere) == (position, elsewhere)


def test_an_unknown_store_is_refused() -> None:
    """With those that there are."""
    with pytest.raises(UsageProblem) as caught:
        of_stores(_stock(shelves=(StockShelf(store="MAIN", model="A", bin="", good=1, needs_reset=0),)), ["VAN-9"])
    assert caught.value.kind == "not-found" and caught.value.hint == "There are: MAIN."


def test_gear_of_others_never_falls_to_what_can_no_longer_be_ordered() -> None:
    """Though it is the cheapest: only gear that bears it stays with it, as long as there is some."""
    stock = _stock(ItemTerms(model="A", price_cents=900, **LEAD), ItemTerms(model="B", price_cents=800, last_order_day=DAY - 1))
    made_of = (Origin(model="B", circuit=None, pieces=120), Origin(model="OLD", circuit=None, pieces=180))
    one_class = Coverage(needs=COVERAGE.needs[:1], models=COVERAGE.models, answers=COVERAGE.answers[:1])
    found = plan(one_class, stock, BOTH, Policy(), origins_of=lambda _: made_of)
    assert {line.model: line.pieces for line in found.lines} == {"A": 180, "B": 120}


@pytest.mark.parametrize(("answers", "terms", "idle"), [
    ((FITS, FITS), ("A", "B"), [("B", 300, ("A",))]), ((FITS, STOP), ("A", "B"), [("B", 0, ())]), ((FITS, FITS), ("A",), []),
])
def test_a_model_of_the_store_without_a_line_says_why(answers: tuple[Answer, ...], terms: tuple[str, ...],
                                                      idle: list[tuple[str, int, tuple[str, ...]]]) -> None:
    """What it fits falls to others, or it fits nothing; a model that the store has nothing to do with is not named."""
    coverage = Coverage(needs=COVERAGE.needs[:1], models=COVERAGE.models, answers=(answers,))
    found = plan(coverage, _stock(*(ItemTerms(model=name, **LEAD) for name in terms)), BOTH, Policy())
    assert [(one.model, one.fits, one.served_by) for one in found.idle] == idle
