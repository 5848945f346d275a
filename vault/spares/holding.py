"""How many spares to hold: Poisson demand over the time until more can come.

S spares cover S demands: P(D <= S) is the chance that none goes wanting. The fill rate, the share of demands met at once
from the shelf, is P(D <= S - 1): a demand is met when fewer than S came before it.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

from vault.domain.terms import Importance
from vault.errors import GearkeepError

DAYS_PER_YEAR = 52 * 7  # the trade counts in weeks
MOST_SPARES = 100_000


def _needs(mean: float) -> None:
    if not 0 <= mean <= MOST_SPARES:
        raise GearkeepError(f"A mean demand of {mean:g} pieces cannot be planned for.", kind="out-of-range",
                            hint=f"It runs from 0 to {MOST_SPARES}.")


def chance_of_no_shortage(mean: float, spares: int) -> float:
    """P(D <= spares) for Poisson demand; 0 for fewer than no spares."""
    from scipy.special import pdtr

    _needs(mean)
    return float(pdtr(spares, mean)) if spares >= 0 else 0.0


def spares_for(mean: float, service_permille: int) -> int:
    """The fewest spares with P(D <= S) at or above the service level."""
    from scipy.special import pdtr, pdtrik

    _needs(mean)
    if not 0 < service_permille < 1000:
        raise GearkeepError(f"A service level of {service_permille / 10:g} % cannot be planned for.", kind="out-of-range",
                            hint="It runs from 0.1 % to 99.9 %.")
    wanted = service_permille / 1000
    if mean == 0:
        return 0
    # The continuous inverse lands beside the whole number; the steps around it decide.
    spares = max(int(pdtrik(wanted, mean)) - 1, 0)
    while pdtr(spares, mean) < wanted:
        spares += 1
    return spares


def fill_rate(mean: float, spares: int) -> float:
    """Share of demands met at once from the shelf: P(D <= spares - 1)."""
    return chance_of_no_shortage(mean, spares - 1)


def expected_backorders(mean: float, spares: int) -> float:
    """Mean number of demands that wait: E[(D - S)+] = mean·P(D >= S) - S·P(D >= S + 1)."""
    from scipy.special import pdtrc

    _needs(mean)
    if spares <= 0:
        return mean - spares
    # pdtrc(k, m) = P(D > k)
    return float(mean * pdtrc(spares - 1, mean) - spares * pdtrc(spares, mean))


SERVICE_PERMILLE: Mapping[Importance, int] = {  # common practice, no source
    Importance.VITAL: 990, Importance.ESSENTIAL: 950, Importance.DESIRABLE: 900,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Policy:
    """How the store works. service_permille: by importance. review_days: between two looks at the list.

    lead_days: taken for models whose terms tell none; None leaves those unknown. Raises GearkeepError (out-of-range).
    """

    service_permille: Mapping[Importance, int] = field(default_factory=lambda: SERVICE_PERMILLE)
    review_days: int = 28
    lead_days: int | None = None

    def __post_init__(self) -> None:
        for name, found, most in (("review period", self.review_days, 3650), ("lead time", self.lead_days or 0, 3650)):
            if not 0 <= found <= most:
                raise GearkeepError(f"A {name} of {found} days cannot be planned for.", kind="out-of-range",
                                    hint=f"It runs from 0 to {most} days.")


@dataclass(frozen=True, slots=True, kw_only=True)
class Levels:
    """What to hold of one model. mean: demands until more can come (lead time and review period).

    reorder_point: the fewest pieces that cover these demands at the service level; order when what lies there and is
    coming, less what is reserved, is at or below it. order_up_to: more by what is ordered at once. no_shortage: P(D <=
    reorder_point). fill: P(D <= reorder_point - 1). backorders: mean number of demands that wait, with the reorder point held.
    """

    mean: float
    service_permille: int
    reorder_point: int
    order_up_to: int
    no_shortage: float
    fill: float
    backorders: float

    def to_order(self, position: int, multiple: int = 1) -> int:
        """Pieces to order now, in whole packs; 0 above the reorder point. position: on hand + on order - reserved."""
        if position > self.reorder_point:
            return 0
        return -(-(self.order_up_to - position) // multiple) * multiple


def mean_demand(pieces: int, hours: float, rate_per_1e9_h: float) -> float:
    """Expected failures of so many pieces that burn so many hours each. Means of several classes add (Poisson)."""
    return pieces * hours * rate_per_1e9_h / 1e9


def demand_over(yearly: float, days: int) -> float:
    """Mean demand over some days of a year of 52 weeks."""
    return yearly * days / DAYS_PER_YEAR


def levels_for(yearly: float, *, lead_days: int, review_days: int, service_permille: int, order_pieces: int = 1) -> Levels:
    """Reorder point over lead time and review period; order-up-to adds the mean demand of a review period, rounded up, and
    at least `order_pieces`. Raises GearkeepError (out-of-range).
    """
    mean = demand_over(yearly, lead_days + review_days)
    point = spares_for(mean, service_permille)
    at_once = max(order_pieces, math.ceil(demand_over(yearly, review_days)), 1)
    return Levels(mean=mean, service_permille=service_permille, reorder_point=point, order_up_to=point + at_once,
                  no_shortage=chance_of_no_shortage(mean, point), fill=fill_rate(mean, point),
                  backorders=expected_backorders(mean, point))


def covers_words(spares: int, chance: float) -> str:
    """The sentence that every output gives."""
    noun, demand = ("spare covers", "demand") if spares == 1 else ("spares cover", "demands")
    return f"{spares} {noun} {spares} {demand}: the chance that none goes wanting is {percent(chance)}"


def percent(share: float) -> str:
    """A share as per cent, never rounded up to 100 %."""
    return f"{min(share * 100, 99.99) if share < 1 else 100:.2f} %"
