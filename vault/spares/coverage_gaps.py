"""What nothing covers: classes that no spare on the shelf can save, and those that no model at all can."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from vault.domain.findings import Verdict
from vault.domain.settings import Duty
from vault.spares.needs import Answer, Coverage, NeedClass

_NEAREST_FIRST = (Verdict.FITS, Verdict.FITS_WITH_CARE, Verdict.CANNOT_TELL, Verdict.DOES_NOT_FIT)


@dataclass(frozen=True, slots=True, kw_only=True)
class Gap:
    """One class without cover. need: its index in the coverage. model, answer: the nearest model and why it does not do;
    None where there is no model at all.
    """

    need: int
    of: NeedClass
    model: str | None
    answer: Answer | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Gaps:
    """Emergency first, then by number. unsaved: no spare on the shelf can stand in (uncovered ones are among them); uncovered:
    no model of the catalogue can.
    """

    unsaved: tuple[Gap, ...]
    uncovered: tuple[Gap, ...]

    @property
    def unsaved_pieces(self) -> int:
        """Drivers in service that no spare on the shelf can stand in for."""
        return sum(gap.of.pieces for gap in self.unsaved)

    @property
    def uncovered_pieces(self) -> int:
        """Drivers in service that no model can stand in for."""
        return sum(gap.of.pieces for gap in self.uncovered)


def by_duty(gaps: tuple[Gap, ...]) -> dict[Duty, int]:
    """Drivers of the gaps by duty, emergency duties first; only duties that occur."""
    found = dict.fromkeys((Duty.EMERGENCY_CONVERTER, Duty.GENERAL_AND_EMERGENCY, Duty.GENERAL), 0)
    for gap in gaps:
        found[gap.of.gear.duty] += gap.of.pieces
    return {duty: pieces for duty, pieces in found.items() if pieces}


def shelf_gaps(coverage: Coverage, usable: Mapping[str, int], *, with_care: bool = False) -> Gaps:
    """What no spare on the shelf can save, and what no model covers. usable: good pieces by model.

    A spare that cannot be told to fit never counts; with_care says whether one that fits with care does.
    """
    every = range(len(coverage.models))
    on_shelf = [model for model in every if usable.get(coverage.models[model].model, 0) > 0]
    unsaved, uncovered = [], []
    for need in range(len(coverage.needs)):
        covering = [model for model in every if coverage.covers(need, model, with_care=with_care)]
        if not any(model in covering for model in on_shelf):
            unsaved.append(_gap(coverage, need, on_shelf))
        if not covering:
            uncovered.append(_gap(coverage, need, list(every)))
    return Gaps(unsaved=_ordered(unsaved), uncovered=_ordered(uncovered))


def _gap(coverage: Coverage, need: int, among: list[int]) -> Gap:
    nearest = min(among, default=None, key=lambda model: _NEAREST_FIRST.index(coverage.answers[need][model].verdict))
    return Gap(need=need, of=coverage.needs[need], model=None if nearest is None else coverage.models[nearest].model,
               answer=None if nearest is None else coverage.answers[need][nearest])


def _ordered(gaps: list[Gap]) -> tuple[Gap, ...]:
    return tuple(sorted(gaps, key=lambda gap: (not gap.of.vital, -gap.of.pieces, gap.need)))
