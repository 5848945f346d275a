"""What of changed terms is better looked at again before it is signed: an end that is past, a replacement that does not do."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from vault.actions.luminaire import driver_models
from vault.db import stock_rows
from vault.db.audit import Progress, quiet
from vault.db.session import Session
from vault.domain.findings import Verdict
from vault.domain.terms import ItemTerms
from vault.exchange.plain import near_letters
from vault.exchange.stock_cells import counted_days, day_words


@dataclass(frozen=True, slots=True, kw_only=True)
class Doubts:
    """asked: sentences that have to be confirmed. told: sentences that are only said."""

    asked: tuple[str, ...] = ()
    told: tuple[str, ...] = ()


def doubts_of(session: Session, changed: Sequence[tuple[ItemTerms, ItemTerms]], said_at: Mapping[tuple[str, str], str], *,
              today: int, progress: Progress = quiet) -> Doubts:
    """Doubts about items whose terms change: (before, after) of each. said_at: (model, field) -> "row 3"; empty
    where no file says it.

    Only what changes is looked at: what stands was looked at when it was signed.
    """
    asked, told, known = list[str](), list[str](), driver_models(session)
    terms = stock_rows.supply_terms(session) | {after.model: after for _, after in changed}
    for before, after in changed:
        if after.last_order_day is not None and after.last_order_day != before.last_order_day and after.last_order_day < today:
            at = _at(said_at, after.model, "last_order_day")
            asked.append(f"{at}the last order of {after.model} was {day_words(after.last_order_day)}, "
                         f"{counted_days(today - after.last_order_day)} ago; from now on it counts as no longer made")
        if after.lead_days == 0 and before.lead_days != 0:
            told.append(f"{_at(said_at, after.model, 'lead_days')}{after.model} is to come on the day that it is ordered; "
                        "where nobody knows how long it takes, write none")
        if after.replaced_by is None or after.replaced_by == before.replaced_by:
            continue
        at = _at(said_at, after.model, "replaced_by")
        other = terms.get(after.replaced_by)
        if after.replaced_by not in known and other is None:
            near = near_letters(after.replaced_by, {*known, *terms})
            asked.append(f"{at}the vault does not know {after.replaced_by}"
                         + (f", did you mean {near}?" if near and near != after.model else ""))
        elif other is not None and other.last_order_day is not None and other.last_order_day < today:
            asked.append(f"{at}{after.replaced_by} is no longer made itself; its last order was "
                         f"{day_words(other.last_order_day)}")
        if after.model in known and after.replaced_by in known:
            says, none_left = _unfit(session, after.model, after.replaced_by, progress)
            if says:
                (asked if none_left else told).append(f"{at}{says}")
    return Doubts(asked=tuple(asked), told=tuple(told))


def _at(said_at: Mapping[tuple[str, str], str], model: str, field: str) -> str:
    """ "row 3, last_order: "; empty where no file says it."""
    at = said_at.get((model, field))
    return f"{at}, {field.removesuffix('_day')}: " if at else ""


def _unfit(session: Session, model: str, other: str, progress: Progress) -> tuple[str, bool]:
    """What a replacement cannot do of what a model does, "" for nothing; and whether there is nothing that it can."""
    from vault.actions.cover import coverage_of, default_cache
    from vault.spares.what_if import covered_by

    coverage = coverage_of(session, models=(model, other), cache=default_cache(session), progress=progress)
    served = covered_by(coverage, model)
    counts = {verdict: sum(coverage.needs[need].pieces for need in served if coverage.answers[need][1].verdict is verdict)
              for verdict in (Verdict.DOES_NOT_FIT, Verdict.CANNOT_TELL)}
    against = [need for need in served if coverage.answers[need][1].verdict in counts]
    if not against:
        return "", False
    no, unknown = counts.values()
    whole = sum(coverage.needs[need].pieces for need in served)
    gear = f"the {whole} gear in service that {model} can serve"
    said = f"fits none of {gear}" if no == whole else (
        f"does not fit {no} of {gear}" + (f" and cannot be told to fit {unknown}" if unknown else "") if no else
        f"cannot be told to fit {unknown} of {gear}")
    limit = coverage.answers[max(against, key=lambda need: coverage.needs[need].pieces)][1].limit.rstrip(".")
    return f"{other} {said}. {limit}", len(against) == len(served)
