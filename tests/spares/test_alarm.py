"""The alarm about what fails faster than was believed."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from vault.errors import UsageProblem
from vault.spares.alarm import AlarmRule, expected_false_alarms, false_words, watch
from vault.spares.failure_rate import GammaRate, prior

RULE = AlarmRule()
HOURS = [0.0, 1e4, 1e6, 1e7, 1e8]
RULES = st.builds(AlarmRule, factor=st.floats(1.1, 10), certain_permille=st.integers(800, 999))


@settings(max_examples=20)
@given(shape=st.floats(0.3, 50), failures=st.integers(0, 500), hours=st.floats(0, 1e8), rule=RULES)
def test_the_alarm_is_the_posterior_probability(shape: float, failures: int, hours: float, rule: AlarmRule) -> None:
    """P(rate > factor × prior mean | data) as scipy.stats.gamma has it, and the count is the same rule."""
    before = prior(shape=shape)
    found = watch(before, failures, hours, rule)
    reference = stats.gamma.sf(rule.factor * before.mean, shape + failures, scale=1 / (before.hours + hours))
    assert found.certainty == pytest.approx(reference, rel=1e-6, abs=1e-12)
    assert found.raised == (found.certainty >= rule.certain_permille / 1000) == (failures >= found.at_failures)


@pytest.mark.parametrize("hours", HOURS)
def test_the_count_that_alarms_is_the_smallest(hours: float) -> None:
    """One failure fewer does not."""
    at = watch(prior(), 0, hours, RULE).at_failures
    assert watch(prior(), at, hours, RULE).raised
    assert not watch(prior(), at - 1, hours, RULE).raised


@pytest.mark.parametrize("hours", HOURS)
def test_the_chance_of_a_false_alarm_is_exact(hours: float) -> None:
    """P(so many failures or more) at the prior's mean, by scipy.stats.poisson."""
    found = watch(prior(), 0, hours, RULE)
    assert found.false_chance == pytest.approx(stats.poisson.sf(found.at_failures - 1, prior().mean * hours), rel=1e-9)


def test_false_alarms_of_many_that_are_watched() -> None:
    """2000 sets of 20 types that fail as the prior says raise as many false alarms on average as was told.

    Four standard deviations of the mean are allowed.
    """
    hours = np.linspace(1e6, 2e7, 20)
    watched = [watch(prior(), 0, float(one), RULE) for one in hours]
    drawn = np.random.default_rng(5).poisson(prior().mean * hours, size=(2000, 20))
    alarms = (drawn >= [one.at_failures for one in watched]).sum(axis=1)
    told = expected_false_alarms(watched)
    assert alarms.mean() == pytest.approx(told, abs=4 * (told / 2000) ** 0.5)


@pytest.mark.parametrize(("expected", "said"), [
    (9.9e-27, "practically no false alarm: fewer than one in 10,000 such looks"), (0.00099, "one false alarm in 1,000 such"),
    (0.025, "about one false alarm in 40 such looks"), (0.5, "one false alarm in 2 such"),
    (1.6, "about 1.6 false alarms in each"), (0.98, "about 0.98 false alarms in each"), (1.04, "about 1 false alarm in each"),
    (12.3, "about 12 false alarms in each such look"),
])
def test_false_alarms_are_told_in_looks(expected: float, said: str) -> None:
    """One over the mean number of them; what never happens is told as that."""
    assert said in false_words(expected)


def test_an_alarm_that_needs_no_failure_is_always_false() -> None:
    """A rule looser than the prior itself alarms with nothing seen."""
    found = watch(GammaRate(shape=50, hours=1e6), 0, 0, AlarmRule(factor=0.1, certain_permille=500))
    assert (found.raised, found.at_failures, found.false_chance) == (True, 0, 1.0)


@pytest.mark.parametrize(("factor", "certain_permille"), [(0, 990), (-1, 990), (2, 0), (2, 1000), (float("nan"), 990)])
def test_a_rule_that_cannot_be_is_refused(factor: float, certain_permille: int) -> None:
    """Factors above 0, certainties between 0 and 100 %."""
    with pytest.raises(UsageProblem):
        AlarmRule(factor=factor, certain_permille=certain_permille)
