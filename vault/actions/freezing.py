"""Which luminaires a stray label freezes: its own, and the one that is recorded where it was found."""

from __future__ import annotations

from collections.abc import Sequence

from vault.db import finding, queries
from vault.db.session import Session
from vault.domain.findings import Finding
from vault.domain.label_freeze import Seat, freezes, others_meant, own_findings
from vault.domain.label_life import LabelLife, Stray
from vault.domain.places import same_place
from vault.domain.record import Reason, Record
from vault.domain.tag import from_bytes, shown


def seat_of(record: Record) -> Seat:
    """A luminaire where its record says it hangs."""
    return Seat(tag_shown=shown(from_bytes(record.tag)), place=record.place, type_code=record.fixture_type.code)


def seats_at(session: Session, place: str, but: str) -> tuple[Seat, ...]:
    """Luminaires in service recorded at a place, verified; all but the one with that tag. Raises VerificationError."""
    named = [other for other in finding.places(session) if same_place(other, place)]
    tags = dict.fromkeys(row.tag for row in finding.heads_at(session, named) if row.tag != but and row.reason != Reason.RETIRED)
    found = []
    for tag in tags:
        newest = max(queries.verified_heads(session, tag), key=lambda head: (head.row.version, head.row.seq)).statement.body
        if same_place(newest.place, place):
            found.append(seat_of(newest))
    return tuple(found)


def freezing_of(session: Session, life: LabelLife, record: Record) -> list[tuple[Stray, tuple[Seat, ...]]]:
    """A luminaire's strays that freeze it, each with the luminaires that may bear the label."""
    tag, frozen = from_bytes(record.tag), []
    for stray in life.strays:
        there = () if stray.on_housing is False or same_place(stray.place, record.place) else seats_at(session, stray.place, tag)
        if freezes(stray, life, there):
            frozen.append((stray, others_meant(stray, there)))
    return frozen


def own_freeze(session: Session, life: LabelLife, record: Record) -> tuple[tuple[Finding, ...], Sequence[Stray]]:
    """Findings that freeze a luminaire by its own labels, and the strays that they tell of."""
    frozen = freezing_of(session, life, record)
    return own_findings(frozen, seat_of(record)), [stray for stray, _ in frozen]
