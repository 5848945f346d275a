"""The smallest or cheapest set of spare models for the whole vault, and what a model's end or a new one would change."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence, Set
from dataclasses import dataclass, replace
from enum import Enum
from pathlib import Path
from typing import Any

from vault.actions.cover import Unsettled, covering_of, default_cache, luminaires_in
from vault.actions.desk import Desk
from vault.db import queries, stock_rows
from vault.db.audit import Progress, quiet
from vault.db.session import Session
from vault.domain.driver import DriverModel
from vault.domain.terms import ItemTerms
from vault.errors import GearkeepError, UsageProblem
from vault.exchange.catalogue import read_drivers
from vault.exchange.stock_file import read_stock_file
from vault.spares.coverage_answers import answers_for
from vault.spares.needs import Coverage
from vault.spares.smallest_set import TIME_LIMIT_S, WHOLE_PERMILLE, Chosen, smallest_set
from vault.spares.stock_walk import DAY_S
from vault.spares.successor import ended_models
from vault.spares.what_if import Added, Dropped, add, drop

_ONE_BY_ONE = 2000  # luminaires


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """What is asked of a set. cheapest: by price, else the fewest models. any_model: also models that are marked as not
    generic. keep: in the set whatever happens, even where they can no longer be ordered. share_permille: of the drivers in
    service. time_limit_s: of each solve.
    """

    cheapest: bool = False
    with_care: bool = False
    share_permille: int = WHOLE_PERMILLE
    keep: tuple[str, ...] = ()
    any_model: bool = False
    time_limit_s: float = TIME_LIMIT_S


@dataclass(frozen=True, slots=True, kw_only=True)
class Luminaire:
    """One that is named to the reader."""

    tag: str
    place: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Ground:
    """What the answer stands on. coverage: of the models that may be chosen. luminaires: of the classes that are named, by
    class. prices: cents by model; currency: theirs. others: class -> models that are not generic and would cover it. ended: the
    day of the last order by model, of those that cover something and are left out because it is past; ended_others: class ->
    models left out for that which would cover it; named_ended: as ended, of those that were named and stand in all the same.
    """

    coverage: Coverage
    luminaires: Mapping[int, tuple[Luminaire, ...]]
    unsettled: Sequence[Unsettled]
    prices: Mapping[str, int]
    currency: str
    others: Mapping[int, tuple[str, ...]]
    ended: Mapping[str, int]
    ended_others: Mapping[int, tuple[str, ...]]
    named_ended: Mapping[str, int]


@dataclass(frozen=True, slots=True, kw_only=True)
class SetFound:
    """The answer of `spares set`."""

    ground: Ground
    chosen: Chosen


@dataclass(frozen=True, slots=True, kw_only=True)
class WithoutFound:
    """The answer of `spares without`."""

    ground: Ground
    dropped: Dropped


class PriceFrom(Enum):
    """Where a candidate's price comes from."""

    TOLD = "as given"
    QUOTED = "by the list"
    TERMS = "by the terms on record"
    NOBODY = "not known"


@dataclass(frozen=True, slots=True, kw_only=True)
class Tried:
    """One candidate. known_revision: of the model of its name in the catalogue, whose place it takes; None where there is none.
    same: whether that says the same but for the revision. price_cents: None where nobody says one.
    """

    added: Added
    known_revision: int | None
    same: bool
    price_cents: int | None
    price_from: PriceFrom


@dataclass(frozen=True, slots=True, kw_only=True)
class WithFound:
    """The answer of `spares with`: each candidate of the file by itself. cheapest: whether prices were compared."""

    ground: Ground
    tried: tuple[Tried, ...]
    cheapest: bool


