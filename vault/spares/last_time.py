"""Last-time buy: pieces for all the years left, when a model will not be made again.

Random failures: Poisson, pieces × hours × rate. Wear-out: for each piece the chance that it wears out within the hours left,
given that it has reached its age (Weibull): p = 1 - exp((a/η)^k - ((a+h)/η)^k). That is the first wear-out of each piece
alone: a replacement is new and its own wear-out is not counted, which `second_lives` tells where it would matter. The two
causes are added as if independent, which errs to more pieces.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from vault.errors import GearkeepError
from vault.spares.holding import chance_of_no_shortage, mean_demand, spares_for

EXACT_PIECES = 3_000  # up to here by convolution, beyond by the normal distribution
MOST_YEARS = 60
# A new piece that wears out within the hours left with more than this chance makes first failures too few.
SECOND_LIFE_CHANCE = 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class WearOut:
    """Weibull wear-out. life_h: scale, at which 63.2 % have worn out. shape: above 1 (1 is random failure).

    ages: pieces by the hours that they have burnt.
    """

    shape: float
    life_h: int
    ages: Mapping[int, int]

    def chance(self, age_h: int, hours: float) -> float:
        """That a piece which reached its age wears out within the hours."""
        spent = (age_h / self.life_h) ** self.shape
        return -math.expm1(spent - ((age_h + hours) / self.life_h) ** self.shape)


@dataclass(frozen=True, slots=True, kw_only=True)
class LastBuy:
    """Pieces to buy for the remaining life. random_pieces: for random failures alone; wear_reserve: what wear-out adds.

    no_shortage: P(D <= pieces). exact: by convolution, else by the normal distribution. second_lives: a replacement may
    well wear out too within the hours left, so that the figure is too low. less_on_hand: still to buy.
    """

    pieces: int
    random_pieces: int
    wear_reserve: int
    random_mean: float
    wear_mean: float
    no_shortage: float
    exact: bool
    second_lives: bool
    served_pieces: int
    on_hand: int

    @property
    def to_buy(self) -> int:
        return max(self.pieces - self.on_hand, 0)


def last_time_buy(*, pieces: int, years: int, hours_per_year: float, rate_per_1e9_h: float, service_permille: int,
                  wear: WearOut | None = None, retiring: int = 0, on_hand: int = 0) -> LastBuy:
    """How many pieces cover what `pieces` in service will need at a service level.

    retiring: of them, due to be retired before and so left out (the oldest where ages are given). on_hand: lying there and
    coming. Raises GearkeepError (out-of-range) that names the figure.
    """
    _check(pieces, years, hours_per_year, rate_per_1e9_h, wear, retiring)
    left, hours = pieces - retiring, years * hours_per_year
    mean = mean_demand(left, hours, rate_per_1e9_h)
    random_pieces = spares_for(mean, service_permille)
    if wear is None:
        return LastBuy(pieces=random_pieces, random_pieces=random_pieces, wear_reserve=0, random_mean=mean, wear_mean=0.0,
                       no_shortage=chance_of_no_shortage(mean, random_pieces), exact=True, second_lives=False,
                       served_pieces=left, on_hand=on_hand)
    groups = [(count, wear.chance(age, hours)) for age, count in _without_oldest(wear.ages, retiring)]
    wear_mean = sum(count * chance for count, chance in groups)
    exact = left <= EXACT_PIECES and mean <= EXACT_PIECES
    total, chance = (_exact if exact else _normal)(mean, groups, service_permille)
    total = max(total, random_pieces)
    return LastBuy(pieces=total, random_pieces=random_pieces, wear_reserve=total - random_pieces, random_mean=mean,
                   wear_mean=wear_mean, no_shortage=chance, exact=exact,
                   second_lives=wear.chance(0, hours) > SECOND_LIFE_CHANCE, served_pieces=left, on_hand=on_hand)


def worn_out_distribution(groups: Iterable[tuple[int, float]]) -> Any:
    """P(n wear out), n from 0, of groups (pieces, chance each): the Poisson-binomial distribution by convolution.

    A float64 array of as many figures as there are pieces, and one.
    """
    import numpy as np
    from scipy.special import bdtr

    whole = np.ones(1)
    for count, chance in groups:
        # bdtr is the sum; its steps are the single chances.
        whole = np.convolve(whole, np.diff(bdtr(np.arange(count + 1), count, chance), prepend=0.0))
    return whole


def _exact(mean: float, groups: list[tuple[int, float]], service_permille: int) -> tuple[int, float]:
    import numpy as np
    from scipy.special import pdtr

    worn = worn_out_distribution(groups)
    # Beyond ten standard deviations nothing is left that tells.
    most = int(mean + 10 * math.sqrt(mean) + 30)
    random = np.diff(pdtr(np.arange(most + 1), mean), prepend=0.0)
    reached = np.cumsum(np.convolve(random, worn))
    at = int(np.searchsorted(reached, service_permille / 1000))
    return at, min(float(reached[at]), 1.0)


def _normal(mean: float, groups: list[tuple[int, float]], service_permille: int) -> tuple[int, float]:
    from scipy.special import ndtr, ndtri

    middle = mean + sum(count * chance for count, chance in groups)
    spread = math.sqrt(mean + sum(count * chance * (1 - chance) for count, chance in groups))
    # Half a piece more: whole numbers stand for what lies around them.
    at = max(math.ceil(middle + float(ndtri(service_permille / 1000)) * spread - 0.5), 0)
    return at, float(ndtr((at + 0.5 - middle) / spread)) if spread else 1.0


def _without_oldest(ages: Mapping[int, int], retiring: int) -> list[tuple[int, int]]:
    left = []
    for age in sorted(ages, reverse=True):
        gone = min(retiring, ages[age])
        retiring -= gone
        if ages[age] > gone:
            left.append((age, ages[age] - gone))
    return left


def _check(pieces: int, years: int, hours: float, rate: float, wear: WearOut | None, retiring: int) -> None:
    bad = [
        (not 1 <= years <= MOST_YEARS, f"{years} years", f"a time from 1 to {MOST_YEARS} years"),
        (not 0 <= hours <= 8784, f"{hours:g} hours a year", "hours a year from 0 to 8784"),
        (rate < 0, f"a rate of {rate:g} in 10^9 h", "a rate from 0"),
        (not 0 <= retiring <= pieces, f"{retiring} pieces to be retired", f"from 0 to the {pieces} in service"),
    ]
    if wear is not None:
        aged = sum(wear.ages.values())
        bad += [
            (not 1 < wear.shape <= 20, f"a Weibull shape of {wear.shape:g}", "a shape above 1 up to 20 (1 is random failure)"),
            (not 1 <= wear.life_h <= 10_000_000, f"a wear-out life of {wear.life_h} h", "from 1 to 10,000,000 h"),
            (min(wear.ages, default=0) < 0 or min(wear.ages.values(), default=0) < 0, "an age below 0",
             "ages from 0 h"),
            (aged != pieces, f"ages of {aged} pieces", f"the age of each of the {pieces} in service"),
        ]
    for is_bad, found, allowed in bad:
        if is_bad:
            raise GearkeepError(f"A last-time buy cannot be worked out with {found}.", kind="out-of-range",
                                hint=f"Allowed: {allowed}.")
