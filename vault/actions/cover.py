"""Which driver models can stand in for which luminaires, over the whole vault."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path

from vault.actions.cover_needs import Needs, needs_in_service
from vault.actions.cover_unsettled import Unsettled
from vault.actions.luminaire import driver_models
from vault.db import needs as groups_in
from vault.db import queries
from vault.db.audit import Progress, quiet
from vault.db.session import Session
from vault.domain.driver import DriverModel
from vault.errors import UsageProblem
from vault.exchange.cover_cache import cache_file, read_answers, write_answers
from vault.spares.coverage_answers import answers_for
from vault.spares.coverage_gaps import Gap, Gaps, by_duty, shelf_gaps
from vault.spares.levels import shelves
from vault.spares.needs import Coverage


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


def coverage_of(session: Session, *, models: Iterable[str] | None = None, type_code: str | None = None,
                line: str | None = None, cache: Path | None = None, progress: Progress = quiet) -> Coverage:
    """Every model (or some, by name) against every need class in service, of one type or line where named.

    cache: a file to remember answers in, see `default_cache`; None: none. progress: classes done and in all.
    Raises VerificationError (bad-index) where the index says otherwise than what is signed, UsageProblem (not-found) for a
    model, type or line that the vault does not know.
    """
    return covering_of(session, models=models, type_code=type_code, line=line, cache=cache, progress=progress).coverage


def covering_of(session: Session, *, models: Iterable[str] | None = None, type_code: str | None = None,
                line: str | None = None, cache: Path | None = None, progress: Progress = quiet) -> Covering:
    """As `coverage_of`, with what stands beside it."""
    chosen = _chosen(driver_models(session), models)
    found = needs_in_service(session, type_code=type_code, line=line)
    answered = answers_for(found.classes, chosen, known=read_answers(cache) if cache else None, progress=progress)
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


def usable_pieces(session: Session) -> dict[str, int]:
    """Good pieces on the shelves of all stores, by model; only models that have any."""
    found: dict[str, int] = {}
    for shelf in shelves(queries.each_movement(session)):
        if shelf.pieces > 0:
            found[shelf.model] = found.get(shelf.model, 0) + shelf.pieces
    return found


def luminaires_in(session: Session, needs: Needs, classes: Iterable[int]) -> dict[int, list[str]]:
    """Every luminaire of some classes, by class (index in the coverage), sorted by tag; those unsettled left out."""
    chosen = {number: needs.groups[number] for number in classes}
    found = groups_in.luminaires_of(session, (group for groups in chosen.values() for group in groups))
    held_back = {one.tag for one in needs.unsettled}
    return {number: sorted({tag for group in groups for tag in found[group]} - held_back) for number, groups in chosen.items()}


__all__ = ["Covering", "Gap", "Gaps", "Unsettled", "by_duty", "coverage_of", "covering_of", "default_cache", "luminaires_in",
           "shelf_gaps", "usable_pieces"]
