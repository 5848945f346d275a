"""What is on record as a model's replacement, held against the gear that the model serves: a name alone is no advice."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from vault.domain.terms import ItemTerms
from vault.spares.hold_plan import HoldPlan, is_ended
from vault.spares.needs import Coverage
from vault.spares.what_if import covered_by


@dataclass(frozen=True, slots=True, kw_only=True)
class Successor:
    """A replacement. serves: gear in service that the model which ends serves; fits: of them those that the replacement may
    stand in for, None where the vault knows no such driver.
    """

    model: str
    serves: int
    fits: int | None

    @property
    def refused(self) -> bool:
        """Whether some of the gear would get no spare."""
        return self.fits is not None and self.fits < self.serves


def ended_models(terms: Mapping[str, ItemTerms], today_day: int) -> dict[str, int]:
    """The day of the last order by model, of those that can no longer be ordered."""
    return {model: one.last_order_day for model, one in sorted(terms.items())
            if one.last_order_day is not None and is_ended(one, today_day)}


def successors(plan: HoldPlan, coverage: Coverage, terms: Mapping[str, ItemTerms], *, with_care: bool = False,
               ) -> dict[str, Successor]:
    """By model, for each whose terms name a replacement. A model serves the gear that falls to it in the plan, or where none
    does all that it covers.
    """
    names, lines = [model.model for model in coverage.models], {line.model: line for line in plan.lines}
    places = {need.key: number for number, need in enumerate(coverage.needs)}
    found = {}
    for model, one in terms.items():
        if one.replaced_by is None:
            continue
        if model in lines:
            served = [(places[share.need.key], share.origin.pieces) for share in lines[model].shares]
        else:
            served = [(need, coverage.needs[need].pieces) for need in covered_by(coverage, model, with_care=with_care)] \
                if model in names else []
        at = names.index(one.replaced_by) if one.replaced_by in names else None
        found[model] = Successor(model=one.replaced_by, serves=sum(pieces for _, pieces in served),
                                 fits=None if at is None else sum(pieces for need, pieces in served
                                                                  if coverage.covers(need, at, with_care=with_care)))
    return found


def successor_words(one: Successor | None) -> str:
    """ "replaced by N, which fits all 12 gear", "N is named in its place, but fits none of its 12 gear"."""
    if one is None:
        return "no replacement is named"
    if one.fits is None:
        return f"replaced by {one.model}, of which the vault has no figures"
    if not one.serves:
        return f"replaced by {one.model}"
    if not one.refused:
        return f"replaced by {one.model}, which fits {'its 1' if one.serves == 1 else f'all its {one.serves}'} gear"
    return f"{one.model} is named in its place, but fits {one.fits or 'none'} of its {one.serves} gear"
