"""What is on record of drivers after they were taken out."""

from __future__ import annotations

from collections.abc import Iterable

from sqlalchemy import select

from vault.db import tables
from vault.db.heads import among, lots
from vault.db.session import Session
from vault.db.stock_held import hold_entries
from vault.domain.record import Record
from vault.domain.stock import Act, Condition

_M, _G = tables.movement.c, tables.gear.c


def issues_that_say(session: Session, start: str) -> dict[str, list[tuple[int, str]]]:
    """Tag -> (POSIX seconds, reason) of each issue to it whose reason begins so, in the order of the journal."""
    found: dict[str, list[tuple[int, str]]] = {}
    query = select(_M.seq, _M.tag, _M.time_s, _M.reason).where(
        _M.act == int(Act.ISSUE), _M.tag.is_not(None), _M.reason.startswith(start, autoescape=True)).order_by(_M.seq, _M.number)
    rows = session.connection.execute(query).all()
    hold_entries(session, (row.seq for row in rows))
    for _, tag, time_s, reason in rows:
        found.setdefault(tag, []).append((time_s, reason))
    return found


def found_good(session: Session, serials: Iterable[str]) -> dict[tuple[str, str], int]:
    """(model, serial) -> POSIX seconds of the last movement by which that piece came back as good, or was checked and is."""
    found: dict[tuple[str, str], int] = {}
    for lot in lots(sorted(set(serials))):
        query = (select(_M.seq, _M.model, _M.serial, _M.time_s)
                 .where(among(session.connection, _M.serial, lot),
                        (_M.act == int(Act.CHECKED)) | ((_M.act == int(Act.RETURN)) & (_M.condition == int(Condition.GOOD)))))
        rows = session.connection.execute(query).all()
        hold_entries(session, (row.seq for row in rows))
        for _, model, serial, time_s in rows:
            found[model, serial] = max(time_s, found.get((model, serial), 0))
    return found


def on_books(session: Session, serials: Iterable[str]) -> dict[tuple[str, str], int]:
    """(model, serial) -> POSIX seconds of the last movement by which that piece came to a store, was counted or was scrapped."""
    found: dict[tuple[str, str], int] = {}
    acts = [int(act) for act in (Act.RECEIPT, Act.RETURN, Act.COUNT, Act.SCRAP)]
    for lot in lots(sorted(set(serials))):
        query = select(_M.model, _M.serial, _M.time_s).where(among(session.connection, _M.serial, lot), _M.act.in_(acts))
        for model, serial, time_s in session.connection.execute(query):
            found[model, serial] = max(time_s, found.get((model, serial), 0))
    return found


def last_served(session: Session, serials: Iterable[str]) -> dict[tuple[str, str], int]:
    """(model, serial) -> place in the journal of the last version with that driver in service."""
    found: dict[tuple[str, str], int] = {}
    for lot in lots(sorted(set(serials))):
        query = select(_G.model, _G.serial, _G.seq).where(among(session.connection, _G.serial, lot), _G.model.is_not(None))
        for model, serial, seq in session.connection.execute(query):
            found[model, serial] = max(seq, found.get((model, serial), 0))
    return found


def note_at(session: Session, place: int) -> str:
    """The note of the version at a place in the journal, read from what is signed; "" for none."""
    record = session.statement(place).body
    assert isinstance(record, Record)  # the index of swaps is of records alone
    return record.note or ""
