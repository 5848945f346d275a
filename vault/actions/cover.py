"""Which driver models can stand in for which luminaires, over the whole vault."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from vault.actions.cover_needs import Needs, needs_in_service
from vault.actions.cover_unsettled import Unsettled
from vault.actions.doubt_findings import model_doubts
from vault.actions.luminaire import driver_models
from vault.db import needs as groups_in
from vault.db import queries
from vault.db.audit import Progress, quiet
from vault.db.session import Session
from vault.domain.driver import DriverModel
from vault.errors import UsageProblem
from vault.exchange.cover_cache import cache_file, read_answers, write_answers
from vault.spares.coverage_answers import answers_for
from vault.spares.coverage_gaps import Gap, Gaps, OnShelf, by_duty, shelf_gaps
from vault.spares.needs import Coverage
from vault.spares.stock_state import StockState


@dataclass(frozen=True, slots=True, kw_only=True)
class Covering:
    """Coverage with what stands beside it. unsettled: luminaires that get no spare at all yet; they count in no class.

    quickly, remembered, carefully: how many answers came by the quick way, from the cache, and by the whole fit.
    """

    coverage: Coverage
    needs: Needs
    unsettled: tuple[Unsettled, ...]
    quickly: int
    remembered: int
    carefully: int


def coverage_of(session: Session, *, models: Iterable[str] | None = None, cache: Path | None = None,
                progress: Progress = quiet) -> Coverage:
    """Every model (or some, by name) against every need class in service.

    cache: a file to remember answers in, see `default_cache`; None: none. progress: classes done and in all.
    Raises VerificationError (bad-index) where the index says otherwise than what is signed, UsageProblem (not-found) for a
    model that the vault does not know.
    """
    return covering_of(session, models=models, cache=cache, progress=progress).coverage


def covering_of(session: Session, *, models: Iterable[str] | None = None, type_code: str | None = None,
                line: str | None = None, cache: Path | None = None, progress: Progress = quiet) -> Covering:
    """As `coverage_of`, of one type or line where named, with what stands beside it. Raises UsageProblem (not-found) for a type
    or line that the vault does not know too.
    """
    chosen = _chosen(driver_models(session), models)
    found = needs_in_service(session, type_code=type_code, line=line)
    answered = answers_for(found.classes, chosen, known=read_answers(cache) if cache else None, progress=progress,
                           doubts={model.model: model_doubts(session, model.model) for model in chosen})
    whole = models is None and type_code is None and line is None
    if cache is not None and whole and (answered.carefully or not cache.exists()):
        write_answers(cache, answered.held)
    coverage = Coverage(needs=[need.of for need in found.classes], models=chosen, answers=answered.answers)
    return Covering(coverage=coverage, needs=found, unsettled=found.unsettled, quickly=answered.quickly,
                    remembered=answered.remembered, carefully=answered.carefully)


def _chosen(known: Mapping[str, DriverModel], models: Iterable[str] | None) -> list[DriverModel]:
    names = sorted(known) if models is None else list(dict.fromkeys(models))
    for name in names:
        if name not in known:
            raise UsageProblem(f"The vault does not know the driver model {name}.", kind="not-found",
                               hint=f"It knows: {', '.join(sorted(known)) or 'none'}. Load it with: gearkeep driver load.")
    return [known[name] for name in names]


def default_cache(session: Session) -> Path:
    """Where answers of this vault are remembered: a file in the user's cache folder, named by the vault's log."""
    return cache_file(session.genesis.log_id)


def on_shelf(session: Session, needs: Needs, state: StockState) -> OnShelf:
    """What of the store a repair may take: pieces that are free, and those that are kept, with whose they are.

    Whoever reserved first gets what there is.
    """
    left = {model: state.usable(model) for model in state.models}
    free = {model: max(state.free(model), 0) for model in left if left[model]}
    own: dict[tuple[int, str], dict[str, int]] = {}
    places = {group: number for number, groups in enumerate(needs.groups) for group in groups} if state.kept else {}
    # Of two heads alike the newest version counts, as in the classes.
    newest: dict[str, tuple[tuple[int, int], Counter[int]]] = {}
    waiting = {one.tag for one in needs.unsettled}
    for tag, version, group in groups_in.groups_of(session, {one.tag for one in state.kept} - waiting):
        if group in places:
            known = newest.get(tag)
            if known is None or version > known[0]:
                newest[tag] = known = version, Counter()
            if version == known[0]:
                known[1][places[group]] += 1
    for one in sorted(state.kept, key=lambda one: one.since_day):
        got = min(one.pieces, left[one.model])
        left[one.model] -= got
        for need, drivers in newest.get(one.tag, (None, Counter[int]()))[1].items():
            if drivers <= got:
                got -= drivers
                own.setdefault((need, one.model), {})[one.tag] = drivers
    return OnShelf(free=free, own=own, kept={model: state.usable(model) - pieces for model, pieces in free.items()
                                             if state.usable(model) > pieces})


def luminaires_in(session: Session, needs: Needs, classes: Iterable[int]) -> dict[int, list[str]]:
    """Every luminaire of some classes, by class (index in the coverage), sorted by tag; those unsettled left out."""
    chosen = {number: needs.groups[number] for number in classes}
    found = groups_in.luminaires_of(session, (group for groups in chosen.values() for group in groups))
    held_back = {one.tag for one in needs.unsettled}
    return {number: sorted({tag for group in groups for tag in found[group]} - held_back) for number, groups in chosen.items()}


def example_of(session: Session, needs: Needs, gap: Gap, tags: Sequence[str]) -> tuple[str, str]:
    """One luminaire without cover and its place. tags: those of the gap."""
    if gap.of.tags[0] in tags:
        return gap.of.tags[0], needs.places[gap.need]
    return tags[0], queries.verified_heads(session, tags[0])[-1].statement.body.place


__all__ = ["Covering", "Gap", "Gaps", "Unsettled", "by_duty", "coverage_of", "covering_of", "default_cache", "example_of",
           "luminaires_in", "on_shelf", "shelf_gaps"]
