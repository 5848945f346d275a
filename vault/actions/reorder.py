"""The reorder list over the whole vault, on the screen or as a file."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from vault.actions.cover import covering_of, default_cache
from vault.actions.desk import Desk
from vault.actions.hold_asked import HoldAsked
from vault.actions.holding import holding_in
from vault.actions.stock import stock_state
from vault.db.audit import Progress, quiet
from vault.exchange.reorder_file import held_back_words, reorder_rows
from vault.exchange.stock_cells import day_words
from vault.exchange.table_out import Sheet, write_csv_table, write_xlsx_table
from vault.spares.reorder import ReorderList, reorder_list
from vault.spares.stores import of_stores
from vault.spares.what_if import covered_by

ENDINGS = (".csv", ".xlsx", ".pdf")
_FOLDED = 40  # letters


@dataclass(frozen=True, slots=True, kw_only=True)
class Reorder:
    """The list with where and when it was made. uncovered: gear that none of the chosen models fits; unsettled: luminaires that
    count nowhere. notes: what it rests on, in sentences. doubts: those of them that tell of keys in wrong hands;
    hours: those on burning hours.
    """

    site: str
    day: str
    list: ReorderList
    uncovered: int
    unsettled: int
    notes: tuple[str, ...]
    doubts: tuple[str, ...] = ()
    hours: tuple[str, ...] = ()


def reorder(desk: Desk, asked: HoldAsked | None = None, *, progress: Progress = quiet) -> Reorder:
    """What to order now. Raises as `hold_plan` does."""
    asked = asked or HoldAsked()
    with desk.vault.reading() as session:
        covering = covering_of(session, cache=default_cache(session), progress=progress)
        state = stock_state(session, now_s=desk.now_s())
        if asked.stores:
            state = of_stores(state, asked.stores)
        holding = holding_in(session, asked, now_s=desk.now_s(), covering=covering, stock=state)
        coverage = covering.coverage
        fits = {name: sum(coverage.needs[need].pieces for need in covered_by(coverage, name, with_care=asked.with_care))
                for name in (model.model for model in coverage.models)}
        found = reorder_list(holding.plan, state, holding.after, fits)
        held_back = tuple(f"{held_back_words(line)}." for line in found.held_back)
        return Reorder(site=session.genesis.site, day=day_words(state.today_day), list=found,
                       uncovered=sum(need.pieces for need in holding.plan.uncovered), unsettled=holding.unsettled,
                       notes=(*held_back, *holding.notes), doubts=holding.doubts,
                       hours=holding.hours)


def write_reorder(path: Path, found: Reorder) -> None:
    """Write the list, whole or not at all, as its ending says. Raises GearkeepError: unwritable-file, no-font."""
    ending = path.suffix.lower()
    if ending == ".pdf":
        from vault.exchange.reorder_paper import write_reorder_paper

        write_reorder_paper(path, found.list, site=found.site, day=found.day, notes=found.notes)
    elif ending == ".xlsx":
        write_xlsx_table(path, [Sheet(name=f"Reorder {found.day}", rows=reorder_rows(found.list), folded=_FOLDED)])
    else:
        write_csv_table(path, reorder_rows(found.list))
