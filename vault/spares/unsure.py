"""Demand to come where the failure rate is believed and not known: more is to be held than for the mean rate alone.

Failures at a rate that is gamma distributed are negative binomial (NIST/SEMATECH e-Handbook 8.2.5): all the years of a purchase
share one rate, and where it lies above its mean it does so in every year. Gear whose rate was learned together shares a rate;
rates that were learned apart are taken as independent. Sums are reckoned through their generating functions on the unit circle
(discrete Fourier transform), wide enough that what lies beyond has next to no chance (one in a thousand million for each rate).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from vault.spares.failure_rate import GammaRate

_LEFT_OUT = 1e-9  # chance that a rate is higher yet


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """Gear that shares a rate. hours: of all of it in the time that is meant."""

    belief: GammaRate
    hours: float

    def times(self, factor: float) -> Part:
        """The same over so many times the hours."""
        return Part(belief=self.belief, hours=self.hours * factor)


def chances(parts: Iterable[Part], *, known_mean: float = 0.0, worn: Iterable[tuple[int, float]] = ()) -> Any:
    """P(D <= n) for n from 0: a float64 array.

    D is the sum of failures at believed rates (parts), of failures at known rates (known_mean, Poisson) and of pieces that wear
    out (worn: groups of pieces, with the chance of each).
    """
    import numpy as np
    from scipy.special import gammainccinv

    parts, worn = list(parts), list(worn)
    # Demand at rates that hardly any exceeds, and seven standard deviations more; small means need somewhat beyond.
    mean = known_mean + sum(float(gammainccinv(part.belief.shape, _LEFT_OUT)) / part.belief.hours * part.hours for part in parts)
    most = (int(mean + 7 * math.sqrt(mean)) + 30 if mean else 0) + sum(count for count, _ in worn)
    size = 1 << (most + 1).bit_length()
    turn = np.exp(-2j * np.pi * np.arange(size // 2 + 1) / size)
    log = known_mean * (turn - 1)
    for part in parts:
        log -= part.belief.shape * np.log1p(part.hours / part.belief.hours * (1 - turn))
    whole = np.exp(log)
    for count, chance in worn:
        whole *= (1 - chance + chance * turn) ** count
    return np.minimum(np.cumsum(np.fft.irfft(whole, size)[: most + 1]), 1.0)


def pieces_for(reached: Any, service_permille: int) -> tuple[int, float]:
    """The fewest pieces n with P(D <= n) at or above the service level, and that chance. reached: of `chances`."""
    import numpy as np

    at = min(int(np.searchsorted(reached, service_permille / 1000)), len(reached) - 1)
    return at, float(reached[at])


def lasts_years(parts: Sequence[Part], pieces: int, service_permille: int) -> float | None:
    """Years for which so many pieces cover the demand at the service level. parts: by the hours of a year. None where there is no
    demand, 0 for fewer than no pieces.
    """
    from scipy.optimize import brentq
    from scipy.special import betaincinv

    parts, wanted = [part for part in parts if part.hours], service_permille / 1000
    if not parts:
        return None
    if pieces < 0:
        return 0.0
    # The demand of any one part alone is covered for longer than all of it.
    alone = []
    for part in parts:
        kept = float(betaincinv(part.belief.shape, pieces + 1, wanted))
        alone.append(part.belief.hours * (1 - kept) / kept / part.hours)
    if len(parts) == 1:
        return alone[0]

    def beyond(years: float) -> float:
        reached = chances(part.times(years) for part in parts)
        return float(reached[min(pieces, len(reached) - 1)]) - wanted

    longest = min(alone)
    return longest if beyond(longest) >= 0 else float(brentq(beyond, 0.0, longest, rtol=1e-6))
