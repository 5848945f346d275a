"""What the smallest set and a drop should be, worked out another way than the program does."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import combinations

from small_vault import SmallVault

from vault.actions.luminaire import driver_models, full_gears
from vault.domain.findings import Verdict
from vault.domain.fit import fit_spare
from vault.spares.needs import Coverage


def smallest_by_trying(coverage: Coverage, prices: Mapping[str, int] | None = None) -> int:
    """Fewest models, or least cost, over every set that covers all."""
    every = range(len(coverage.models))
    fitting = [{at for at in every if coverage.answers[need][at].verdict is Verdict.FITS} for need in range(len(coverage.needs))]
    return min(size if prices is None else sum(prices[coverage.models[at].model] for at in some)
               for size in range(len(coverage.models) + 1) for some in combinations(every, size)
               if all(by.intersection(some) for by in fitting))


def alone_fits(small: SmallVault, model: str) -> set[str]:
    """Luminaires with a gear that this model fits and no other of the vault."""
    with small.open().reading() as session:
        models = driver_models(session)
    found = set()
    for reference, tag in small.tags.items():
        seen = small.seen(reference)
        for gear in full_gears(seen.record):
            fits = {name for name, one in models.items()
                    if fit_spare(gear, seen.rating, one, circuit=seen.circuit, line=seen.line).verdict is Verdict.FITS}
            if fits == {model}:
                found.add(tag)
    return found
