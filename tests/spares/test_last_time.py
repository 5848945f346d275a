"""The last-time buy: random failures, wear-out by Weibull, both together."""

from __future__ import annotations

import math
from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import binom, nbinom, norm, poisson, weibull_min

from vault.errors import GearkeepError
from vault.spares.failure_rate import GammaRate, prior
from vault.spares.last_time import WearOut, known_rate_buy, last_time_buy
from vault.spares.unsure import Part, chances

NEW_50 = WearOut(shape=3.0, life_h=80_000, ages={20_000: 50})
ASKED = {"pieces": 50, "years": 8, "hours_per_year": 4000, "rate_per_1e9_h": 2000.0, "service_permille": 950}


def test_random_failures_alone() -> None:
    """50 gear, 8 years of 4000 h, 0.2 % in 1000 h: a mean of 3.2, and 6 pieces at 95 % (Poisson table: 0.9554)."""
    buy = known_rate_buy(**ASKED)
    assert buy.random_mean == pytest.approx(3.2) and (buy.pieces, buy.wear_reserve) == (6, 0)
    assert buy.no_shortage == pytest.approx(0.9554, abs=5e-5)


@settings(max_examples=10, deadline=None)
@given(shape=st.floats(1.1, 8), life=st.integers(1000, 200_000), age=st.integers(0, 100_000), hours=st.integers(0, 100_000))
def test_the_chance_of_wear_out_is_conditional(shape: float, life: int, age: int, hours: int) -> None:
    """1 - R(a + h) / R(a) of scipy.stats, on its logarithms."""
    weibull = weibull_min(shape, scale=life)
    expected = -np.expm1(weibull.logsf(age + hours) - weibull.logsf(age))
    assert WearOut(shape=shape, life_h=life, ages={}).chance(age, hours) == pytest.approx(expected, rel=1e-6, abs=1e-9)


def test_the_scale_is_where_two_thirds_have_worn_out() -> None:
    """1 - 1/e at the Weibull scale."""
    assert NEW_50.chance(0, 80_000) == pytest.approx(1 - math.exp(-1))


@settings(max_examples=10, deadline=None)
@given(each=st.lists(st.floats(0, 1), min_size=1, max_size=6))
def test_the_distribution_is_that_of_every_case(each: list[float]) -> None:
    """Poisson-binomial: every way in which some wear out and some do not, added up."""
    cases = list(product((0, 1), repeat=len(each)))
    expected = [sum(math.prod(p if out else 1 - p for out, p in zip(case, each, strict=True)) for case in cases
                    if sum(case) == worn) for worn in range(len(each) + 1)]
    assert chances((), worn=[(1, p) for p in each]) == pytest.approx(np.cumsum(expected), abs=1e-12)


@settings(max_examples=10, deadline=None)
@given(pieces=st.integers(1, 60), chance=st.floats(0.001, 0.999))
def test_alike_pieces_are_binomial(pieces: int, chance: float) -> None:
    """scipy.stats.binom."""
    assert chances((), worn=[(pieces, chance)]) == pytest.approx(binom.cdf(range(pieces + 1), pieces, chance), abs=1e-12)


@settings(max_examples=10, deadline=None)
@given(young=st.integers(1, 20), old=st.integers(1, 20), years=st.integers(1, 12), service=st.sampled_from([900, 950, 990]))
def test_both_causes_together(young: int, old: int, years: int, service: int) -> None:
    """The fewest pieces of the sum of a Poisson and two binomial figures, by scipy.stats, and never below random alone."""
    wear = WearOut(shape=4.0, life_h=60_000, ages={5_000: young, 40_000: old})
    buy = known_rate_buy(pieces=young + old, years=years, hours_per_year=4000, rate_per_1e9_h=2000.0, service_permille=service,
                        wear=wear)
    hours = years * 4000
    worn = np.convolve(*(binom.pmf(np.arange(pieces + 1), pieces, wear.chance(age, hours))
                         for pieces, age in ((young, 5_000), (old, 40_000))))
    reached = [worn @ poisson.cdf(n - np.arange(worn.size), buy.random_mean) for n in (buy.pieces, buy.pieces - 1)]
    assert buy.no_shortage == pytest.approx(reached[0], abs=1e-9) and reached[0] >= service / 1000 - 1e-9
    assert reached[1] < service / 1000 + 1e-9 or buy.pieces == buy.random_pieces
    assert buy.pieces == buy.random_pieces + buy.wear_reserve


def test_many_pieces_are_reckoned_like_few() -> None:
    """100,000 pieces: the mean of both causes and 1.645 standard deviations of them, within one piece (normal distribution)."""
    many = ASKED | {"pieces": 100_000}
    buy = known_rate_buy(**many, wear=WearOut(shape=3.0, life_h=80_000, ages={20_000: 100_000}))
    spread = math.sqrt(buy.random_mean + buy.wear_mean * (1 - buy.wear_mean / 100_000))
    assert buy.pieces == pytest.approx(buy.random_mean + buy.wear_mean + norm.ppf(0.95) * spread, abs=1)


