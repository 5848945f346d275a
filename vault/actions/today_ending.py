"""What an end of life asks of the store: before the last order and after it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Set

from vault.actions.today_tasks import typed
from vault.domain.terms import ItemTerms
from vault.exchange.stock_cells import counted_days, day_words
from vault.spares.hold_plan import HoldLine, HoldPlan
from vault.spares.stock_state import StockState
from vault.spares.successor import Successor
from vault.spares.today import Task, Topic

PAST_NOTICE_DAYS = 365  # so long after the last order a replacement that nobody named, or that does not fit, is asked for


def ending_tasks(plan: HoldPlan, state: StockState, after: Mapping[str, Successor], vital: Set[str]) -> Iterator[Task]:
    """Models with a last order to come, and those past it that are needed or lack a replacement that fits. after: what replaces
    a model, by its name. vital: models.
    """
    lines = {line.model: line for line in plan.lines}
    for model, terms in sorted(state.terms.items(), key=lambda item: (item[1].last_order_day or 0, item[0])):
        told = _told(terms, state.today_day, lines.get(model), after.get(model))
        if told is not None:
            what, command = told
            yield Task(topic=Topic.END_OF_LIFE, what=f"{model}{what}", pieces=1, unit="models", command=command,
                       vital=model in vital, model=model)


def _told(terms: ItemTerms, today_day: int, line: HoldLine | None, after: Successor | None) -> tuple[str, str] | None:
    """What is said of a model, and the command."""
    if terms.last_order_day is None:
        return None
    model, day, left = terms.model, day_words(terms.last_order_day), terms.last_order_day - today_day
    if left >= 0:
        return f", last order in {counted_days(left)}, {day}{_then(after)}", typed("stock end-of-life", model)
    if line is not None and line.to_order is not None and line.levels is not None and line.to_order:
        return (f" has {line.position}, order at {line.levels.reorder_point}; last order was {day}{_then(after)}",
                typed("stock end-of-life", model))
    if (after is None or after.refused) and -left <= PAST_NOTICE_DAYS:
        return f", last order was {day}{_then(after)}", typed("stock end-of-life", model, "--last-order", day,
                                                              "--replaced-by MODEL")
    return None


def _then(after: Successor | None) -> str:
    if after is None:
        return ", no replacement named"
    if after.refused:
        return f", {after.model} fits {after.fits or 'none'} of its {after.serves}"
    return f", then {after.model}" + (" (no figures of it)" if after.fits is None else "")
