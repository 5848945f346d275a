"""One statement into a PostgreSQL vault: checked before the lock is asked for, resolved when the connection is lost."""

from __future__ import annotations

import time

from sqlalchemy import Connection, Engine
from sqlalchemy.exc import DBAPIError

from vault.db import server
from vault.db.plain_errors import connection_lost
from vault.db.projections import rows_of
from vault.db.session import Session
from vault.db.tables import MAIN
from vault.db.trusted import SIGNER_KINDS, Trusted
from vault.domain.record import Record
from vault.domain.tag import from_bytes
from vault.errors import GearkeepError
from vault.trust.cose import digest as digest_of
from vault.trust.verify import Statement

# Seconds before the server is tried again after a lost connection.
PAUSES_S = (0.1, 0.5, 2.0)
# Somebody else changed the same luminaire, or a signer, in between: checked anew. More often than this is no accident.
MOST_CHECKS = 20


def _append(connection: Connection, signed_bytes: bytes, log: int, known: Trusted | None) -> tuple[Statement, Trusted]:
    for _ in range(MOST_CHECKS):
        session = Session(connection, known)
        known = session.trusted()
        seen = session.size(log)
        try:
            statement = session.checked(signed_bytes, seen, log)
        except GearkeepError:
            # The same bytes again are no second version of themselves.
            held = session.place_of(digest_of(signed_bytes))
            if held is None:
                raise
            return session.statement(held[1], held[0]), known
        tag = from_bytes(statement.body.tag) if log == MAIN and isinstance(statement.body, Record) else None
        try:
            server.append(connection, log, seen, statement, rows_of(seen, statement), tag=tag, signers_read=known.read,
                          signer_kinds=SIGNER_KINDS)
        except DBAPIError as problem:
            if getattr(problem.orig, "sqlstate", None) != server.MOVED_ON:
                raise
            continue
        return statement, known
    raise GearkeepError(f"The journal moved on {MOST_CHECKS} times while this was being added.", kind="locked",
                        hint="Try again. Nothing was changed.")


def append_one(engine: Engine, signed_bytes: bytes, log: int, known: Trusted | None) -> tuple[Statement, Trusted]:
    """Append, and on a lost connection ask again: the journal knows a statement by its digest, so nothing is doubled."""
    for pause_s in (*PAUSES_S, None):
        try:
            with engine.connect().execution_options(isolation_level="AUTOCOMMIT", writing=True) as connection:
                return _append(connection, signed_bytes, log, known)
        except DBAPIError as problem:
            if pause_s is None or not connection_lost(problem):
                raise
            time.sleep(pause_s)
    raise AssertionError("the last try returns or raises")


__all__ = ["append_one"]
