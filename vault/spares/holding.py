"""How many spares to hold: Poisson demand over the time until more can come.

S spares cover S demands: P(D <= S) is the chance that none goes wanting. Where each piece that is taken is ordered again, the
fill rate, the share of demands met at once from the shelf, is P(D <= S - 1): a demand is met when fewer than S came before it.
"""

from __future__ import annotations

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
    if not 0 < service_permille < 1000:
        raise GearkeepError(f"A service level of {service_permille / 10:g} % cannot be planned for.", kind="out-of-range",
                            hint="It runs from 0.1 % to 99.9 %.")
    return fewest_for(mean, service_permille / 1000)


def demand_covered(spares: int, service_permille: int) -> float:
    """The greatest mean demand that so many spares cover at the service level."""
    from scipy.special import pdtri

    return float(pdtri(spares, service_permille / 1000)) if spares >= 0 else 0.0


def fewest_for(mean: float, wanted: float) -> int:
    """The fewest spares with P(D <= S) >= wanted, which is below 1."""
    from scipy.special import pdtr, pdtrik

    _needs(mean)
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


def mean_demand(pieces: int, hours: float, rate_per_1e9_h: float) -> float:
    """Expected failures of so many pieces that burn so many hours each. Means of several classes add (Poisson)."""
    return pieces * hours * rate_per_1e9_h / 1e9


def demand_over(yearly: float, days: int) -> float:
    """Mean demand over some days of a year of 52 weeks."""
    return yearly * days / DAYS_PER_YEAR


def covers_words(spares: int, chance: float) -> str:
    """The sentence that every output gives."""
    noun, demand = ("spare covers", "demand") if spares == 1 else ("spares cover", "demands")
    return f"{spares} {noun} {spares} {demand}: the chance that none goes wanting is {percent(chance)}"


def percent(share: float) -> str:
    """A share as per cent, never rounded up to 100 %."""
    return f"{min(share * 100, 99.99) if share < 1 else 100:.2f} %"
