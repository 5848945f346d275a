"""The weekly summary over the whole vault."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from pathlib import Path

from vault.actions.desk import Desk
from vault.actions.failure_rates import NOT_ON_RECORD, Asked, Rate, rates_in
from vault.actions.hold_asked import HoldAsked
from vault.actions.holding import holding_in
from vault.db import stock_rows
from vault.db.audit import Progress, quiet
from vault.db.swaps_seen import swaps
from vault.exchange.files import write_whole
from vault.exchange.stock_cells import day_words
from vault.exchange.table_out import Cell, write_csv_table
from vault.exchange.weekly_text import rows, text
from vault.spares.stock_state import Due
from vault.spares.stock_walk import DAY_S
from vault.spares.weekly import DAYS, ActSum, Fell, due_next, fallen, walk_week

ENDINGS = (".txt", ".csv")


@dataclass(frozen=True, slots=True, kw_only=True)
class Week:
    """One week. swaps: drivers taken out, by their model, most first. unknown: models whose minimum nobody can tell.

    alarms: models and types that fail faster than was believed; false_alarms: how many of such alarms are expected among all
    that are watched though nothing is wrong. hours: whose burning hours minimums and alarms rest on.
    doubts: of movements and terms by keys in wrong hands.
    """

    site: str
    first: str
    last: str
    acts: tuple[ActSum, ...]
    swaps: tuple[tuple[str, int], ...]
    fell: tuple[Fell, ...]
    unknown: tuple[str, ...]
    due: tuple[Due, ...]
    overdue: tuple[Due, ...]
    alarms: tuple[Rate, ...]
    false_alarms: float
    hours: tuple[str, ...]
    doubts: tuple[str, ...]


def week(desk: Desk, asked: HoldAsked | None = None, *, progress: Progress = quiet) -> Week:
    """The last seven days up to now, and orders due in the next seven. Raises as `hold_plan` does."""
    now_s = desk.now_s()
    with desk.vault.reading() as session:
        asked = asked or HoldAsked()
        moved = walk_week(stock_rows.each_movement(session), stock_rows.supply_terms(session), now_s=now_s)
        rates = rates_in(session, Asked(hours=asked.hours), now_s=now_s)
        holding = holding_in(session, asked, now_s=now_s, progress=progress, stock=moved.now, rates=rates)
        counted = Counter(one.model or NOT_ON_RECORD for one in swaps(session).swaps
                          if now_s - DAYS * DAY_S <= one.time_s <= now_s)
        return Week(
            site=session.genesis.site, first=day_words(now_s // DAY_S - DAYS), last=day_words(now_s // DAY_S), acts=moved.acts,
            swaps=tuple(sorted(counted.items(), key=lambda one: (-one[1], one[0]))), fell=fallen(holding.plan, moved),
            unknown=tuple(line.model for line in holding.plan.lines if line.levels is None), due=due_next(moved.now),
            overdue=moved.now.overdue(), alarms=rates.alarms, false_alarms=rates.false_alarms,
            hours=holding.hours, doubts=holding.doubts)


def week_rows(found: Week) -> list[tuple[Cell, ...]]:
    """The summary as a table with its headings."""
    return rows(acts=found.acts, swaps=found.swaps, fell=found.fell, unknown=found.unknown, due=found.due, overdue=found.overdue,
                alarms=[(one.by, one.name, one.failures, one.expected) for one in found.alarms], doubts=found.doubts)


def week_text(found: Week) -> list[str]:
    """The summary as lines of plain text, for a screen or a mail."""
    title = f"{found.site}: spares in the seven days to {found.last}, from {found.first}"
    return [*text(title, week_rows(found)[1:], found.false_alarms), *found.hours]


def write_week(path: Path, found: Week) -> None:
    """Write the summary, whole or not at all, as its ending says. Raises GearkeepError (unwritable-file)."""
    if path.suffix.lower() == ".csv":
        write_csv_table(path, week_rows(found))
    else:
        write_whole(path, ("\n".join(week_text(found)) + "\n").encode())
