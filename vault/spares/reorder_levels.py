"""The reorder point and the order-up-to level of one model, and what they give over the years.

One looks every review period; where the position (on hand + on order - reserved) is at or below s, one orders up to S, in whole
packs; it comes a lead time later, and whoever finds nothing waits for it. So just after a look the position y is one of s + 1
to S. What was ordered by a look at t, and nothing later, has come when the time from t + L to t + L + R is served: at t + L + u
there lies y - D, D being the demand of L + u. With a the mean demand of L and b that of L + R,

    share that waits     (EBO(y, b) - EBO(y, a)) / (b - a)
    mean number waiting  the mean of EBO(y, v) for v from a to b,

each averaged over y, by how often it stands there after a look (stationary distribution of a Markov chain). Without reviews, or
one that is all the time, these are P(D >= y) and EBO(y, a), and every y is as likely (Hadley and Whitin, Analysis of Inventory
Systems, 1963, from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from vault.spares.holding import chance_of_no_shortage, demand_over, expected_backorders, fill_rate, spares_for

# Positions times demands that a chain is reckoned over; beyond, the lowest position stands for all, which errs to more waiting.
_MOST_STEPS = 2_000_000
_MOST_POSITIONS = 1_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Levels:
    """What to hold of one model. mean: demands until more can come (lead time and review period).

    reorder_point: the fewest pieces that cover these demands at the service level; order when what lies there and is
    coming, less what is reserved, is at or below it. order_up_to: more by what is ordered at once. no_shortage: P(D <=
    reorder_point), of the position at which an order goes out. fill: share of all demands that the shelf meets at once, over
    the years; backorders: how many demands wait at any time, on average.
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


def levels_for(yearly: float, *, lead_days: int, review_days: int, service_permille: int, pack: int = 1,
               order_up_to: int | None = None) -> Levels:
    """Reorder point over lead time and review period. order_up_to: None adds the mean demand of a review period, rounded up,
    and at least one piece. Raises GearkeepError (out-of-range).
    """
    mean = demand_over(yearly, lead_days + review_days)
    point = spares_for(mean, service_permille)
    up_to = point + max(math.ceil(demand_over(yearly, review_days)), 1) if order_up_to is None else order_up_to
    fill, waiting = over_the_years(demand_over(yearly, lead_days), demand_over(yearly, review_days), point, up_to, pack)
    return Levels(mean=mean, service_permille=service_permille, reorder_point=point, order_up_to=up_to,
                  no_shortage=chance_of_no_shortage(mean, point), fill=fill, backorders=waiting)


def over_the_years(lead: float, review: float, point: int, up_to: int, pack: int = 1) -> tuple[float, float]:
    """Share of demands met at once, and the mean number that wait. lead, review: mean demand of a lead time and of a review
    period. Raises GearkeepError (out-of-range).
    """
    fill = waiting = 0.0
    for position, share in enumerate(positions(review, point, up_to, pack), point + 1):
        met, waits = _of_position(lead, review, position)
        fill += share * met
        waiting += share * waits
    return min(max(float(fill), 0.0), 1.0), max(float(waiting), 0.0)


def _of_position(lead: float, review: float, position: int) -> tuple[float, float]:
    if review == 0:
        return fill_rate(lead, position), expected_backorders(lead, position)
    end = lead + review
    late = expected_backorders(end, position) - expected_backorders(lead, position)
    return 1 - late / review, (_pairs_waiting(end, position) - _pairs_waiting(lead, position)) / review


def _pairs_waiting(mean: float, position: int) -> float:
    """E[w (w - 1) / 2] of w = (D - position)+: what EBO(position, v) adds up to for v from 0 to the mean."""
    from scipy.special import pdtrc

    # Of Poisson demand E[D (D - 1); D > k] = mean² P(D > k - 2), and E[D; D > k] = mean P(D > k - 1).
    two, one, none = (float(pdtrc(position + k, mean)) for k in (-1, 0, 1))
    return (mean * mean * two - 2 * position * mean * one + position * (position + 1) * none) / 2


def positions(review: float, point: int, up_to: int, pack: int = 1) -> Any:
    """How often the position stands at point + 1, point + 2, ... after a look: a float64 array that adds up to 1."""
    import numpy as np
    from scipy.special import gammaln

    count, most = up_to - point + pack - 1, int(review + 10 * math.sqrt(review) + 30)
    if count == 1 or count > _MOST_POSITIONS or count * most > _MOST_STEPS:
        return np.ones(1)
    # Looks between which nothing was taken change nothing, so the chain steps only where something was.
    taken = np.arange(1, most + 1)
    chance = (np.exp(taken * math.log(review) - review - gammaln(taken + 1)) / -math.expm1(-review) if review
              else np.eye(1, most)[0])
    left = np.arange(count)[:, None] + point + 1 - taken[None, :]
    after = np.where(left <= point, left - (left - up_to) // pack * pack, left)
    steps = np.zeros((count, count))
    np.add.at(steps, (np.arange(count)[:, None], after - point - 1), chance / chance.sum())
    balance = steps.T - np.eye(count)
    balance[-1] = 1.0
    return np.linalg.solve(balance, np.eye(count)[-1])