def find_set(desk: Desk, wanted: Wanted, *, progress: Progress = quiet, searched: Progress = quiet) -> SetFound:
    """The best set. progress: classes judged; searched: searches done.

    Raises GearkeepError (unknown-price, mixed-currencies, no-set), UsageProblem (not-found).
    """
    with desk.vault.reading() as session:
        found = _Look(session, wanted, named=wanted.keep, today_day=desk.now_s() // DAY_S, progress=progress)
        chosen = smallest_set(found.coverage, keep=wanted.keep, progress=searched, **found.given())
        told = [*(gap.need for gap in chosen.uncoverable), *chosen.left_out]
        return SetFound(ground=found.ground(told), chosen=chosen)


def find_without(desk: Desk, model: str, wanted: Wanted, *, progress: Progress = quiet) -> WithoutFound:
    """What is lost when a model is no longer to be had, and the best set then. Raises as `find_set` does."""
    with desk.vault.reading() as session:
        found = _Look(session, wanted, named=(model,), today_day=desk.now_s() // DAY_S, progress=progress)
        dropped = drop(found.coverage, model, **found.given())
        return WithoutFound(ground=found.ground(dropped.lost), dropped=dropped)


def find_with(desk: Desk, path: Path, wanted: Wanted, *, price_cents: int | None = None, quoted: Path | None = None,
              progress: Progress = quiet) -> WithFound:
    """What each driver model of a file would cover, save and replace; nothing is signed.

    price_cents: of each candidate. quoted: a list of prices, as stock lists have them, that count before those on record. Raises
    CatalogueProblem, FileProblem, StockProblem, and what `find_set` raises.
    """
    candidates = read_drivers(path)
    if not candidates:
        raise UsageProblem(f"{path.name} names no driver model.", kind="bad-file", hint="It needs [[driver]] entries or rows.")
    with desk.vault.reading() as session:
        listed = _quoted(quoted) if quoted is not None else {}
        found = _Look(session, wanted, named=(), today_day=desk.now_s() // DAY_S, progress=progress, quoted=listed,
                      candidates=[one.model for one in candidates])
        tried = []
        for candidate in candidates:
            answers = [row[0] for row in answers_for(found.needs.classes, [candidate]).answers]
            price = found.prices.get(candidate.model) if price_cents is None else price_cents
            known = found.known.get(candidate.model)
            tried.append(Tried(
                added=add(found.coverage, candidate, answers, price_cents=price, **found.given()), price_cents=price,
                known_revision=None if known is None else known.revision,
                same=known is not None and replace(known, revision=candidate.revision) == candidate,
                price_from=PriceFrom.NOBODY if price is None else PriceFrom.TOLD if price_cents is not None else
                PriceFrom.QUOTED if candidate.model in listed else PriceFrom.TERMS))
        return WithFound(ground=found.ground({need for one in tried for need in one.added.gained}), tried=tuple(tried),
                         cheapest=wanted.cheapest)


def _quoted(path: Path) -> dict[str, tuple[int, str | None]]:
    """Cents and currency by model, of those that a list prices. Raises StockProblem, FileProblem, UsageProblem (bad-file)."""
    told = read_stock_file(path).terms
    found = {model: (said["price_cents"], said.get("currency")) for model, said in told.items()
             if said.get("price_cents") is not None}
    if not found:
        raise UsageProblem(f"{path.name} names no price.", kind="bad-file", hint="It needs the columns model, price, currency.")
    return found


class _Look:
    """Coverage of the models that may be chosen, and prices."""

    def __init__(self, session: Session, wanted: Wanted, *, named: Iterable[str], today_day: int, progress: Progress,
                 quoted: Mapping[str, tuple[int, str | None]] | None = None, candidates: Iterable[str] = ()) -> None:
        covering = covering_of(session, cache=default_cache(session), progress=progress)
        self._session, self._wanted, self._whole = session, wanted, covering.coverage
        self.needs = covering.needs
        known = self.known = {model.model: model for model in self._whole.models}
        named, candidates = set(named), set(candidates)
        for name in sorted(named - set(known)):
            raise UsageProblem(f"The vault does not know the driver model {name}.", kind="not-found",
                               hint=f"It knows: {', '.join(sorted(known)) or 'none'}.")
        terms = stock_rows.supply_terms(session)
        ended = ended_models(terms, today_day)
        self._named_ended = {name: day for name, day in ended.items() if name in named | candidates}
        self._ended = {name: day for name, day in ended.items() if name in set(known) - named - candidates}
        at = [place for place, model in enumerate(self._whole.models)
              if model.model in named or (model.model not in self._ended and self._may_be_chosen(model))]
        self.coverage = Coverage(needs=self._whole.needs, models=[self._whole.models[place] for place in at],
                                 answers=[[row[place] for place in at] for row in self._whole.answers])
        self.prices, self.currency = _prices(terms, {*known, *candidates}, quoted or {}, compared=wanted.cheapest)

    def _may_be_chosen(self, model: DriverModel) -> bool:
        return self._wanted.any_model or model.generic is not False

    def given(self) -> dict[str, Any]:
        """What every question passes on."""
        return {"costs": self.prices if self._wanted.cheapest else None, "with_care": self._wanted.with_care,
                "share_permille": self._wanted.share_permille, "time_limit_s": self._wanted.time_limit_s}

    def ground(self, told: Iterable[int]) -> Ground:
        """With the luminaires of the classes that are told of."""
        told = sorted(set(told))
        mine = {model.model for model in self.coverage.models}
        whole, care = self._whole, self._wanted.with_care
        others = [place for place, model in enumerate(whole.models) if model.model not in {*mine, *self._ended}]
        ended = [place for place, model in enumerate(whole.models) if model.model in self._ended]
        lacking = {whole.models[place].model for place in ended if self._may_be_chosen(whole.models[place])
                   and any(whole.covers(need, place, with_care=care) for need in range(len(whole.needs)))}
        tags = luminaires_in(self._session, self.needs, told)
        places = _places(self._session, {tag for some in tags.values() for tag in some})
        luminaires = {need: tuple(Luminaire(tag=tag, place=places[tag]) for tag in some) for need, some in tags.items()}
        return Ground(
            coverage=self.coverage, luminaires=luminaires, unsettled=self.needs.unsettled, prices=self.prices,
            currency=self.currency, others=self._covering(told, others), ended_others=self._covering(told, ended),
            ended={name: day for name, day in self._ended.items() if name in lacking}, named_ended=self._named_ended)

    def _covering(self, needs: Sequence[int], places: Sequence[int]) -> dict[int, tuple[str, ...]]:
        """Models of some places that cover a class."""
        return {need: tuple(self._whole.models[place].model for place in places
                            if self._whole.covers(need, place, with_care=self._wanted.with_care)) for need in needs}


def _places(session: Session, tags: set[str]) -> dict[str, str]:
    """Place by tag. Many at once are read in one go."""
    rows = queries.head_rows(session) if len(tags) > _ONE_BY_ONE else (
        row for tag in sorted(tags) for row in queries.head_rows(session, tag=tag))
    return {row.tag: row.place for row in rows if row.tag in tags}


def _prices(terms: Mapping[str, ItemTerms], models: Set[str], quoted: Mapping[str, tuple[int, str | None]], *,
            compared: bool) -> tuple[dict[str, int], str]:
    priced = {name: (one.price_cents, one.currency) for name, one in terms.items()
              if name in models and one.price_cents is not None} | dict(quoted)
    currencies = sorted({currency or "" for _, currency in priced.values()})
    if len(currencies) > 1 and not compared:
        return {}, ""
    if len(currencies) > 1:
        raise GearkeepError(f"Prices stand in several currencies ({', '.join(currencies)}), which cannot be compared.",
                            kind="mixed-currencies", hint="Load them in one currency: gearkeep stock load FILE.")
    return {name: cents for name, (cents, _) in priced.items()}, currencies[0] if currencies else ""
