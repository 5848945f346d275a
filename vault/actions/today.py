"""What is to be done in the store today, gathered over the whole vault."""

from __future__ import annotations

from vault.actions.cover import Unsettled, covering_of, default_cache, on_shelf, shelf_gaps
from vault.actions.desk import Desk
from vault.actions.hold_asked import HoldAsked
from vault.actions.holding import holding_in
from vault.actions.luminaire import approvals_of, open_after
from vault.actions.old_drivers import on_no_books
from vault.actions.stock import stock_state
from vault.actions.stock_doubts import doubt_tasks
from vault.actions.today_ending import ending_tasks
from vault.actions.today_tasks import Waiting, below_tasks, gap_tasks, old_driver_tasks, repair_tasks, stock_tasks, vital_models
from vault.db import waiting
from vault.db.audit import Progress, quiet
from vault.db.session import Session
from vault.domain.counting import counted
from vault.exchange.stock_cells import day_words
from vault.spares.today import Today, in_order


def today(desk: Desk, asked: HoldAsked | None = None, *, progress: Progress = quiet) -> Today:
    """Everything that is to be done. asked: how minimums are reckoned. progress: need classes judged.

    Raises VerificationError where the index says otherwise than what is signed, GearkeepError (out-of-range).
    """
    asked = asked or HoldAsked()
    with desk.vault.reading() as session:
        covering = covering_of(session, cache=default_cache(session), progress=progress)
        state = stock_state(session, now_s=desk.now_s())
        holding = holding_in(session, asked, now_s=desk.now_s(), covering=covering, stock=state)
        gaps = shelf_gaps(covering.coverage, on_shelf(session, covering.needs, state), with_care=asked.with_care)
        open_ones = _waiting(session, covering.unsettled)
        kept = waiting.in_service(session, (one.tag for one in state.kept))
        vital = vital_models(holding.plan, state)
        tasks = in_order((*below_tasks(holding.plan), *gap_tasks(gaps), *ending_tasks(holding.plan, state, holding.after, vital),
                          *repair_tasks(state, open_ones, kept, vital, lead_days=holding.plan.policy.lead_days,
                                        swapped=waiting.swapped_whole(session, (one.tag for one in state.kept))),
                          *stock_tasks(state, vital), *doubt_tasks(session),
                          *old_driver_tasks((one.tag, one.model or "", one.serial or "") for one in on_no_books(session))))
        gear = sum(need.pieces for need in covering.coverage.needs)
        bins = sum(bool(shelf.good or shelf.needs_reset) for shelf in state.shelves)
        looked = (f"the minimum of {counted(len(holding.plan.lines), 'model')}",
                  f"spares on the shelf for {gear} gear in {counted(len(covering.coverage.needs), 'class', 'classes')}",
                  "open stops and frozen luminaires", f"{counted(len(state.kept), 'reservation')}",
                  f"last order dates of {counted(len(state.terms), 'item')} with terms",
                  f"{counted(len(state.orders), 'order line')}", f"{counted(len(state.lots), 'battery lot')}",
                  f"returned pieces and counts due of {counted(bins, 'bin')}",
                  *(said[0].lower() + said[1:].rstrip(".") for said in holding.hours))
        return Today(site=session.genesis.site, day=day_words(state.today_day), tasks=tasks, looked=looked)


def _waiting(session: Session, unsettled: tuple[Unsettled, ...]) -> list[Waiting]:
    """Luminaires that nobody may fit a spare to yet, then those with open stops."""
    emergency = waiting.in_service(session, (one.tag for one in unsettled))
    found = [Waiting(tag=one.tag, why=one.why, vital=emergency.get(one.tag, False)) for one in unsettled]
    approved, settled = waiting.approved_digests(session), {one.tag for one in unsettled}
    opened = []
    for row in waiting.with_open_stops(session):
        names = open_after(row.names, approvals_of(session, row.digest)) if row.digest in approved else row.names
        if names and row.tag not in settled:
            opened.append((row.tag, tuple(sorted(names))))
    emergency = waiting.in_service(session, (tag for tag, _ in opened))
    return found + [Waiting(tag=tag, why=f"provisional, open: {', '.join(names)}", stops=names,
                            vital=emergency.get(tag, False)) for tag, names in opened]
