"""The copies of a luminaire's label as the vault knows them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from vault.actions.freezing import own_freeze, seat_of, seats_at
from vault.db import finding, label_rows, queries
from vault.db.label_rows import LabelEventRow, LabelRow
from vault.db.queries import RecordRow
from vault.db.session import Session
from vault.domain.findings import Finding
from vault.domain.label_findings import label_findings
from vault.domain.label_freeze import another_finding, others_meant
from vault.domain.label_life import CopyLife, Event, Happened, Issued, LabelLife, State, life_of
from vault.domain.places import same_place
from vault.domain.record import Record, settings_differ
from vault.domain.schema import words
from vault.domain.tag import from_bytes, to_bytes
from vault.trust.statements import IssueReason, LabelSighting, SeenLabel
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


def _seen(session: Session, row: LabelEventRow, tag: str) -> SeenLabel:
    """What was signed of a sighting: the index holds not all of it. Raises VerificationError."""
    body = session.statement(row.seq).body
    line = body.labels[row.number - 1] if isinstance(body, LabelSighting) and row.number <= len(body.labels) else None
    if line is None or (line.tag, line.place, line.copy) != (to_bytes(tag), row.place, row.copy):
        raise queries.bad_index(f"it calls entry {row.seq} a sighting that is not signed there")
    return line


def _happened(session: Session, row: LabelEventRow, tag: str) -> Happened:
    event = _event(row)
    seen = _seen(session, row, tag) if event is Event.SIGHTED else None
    return Happened(step=row.seq, event=event, copy=row.copy, place=row.place, record=row.record_prefix,
                    type_code=seen.type_code if seen else None, on_housing=seen.on_housing if seen else None)


def _life(session: Session, rows: Sequence[LabelRow], events: Sequence[LabelEventRow], record: Record,
          same: set[bytes]) -> LabelLife:
    tag = from_bytes(record.tag)
    steps: list[Issued | Happened] = [
        Issued(step=row.seq, copy=row.copy, record=row.record_prefix, shows_newest=row.record_prefix in same,
               replaces=row.why == IssueReason.REPLACEMENT) for row in rows]
    steps += [_happened(session, row, tag) for row in events]
    return life_of(sorted(steps, key=lambda step: step.step), record.place, record.fixture_type.code)


def _of_others(session: Session, record: Record) -> tuple[Finding, ...]:
    """Labels of other luminaires that were found where this one is recorded, and are there still."""
    tag, found = from_bytes(record.tag), []
    bearers = [other for other, place in finding.sightings(session) if other != tag and same_place(place, record.place)]
    for other in dict.fromkeys(bearers):
        newest = max(queries.verified_heads(session, other), key=lambda head: (head.row.version, head.row.seq)).statement.body
        life = _life(session, label_rows.labels(session, other), label_rows.label_events(session, other), newest, set())
        for stray in life.strays:
            if same_place(stray.place, record.place) and not same_place(stray.place, newest.place):
                there = seats_at(session, stray.place, other)
                if seat_of(record) in others_meant(stray, there):
                    found.append(another_finding(stray, seat_of(newest), seat_of(record), there))
    return tuple(found)


def held_labels(session: Session, tag: str, newest: Statement) -> HeldLabels:
    """The copies of a luminaire's label. newest: its newest version, verified."""
    record: Record = newest.body
    others = _of_others(session, record)
    rows, events = label_rows.labels(session, tag), label_rows.label_events(session, tag)
    if not rows and not events:
        return HeldLabels(copies=(), findings=others)
    versions = queries.versions_of(session, tag)
    same = _shows_newest(session, versions, newest, {row.record_prefix for row in rows})
    life = _life(session, rows, events, record, same)
    because = {event.copy: event.why for event in events if event.why is not None}
    copies = []
    for row, lived in zip(rows, life.copies, strict=True):
        printed_of, signer = _of(versions, row.record_prefix), session.signers.latest(row.key_id)
        copies.append(HeldLabel(
            copy=row.copy, version=printed_of.version if printed_of else None, record_prefix=row.record_prefix,
            why=words(IssueReason(row.why)) if row.why is not None else None, printed_s=row.time_s,
            signer=signer.code if signer else row.key_id.hex(), life=lived, because=because.get(row.copy)))
    frozen, told = own_freeze(session, life, record)
    return HeldLabels(copies=tuple(copies), findings=(*others, *frozen, *label_findings(life, record.place, told)))
