"""What is believed of a failure rate, and what swaps on record make of it: gamma prior, Poisson failures.

A belief is a gamma distribution: as if `shape` failures had been seen in `hours`. Failures n in t hours make it
gamma(shape + n, hours + t) (NIST/SEMATECH e-Handbook 8.2.5, 8.4.6). Failures in a time to come then follow a negative
binomial distribution. Rates are failures per hour; FIT is failures per 10^9 h.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from vault.errors import UsageProblem

# 0.2 % per 1000 h (common practice, no source).
PRIOR_MEAN_FIT = 2000
PRIOR_SHAPE = 1.0
CREDIBLE_PERMILLE = 900
FIT = 1e-9
FIT_PER_PERCENT_PER_1000_H = 10_000
_MOST_RATIO = 1000.0
_RAISED = 1.5


@dataclass(frozen=True, slots=True, kw_only=True)
class GammaRate:
    """A belief about a failure rate per hour. shape: failures that it is worth; hours: in which they were seen."""

    shape: float
    hours: float

    @property
    def mean(self) -> float:
        """Failures per hour to be expected."""
        return self.shape / self.hours

    @property
    def median(self) -> float:
        """The rate per hour that is as likely too low as too high."""
        return self.quantile(0.5)

    def quantile(self, chance: float) -> float:
        """The rate per hour that the true one stays below with that chance."""
        from scipy.special import gammaincinv

        return float(gammaincinv(self.shape, chance)) / self.hours

    def interval(self, credible_permille: int = CREDIBLE_PERMILLE) -> tuple[float, float]:
        """Rates per hour that hold the true one with that chance, as much left out below as above."""
        tail = (1 - credible_permille / 1000) / 2
        return self.quantile(tail), self.quantile(1 - tail)

    def chance_above(self, rate: float) -> float:
        """P(true rate > rate)."""
        from scipy.special import gammaincc

        return float(gammaincc(self.shape, self.hours * rate))

    def after(self, failures: int, hours: float) -> GammaRate:
        """The belief once so many failures were seen in so many hours."""
        return GammaRate(shape=self.shape + failures, hours=self.hours + hours)

    def expected_failures(self, hours: float) -> float:
        """Mean number of failures in hours to come."""
        return self.mean * hours

    def chance_at_most(self, failures: int, hours: float) -> float:
        """P(no more than so many failures in hours to come): negative binomial, what is not known of the rate included."""
        from scipy.special import betainc

        return float(betainc(self.shape, failures + 1, self.hours / (self.hours + hours))) if failures >= 0 else 0.0

    def failures_covered(self, hours: float, chance_permille: int) -> int:
        """The fewest failures that hours to come stay at or below with that chance."""
        wanted, high = chance_permille / 1000, 1
        while self.chance_at_most(high, hours) < wanted:
            high *= 2
        low = 0
        while low < high:
            middle = (low + high) // 2
            low, high = (low, middle) if self.chance_at_most(middle, hours) >= wanted else (middle + 1, high)
        return low


def prior(*, mean_fit: float = PRIOR_MEAN_FIT, shape: float = PRIOR_SHAPE) -> GammaRate:
    """A belief by its mean in FIT and by how many failures it is worth. Raises UsageProblem for what is not above 0."""
    if not (0 < mean_fit < math.inf and 0 < shape < math.inf):
        raise UsageProblem(f"A prior of {mean_fit:g} FIT that is worth {shape:g} failures says nothing.", kind="out-of-range",
                           hint="Both have to be above 0.")
    return GammaRate(shape=shape, hours=shape / (mean_fit * FIT))


def prior_from_mtbf(likely_h: float, low_h: float) -> GammaRate:
    """A belief by an MTBF that is as likely exceeded as not, and a lower one that is exceeded with a chance of 95 %.

    NIST/SEMATECH e-Handbook 8.2.5. Raises UsageProblem when the second is not the lower one.
    """
    from scipy.optimize import brentq
    from scipy.special import gammaincinv

    if not 0 < low_h < likely_h <= _MOST_RATIO * low_h:
        raise UsageProblem(f"MTBFs of {likely_h:g} h and {low_h:g} h make no prior.", kind="out-of-range",
                           hint="Give the MTBF that is as likely exceeded as not, then a lower one, down to a thousandth of it, "
                                "that is exceeded with a chance of 95 %.")
    ratio = likely_h / low_h
    shape = float(brentq(lambda a: gammaincinv(a, 0.95) / gammaincinv(a, 0.5) - ratio, 0.05, 1e6, xtol=1e-12))
    return GammaRate(shape=shape, hours=float(gammaincinv(shape, 0.5)) * likely_h)


def hours_to_show(before: GammaRate, rate: float, further_failures: int, chance_permille: int) -> float:
    """Hours with so many further failures after which the true rate is below `rate` with that chance; 0 when it is already.

    NIST/SEMATECH e-Handbook 8.3.1.5.
    """
    from scipy.special import gammaincinv

    wanted = float(gammaincinv(before.shape + further_failures, chance_permille / 1000)) / rate
    return max(wanted - before.hours, 0.0)


def two_figures(value: float) -> float:
    """Rounded to two significant figures: more are never known of a rate."""
    return float(f"{value:.2g}")


def rate_words(rate: float) -> str:
    """ "0.2 % per 1000 h (2000 FIT)"."""
    fit = two_figures(rate / FIT)
    return f"{two_figures(fit / FIT_PER_PERCENT_PER_1000_H):g} % per 1000 h ({fit:.0f} FIT)"


@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence:
    """What a rate rests on. name: of the model or type whose swaps were counted."""

    name: str
    before: GammaRate
    after: GammaRate

    @property
    def failures(self) -> int:
        """Seen on record."""
        return round(self.after.shape - self.before.shape)

    @property
    def hours(self) -> float:
        """Under power, on record."""
        return self.after.hours - self.before.hours

    @property
    def raised(self) -> bool:
        """Whether what was seen makes half as much again, or more, of what was believed."""
        return self.failures > 0 and self.after.mean >= _RAISED * self.before.mean

    def words(self) -> str:
        """ "A 1.2 % per 1000 h (12000 FIT), 6 times the prior: 5 failures in 39 h on record, one more would make it 1.4 %"."""
        if self.failures == 0 and self.hours == 0:
            return f"{self.name} {rate_words(self.after.mean)}: nothing was seen of it yet"
        seen = f"{self.failures} {'failure' if self.failures == 1 else 'failures'} in {self.hours:.0f} h on record"
        times = f", {two_figures(self.after.mean / self.before.mean):g} times the prior" if self.raised else ""
        more = two_figures((self.after.shape + 1) / self.after.hours / FIT) / FIT_PER_PERCENT_PER_1000_H
        return f"{self.name} {rate_words(self.after.mean)}{times}: {seen}, one more would make it {two_figures(more):g} %"


def prior_words(before: GammaRate) -> str:
    """ "the prior, 0.2 % per 1000 h (2000 FIT), counts as 1 failure in 500000 h"."""
    return (f"the prior, {rate_words(before.mean)}, counts as {two_figures(before.shape):g} "
            f"{'failure' if two_figures(before.shape) == 1 else 'failures'} in {before.hours:.0f} h")
