"""Reorder points, and what a policy gives over the years: closed forms, stockpyl, and a simulation of our own making."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.stats import poisson
from stockpyl.rq import r_q_cost_poisson

from vault.spares.holding import demand_over, mean_demand
from vault.spares.reorder_levels import levels_for, over_the_years, positions


@pytest.mark.parametrize(("service", "point"), [(950, 3), (990, 4)])
def test_a_reorder_point_of_the_trade(service: int, point: int) -> None:
    """500 luminaires, 4000 h, 0.2 % in 1000 h are 4 a year, 0.92 in 12 weeks: 3 at 95 %, 4 at 99 % (common practice)."""
    yearly = mean_demand(500, 4000, 2000)
    assert demand_over(yearly, 84) == pytest.approx(0.923, abs=5e-4)
    assert levels_for(yearly, lead_days=56, review_days=28, service_permille=service).reorder_point == point


@pytest.mark.parametrize(("position", "multiple", "ordered"), [
    (4, 1, 0), (3, 1, 1), (0, 1, 4), (-2, 1, 6), (3, 5, 5), (-2, 5, 10),
])
def test_what_is_ordered_when(position: int, multiple: int, ordered: int) -> None:
    """At the reorder point of 3 or below, up to 4, in whole packs: the rule is 'at or below' (common practice)."""
    levels = levels_for(4, lead_days=56, review_days=28, service_permille=950)
    assert (levels.reorder_point, levels.order_up_to) == (3, 4)
    assert levels.to_order(position, multiple) == ordered


@pytest.mark.parametrize(("lead", "point", "up_to"), [(1.0, 0, 1), (3.0, 2, 3), (0.4, 1, 5), (6.0, 4, 12)])
def test_without_reviews_every_position_is_as_likely(lead: float, point: int, up_to: int) -> None:
    """(r, Q): waiting is what stockpyl's cost grows by with the cost of waiting; at once, the mean of P(D <= y - 1)."""
    met, waiting = over_the_years(lead, 0.0, point, up_to)
    cost = [r_q_cost_poisson(point, up_to - point, 1, short, 1, lead, 1) for short in (1, 2)]
    assert waiting == pytest.approx(cost[1] - cost[0], rel=1e-6)
    assert met == pytest.approx(poisson.cdf(range(point, up_to), lead).mean())


@pytest.mark.parametrize(("lead", "review"), [(0.0215, 0.0215), (1.0, 0.5), (0.0, 2.0)])
def test_one_spare_reordered_when_it_is_gone(lead: float, review: float) -> None:
    """s = 0 and S = 1, by hand: with EBO(1, v) = v - 1 + e^-v, and its integral v²/2 - v - e^-v."""
    late = [v - 1 + math.exp(-v) for v in (lead, lead + review)]
    wait = [v * v / 2 - v - math.exp(-v) for v in (lead, lead + review)]
    assert over_the_years(lead, review, 0, 1) == pytest.approx(
        (1 - (late[1] - late[0]) / review, (wait[1] - wait[0]) / review), rel=1e-6, abs=1e-9)


def _simulated(lead: float, review: float, point: int, up_to: int, pack: int, looks: int) -> tuple[float, float]:
    """Share met at once and mean number waiting. lead: in review periods; review: demand of one. First come, first served: the
    n-th demand takes the n-th piece that comes, or has come."""
    chance = np.random.default_rng(7)
    times = np.sort(chance.random(chance.poisson(review * looks)) * looks)
    comes, position, taken = [0.0] * up_to, up_to, 0
    for look, so_far in enumerate(np.searchsorted(times, np.arange(looks))):
        position, taken = position - (int(so_far) - taken), int(so_far)
        if position <= point:
            pieces = math.ceil((up_to - position) / pack) * pack
            comes += [look + lead] * pieces
            position += pieces
    counted = times[: min(len(times), len(comes))]
    waits = np.maximum(np.array(comes[: len(counted)]) - counted, 0)
    return float((waits == 0).mean()), float(waits.sum() / counted[-1])


@pytest.mark.parametrize(("lead", "review", "point", "up_to", "pack"), [
    (2, 2.0, 4, 6, 1), (0.5, 3.0, 3, 9, 1), (1.5, 1.3, 2, 3, 5), (3, 0.6, 1, 2, 4), (1, 4.0, 3, 8, 6), (0, 1.5, 2, 3, 1),
])
def test_a_policy_does_what_a_simulation_of_it_does(lead: float, review: float, point: int, up_to: int, pack: int) -> None:
    """Looks at fixed times, orders in whole packs, a lead time that may be longer than a review period."""
    met, waiting = _simulated(lead, review, point, up_to, pack, 20_000)
    found = over_the_years(lead * review, review, point, up_to, pack)
    assert found[0] == pytest.approx(met, abs=0.01) and found[1] == pytest.approx(waiting, rel=0.06)


@pytest.mark.parametrize(("review", "point", "up_to", "pack"), [(2.3, 3, 7, 1), (2.3, 3, 6, 4), (0.0, 0, 1, 3), (40.0, 9, 12, 2)])
def test_positions_are_shares_of_all_looks(review: float, point: int, up_to: int, pack: int) -> None:
    """None below nought, together all; none further up than a pack less one above the order-up-to level."""
    found = positions(review, point, up_to, pack)
    assert found.sum() == pytest.approx(1) and found.min() >= -1e-12 and len(found) <= up_to - point + pack - 1


def test_a_demand_beyond_what_is_reckoned_errs_to_more_waiting() -> None:
    """Thousands at each look: as if the position stood at its lowest, where by far most are still met at once."""
    levels = levels_for(60_000, lead_days=28, review_days=28, service_permille=950)
    assert 0.9 < levels.fill < 1 and levels.backorders > 0
