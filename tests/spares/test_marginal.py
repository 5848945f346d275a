"""What the money buys: the frontier against brute force, budgets, missing prices."""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vault.errors import GearkeepError
from vault.spares.holding import chance_of_no_shortage, expected_backorders, fill_rate
from vault.spares.marginal import Wanted, bought_for, cost_of_service, curve_of

A = Wanted(model="A", mean=1.0, price_cents=1000)
B = Wanted(model="B", mean=2.0, price_cents=5000, weight=10)
ITEM = st.tuples(st.floats(0.05, 2.5), st.integers(1, 60), st.sampled_from([1, 3, 10]))
MOST = 6  # spares of each model that brute force tries


def _items(drawn: list[tuple[float, int, int]]) -> list[Wanted]:
    return [Wanted(model=f"M{at}", mean=mean, price_cents=price, weight=weight) for at, (mean, price, weight) in enumerate(drawn)]


def _waiting(items: list[Wanted], stock: tuple[int, ...]) -> float:
    return sum(item.weight * expected_backorders(item.mean, spares) for item, spares in zip(items, stock, strict=True))


def _cost(items: list[Wanted], stock: tuple[int, ...]) -> int:
    return sum((item.price_cents or 0) * spares for item, spares in zip(items, stock, strict=True))


@given(drawn=st.lists(ITEM, min_size=1, max_size=3))
@settings(max_examples=15, deadline=None)
def test_no_other_stock_of_that_cost_leaves_less_waiting(drawn: list[tuple[float, int, int]]) -> None:
    """Every point of the frontier against every stock of up to six of each model."""
    items = _items(drawn)
    tried = [(_cost(items, stock), _waiting(items, stock)) for stock in product(range(MOST + 1), repeat=len(items))]
    for point in curve_of(items).points:
        assert point.waiting <= min(waiting for cost, waiting in tried if cost <= point.cost_cents) + 1e-9


@given(drawn=st.lists(ITEM, min_size=1, max_size=4))
@settings(max_examples=15, deadline=None)
def test_a_points_figures_are_those_of_its_stock(drawn: list[tuple[float, int, int]]) -> None:
    """Cost, waiting, share met at once and the chance of no shortage, each reckoned anew from the stock."""
    items = _items(drawn)
    curve = curve_of(items)
    for number, point in enumerate(curve.points):
        stock = tuple(curve.stock(number)[item.model] for item in items)
        chances = [chance_of_no_shortage(item.mean, spares) for item, spares in zip(items, stock, strict=True)]
        met = sum(item.mean * fill_rate(item.mean, spares) for item, spares in zip(items, stock, strict=True))
        whole = 1.0
        for chance in chances:
            whole *= chance
        assert point.cost_cents == _cost(items, stock)
        assert (point.waiting, point.served, point.no_shortage) == (
            pytest.approx(_waiting(items, stock), abs=1e-9), pytest.approx(met / sum(item.mean for item in items)),
            pytest.approx(whole))


@given(drawn=st.lists(ITEM, min_size=1, max_size=3), budget=st.integers(0, 400))
@settings(max_examples=25, deadline=None)
def test_a_budget_is_kept_and_well_spent(drawn: list[tuple[float, int, int]], budget: int) -> None:
    """Never more than the money, never worse than the last point of the frontier that it pays for."""
    curve = curve_of(_items(drawn))
    bought = bought_for(curve, budget)
    assert bought.cost_cents <= budget
    assert bought.waiting <= min(point.waiting for point in curve.points if point.cost_cents <= budget) + 1e-9


@given(drawn=st.lists(ITEM, min_size=1, max_size=2), held=st.tuples(st.integers(-2, 3), st.integers(0, 3)),
       packs=st.tuples(st.integers(1, 3), st.integers(1, 3)))
