"""What would change: a driver model that is no longer made, or one more on the market. Pure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from vault.domain.driver import DriverModel
from vault.domain.findings import Verdict
from vault.errors import GearkeepError, UsageProblem
from vault.spares.needs import Answer, Coverage
from vault.spares.smallest_set import TIME_LIMIT_S, WHOLE_PERMILLE, Chosen, smallest_set


@dataclass(frozen=True, slots=True, kw_only=True)
class Dropped:
    """Without one model. covered: classes that it covers; lost: those of them that no other model covers.

    before, after: the best sets with it and without; None where nobody knows what a set costs (unpriced says of what).
    """

    model: str
    covered: tuple[int, ...]
    lost: tuple[int, ...]
    before: Chosen | None
    after: Chosen | None
    unpriced: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Added:
    """With one more model. coverage: with it as its last model, in place of one of the same name.

    covered: classes that it covers; care: those that it covers with care; unknown: those of which nobody can tell;
    gained: those of `covered` that no other covers. replaces: models of the best set before that are not in the one
    after. saves_models, saves_cents: after against before (below nought where it costs more to cover more); None where a set
    cannot be priced. worth_cents: at this price or below it belongs to a cheapest set, where it has no price of its own; None
    also where it alone covers some, whatever it costs.
    """

    model: str
    coverage: Coverage
    covered: tuple[int, ...]
    care: tuple[int, ...]
    unknown: tuple[int, ...]
    gained: tuple[int, ...]
    before: Chosen | None
    after: Chosen | None
    replaces: tuple[str, ...]
    saves_models: int | None
    saves_cents: int | None
    worth_cents: int | None
    unpriced: str

    @property
    def chosen(self) -> bool:
        """Whether the best set after has it."""
        return self.after is not None and self.model in self.after.models


def covered_by(coverage: Coverage, model: str, *, with_care: bool = False) -> tuple[int, ...]:
    """Classes that a model covers."""
    at = [one.model for one in coverage.models].index(model)
    return tuple(need for need in range(len(coverage.needs)) if coverage.covers(need, at, with_care=with_care))


def drop(coverage: Coverage, model: str, *, costs: Mapping[str, int] | None = None, with_care: bool = False,
         share_permille: int = WHOLE_PERMILLE, time_limit_s: float = TIME_LIMIT_S) -> Dropped:
    """What a model's end of life takes away. Raises UsageProblem (not-found)."""
    names = [one.model for one in coverage.models]
    if model not in names:
        raise UsageProblem(f"There is no driver model {model} to leave out.", kind="not-found",
                           hint="List them with: gearkeep driver list.")
    covered = covered_by(coverage, model, with_care=with_care)
    others = [at for at, name in enumerate(names) if name != model]
    lost = tuple(need for need in covered if not any(coverage.covers(need, at, with_care=with_care) for at in others))
    given: dict[str, Any] = {"costs": costs, "with_care": with_care, "share_permille": share_permille,
                             "time_limit_s": time_limit_s}
    before, why = _priced(coverage, given)
    after, why_after = _priced(coverage, given | {"without": (model,)})
    return Dropped(model=model, covered=covered, lost=lost, before=before, after=after, unpriced=why or why_after)


def add(coverage: Coverage, candidate: DriverModel, answers: Sequence[Answer], *, costs: Mapping[str, int] | None = None,
        price_cents: int | None = None, with_care: bool = False, share_permille: int = WHOLE_PERMILLE,
        time_limit_s: float = TIME_LIMIT_S) -> Added:
    """What one more model would cover, save and replace. answers: its own, class by class. price_cents: of the candidate."""
    others = [at for at, one in enumerate(coverage.models) if one.model != candidate.model]
    after_all = Coverage(
        needs=coverage.needs, models=[*(coverage.models[at] for at in others), candidate],
        answers=[[*(row[at] for at in others), answers[need]] for need, row in enumerate(coverage.answers)])
    covered = covered_by(after_all, candidate.model, with_care=with_care)
    gained = tuple(need for need in covered if not any(after_all.covers(need, at, with_care=with_care)
                                                       for at in range(len(others))))
    given: dict[str, Any] = {"with_care": with_care, "share_permille": share_permille, "time_limit_s": time_limit_s}
    # A candidate without a price is tried as if it cost nothing: what that saves is what it is worth.
    with_it = None if costs is None else {**costs, candidate.model: price_cents or 0}
    before, why = _priced(coverage, given | {"costs": costs})
    after, why_after = _priced(after_all, given | {"costs": with_it})
    priced = costs is None or price_cents is not None
    saved = _saved(before, after)
    return Added(
        model=candidate.model, coverage=after_all, covered=covered, gained=gained,
        care=_of(answers, Verdict.FITS_WITH_CARE), unknown=_of(answers, Verdict.CANNOT_TELL), before=before, after=after,
        replaces=() if before is None or after is None else tuple(one for one in before.models if one not in after.models),
        saves_models=None if before is None or after is None else len(before.models) - len(after.models),
        saves_cents=saved if priced else None, worth_cents=None if priced or gained else saved, unpriced=why or why_after)


def _of(answers: Sequence[Answer], verdict: Verdict) -> tuple[int, ...]:
    return tuple(need for need, answer in enumerate(answers) if answer.verdict is verdict)


def _saved(before: Chosen | None, after: Chosen | None) -> int | None:
    if before is None or after is None or before.best.cost_cents is None or after.best.cost_cents is None:
        return None
    return before.best.cost_cents - after.best.cost_cents


def _priced(coverage: Coverage, given: Mapping[str, Any]) -> tuple[Chosen | None, str]:
    try:
        return smallest_set(coverage, runners_up=0, tell_care=False, **given), ""
    except GearkeepError as problem:
        if problem.kind != "unknown-price":
            raise
        return None, problem.what