@pytest.mark.parametrize(("belief", "service"), [
    (prior(), 990), (prior(), 900), (GammaRate(shape=4, hours=2_500_000), 990), (GammaRate(shape=400, hours=2e8), 950),
])
def test_a_believed_rate_asks_for_what_its_own_distribution_says(belief: GammaRate, service: int) -> None:
    """40 gear of 8760 h, 8 years: the quantile of scipy.stats.nbinom, and beside it that of the mean rate (Poisson)."""
    hours = 40 * 8760 * 8
    theirs = nbinom(belief.shape, belief.hours / (belief.hours + hours))
    buy = last_time_buy(pieces=40, years=8, parts=[Part(belief=belief, hours=40 * 8760)], service_permille=service)
    assert (buy.pieces, buy.rate_known) == (theirs.ppf(service / 1000), False)
    assert buy.no_shortage == pytest.approx(theirs.cdf(buy.pieces), abs=1e-8)
    assert buy.known_pieces == poisson.ppf(service / 1000, belief.mean * hours) <= buy.pieces


def test_gear_of_rates_learned_apart_and_wear_out_add_up() -> None:
    """10 of 40 retired: three quarters of each part's hours; their chances convolved with those of wear-out (scipy.stats)."""
    parts, upto = [Part(belief=prior(), hours=2e5), Part(belief=GammaRate(shape=3, hours=1e6), hours=1e5)], np.arange(400)
    wear = WearOut(shape=4.0, life_h=60_000, ages={5_000: 30, 40_000: 10})
    buy = last_time_buy(pieces=40, years=6, parts=parts, service_permille=950, wear=wear, retiring=10)
    whole = binom.pmf(upto, 30, wear.chance(5_000, 6 * 7500))
    for part in parts:
        whole = np.convolve(whole, nbinom.pmf(upto, part.belief.shape, 1 / (1 + 4.5 * part.hours / part.belief.hours)))
    reached = np.cumsum(whole)
    assert buy.pieces == np.searchsorted(reached, 0.95) and buy.no_shortage == pytest.approx(reached[buy.pieces], abs=1e-8)


def test_the_retired_need_nothing_and_the_oldest_go_first() -> None:
    """Ten of the oldest retired is as if they never hung there."""
    both = WearOut(shape=3.0, life_h=80_000, ages={20_000: 40, 60_000: 10})
    left = WearOut(shape=3.0, life_h=80_000, ages={20_000: 40})
    retired, never = known_rate_buy(**ASKED, wear=both, retiring=10), known_rate_buy(**(ASKED | {"pieces": 40}), wear=left)
    assert (retired.pieces, retired.wear_mean, retired.served_pieces) == (never.pieces, never.wear_mean, 40)


@pytest.mark.parametrize(("on_hand", "to_buy"), [(0, 6), (4, 2), (6, 0), (9, 0), (-3, 9)])
def test_what_lies_there_is_not_bought_again(on_hand: int, to_buy: int) -> None:
    """Never below nought; where more is reserved than is there, that much more is bought."""
    assert known_rate_buy(**ASKED, on_hand=on_hand).to_buy == to_buy


@pytest.mark.parametrize(("years", "told"), [(2, False), (20, True)])
def test_a_second_wear_out_is_told(years: int, told: bool) -> None:
    """A new piece: 0.1 % in 8000 h, 63 % in 80,000 h (Weibull 3, 80,000 h)."""
    assert known_rate_buy(**(ASKED | {"years": years}), wear=NEW_50).second_lives is told


@pytest.mark.parametrize("changed", [
    {"years": 0}, {"years": 61}, {"hours_per_year": 8784}, {"rate_per_1e9_h": -1.0}, {"retiring": 51}, {"service_permille": 1000},
    {"wear": WearOut(shape=1.0, life_h=80_000, ages={0: 50})}, {"wear": WearOut(shape=3.0, life_h=0, ages={0: 50})},
    {"wear": WearOut(shape=3.0, life_h=80_000, ages={0: 49})}, {"wear": WearOut(shape=3.0, life_h=80_000, ages={-1: 50})},
    {"wear": WearOut(shape=float("nan"), life_h=80_000, ages={0: 50})},
])
def test_figures_out_of_range_name_what_is_allowed(changed: dict[str, object]) -> None:
    """Each is refused by itself."""
    with pytest.raises(GearkeepError) as caught:
        known_rate_buy(**(ASKED | changed))  # type: ignore[arg-type]
    assert caught.value.kind == "out-of-range" and caught.value.hint
