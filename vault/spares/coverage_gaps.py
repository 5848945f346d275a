"""What nothing covers: classes that no spare on the shelf can save, and those that no model at all can."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from vault.domain.findings import Verdict
from vault.domain.settings import Duty
from vault.spares.needs import Answer, Coverage, NeedClass

_NEAREST_FIRST = (Verdict.FITS, Verdict.FITS_WITH_CARE, Verdict.CANNOT_TELL, Verdict.DOES_NOT_FIT)


@dataclass(frozen=True, slots=True, kw_only=True)
class OnShelf:
    """What a repair may take. free: good pieces by model that nobody keeps; kept: by model the good pieces that are kept for
    planned swaps. own: (need, model) -> luminaires of the class that have enough of it kept for themselves, with their drivers
    of that class.
    """

    free: Mapping[str, int]
    kept: Mapping[str, int] = field(default_factory=dict)
    own: Mapping[tuple[int, str], Mapping[str, int]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Gap:
    """One class without cover. need: its index in the coverage. pieces: its drivers without cover. model, answer: the nearest
    model and why it does not do; None where there is no model at all. kept: pieces of that model that would do, but are all
    kept for other luminaires. saved: luminaires of the class that have a spare kept for them.
    """

    need: int
    of: NeedClass
    pieces: int
    model: str | None
    answer: Answer | None
    kept: int = 0
    saved: frozenset[str] = frozenset()


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
        return sum(gap.pieces for gap in self.unsaved)

    @property
    def uncovered_pieces(self) -> int:
        """Drivers in service that no model can stand in for."""
        return sum(gap.pieces for gap in self.uncovered)


def by_duty(gaps: tuple[Gap, ...]) -> dict[Duty, int]:
    """Drivers of the gaps by duty, emergency duties first; only duties that occur."""
    found = dict.fromkeys((Duty.EMERGENCY_CONVERTER, Duty.GENERAL_AND_EMERGENCY, Duty.GENERAL), 0)
    for gap in gaps:
        found[gap.of.gear.duty] += gap.pieces
    return {duty: pieces for duty, pieces in found.items() if pieces}


def shelf_gaps(coverage: Coverage, shelf: OnShelf, *, with_care: bool = False) -> Gaps:
    """What no spare on the shelf can save, and what no model covers.

    A spare that cannot be told to fit never counts; with_care says whether one that fits with care does. A spare that is kept
    for a luminaire saves that one alone.
    """
    names = [model.model for model in coverage.models]
    free = [at for at, name in enumerate(names) if shelf.free.get(name, 0) > 0]
    there = [at for at, name in enumerate(names) if at in free or shelf.kept.get(name, 0) > 0]
    unsaved, uncovered = [], []
    for need, of in enumerate(coverage.needs):
        covering = [at for at in range(len(names)) if coverage.covers(need, at, with_care=with_care)]
        if not any(at in covering for at in free):
            saved: dict[str, int] = {}
            for at in covering:
                saved |= shelf.own.get((need, names[at]), {})
            left = of.pieces - sum(saved.values())
            if left > 0:
                gap = replace(_gap(coverage, need, there), pieces=left, saved=frozenset(saved))
                all_kept = any(at in covering for at in there)
                unsaved.append(replace(gap, kept=shelf.kept[gap.model]) if all_kept and gap.model else gap)
        if not covering:
            uncovered.append(_gap(coverage, need, range(len(names))))
    return Gaps(unsaved=_ordered(unsaved), uncovered=_ordered(uncovered))


def _gap(coverage: Coverage, need: int, among: Sequence[int]) -> Gap:
    nearest = min(among, default=None, key=lambda model: _NEAREST_FIRST.index(coverage.answers[need][model].verdict))
    of = coverage.needs[need]
    return Gap(need=need, of=of, pieces=of.pieces, model=None if nearest is None else coverage.models[nearest].model,
               answer=None if nearest is None else coverage.answers[need][nearest])


def _ordered(gaps: list[Gap]) -> tuple[Gap, ...]:
    return tuple(sorted(gaps, key=lambda gap: (not gap.of.vital, -gap.pieces, gap.need)))
