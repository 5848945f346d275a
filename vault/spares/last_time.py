"""Last-time buy: pieces for all the years left, when a model will not be made again.

Random failures: where the rate is believed (gamma), negative binomial: it is one rate for all the years, and may be well above
its mean in all of them. Where it is known, Poisson: pieces × hours × rate. Wear-out: for each piece the chance that it wears out
within the hours left, given that it has reached its age (Weibull): p = 1 - exp((a/η)^k - ((a+h)/η)^k). That is the first wear-out
of each piece alone: a replacement is new and its own wear-out is not counted, which `second_lives` tells where it would matter.
The two causes are added as if independent, which errs to more pieces.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from vault.errors import GearkeepError
from vault.spares.burning_hours import YEAR_H
from vault.spares.holding import mean_demand, spares_for
from vault.spares.unsure import Part, chances, pieces_for

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

    no_shortage: P(D <= pieces). rate_known: by Poisson, else by negative binomial; known_pieces: what random failures would ask
    for were the mean rate known. second_lives: a replacement may well wear out too within the hours left, so that the figure is
    too low. less_on_hand: still to buy.
    """

    pieces: int
    random_pieces: int
    wear_reserve: int
    random_mean: float
    wear_mean: float
    no_shortage: float
    rate_known: bool
    known_pieces: int
    second_lives: bool
    served_pieces: int
    on_hand: int

    @property
    def to_buy(self) -> int:
        return max(self.pieces - self.on_hand, 0)


def known_rate_buy(*, pieces: int, years: int, hours_per_year: float, rate_per_1e9_h: float, service_permille: int,
                   wear: WearOut | None = None, retiring: int = 0, on_hand: int = 0) -> LastBuy:
    """How many pieces cover what `pieces` in service will need at a service level, the failure rate known.

    retiring: of them, due to be retired before and so left out (the oldest where ages are given). on_hand: lying there and
    coming, less reserved: below 0 where more is reserved. Raises GearkeepError (out-of-range) that names the figure.
    """
    _check(pieces, years, hours_per_year, rate_per_1e9_h, wear, retiring)
    mean = mean_demand(pieces - retiring, years * hours_per_year, rate_per_1e9_h)
    return _bought(pieces, years * hours_per_year, (), mean, service_permille, wear, retiring, on_hand)


def last_time_buy(*, pieces: int, years: int, parts: Sequence[Part], service_permille: int, wear: WearOut | None = None,
                  retiring: int = 0, on_hand: int = 0) -> LastBuy:
    """The same, the failure rate believed. parts: all the gear by what its rate rests on, with the hours of a year; the retired
    are left out of each alike. Raises GearkeepError (out-of-range).
    """
    hours = sum(part.hours for part in parts) / pieces
    _check(pieces, years, hours, 0.0, wear, retiring)
    left = [part.times(years * (pieces - retiring) / pieces) for part in parts]
    return _bought(pieces, years * hours, left, 0.0, service_permille, wear, retiring, on_hand)


def _bought(pieces: int, hours: float, parts: Sequence[Part], known_mean: float, service_permille: int, wear: WearOut | None,
            retiring: int, on_hand: int) -> LastBuy:
    believed = sum(part.belief.mean * part.hours for part in parts)
    known_pieces = spares_for(known_mean + believed, service_permille)
    random_pieces = known_pieces if not parts else pieces_for(chances(parts), service_permille)[0]
    groups = [] if wear is None else [(count, wear.chance(age, hours)) for age, count in _without_oldest(wear.ages, retiring)]
    reached = chances(parts, known_mean=known_mean, worn=groups)
    total = max(pieces_for(reached, service_permille)[0], random_pieces)
    return LastBuy(pieces=total, random_pieces=random_pieces, wear_reserve=total - random_pieces,
                   random_mean=known_mean + believed, wear_mean=sum(count * one for count, one in groups),
                   no_shortage=float(reached[min(total, len(reached) - 1)]),
                   rate_known=not parts, known_pieces=known_pieces,
                   second_lives=wear is not None and wear.chance(0, hours) > SECOND_LIFE_CHANCE,
                   served_pieces=pieces - retiring, on_hand=on_hand)


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
        (not 0 <= round(hours, 6) <= YEAR_H, f"{hours:g} hours a year", f"hours a year from 0 to {YEAR_H}"),
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
