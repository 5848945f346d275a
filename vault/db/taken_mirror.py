"""Luminaires of another vault in a vault of their own, in memory: whatever reads a vault then reads them, verified.

Only what concerns those luminaires is put there, each entry at its own place, so places, signers and doubts are as in the
other vault's journal. Nothing is signed there and nothing of it is kept.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from sqlalchemy import select

from vault.db import tables
from vault.db.address import Address
from vault.db.bulk_rows import write_rows, write_tuples
from vault.db.engine import blob, make_engine
from vault.db.heads import lots
from vault.db.projections import rows_of
from vault.db.session import Session
from vault.db.tables import MAIN, metadata
from vault.db.taken import TakenLog, places_of, signed_at
from vault.db.trusted import SIGNER_KINDS
from vault.domain.tag import to_bytes
from vault.errors import VerificationError
from vault.trust.cose import digest as digest_of
from vault.trust.cose import open_envelope
from vault.trust.statements import Kind, Withdrawal

_CATALOGUE = (Kind.RATING, Kind.CIRCUIT, Kind.LINE)
# They name luminaires by tag or records by digest, inside their bytes.
_ABOUT = (Kind.APPROVAL, Kind.LABEL_ISSUE, Kind.LABEL_PLACED, Kind.LABEL_WITHDRAWAL, Kind.LABEL_SIGHTING, Kind.RECOVERY)
# Looked for one by one among all statements; of more luminaires everything is taken.
FEW_TAGS = 40


@contextmanager
def mirror_of(session: Session, log: TakenLog, tags: Sequence[str]) -> Iterator[Session]:
    """A session that holds some luminaires of a log taken over, with what is said of them. Raises VerificationError."""
    engine = make_engine(Address(url="sqlite:///:memory:", path=Path(":memory:")))
    try:
        with engine.connect().execution_options(writing=True) as connection, connection.begin():
            metadata.create_all(connection)
            mirror = Session(connection)
            _fill(session, mirror, log, tags)
            yield mirror
    finally:
        engine.dispose()


def _entries(session: Session, log: TakenLog, kinds: Iterable[int]) -> Iterator[tuple[int, bytes]]:
    t = tables.taken.c
    query = select(t.seq, t.signed).where(t.log_id == log.log_id, t.kind.in_([int(kind) for kind in kinds])).order_by(t.seq)
    return ((row.seq, blob(row.signed)) for row in session.connection.execute(query, execution_options={"yield_per": 500}))


def _at(session: Session, log: TakenLog, places: Sequence[int]) -> Iterator[tuple[int, bytes]]:
    t = tables.taken.c
    for some in lots(places):
        query = select(t.seq, t.signed).where(t.log_id == log.log_id, t.seq.in_(list(some))).order_by(t.seq)
        yield from ((row.seq, blob(row.signed)) for row in session.connection.execute(query))


def _journal_row(seq: int, signed: bytes) -> tuple[Any, ...]:
    envelope = open_envelope(signed)
    return MAIN, seq, envelope.kind, envelope.key_id, digest_of(signed), signed, b""


def _fill(session: Session, mirror: Session, log: TakenLog, tags: Sequence[str]) -> None:
    connection = mirror.connection
    signers = list(_entries(session, log, SIGNER_KINDS))
    write_tuples(connection, tables.journal, [_journal_row(seq, signed) for seq, signed in signers])
    trusted = mirror.trusted()
    if trusted.genesis.log_id != log.log_id or trusted.genesis.authority_key != log.authority_key:
        raise VerificationError(f"The log {log.log_id.hex()[:8]} does not begin with the genesis that was taken over.",
                                kind="other-vault", hint="Run: gearkeep audit. Restore a backup.")
    others = [*_entries(session, log, _CATALOGUE), *_about(session, log, tags)]
    write_tuples(connection, tables.journal, [_journal_row(seq, signed) for seq, signed in others])
    last_trusted = []
    for seq, signed in sorted([*signers, *others]):
        statement = mirror.verified(signed, seq)
        write_rows(connection, rows_of(seq, statement))
        if isinstance(statement.body, Withdrawal) and statement.body.trusted_until is not None:
            last_trusted.append(statement.body.trusted_until)
    # What a withdrawal calls the last trusted entry is looked up by its place; the last entry tells the journal's size.
    held = {seq for seq, _ in (*signers, *others)}
    for place in sorted({*last_trusted, log.size - 1} - held):
        one = signed_at(session, log.log_id, place)
        if one is not None:
            write_tuples(connection, tables.journal, [_journal_row(place, one)])


def _about(session: Session, log: TakenLog, tags: Sequence[str]) -> Iterator[tuple[int, bytes]]:
    """Every version of the luminaires, and the statements that speak of them."""
    places = places_of(session, log.log_id, tags)
    yield from _at(session, log, [seq for seq, _ in places])
    if len(tags) > FEW_TAGS:
        yield from _entries(session, log, _ABOUT)
        return
    # Looked for in the bytes first: to verify all is only worth it for those that hold the tag or the digest.
    wanted = re.compile(b"|".join(map(re.escape, [*map(to_bytes, tags), *(digest for _, digest in places)])), re.DOTALL)
    yield from ((seq, signed) for seq, signed in _entries(session, log, _ABOUT) if wanted.search(signed))
