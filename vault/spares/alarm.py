"""Something fails faster than was believed: the rule, and how often it cries wolf.

Alarm when P(rate > factor × prior mean | what was seen) reaches a certainty. Over given hours that is the same as a count:
the smallest number of failures that alarms. So the chance of a false alarm is exact: P(that many or more) for Poisson
failures at the prior's mean. It holds for one look at these hours; whoever looks again and again sees more of them.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from vault.errors import UsageProblem
from vault.spares.failure_rate import GammaRate

FACTOR = 2.0
CERTAIN_PERMILLE = 990
PRACTICALLY_NONE = 1e-4  # false alarms of one look
_OFTEN = 0.67  # from here on "one in one look" would say less than the figure


@dataclass(frozen=True, slots=True, kw_only=True)
class AlarmRule:
    """factor: times the prior's mean; certain_permille: how sure one has to be. Raises UsageProblem out of range."""

    factor: float = FACTOR
    certain_permille: int = CERTAIN_PERMILLE

    def __post_init__(self) -> None:
        if not (0 < self.factor < 1e6 and 0 < self.certain_permille < 1000):
            raise UsageProblem(f"An alarm at {self.factor:g} times the prior with {self.certain_permille / 10:g} % certainty "
                               "cannot be.", kind="out-of-range",
                               hint="The factor has to be above 0, the certainty from 0.1 % to 99.9 %.")


@dataclass(frozen=True, slots=True, kw_only=True)
class Alarm:
    """certainty: P(rate > factor × prior mean). at_failures: the smallest count that alarms over these hours.

    false_chance: P(alarm) were the rate the prior's mean.
    """

    raised: bool
    certainty: float
    at_failures: int
    false_chance: float


def watch(before: GammaRate, failures: int, hours: float, rule: AlarmRule) -> Alarm:
    """The alarm of one model or type that is believed to be `before` and had so many failures in so many hours."""
    from scipy.special import pdtrc

    limit = before.mean * rule.factor
    wanted = rule.certain_permille / 1000

    def certainty(count: int) -> float:
        return before.after(count, hours).chance_above(limit)

    # More failures never make it less certain, so the count can be bracketed and halved.
    high = 1
    while certainty(high) < wanted:
        high *= 2
    low = 0
    while low < high:
        middle = (low + high) // 2
        low, high = (low, middle) if certainty(middle) >= wanted else (middle + 1, high)
    # pdtrc(k, m) = P(D > k); a rule that alarms with no failure at all always does.
    false = float(pdtrc(low - 1, before.mean * hours)) if low else 1.0
    return Alarm(raised=failures >= low, certainty=certainty(failures), at_failures=low, false_chance=false)


def expected_false_alarms(watched: Iterable[Alarm]) -> float:
    """Mean number of false alarms among many that are watched at once, were every rate its prior's mean.

    Means add whether or not the watched share gear, so it is exact.
    """
    return sum(one.false_chance for one in watched)


def false_words(expected: float) -> str:
    """ "about one false alarm in 40 such looks". expected: false alarms of one look, on average."""
    if expected < PRACTICALLY_NONE:
        return f"practically no false alarm: fewer than one in {round(1 / PRACTICALLY_NONE):,} such looks"
    if expected > _OFTEN:
        told = f"{float(f'{expected:.2g}'):g}"
        return f"about {told} false {'alarm' if told == '1' else 'alarms'} in each such look"
    return f"about one false alarm in {float(f'{1 / expected:.2g}'):,.0f} such looks"
