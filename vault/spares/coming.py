"""Which open orders still count as coming: one that is later than it takes to order anew is given up. Pure."""

from __future__ import annotations

from collections.abc import Sequence

from vault.spares.stock_state import Due, StockState

# An order so late, and later than the lead time, counts no more: one that goes out today would come first. A choice of ours.
LATE_DAYS = 28


def late_of(orders: Sequence[Due], lead_days: int | None, today_day: int) -> tuple[tuple[Due, ...], tuple[Due, ...]]:
    """Orders whose day has passed; and those of them that are so late that they count no more."""
    late = tuple(due for due in orders if due.due_day < today_day)
    return late, tuple(due for due in late if today_day - due.due_day > max(lead_days or 0, LATE_DAYS))


def coming(state: StockState, model: str, *, store: str | None = None, lead_days: int | None = None) -> tuple[Due, ...]:
    """Open orders of a model that count, of one store or of all. lead_days: taken where its terms tell none."""
    uncounted = given_up(state, model, store=store, lead_days=lead_days)
    return tuple(due for due in state.on_order(model, store) if due not in uncounted)


def position(state: StockState, model: str, *, lead_days: int | None = None) -> int:
    """On hand + coming - reserved."""
    return state.free(model) + sum(due.pieces for due in coming(state, model, lead_days=lead_days))


def given_up(state: StockState, model: str, *, store: str | None = None, lead_days: int | None = None) -> tuple[Due, ...]:
    """Open orders of a model that are so late that they count no more."""
    terms = state.terms.get(model)
    lead = terms.lead_days if terms is not None and terms.lead_days is not None else lead_days
    return late_of(state.on_order(model, store), lead, state.today_day)[1]
