"""The copies of a luminaire's label as the vault knows them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from vault.db import queries
from vault.db.queries import LabelEventRow, LabelRow, RecordRow
from vault.db.session import Session
from vault.domain.findings import Finding
from vault.domain.label_life import CopyLife, Event, Happened, Issued, State, label_findings, life_of
from vault.domain.record import Record, settings_differ
from vault.domain.schema import words
from vault.trust.statements import IssueReason
from vault.trust.verify import Statement


@dataclass(frozen=True, slots=True, kw_only=True)
class HeldLabel:
    """One copy: printed when, by whom (signer's code), why and of which version; where it stands in its life.

    version: None when the vault holds no such record. elsewhere: where it was last seen, if not with its luminaire.
    because: why it was withdrawn.
    """

    copy: int
    version: int | None
    record_prefix: bytes
    why: str | None
    printed_s: int
    signer: str
    life: CopyLife
    because: str | None

    @property
    def state(self) -> State:
        """issued, placed, replaced or withdrawn."""
        return self.life.state

    @property
    def current(self) -> bool:
        """Whether what it shows still counts."""
        return self.life.current

    @property
    def placed(self) -> bool:
        """It was seen on the housing and counts."""
        return self.life.placed

    @property
    def withdrawn(self) -> bool:
        """Somebody withdrew it."""
        return self.life.withdrawn

    @property
    def elsewhere(self) -> str | None:
        """Where it was last seen, if not with its luminaire."""
        return self.life.elsewhere

    def as_json(self) -> dict[str, Any]:
        """The keys that other programs rely on."""
        return {"copy": self.copy, "version": self.version, "state": self.state.value, "current": self.current,
                "shows_newest_settings": self.life.shows_newest, "elsewhere": self.elsewhere, "why": self.why,
                "because": self.because, "printed_s": self.printed_s, "signer": self.signer}


@dataclass(frozen=True, slots=True, kw_only=True)
class HeldLabels:
    """Every copy of one luminaire, oldest first, with what is wrong."""

    copies: tuple[HeldLabel, ...]
    findings: tuple[Finding, ...]


def _of(rows: Sequence[RecordRow], prefix: bytes) -> RecordRow | None:
    return next((row for row in rows if row.digest[:8] == prefix), None)


def _shows_newest(session: Session, versions: Sequence[RecordRow], newest: Statement, prefixes: set[bytes]) -> set[bytes]:
    """Those of the record prefixes whose settings equal the newest version's."""
    same = {newest.digest[:8]}
    for prefix in prefixes - same:
        row = _of(versions, prefix)
        if row is not None:
            held: Record = queries.record_at(session, row).body
            if not settings_differ([held, newest.body]):
                same.add(prefix)
    return same


def _event(row: LabelEventRow) -> Event:
    try:
        return Event(row.event)
    except ValueError as problem:
        raise queries.bad_index(f"entry {row.seq} is no {row.event!r} of a label") from problem


def _steps(rows: Sequence[LabelRow], events: Sequence[LabelEventRow], same: set[bytes]) -> list[Issued | Happened]:
    steps: list[Issued | Happened] = [
        Issued(step=row.seq, copy=row.copy, record=row.record_prefix, shows_newest=row.record_prefix in same,
               replaces=row.why == IssueReason.REPLACEMENT) for row in rows]
    steps += [Happened(step=row.seq, event=_event(row), copy=row.copy, place=row.place, record=row.record_prefix)
              for row in events]
    return sorted(steps, key=lambda step: step.step)


def held_labels(session: Session, tag: str, newest: Statement) -> HeldLabels:
    """The copies of a luminaire's label. newest: its newest version, verified."""
    rows, events = queries.labels(session, tag), queries.label_events(session, tag)
    if not rows and not events:
        return HeldLabels(copies=(), findings=())
    versions = queries.versions_of(session, tag)
    same = _shows_newest(session, versions, newest, {row.record_prefix for row in rows})
    record: Record = newest.body
    life = life_of(_steps(rows, events, same), record.place)
    because = {event.copy: event.why for event in events if event.why is not None}
    copies = []
    for row, lived in zip(rows, life.copies, strict=True):
        printed_of, signer = _of(versions, row.record_prefix), session.signers.latest(row.key_id)
        copies.append(HeldLabel(
            copy=row.copy, version=printed_of.version if printed_of else None, record_prefix=row.record_prefix,
            why=words(IssueReason(row.why)) if row.why is not None else None, printed_s=row.time_s,
            signer=signer.code if signer else row.key_id.hex(), life=lived, because=because.get(row.copy)))
    return HeldLabels(copies=tuple(copies), findings=label_findings(life, record.place))