@settings(max_examples=15, deadline=None)
def test_what_is_there_counts_and_packs_stay_whole(drawn: list[tuple[float, int, int]], held: tuple[int, int],
                                                   packs: tuple[int, int]) -> None:
    """From what is held, by whole packs, against every stock of up to four packs more of each model."""
    items = [replace(item, held=there, pack=pack) for item, there, pack in zip(_items(drawn), held, packs, strict=False)]
    stocks = [tuple(item.held + more * item.pack for item, more in zip(items, bought, strict=True))
              for bought in product(range(5), repeat=len(items))]
    base = _cost(items, tuple(item.held for item in items))
    tried = [(_cost(items, stock) - base, _waiting(items, stock)) for stock in stocks]
    curve = curve_of(items)
    assert curve.points[0].waiting == pytest.approx(_waiting(items, stocks[0])) and curve.points[0].cost_cents == 0
    for number, point in enumerate(curve.points):
        assert point.waiting <= min(waiting for cost, waiting in tried if cost <= point.cost_cents) + 1e-9
        assert all((curve.stock(number)[item.model] - item.held) % item.pack == 0 for item in items)


@pytest.mark.parametrize(("held", "pack", "budget", "stock", "left", "next_pack"), [
    (0, 1, 2500, 2, 500, "A"),
    (3, 1, 2500, 5, 500, "A"),  # the three there are not bought again
    (0, 4, 2500, 0, 2500, "A"),  # a pack costs 40.00
    (9, 1, 2500, 9, 2500, None),  # P(D > 9) at a mean of 1 is below one in a million (Poisson table)
    (0, 1, 99_000, 9, 90_000, None),
])
def test_why_money_is_left(held: int, pack: int, budget: int, stock: int, left: int, next_pack: str | None) -> None:
    """Too little for the next pack, or nothing that would be of use: one model of mean 1 at 10.00."""
    bought = bought_for(curve_of([replace(A, held=held, pack=pack)]), budget)
    assert (dict(bought.stock), bought.left_cents) == ({"A": stock}, left)
    assert (bought.next_pack.model if bought.next_pack else None) == next_pack


@pytest.mark.parametrize(("budget", "stock", "cost", "frontier"), [
    (0, {"A": 0, "B": 0}, 0, True),
    (5000, {"A": 0, "B": 1}, 5000, True),  # 10 · 0.8647 / 50 EUR takes more off than 0.6321 / 10 EUR
    (4999, {"A": 4, "B": 0}, 4000, False),  # B costs more than there is; a fifth A too
    (10_000, {"A": 0, "B": 2}, 10_000, True),
])
def test_what_a_budget_buys(budget: int, stock: dict[str, int], cost: int, frontier: bool) -> None:
    """By hand, from P(D > S) of two models."""
    bought = bought_for(curve_of([A, B]), budget)
    assert (dict(bought.stock), bought.cost_cents, bought.frontier) == (stock, cost, frontier)


def test_what_a_service_costs() -> None:
    """One model of mean 1: half of the demand is met at once from two pieces (0.7358), 95 % from four (0.9810)."""
    curve = curve_of([A])
    found = [cost_of_service(curve, wanted) for wanted in (500, 950)]
    assert [one[1].cost_cents if one else None for one in found] == [2000, 4000]
    assert cost_of_service(curve, 1000) is None


def test_a_model_without_a_price_is_named_and_never_free() -> None:
    """Neither unknown nor nought buys anything."""
    curve = curve_of([A, Wanted(model="N", mean=5, price_cents=None), Wanted(model="Z", mean=5, price_cents=0)])
    assert curve.unpriced == ("N", "Z")
    assert {item.model for item in curve.items} == {"A"} and set(curve.stock(len(curve.points))) == {"A"}


def test_a_demand_so_large_that_nothing_underflows() -> None:
    """At a mean of 2000, P(D = 0) is below what a float holds; the chance still comes to one."""
    curve = curve_of([Wanted(model="L", mean=2000, price_cents=1)])
    assert curve.points[-1].no_shortage == pytest.approx(1, abs=1e-4) and curve.points[0].no_shortage == pytest.approx(0)


@pytest.mark.parametrize(("wrong", "kind"), [
    (lambda: bought_for(curve_of([A]), -1), "out-of-range"),
    (lambda: curve_of([Wanted(model=name, mean=99_000, price_cents=1) for name in "XY"]), "too-large"),
])
def test_what_cannot_be_reckoned_is_refused(wrong: object, kind: str) -> None:
    """A budget below nought, a demand beyond all stores."""
    with pytest.raises(GearkeepError) as caught:
        wrong()  # type: ignore[operator]
    assert caught.value.kind == kind
