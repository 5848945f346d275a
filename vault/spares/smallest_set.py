"""The smallest or cheapest set of driver models that stands in for everything, proven. Pure.

A set speaks of models, not of how many pieces to hold.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass

from vault.errors import GearkeepError, UsageProblem
from vault.spares.cover_program import Program, Row, best, bits, dominated, only_cover
from vault.spares.coverage_gaps import Gap, OnShelf, shelf_gaps
from vault.spares.needs import Coverage

RUNNERS_UP = 3
WHOLE_PERMILLE = 1000
TIME_LIMIT_S = 60.0


@dataclass(frozen=True, slots=True, kw_only=True)
class OneSet:
    """A set of models, sorted. covered: pieces that it covers. cost_cents: one piece of each; None where prices do not count."""

    models: tuple[str, ...]
    covered: int
    cost_cents: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class CareSaves:
    """The best set where "fits with care" may stand in too. models, cost_cents: how much less than without, at least (no less
    than nought, unless it covers more). pieces: how many more it covers.
    """

    best: OneSet
    models: int
    cost_cents: int | None
    pieces: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Chosen:
    """The best set and what stands behind it. Classes are numbers in the coverage.

    proven: no set is smaller (or cheaper); bound: fewest models, or cents, that any set needs. total: all pieces in service.
    target: pieces that were to be covered; short: how many of them no model can. uncoverable: classes that no permitted
    model covers, with the nearest. left_out: classes that the asked share allows to leave.
    adds: model -> classes that only it covers in this set. forced: model -> classes that no other permitted model covers.
    dominated: model -> one that covers all the same and costs no more, so that the first need not be looked at.
    kept: models that were chosen before. unpriced: models that were left aside for want of a price.
    alternatives: class -> every permitted model that covers it, those of the set first.
    """

    best: OneSet
    proven: bool
    bound: int
    total: int
    target: int
    short: int
    uncoverable: tuple[Gap, ...]
    left_out: tuple[int, ...]
    runners_up: tuple[OneSet, ...]
    adds: Mapping[str, tuple[int, ...]]
    forced: Mapping[str, tuple[int, ...]]
    dominated: Mapping[str, str]
    kept: tuple[str, ...]
    unpriced: tuple[str, ...]
    care_saves: CareSaves | None
    alternatives: Mapping[int, tuple[str, ...]]

    @property
    def models(self) -> tuple[str, ...]:
        """Of the best set."""
        return self.best.models


@dataclass(frozen=True, slots=True)
class _Asked:
    """The coverage as bits, models in alphabetical order, and what was asked."""

    names: tuple[str, ...]
    places: Mapping[str, int]
    covering: tuple[int, ...]  # by class: bits of models that cover it
    permitted: int
    taken: int
    costs: Mapping[str, int] | None

    @property
    def priced(self) -> int:
        """Models that the search may use."""
        if self.costs is None:
            return self.permitted
        return sum(1 << at for at, name in enumerate(self.names) if name in self.costs) & self.permitted

    def of(self, columns: int) -> tuple[str, ...]:
        return tuple(self.names[at] for at in bits(columns))


def smallest_set(coverage: Coverage, *, costs: Mapping[str, int] | None = None, with_care: bool = False,
                 share_permille: int = WHOLE_PERMILLE, keep: Iterable[str] = (), without: Iterable[str] = (),
                 runners_up: int = RUNNERS_UP, tell_care: bool = True,
                 time_limit_s: float = TIME_LIMIT_S,
                 progress: Callable[[int, int], None] = lambda _done, _total: None) -> Chosen:
    """The fewest models that cover everything, or the cheapest where `costs` (cents by model) are given.

    share_permille: of all pieces in service; classes of a vital duty are covered whatever it is. What no model covers is
    told and left. Ties: fewest models, then most pieces; then models that others make superfluous go, then the alphabet
    decides. runners_up: the next best sets, none of which contains a better one.
    tell_care: whether to work out what care would save. progress: searches done and in all.
    Raises UsageProblem (not-found, bad-value) for models that are unknown or both kept and left out; GearkeepError
    (unknown-price) where no set can be priced.
    """
    asked = _asked(coverage, costs, with_care, tuple(keep), tuple(without))
    if not 1 <= share_permille <= WHOLE_PERMILLE:
        raise UsageProblem(f"A share of {share_permille / 10:g} % cannot be asked for.", kind="bad-value",
                           hint="Ask for more than 0 and at most 100 per cent.")
    total = sum(need.pieces for need in coverage.needs)
    wanted = -(-total * share_permille // WHOLE_PERMILLE)
    coverable = sum(need.pieces for need, models in zip(coverage.needs, asked.covering, strict=True) if models)
    whole = share_permille == WHOLE_PERMILLE
    rows = [Row(columns=models, weight=need.pieces, must=whole or need.vital)
            for need, models in zip(coverage.needs, asked.covering, strict=True) if models]
    program = Program(rows=rows, taken=asked.taken, target=min(wanted, coverable),
                      costs=[1 if costs is None else costs.get(name, 0) for name in asked.names])
    _refuse_unpriced(asked, coverage, program)
    forced = only_cover(rows)
    start = Program(rows=rows, costs=program.costs, taken=asked.taken | forced & asked.priced, target=program.target)
    worse = {column: by for column, by in dominated(start).items() if asked.priced >> column & 1 and asked.priced >> by & 1}
    usable = asked.priced & ~sum(1 << column for column in worse)
    solved = best(start, usable=usable, time_limit_s=time_limit_s)
    if solved is None:
        raise GearkeepError("No set was found in the time allowed.", kind="no-set",
                            hint="Allow more time, or ask for a smaller share.")
    searches = runners_up + 2
    progress(1, searches)
    others = _others(start, asked, solved.columns, runners_up, time_limit_s,
                     lambda done: progress(1 + done, searches)) if solved.proven else ()
    found = _one(asked, program, solved.columns)
    return Chosen(
        best=found, proven=solved.proven, bound=solved.bound, total=total, target=wanted, short=wanted - program.target,
        uncoverable=_uncoverable(coverage, asked, with_care),
        left_out=tuple(number for number, models in enumerate(asked.covering) if models and not models & solved.columns),
        runners_up=others, adds={asked.names[at]: tuple(
            number for number, models in enumerate(asked.covering) if models & solved.columns == 1 << at)
            for at in bits(solved.columns)},
        forced={asked.names[at]: tuple(number for number, models in enumerate(asked.covering) if models == 1 << at)
                for at in bits(forced)},
        dominated={asked.names[column]: asked.names[by] for column, by in sorted(worse.items())},
        kept=asked.of(asked.taken), unpriced=asked.of(asked.permitted & ~asked.priced),
        care_saves=None if with_care or not tell_care or not solved.proven else _care_saves(
            coverage, found, costs=costs, share_permille=share_permille, keep=keep, without=without, time_limit_s=time_limit_s),
        alternatives={number: asked.of(models & solved.columns) + asked.of(models & ~solved.columns)
                      for number, models in enumerate(asked.covering) if models})


def _asked(coverage: Coverage, costs: Mapping[str, int] | None, with_care: bool, keep: tuple[str, ...],
           without: tuple[str, ...]) -> _Asked:
    names = tuple(sorted(model.model for model in coverage.models))
    places = {name: at for at, name in enumerate(names)}
    for name in (*keep, *without):
        if name not in places:
            raise UsageProblem(f"There is no driver model {name} to choose from.", kind="not-found",
                               hint="List them with: gearkeep driver list.")
    both = sorted(set(keep) & set(without))
    if both:
        raise UsageProblem(f"{both[0]} is both kept and left out.", kind="bad-value", hint="Name it once.")
    permitted = (1 << len(names)) - 1 & ~sum(1 << places[name] for name in set(without))
    at = [places[model.model] for model in coverage.models]
    covering = tuple(sum(1 << at[model] for model in range(len(at)) if coverage.covers(need, model, with_care=with_care))
                     & permitted for need in range(len(coverage.needs)))
    return _Asked(names, places, covering, permitted, sum(1 << places[name] for name in set(keep)), costs)


def _refuse_unpriced(asked: _Asked, coverage: Coverage, program: Program) -> None:
    """Where models without a price have to be in, nobody knows what a set costs."""
    lacking = asked.taken & ~asked.priced
    for number, models in enumerate(asked.covering):
        if models and not models & asked.priced and (program.target == program.covered(asked.permitted)
                                                     or coverage.needs[number].vital):
            lacking |= models
    if not lacking and program.covered(asked.priced) < program.target:
        lacking = asked.permitted & ~asked.priced
    if lacking:
        raise GearkeepError(f"What the set costs is unknown: there is no price of {', '.join(asked.of(lacking))}, and some "
                            "luminaires cannot be covered without.", kind="unknown-price",
                            hint="Load prices with gearkeep stock load FILE (columns model, price, currency), or ask for the "
                                 "fewest models instead of the cheapest.")


def _one(asked: _Asked, program: Program, columns: int) -> OneSet:
    return OneSet(models=asked.of(columns), covered=program.covered(columns),
                  cost_cents=None if asked.costs is None else program.cost(columns))


def _others(program: Program, asked: _Asked, first: int, count: int, time_limit_s: float,
            told: Callable[[int], None]) -> tuple[OneSet, ...]:
    never, found = [first], list[OneSet]()
    while len(found) < count:
        solved = best(program, usable=asked.priced, never=never, time_limit_s=time_limit_s)
        if solved is None or not solved.proven:
            break
        never.append(solved.columns)
        found.append(_one(asked, program, solved.columns))
        told(len(found))
    return tuple(found)


def _uncoverable(coverage: Coverage, asked: _Asked, with_care: bool) -> tuple[Gap, ...]:
    among = [at for at, model in enumerate(coverage.models) if asked.permitted >> asked.places[model.model] & 1]
    kept = Coverage(needs=coverage.needs, models=[coverage.models[at] for at in among],
                    answers=[[answers[at] for at in among] for answers in coverage.answers])
    return shelf_gaps(kept, OnShelf(free={}), with_care=with_care).uncovered


def _care_saves(coverage: Coverage, found: OneSet, *, costs: Mapping[str, int] | None, share_permille: int,
                keep: Iterable[str], without: Iterable[str], time_limit_s: float) -> CareSaves | None:
    try:
        careful = smallest_set(coverage, costs=costs, with_care=True, share_permille=share_permille, keep=keep, without=without,
                               runners_up=0, time_limit_s=time_limit_s)
    except GearkeepError:
        # Classes that only care covers may need a model without a price; then nobody knows what it would save.
        return None
    if not careful.proven:
        return None
    cost = None if found.cost_cents is None or careful.best.cost_cents is None else found.cost_cents - careful.best.cost_cents
    return CareSaves(best=careful.best, models=len(found.models) - len(careful.models), cost_cents=cost,
                     pieces=careful.best.covered - found.covered)
