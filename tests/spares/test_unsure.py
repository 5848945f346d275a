"""Demand at a rate that is believed: scipy.stats.nbinom, and sums of what is independent."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.stats import binom, nbinom, poisson

from vault.spares.failure_rate import GammaRate, prior
from vault.spares.unsure import Part, chances, lasts_years, pieces_for

PRIOR, SEEN = prior(), GammaRate(shape=3.5, hours=900_000)  # 1 failure in 500,000 h; one that was learned


def _nbinom(part: Part) -> Any:
    return nbinom(part.belief.shape, part.belief.hours / (part.belief.hours + part.hours))


@pytest.mark.parametrize(("belief", "hours"), [(PRIOR, 2_803_200.0), (PRIOR, 1000.0), (SEEN, 1e6), (SEEN, 4e8), (PRIOR, 0.0)])
def test_failures_of_one_rate_are_negative_binomial(belief: GammaRate, hours: float) -> None:
    """Every chance, and the quantile, of scipy.stats."""
    theirs = _nbinom(Part(belief=belief, hours=hours))
    reached = chances([Part(belief=belief, hours=hours)])
    assert reached == pytest.approx(theirs.cdf(range(len(reached))), abs=1e-8)
    assert [pieces_for(reached, service)[0] for service in (900, 950, 990)] == list(theirs.ppf([0.9, 0.95, 0.99]))


def test_what_is_independent_adds_up() -> None:
    """Two believed rates, a known one, and pieces that wear out: the convolution of their distributions."""
    parts, upto = [Part(belief=PRIOR, hours=2e6), Part(belief=SEEN, hours=1e6)], np.arange(600)
    whole = np.convolve(*(_nbinom(part).pmf(upto) for part in parts))
    for one in (poisson(2.0), binom(20, 0.3), binom(1, 0.5)):
        whole = np.convolve(whole, one.pmf(upto))
    reached = chances(parts, known_mean=2.0, worn=[(20, 0.3), (1, 0.5)])
    assert reached == pytest.approx(np.cumsum(whole)[: len(reached)], abs=1e-8)


@pytest.mark.parametrize(("pieces", "service"), [(2, 950), (0, 990), (40, 900)])
def test_how_long_pieces_last(pieces: int, service: int) -> None:
    """The time at which scipy.stats' chance falls to the service level; of two parts less than of either."""
    one, other = Part(belief=PRIOR, hours=1e6), Part(belief=SEEN, hours=1e5)
    theirs = brentq(lambda years: _nbinom(one.times(years)).cdf(pieces) - service / 1000, 1e-6, 1e4)
    assert lasts_years([one], pieces, service) == pytest.approx(theirs, rel=1e-6)
    both = lasts_years([one, other], pieces, service)
    assert both is not None and 0 < both < theirs
    pooled = np.convolve(*(_nbinom(part.times(both)).pmf(np.arange(pieces + 1)) for part in (one, other)))
    assert pooled[: pieces + 1].sum() == pytest.approx(service / 1000, abs=1e-6)


@pytest.mark.parametrize(("parts", "pieces", "lasts"), [
    ([], 3, None), ([Part(belief=PRIOR, hours=0.0)], 3, None), ([Part(belief=PRIOR, hours=1e6)], -1, 0.0),
])
def test_what_lasts_for_ever_and_not_at_all(parts: list[Part], pieces: int, lasts: float | None) -> None:
    """Without demand no time is told; what is promised to others lasts for none."""
    assert lasts_years(parts, pieces, 950) == lasts
