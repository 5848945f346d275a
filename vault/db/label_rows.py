"""What was printed and what became of it, from the index."""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy import select

from vault.db import tables
from vault.db.session import Session


@dataclass(frozen=True, slots=True, kw_only=True)
class LabelRow:
    """One label copy: which record it was printed from, why (IssueReason), when and by whom."""

    seq: int
    copy: int
    record_prefix: bytes
    carries_settings: bool | None
    why: int | None
    time_s: int
    key_id: bytes


@dataclass(frozen=True, slots=True, kw_only=True)
class LabelEventRow:
    """What happened to a label since: placed, withdrawn or sighted. copy: None for one found without its number.

    number: which line of its statement it is, from 1.
    """

    seq: int
    number: int
    copy: int | None
    event: str
    why: str | None
    place: str | None
    record_prefix: bytes | None
    time_s: int
    key_id: bytes


def labels(session: Session, tag: str) -> list[LabelRow]:
    """Copies of a luminaire's label, oldest first."""
    t = tables.label
    rows = session.connection.execute(
        select(t.c.seq, t.c.copy, t.c.record_prefix, t.c.carries_settings, t.c.why, t.c.time_s, t.c.key_id)
        .where(t.c.tag == tag).order_by(t.c.seq, t.c.number))
    return [LabelRow(**row._mapping) for row in rows]


def label_events(session: Session, tag: str) -> list[LabelEventRow]:
    """What happened to the copies of a luminaire's label, in the order of the journal."""
    e = tables.label_event
    rows = session.connection.execute(
        select(e.c.seq, e.c.number, e.c.copy, e.c.event, e.c.why, e.c.place, e.c.record_prefix, e.c.time_s, e.c.key_id)
        .where(e.c.tag == tag).order_by(e.c.seq, e.c.number))
    return [LabelEventRow(**row._mapping) for row in rows]
