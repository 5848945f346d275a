"""The store's last seven days, and what the next seven bring. Pure."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from vault.domain.stock import Act
from vault.domain.terms import Importance, ItemTerms
from vault.spares.coming import position
from vault.spares.hold_plan import HoldPlan
from vault.spares.stock_state import Due, MovementLike, StockState
from vault.spares.stock_walk import DAY_S, Walk, state_from

DAYS = 7


@dataclass(frozen=True, slots=True, kw_only=True)
class ActSum:
    """What was done of one act: lines and pieces; of a count the pieces that were found."""

    act: Act
    lines: int
    pieces: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Fell:
    """A model that fell to its reorder point or below within the week. before, now: its position."""

    model: str
    importance: Importance
    before: int
    now: int
    reorder_point: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Movements:
    """Every movement on record, walked once: what was done within the week, the state before its first and the one now."""

    acts: tuple[ActSum, ...]
    before: StockState
    now: StockState


def walk_week(movements: Iterable[MovementLike], terms: Mapping[str, ItemTerms], *, now_s: int) -> Movements:
    """Movements come in the order of their log; the week begins with the first that says a time within it."""
    since = now_s - DAYS * DAY_S
    walk, before = Walk(), None
    lines: Counter[int] = Counter()
    pieces: Counter[int] = Counter()
    for line in movements:
        if line.time_s >= since:
            if before is None:
                before = state_from(walk, terms, today_day=since // DAY_S)
            lines[line.act] += 1
            pieces[line.act] += line.quantity
        walk.take(line)
    now = state_from(walk, terms, today_day=now_s // DAY_S)
    return Movements(acts=tuple(ActSum(act=Act(act), lines=lines[act], pieces=pieces[act]) for act in sorted(lines)),
                     before=before or now, now=now)


def fallen(plan: HoldPlan, moved: Movements) -> tuple[Fell, ...]:
    """Models that were above their reorder point before the week and are not now, vital first."""
    found = [Fell(model=line.model, importance=line.importance, reorder_point=line.levels.reorder_point,
                  before=position(moved.before, line.model, lead_days=line.lead_days),
                  now=position(moved.now, line.model, lead_days=line.lead_days))
             for line in plan.lines if line.levels is not None]
    return tuple(sorted((one for one in found if one.before > one.reorder_point >= one.now),
                        key=lambda one: (one.importance, one.model)))


def due_next(state: StockState) -> tuple[Due, ...]:
    """Orders whose day is today or within the next week, the earliest first."""
    return tuple(due for due in state.orders if state.today_day <= due.due_day <= state.today_day + DAYS)
