"""How much to order at once: (r, Q) and (s, S) beside stockpyl's exact algorithms and its textbook's examples."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import poisson
from stockpyl.rq import r_q_cost_poisson, r_q_poisson_exact
from stockpyl.ss import s_s_cost_discrete, s_s_discrete_exact

from vault.spares.cost import in_packs
from vault.spares.order_levels import Costs, best_quantity, best_review, ordering_of, quantity_of, waiting_for

COSTS = st.builds(Costs, order=st.floats(0.5, 20), keeping=st.floats(1, 20), waiting=st.floats(1, 200))
DEMAND, LEAD = st.floats(0.05, 5), st.floats(0.05, 2)


def test_the_textbooks_order_quantity() -> None:
    """Snyder and Shen, Fundamentals of Supply Chain Theory, example 5.8, as stockpyl's r_q_poisson_exact cites it."""
    found = best_quantity(Costs(order=100, keeping=20, waiting=150), 1.5, 1.5 * 2)
    assert (found.point, found.pieces, found.cost) == (3, 5, pytest.approx(107.92358063314975))


def test_the_textbooks_review_levels() -> None:
    """The same book, example 4.7, as stockpyl's s_s_discrete_exact cites it."""
    found = best_review(Costs(order=5, keeping=1, waiting=4), 6, 6)
    assert (found.point, found.up_to, found.cost) == (4, 10, pytest.approx(8.034111561471642))


@settings(max_examples=6, deadline=None)
@given(costs=COSTS, demand=DEMAND, lead=LEAD)
def test_the_cheapest_order_quantity_is_stockpyls(costs: Costs, demand: float, lead: float) -> None:
    """Its cost to nine figures; where two quantities cost the same, either."""
    *_, cost = r_q_poisson_exact(costs.keeping, costs.waiting, costs.order, demand, lead)
    found = best_quantity(costs, demand, demand * lead)
    assert found.cost == pytest.approx(cost, rel=1e-9)
    assert found.cost == pytest.approx(
        r_q_cost_poisson(found.point, found.pieces, costs.keeping, costs.waiting, costs.order, demand, lead), rel=1e-9)


@settings(max_examples=6, deadline=None)
@given(costs=COSTS, period=DEMAND)
def test_the_cheapest_review_levels_are_stockpyls(costs: Costs, period: float) -> None:
    """What is ordered comes at once, as it has it."""
    *_, cost = s_s_discrete_exact(costs.keeping, costs.waiting, costs.order, True, period)
    found = best_review(costs, period, period)
    assert found.cost == pytest.approx(cost, rel=1e-9)
    assert found.cost == pytest.approx(
        s_s_cost_discrete(found.point, found.up_to, costs.keeping, costs.waiting, costs.order, True, period), rel=1e-9)


MANY = range(1, 17)
PRICES = Costs(order=30, keeping=2, waiting=38)


@pytest.mark.parametrize(("point", "pack"), [(0, 1), (5, 1), (2, 4)])
def test_a_reorder_point_that_is_given_is_kept(point: int, pack: int) -> None:
    """The cheapest of sixteen quantities by stockpyl's r_q_cost_poisson, in whole packs."""
    found = best_quantity(PRICES, 3.0, 3.0 * 0.5, pack=pack, point=point)
    theirs = {pieces: r_q_cost_poisson(point, pieces, 2, 38, 30, 3.0, 0.5) for pieces in MANY if pieces % pack == 0}
    assert (found.point, found.pieces) == (point, min(theirs, key=lambda pieces: theirs[pieces]))
    assert found.cost == pytest.approx(theirs[found.pieces])
    assert quantity_of(PRICES, 3.0, 1.5, 7, point=point).cost == pytest.approx(r_q_cost_poisson(point, 7, 2, 38, 30, 3.0, 0.5))


@pytest.mark.parametrize("point", [-1, 0, 5])
def test_a_review_point_that_is_given_is_kept(point: int) -> None:
    """The cheapest of sixteen levels by stockpyl's s_s_cost_discrete."""
    found = best_review(PRICES, 1.5, 1.5, point=point)
    theirs = {point + more: s_s_cost_discrete(point, point + more, 2, 38, 30, True, 1.5) for more in MANY}
    assert (found.point, found.up_to) == (point, min(theirs, key=lambda up_to: theirs[up_to]))
    assert found.cost == pytest.approx(theirs[found.up_to])


@pytest.mark.parametrize(("period", "mean"), [(0.4, 1.3), (1.5, 1.5), (0.1, 4.0)])
def test_what_comes_later_is_reckoned_by_the_demand_until_then(period: float, mean: float) -> None:
    """The long run of the positions themselves: their chain's stationary shares, and g of each, per period."""
    found = best_review(PRICES, period, mean)
    places = np.arange(found.up_to, found.point, -1)  # after ordering
    falls = places[:, None] - places[None, :]
    moves = np.where(falls >= 0, poisson.pmf(falls, period), 0.0)
    orders = 1 - moves.sum(axis=1)
    moves[:, 0] += orders
    shares = np.linalg.matrix_power(moves, 100_000)[0]
    demand = np.arange(120)
    waits = [poisson.pmf(demand, mean) @ (2 * np.maximum(at - demand, 0) + 38 * np.maximum(demand - at, 0)) for at in places]
    assert found.cost == pytest.approx(shares @ (np.array(waits) + 30 * orders), rel=1e-6)


def test_a_store_that_orders_at_a_service_level() -> None:
    """4 a year, 25.00 an order, 2.00 a year for keeping one: sqrt(2 · 25 · 4 / 2) = 10, in packs of 4 12, for 8 · 12 < 10 · 10.

    A piece that is wanted costs 19 times its keeping, for 19 / 20 is 95 %.
    """
    found = ordering_of(yearly=4, lead_days=56, review_days=28, order_cents=2500, keeping_cents=200, service_permille=950,
                        point=3, pack=4)
    assert (found.eoq, found.rounded.pieces, waiting_for(200, 950)) == (pytest.approx(10), 12, pytest.approx(3800))
    assert (found.exact.point, found.exact.pieces % 4, found.free.pieces % 4) == (3, 0, 0)
    assert found.review is not None and found.free_review is not None
    assert found.up_to == found.review.up_to > found.review.point == 3
    assert found.free.cost <= found.exact.cost <= found.rounded.cost and found.free_review.cost <= found.review.cost


@pytest.mark.parametrize(("quantity", "pack", "whole"), [
    (0.3, 1, 1), (0.3, 6, 6), (4.4, 1, 4), (4.5, 1, 5), (9, 6, 12), (8, 6, 6),
])
def test_an_order_quantity_in_packs_costs_least(quantity: float, pack: int, whole: int) -> None:
    """K d / Q + h Q / 2 at the packs below and above, from which the rule follows: sqrt(4 · 5) = 4.47, sqrt(6 · 12) = 8.49."""
    assert in_packs(quantity, pack) == whole


def test_without_reviews_the_order_quantity_counts() -> None:
    """Somebody who looks all the time orders the quantity itself."""
    found = ordering_of(yearly=4, lead_days=56, review_days=0, order_cents=2500, keeping_cents=200, service_permille=950,
                        point=3)
    assert found.review is None and found.up_to == found.exact.point + found.exact.pieces
