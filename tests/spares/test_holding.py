"""How many spares cover how many demands: tables of outside values, and scipy.stats beside our own."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import poisson
from stockpyl.eoq import economic_order_quantity

from vault.errors import GearkeepError
from vault.spares.cost import order_quantity
from vault.spares.holding import (
    Policy,
    chance_of_no_shortage,
    covers_words,
    expected_backorders,
    fill_rate,
    mean_demand,
    percent,
    spares_for,
)

MEANS, SPARES = st.floats(0.001, 300), st.integers(0, 400)


@pytest.mark.parametrize(("mean", "at_90", "at_95", "at_99"), [
    (0.5, 1, 2, 3), (1, 2, 3, 4), (2, 4, 5, 6), (3, 5, 6, 8), (5, 8, 9, 11), (10, 14, 15, 18),  # Poisson quantiles, any table
    (200 * 0.008 * 8 / 52, 1, 1, 2), (1000 * 0.008 * 8 / 52, 3, 3, 4), (500 * 0.0175 * 12 / 52, 4, 5, 6),  # fleets, by hand
])
def test_spares_by_service_level(mean: float, at_90: int, at_95: int, at_99: int) -> None:
    """The fewest spares at three service levels."""
    assert [spares_for(mean, service) for service in (900, 950, 990)] == [at_90, at_95, at_99]


def test_a_textbook_example() -> None:
    """20 items, 0.1 failures in 1000 h, 2160 h, 95 %: a mean of 4.32 and 8 spares (logistics engineering textbooks)."""
    mean = mean_demand(20, 2160, 100_000)
    assert mean == pytest.approx(4.32)
    assert chance_of_no_shortage(mean, 7) == pytest.approx(0.9275, abs=5e-5)
    assert chance_of_no_shortage(mean, 8) == pytest.approx(0.9675, abs=5e-5)
    assert spares_for(mean, 950) == 8


def test_three_spares_cover_three_demands() -> None:
    """MTBF 8760 h over 26,280 h: P(D <= 3) is 0.6472; an article that says 0.4232 counts P(D <= 2), which is the fill rate."""
    assert chance_of_no_shortage(3, 3) == pytest.approx(0.6472, abs=5e-5)
    assert fill_rate(3, 3) == pytest.approx(0.4232, abs=5e-5)
    assert covers_words(3, chance_of_no_shortage(3, 3)) == \
        "3 spares cover 3 demands: the chance that none goes wanting is 64.72 %"


@pytest.mark.parametrize(("spares", "waiting", "at_once"), [
    (0, 1, 0), (1, 0.367879, 0.367879), (2, 0.103638, 0.735759), (3, 0.023337, 0.919699), (4, 0.004349, 0.981012),
])
def test_waiting_and_fill_rate_at_a_mean_of_one(spares: int, waiting: float, at_once: float) -> None:
    """Closed forms in 1/e."""
    assert expected_backorders(1, spares) == pytest.approx(waiting, abs=1e-6)
    assert fill_rate(1, spares) == pytest.approx(at_once, abs=1e-6)


@settings(max_examples=20, deadline=None)
@given(mean=MEANS, service=st.integers(1, 999))
def test_spares_are_the_quantile(mean: float, service: int) -> None:
    """scipy.stats says the same."""
    assert spares_for(mean, service) == poisson.ppf(service / 1000, mean)


@settings(max_examples=20, deadline=None)
@given(mean=MEANS, spares=SPARES)
def test_shares_and_waiting_by_definition(mean: float, spares: int) -> None:
    """P(D <= S) of scipy.stats; E[(D - S)+] is the sum of P(D > k) from S on, which is the mean less those below."""
    assert chance_of_no_shortage(mean, spares) == pytest.approx(poisson.cdf(spares, mean))
    below = sum(poisson.sf(range(spares), mean))
    assert expected_backorders(mean, spares) == pytest.approx(mean - below, abs=1e-9)


def test_one_model_for_two_classes_needs_fewer() -> None:
    """Two classes of mean 1 at 95 %: 3 and 3 pieces apart, 5 pooled (Poisson table: 3 at a mean of 1, 5 at a mean of 2)."""
    assert (2 * spares_for(1, 950), spares_for(1 + 1, 950)) == (6, 5)


def test_an_economic_order_quantity() -> None:
    """Snyder and Shen, Fundamentals of Supply Chain Theory, example 3.1."""
    theirs, _ = economic_order_quantity(fixed_cost=8, holding_cost=0.225, demand_rate=1300)
    ours = order_quantity(1300, order_cents=800, keeping_cents=22.5)
    assert ours == pytest.approx(304.0467800264368) and ours == pytest.approx(theirs)


@pytest.mark.parametrize(("said", "share"), [("0.00 %", 0.0), ("99.99 %", 0.999999), ("100.00 %", 1.0), ("64.72 %", 0.6472)])
def test_a_share_is_never_rounded_up_to_all(said: str, share: float) -> None:
    """A chance below one is told as below 100 %."""
    assert percent(share) == said


def test_no_demand_needs_no_spare() -> None:
    """A mean of nought."""
    assert (spares_for(0, 990), expected_backorders(0, 0), chance_of_no_shortage(0, 0)) == (0, 0, 1)


@pytest.mark.parametrize("wrong", [
    lambda: spares_for(1, 1000), lambda: spares_for(1, 0), lambda: spares_for(-1, 950), lambda: spares_for(float("nan"), 950),
    lambda: chance_of_no_shortage(1e9, 1), lambda: order_quantity(4, order_cents=100, keeping_cents=0),
    lambda: Policy(review_days=-1), lambda: Policy(lead_days=9999),
])
def test_figures_out_of_range_are_refused(wrong: object) -> None:
    """Each with what is allowed."""
    with pytest.raises(GearkeepError) as caught:
        wrong()  # type: ignore[operator]
    assert caught.value.kind == "out-of-range" and caught.value.hint
