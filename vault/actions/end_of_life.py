"""A maker's notice that a model ends: signed into the terms, with what it means for the luminaires and the shelf."""

from __future__ import annotations

from dataclasses import dataclass

from vault.actions.cover import covering_of, default_cache, luminaires_in
from vault.actions.desk import Desk
from vault.actions.hold_asked import HoldAsked
from vault.actions.last_time import LastTime, LastTimeAsked, last_time
from vault.actions.luminaire import driver_models
from vault.actions.stock_doubts import stock_doubts
from vault.actions.stock_load import changed_terms, set_terms
from vault.actions.terms_doubts import doubts_of
from vault.actions.unsure import Unsure
from vault.db import stock_rows
from vault.db.audit import Progress, quiet
from vault.db.session import Session
from vault.domain.findings import Verdict
from vault.errors import UsageProblem
from vault.spares.coverage_words import class_words
from vault.spares.needs import Answer, Coverage
from vault.spares.stock_walk import DAY_S
from vault.spares.successor import ended_models
from vault.spares.what_if import covered_by

DEFAULT_YEARS = 10
_SIGN = "Correct the day or the replacement, or say --yes to sign it all the same."


@dataclass(frozen=True, slots=True, kw_only=True)
class Served:
    """One class of gear that the model covers. words: what it is; lost: whether no other model that is still made covers it;
    tags: its luminaires, of a lost class all of them, else none. replacement: the replacement's answer, None without one.
    """

    words: str
    pieces: int
    vital: bool
    lost: bool
    tags: tuple[str, ...]
    replacement: Answer | None


@dataclass(frozen=True, slots=True, kw_only=True)
class EndOfLife:
    """What the notice means. changed: whether anything was signed. served: classes that the model covers, the lost and the
    vital first. buy: the last-time buy, None where none can be told, which no_buy explains. doubts: movements and terms by
    keys in wrong hands.
    """

    model: str
    last_order_day: int
    replaced_by: str | None
    days_left: int
    changed: bool
    served: tuple[Served, ...]
    buy: LastTime | None
    no_buy: str
    doubts: tuple[str, ...] = ()

    @property
    def lost_pieces(self) -> int:
        """Gear in service that loses cover."""
        return sum(one.pieces for one in self.served if one.lost)

    def replaced_pieces(self, verdict: Verdict) -> int:
        """Gear for which the replacement has that answer."""
        return sum(one.pieces for one in self.served if one.replacement is not None and one.replacement.verdict is verdict)


def end_of_life(desk: Desk, model: str, *, last_order_day: int | None = None, replaced_by: str | None = None,
                years: int = DEFAULT_YEARS, asked: HoldAsked | None = None, sure: bool = False,
                progress: Progress = quiet) -> EndOfLife:
    """Sign the notice where a day or a replacement is given, and say what it means; with neither, say what one on record means.

    years: that the last-time buy has to last. sure: what is asked is confirmed. Raises Unsure where a last order that is past or
    a replacement that does not do should be looked at again; UsageProblem: not-found for a model or replacement that the vault
    does not know, bad-value for a model that replaces itself, no-notice where no day is on record and none was given.
    """
    changed = _signed(desk, model, last_order_day, replaced_by, sure, progress)
    with desk.vault.reading() as session:
        terms = stock_rows.supply_terms(session, [model]).get(model)
        if terms is None or terms.last_order_day is None:
            raise UsageProblem(f"No end of life is on record for {model}.", kind="no-notice",
                               hint="Give the day of the last order: --last-order 2027-05-31.")
        today = desk.now_s() // DAY_S
        is_driver = model in driver_models(session)
        served = _served(session, model, terms.replaced_by, today, progress) if is_driver else ()
        doubts = stock_doubts(session)
    if served:
        buy, no_buy = _buy(desk, model, years, asked or HoldAsked(), progress)
    else:
        buy, no_buy = None, ("it covers no gear in service" if is_driver else
                             "how many of it fail in a year is not known, for it is no driver model")
    return EndOfLife(model=model, last_order_day=terms.last_order_day, replaced_by=terms.replaced_by,
                     days_left=terms.last_order_day - today, changed=changed, served=served, buy=buy, no_buy=no_buy,
                     doubts=doubts)


def _signed(desk: Desk, model: str, last_order_day: int | None, replaced_by: str | None, sure: bool, progress: Progress) -> bool:
    if last_order_day is None and replaced_by is None:
        return False
    if model == replaced_by:
        raise UsageProblem(f"{model} cannot replace itself.", kind="bad-value", hint="Name another model.")
    with desk.vault.reading() as session:
        held = stock_rows.supply_terms(session)
        if last_order_day is None and (model not in held or held[model].last_order_day is None):
            raise UsageProblem(f"No end of life is on record for {model}.", kind="no-notice",
                               hint="Give the day of the last order too: --last-order 2027-05-31.")
        if replaced_by is not None and replaced_by not in driver_models(session) and replaced_by not in held:
            raise UsageProblem(f"The vault does not know {replaced_by}.", kind="not-found",
                               hint="Load the replacement's data first with: gearkeep driver load FILE.")
        said: dict[str, object] = {} if last_order_day is None else {"last_order_day": last_order_day}
        said |= {"replaced_by": replaced_by} if replaced_by else {}
        doubts = doubts_of(session, changed_terms(session, {model: said}), {}, today=desk.now_s() // DAY_S, progress=progress)
    if doubts.asked and not sure:
        raise Unsure(f"The end of {model}", doubts.asked, (_SIGN,))
    with desk.vault.writing() as session:
        return bool(set_terms(session, desk, {model: said}))


def _served(session: Session, model: str, replaced_by: str | None, today: int, progress: Progress) -> tuple[Served, ...]:
    covering = covering_of(session, cache=default_cache(session), progress=progress)
    coverage = covering.coverage
    ended = ended_models(stock_rows.supply_terms(session), today)
    names = [one.model for one in coverage.models]
    others = [at for at, name in enumerate(names) if name != model and name not in ended]
    covered = covered_by(coverage, model)
    lost = {need for need in covered if not any(coverage.covers(need, at) for at in others)}
    tags = luminaires_in(session, covering.needs, lost)
    return tuple(sorted((Served(
        words=class_words(coverage.needs[need]), pieces=coverage.needs[need].pieces, vital=coverage.needs[need].vital,
        lost=need in lost, tags=tuple(tags.get(need, ())), replacement=_answer(coverage, need, names, replaced_by))
        for need in covered), key=lambda one: (not one.lost, not one.vital, -one.pieces)))


def _answer(coverage: Coverage, need: int, names: list[str], replaced_by: str | None) -> Answer | None:
    return coverage.answers[need][names.index(replaced_by)] if replaced_by in names else None


def _buy(desk: Desk, model: str, years: int, asked: HoldAsked, progress: Progress) -> tuple[LastTime | None, str]:
    try:
        return last_time(desk, model, LastTimeAsked(years=years), asked, progress=progress), ""
    except UsageProblem as problem:
        if problem.kind != "not-found":
            raise
        return None, "no gear in service falls to it: another stocked model covers what it covers"
