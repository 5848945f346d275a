"""One statement into a PostgreSQL vault: checked before the lock is asked for, resolved when the connection is lost."""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Engine

from vault.db import server
from vault.db.plain_errors import connection_lost
from vault.db.projections import rows_of
from vault.db.session import Session
from vault.db.table_past import StoredVersion
from vault.db.tables import MAIN
from vault.db.trusted import SIGNER_KINDS, Trusted
from vault.domain.record import Reason, Record
from vault.domain.tag import from_bytes
from vault.errors import GearkeepError, VerificationError
from vault.trust.chain import check_record
from vault.trust.cose import digest as digest_of
from vault.trust.statements import Kind
from vault.trust.verify import Statement, verify

# Seconds before the server is tried again after a lost connection.
PAUSES_S = (0.1, 0.5, 2.0)
# Somebody else changed the same luminaire, or a signer, in between: checked anew. More often than this is no accident.
MOST_CHECKS = 20

# All that the rules ask of the journal before a record, in one answer.
_BEFORE = f"""
SELECT (SELECT size FROM log_state WHERE log = {MAIN}),
       EXISTS (SELECT FROM journal WHERE log = {MAIN} AND kind = ANY (%s) AND seq >= %s),
       ARRAY(SELECT digest FROM record WHERE tag = %s ORDER BY seq),
       ARRAY(SELECT version FROM record WHERE tag = %s ORDER BY seq),
       ARRAY(SELECT reason FROM record WHERE tag = %s ORDER BY seq),
       (SELECT digest FROM catalogue WHERE kind = {int(Kind.RATING)} AND name = %s AND revision = %s),
       EXISTS (SELECT FROM recovered_record WHERE digest = %s)
"""


class _RecordPast:
    """What the rules of a record ask of what stands before it, answered from one row of the server's."""

    def __init__(self, tag: bytes, digests: Sequence[bytes], versions: Sequence[int], reasons: Sequence[int],
                 rating: bytes | None) -> None:
        self._held = [(digest, StoredVersion(version, Reason(reason), tag))
                      for digest, version, reason in zip(digests, versions, reasons, strict=True)]
        self._rating = rating

    def versions(self, _tag: bytes) -> Sequence[tuple[bytes, Any]]:
        """(digest, version and reason) of every version of the record's tag."""
        return self._held

    def rating_prefix(self, _code: str, _revision: int) -> bytes | None:
        """First 8 bytes of the digest of the rating that the record names."""
        return None if self._rating is None else self._rating[:8]


@dataclass(slots=True)
class Appender:
    """A connection of its own for single appends, kept from one to the next. trusted: the signers known so far."""

    engine: Engine
    trusted: Trusted | None = None
    _raw: Any = None

    def close(self) -> None:
        """Let go of the connection."""
        if self._raw is not None:
            self._raw.close()
            self._raw = None

    def append(self, signed_bytes: bytes, log: int) -> Statement:
        """Append, and on a lost connection ask again: the journal knows a statement by its digest, so nothing is doubled."""
        for pause_s in (*PAUSES_S, None):
            try:
                return self._append(signed_bytes, log)
            except Exception as problem:
                lost = connection_lost(problem) or (self._raw is not None and self._raw.closed)
                if lost:
                    self.close()
                if pause_s is None or not lost:
                    raise
                time.sleep(pause_s)
        raise AssertionError("the last try returns or raises")

    def _connection(self) -> Any:
        if self._raw is None:
            pooled = self.engine.raw_connection()
            self._raw = pooled.driver_connection
            pooled.detach()
            self._raw.autocommit = True
        return self._raw

    def _append(self, signed_bytes: bytes, log: int) -> Statement:
        for _ in range(MOST_CHECKS):
            trusted = self._trusted()
            found = self._record_checked(signed_bytes, trusted) if log == MAIN else None
            statement, seen, tag = found or self._checked(signed_bytes, log)
            if seen is None:
                return statement
            try:
                server.append_raw(self._connection(), log, seen, statement, rows_of(seen, statement), tag=tag,
                                  signers_read=trusted.read, signer_kinds=SIGNER_KINDS)
            except Exception as problem:
                if getattr(problem, "sqlstate", None) != server.MOVED_ON:
                    raise
                self.trusted = None
                continue
            return statement
        raise GearkeepError(f"The journal moved on {MOST_CHECKS} times while this was being added.", kind="locked",
                            hint="Try again. Nothing was changed.")

    def _trusted(self) -> Trusted:
        if self.trusted is None:
            with self.engine.connect() as connection, connection.begin():
                self.trusted = Session(connection).trusted()
        return self.trusted

    def _record_checked(self, signed_bytes: bytes, trusted: Trusted) -> tuple[Statement, int, str] | None:
        """A record checked against one answer of the server's; None where another way has to be taken."""
        try:
            statement = verify(signed_bytes, log_id=trusted.genesis.log_id, signers=trusted.signers, place=2**62,
                               now_s=int(time.time()))
            body = statement.body
            if not isinstance(body, Record) or body.taken_from is not None:
                return None
            tag = from_bytes(body.tag)
            size, moved, digests, versions, reasons, rating, accepted = self._connection().execute(_BEFORE, (
                list(SIGNER_KINDS), trusted.read, tag, tag, tag, body.fixture_type.code, body.fixture_type.revision,
                statement.digest), prepare=True).fetchone()
            if moved or accepted:
                self.trusted = None
                return None
            check_record(body, _RecordPast(body.tag, digests, versions, reasons, rating))
        except VerificationError:
            # The general way finds out whether it is there already, or says what is wrong with it.
            self.trusted = None
            return None
        return statement, size, tag

    def _checked(self, signed_bytes: bytes, log: int) -> tuple[Statement, int | None, str | None]:
        """(statement, the log's size when it was checked, its tag); no size where it stands in the journal already."""
        with self.engine.connect() as connection, connection.begin():
            session = Session(connection, self.trusted)
            self.trusted = session.trusted()
            held = session.place_of(digest_of(signed_bytes))
            if held is not None:
                return session.statement(held[1], held[0]), None, None
            seen = session.size(log)
            statement = session.checked(signed_bytes, seen, log)
        return statement, seen, from_bytes(statement.body.tag) if isinstance(statement.body, Record) else None
