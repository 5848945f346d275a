"""Failure rates: gamma beliefs, Poisson failures, negative binomial demand."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from vault.errors import UsageProblem
from vault.spares.failure_rate import (
    FIT,
    Evidence,
    GammaRate,
    hours_to_show,
    prior,
    prior_from_mtbf,
    prior_words,
    rate_words,
    two_figures,
)

# Hours; the posterior of NIST/SEMATECH e-Handbook 8.4.6.
HANDBOOK = GammaRate(shape=4, hours=3309)

SHAPES = st.floats(0.3, 200)
HOURS = st.floats(1e3, 1e9)
FAILURES = st.integers(0, 300)


def test_the_prior_of_two_mtbfs() -> None:
    """MTBF 600 h with 50 %, 250 h with 95 %: shape 2.863, 1522.46 h (NIST/SEMATECH 8.2.5, to the digits that it shows)."""
    found = prior_from_mtbf(600, 250)
    assert found.shape == pytest.approx(2.863055, abs=1e-6)
    assert found.hours == pytest.approx(1522.506, abs=1e-3)
    assert found.hours == pytest.approx(1522.46, rel=1e-4)


def test_the_test_time_that_shows_an_mtbf() -> None:
    """a 2, b 1400 h, 2 failures, MTBF 600 h at 80 %: 1909 h (NIST/SEMATECH 8.3.1.5)."""
    assert hours_to_show(GammaRate(shape=2, hours=1400), 1 / 600, 2, 800) == pytest.approx(1909.03, abs=0.01)


def test_what_is_shown_already_takes_no_hours() -> None:
    """A belief well below the rate needs no more time."""
    assert hours_to_show(GammaRate(shape=1, hours=1e9), 1e-6, 0, 900) == 0


@pytest.mark.parametrize(("mtbf_h", "expected"), [
    (1 / HANDBOOK.median, 901.13), (1 / HANDBOOK.mean, 827.25), (1 / HANDBOOK.quantile(0.8), 599.995),
    (1 / HANDBOOK.quantile(0.95), 426.77)], ids=["median", "mean", "lower 80 %", "lower 95 %"])
def test_the_posterior_of_the_handbook(mtbf_h: float, expected: float) -> None:
    """MTBFs of the posterior a' 4, b' 3309 h (NIST/SEMATECH 8.4.6)."""
    assert mtbf_h == pytest.approx(expected, abs=0.01)


def test_failures_and_hours_add_to_the_prior() -> None:
    """Prior a 2, b 1400 h with 2 failures in 1909 h is a' 4, b' 3309 h (NIST/SEMATECH 8.4.6)."""
    assert GammaRate(shape=2, hours=1400).after(2, 1909) == HANDBOOK


@pytest.mark.parametrize(("failures", "chance"), [
    (0, 0.347761), (1, 0.322823), (2, 0.187296), (3, 0.086932), (4, 0.035306), (5, 0.01311)])
def test_failures_to_come(failures: int, chance: float) -> None:
    """P(n failures in 1000 h), a negative binomial distribution (scipy.stats.nbinom, computed outside)."""
    found = HANDBOOK.chance_at_most(failures, 1000) - HANDBOOK.chance_at_most(failures - 1, 1000)
    assert found == pytest.approx(chance, abs=1e-6)


def test_the_mean_of_failures_to_come() -> None:
    """4 · 1000 / 3309 = 1.208824."""
    assert HANDBOOK.expected_failures(1000) == pytest.approx(1.208824, abs=1e-6)


def test_the_prior_of_the_trade() -> None:
    """0.2 % a 1000 h is 2000 FIT, an MTBF of 500,000 h, and 90.48 % alive after 50,000 h (common practice; exp(-0.1))."""
    found = prior()
    assert found.mean / FIT == pytest.approx(2000)
    assert found.hours == pytest.approx(500_000)
    assert stats.expon.sf(50_000, scale=1 / found.mean) == pytest.approx(0.9048, abs=1e-4)
    assert rate_words(found.mean) == "0.2 % per 1000 h (2000 FIT)"


@pytest.mark.parametrize(("mean_fit", "shape"), [(0, 1), (2000, 0), (-1, 1), (float("inf"), 1), (float("nan"), 1)])
def test_a_prior_that_says_nothing_is_refused(mean_fit: float, shape: float) -> None:
    """Both are above 0."""
    with pytest.raises(UsageProblem):
        prior(mean_fit=mean_fit, shape=shape)


@pytest.mark.parametrize(("likely_h", "low_h"), [(250, 600), (600, 600), (600, 0), (1e6, 1)])
def test_two_mtbfs_that_make_no_prior_are_refused(likely_h: float, low_h: float) -> None:
    """The second is the lower one."""
    with pytest.raises(UsageProblem):
        prior_from_mtbf(likely_h, low_h)


@pytest.mark.parametrize(("value", "rounded"), [(1234, 1200), (0.0987, 0.099), (0, 0), (9.96, 10)])
def test_two_figures(value: float, rounded: float) -> None:
    """More is never known of a rate."""
    assert two_figures(value) == rounded


@settings(max_examples=15)
@given(shape=SHAPES, hours=HOURS, chance=st.floats(0.01, 0.99), at=st.floats(0.1, 5))
def test_a_belief_is_the_gamma_distribution(shape: float, hours: float, chance: float, at: float) -> None:
    """As scipy.stats.gamma has it."""
    belief, reference = GammaRate(shape=shape, hours=hours), stats.gamma(shape, scale=1 / hours)
    assert belief.quantile(chance) == pytest.approx(reference.ppf(chance))
    assert belief.chance_above(at * belief.mean) == pytest.approx(reference.sf(at * belief.mean))
    assert belief.mean == pytest.approx(reference.mean())


@settings(max_examples=15)
@given(shape=SHAPES, hours=HOURS, ahead=HOURS, failures=st.integers(0, 60))
def test_failures_to_come_are_the_negative_binomial_distribution(shape: float, hours: float, ahead: float,
                                                                 failures: int) -> None:
    """As scipy.stats.nbinom has it."""
    belief, reference = GammaRate(shape=shape, hours=hours), stats.nbinom(shape, hours / (hours + ahead))
    assert belief.chance_at_most(failures, ahead) == pytest.approx(reference.cdf(failures), rel=1e-6, abs=1e-12)


@settings(max_examples=15)
@given(shape=SHAPES, hours=HOURS, ahead=st.floats(1e3, 1e6), permille=st.integers(1, 999))
def test_failures_covered_are_the_fewest(shape: float, hours: float, ahead: float, permille: int) -> None:
    """So many are enough, one fewer is not."""
    belief = GammaRate(shape=shape, hours=hours)
    found = belief.failures_covered(ahead, permille)
    assert belief.chance_at_most(found - 1, ahead) < permille / 1000 <= belief.chance_at_most(found, ahead)


@settings(max_examples=15)
@given(shape=SHAPES, hours=HOURS, first=FAILURES, second=FAILURES, ahead=HOURS)
def test_the_order_of_looking_makes_no_difference(shape: float, hours: float, first: int, second: int, ahead: float) -> None:
    """Two looks are the same as one at both."""
    belief = GammaRate(shape=shape, hours=hours)
    twice, once = belief.after(first, ahead).after(second, ahead), belief.after(first + second, 2 * ahead)
    assert (twice.shape, twice.hours) == pytest.approx((once.shape, once.hours))


def test_a_known_rate_is_recovered_from_five_years() -> None:
    """500 gear, 4000 h a year, 5 years, 3000 FIT: failures drawn once stay within the 90 % interval about the rate."""
    hours, rate = 500 * 4000 * 5, 3000 * FIT
    failures = int(np.random.default_rng(4711).poisson(rate * hours))
    low, high = prior().after(failures, hours).interval()
    assert low < rate < high


def test_the_interval_holds_the_rate_as_often_as_it_says() -> None:
    """4000 histories with rates drawn from the prior: 90 % intervals hold the rate in 88 to 92 % of them.

    Three standard deviations of 4000 draws at 0.9 are 0.0142.
    """
    chance = np.random.default_rng(17)
    belief, hours = prior(), 10_000_000.0
    rates = chance.gamma(belief.shape, 1 / belief.hours, size=4000)
    ends = [belief.after(int(seen), hours).interval() for seen in chance.poisson(rates * hours)]
    held = [low < rate < high for (low, high), rate in zip(ends, rates, strict=True)]
    assert np.mean(held) == pytest.approx(0.9, abs=0.0142)


@pytest.mark.parametrize(("failures", "hours", "raised", "said"), [
    (0, 0, False, ("0.2 % per 1000 h", "nothing was seen of it yet")),
    (0, 250_000, False, ("0 failures in 250000 h on record",)),
    (1, 0, True, ("0.4 % per 1000 h (4000 FIT), 2 times the prior", "1 failure in 0 h", "one more would make it 0.6 %")),
    (5, 40, True, ("1.2 % per 1000 h (12000 FIT), 6 times the prior", "5 failures in 40 h", "one more would make it 1.4 %")),
    (5, 4_500_000, False, ("0.12 % per 1000 h", "one more would make it 0.14 %")),
])
def test_a_rate_tells_what_it_rests_on(failures: int, hours: float, raised: bool, said: tuple[str, ...]) -> None:
    """(1 + n) / (500,000 h + t): five swaps within days make sixfold of the prior, and that is told."""
    found = Evidence(name="A", before=prior(), after=prior().after(failures, hours))
    assert (found.failures, found.hours, found.raised) == (failures, pytest.approx(hours), raised)
    assert [words for words in said if words not in found.words()] == []


def test_the_prior_tells_its_weight() -> None:
    """One failure in 500,000 h is 0.2 % in 1000 h."""
    assert prior_words(prior()) == "the prior, 0.2 % per 1000 h (2000 FIT), counts as 1 failure in 500000 h"
