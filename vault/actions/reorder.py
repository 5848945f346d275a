"""The reorder list over the whole vault, on the screen or as a file."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from vault.actions.desk import Desk
from vault.actions.holding import HoldAsked, holding_in
from vault.actions.stock import stock_state
from vault.db.audit import Progress, quiet
from vault.errors import UsageProblem
from vault.exchange.reorder_file import reorder_rows
from vault.exchange.stock_cells import day_words
from vault.exchange.table_out import Sheet, write_csv_table, write_xlsx_table
from vault.spares.reorder import ReorderList, reorder_list

ENDINGS = (".csv", ".xlsx", ".pdf")


@dataclass(frozen=True, slots=True, kw_only=True)
class Reorder:
    """The list with where and when it was made. uncovered: gear that none of the chosen models fits; unsettled: luminaires that
    count nowhere. notes: what it rests on, in sentences.
    """

    site: str
    day: str
    list: ReorderList
    uncovered: int
    unsettled: int
    notes: tuple[str, ...]


def reorder(desk: Desk, asked: HoldAsked | None = None, *, progress: Progress = quiet) -> Reorder:
    """What to order now. Raises as `hold_plan` does."""
    with desk.vault.reading() as session:
        holding = holding_in(session, asked or HoldAsked(), now_s=desk.now_s(), progress=progress)
        state = stock_state(session, now_s=desk.now_s())
        return Reorder(site=session.genesis.site, day=day_words(state.today_day), list=reorder_list(holding.plan, state),
                       uncovered=sum(need.pieces for need in holding.plan.uncovered), unsettled=holding.unsettled,
                       notes=holding.notes)


def refuse_ending(path: Path) -> None:
    """Raises UsageProblem where a reorder list is not written in files of that ending."""
    if path.suffix.lower() not in ENDINGS:
        raise UsageProblem(f"{path} ends in {path.suffix or 'nothing'}.", kind="bad-value",
                           hint=f"End it in {', '.join(ENDINGS[:-1])} or {ENDINGS[-1]}.")


def write_reorder(path: Path, found: Reorder) -> None:
    """Write the list, whole or not at all, as its ending says. Raises GearkeepError: unwritable-file, no-font."""
    ending = path.suffix.lower()
    if ending == ".pdf":
        from vault.exchange.reorder_paper import write_reorder_paper

        write_reorder_paper(path, found.list, site=found.site, day=found.day, notes=found.notes)
    elif ending == ".xlsx":
        write_xlsx_table(path, [Sheet(name=f"Reorder {found.day}", rows=reorder_rows(found.list))])
    else:
        write_csv_table(path, reorder_rows(found.list))
