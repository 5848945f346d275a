"""Opening a database so that what it acknowledges is on the disk and every transaction's beginning is ours."""

from __future__ import annotations

import logging
from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event

from vault.db.address import Address
from vault.errors import UsageProblem

BUSY_TIMEOUT_MS = 5000
CONNECT_TIMEOUT_S = 10
# A program that stopped in the middle of writing must not hold everybody up for ever.
IDLE_WRITER_TIMEOUT_MS = 600_000


def _on_sqlite_connect(raw: Any, _record: Any) -> None:
    # pysqlite would begin and commit by itself; here every BEGIN is ours (see _on_sqlite_begin).
    raw.isolation_level = None
    # A damaged text must come back as it is, so that an audit can name it.
    raw.text_factory = lambda data: data.decode("utf-8", "surrogateescape")
    for pragma in (f"busy_timeout={BUSY_TIMEOUT_MS}", "journal_mode=WAL", "synchronous=FULL", "foreign_keys=ON"):
        raw.execute(f"PRAGMA {pragma}")


def _on_sqlite_begin(connection: Connection) -> None:
    # A writer takes the lock at once: a read that later turns into a write could not be retried.
    mode = "IMMEDIATE" if connection.get_execution_options().get("writing") else "DEFERRED"
    connection.exec_driver_sql(f"BEGIN {mode}")


def _on_postgresql_begin(connection: Connection) -> None:
    options = connection.get_execution_options()
    if options.get("writing"):
        return
    # A reader sees one state throughout, as on SQLite.
    connection.exec_driver_sql("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ READ ONLY")


def _sqlite(address: Address) -> Engine:
    engine = create_engine(address.url, connect_args={"check_same_thread": False})
    event.listen(engine, "connect", _on_sqlite_connect)
    event.listen(engine, "begin", _on_sqlite_begin)
    return engine


def _postgresql(address: Address) -> Engine:
    options = (f"-csearch_path={address.site} -clock_timeout={BUSY_TIMEOUT_MS} "
               f"-cidle_in_transaction_session_timeout={IDLE_WRITER_TIMEOUT_MS} -csynchronous_commit=on")
    try:
        # What it says of a lost connection stands on the screen beside our own words for it.
        logging.getLogger("psycopg").setLevel(logging.CRITICAL)
        engine = create_engine(address.url, isolation_level="READ COMMITTED", connect_args={
            "options": options, "connect_timeout": CONNECT_TIMEOUT_S, "application_name": "gearkeep"})
    except ModuleNotFoundError as problem:
        raise UsageProblem("The part that speaks to PostgreSQL is not installed.", kind="bad-vault",
                           hint="Install it with: pip install 'gearkeep[postgres]'.") from problem
    event.listen(engine, "begin", _on_postgresql_begin)
    return engine


def make_engine(address: Address) -> Engine:
    """An engine whose commits are durable (SQLite: WAL, synchronous=FULL; PostgreSQL: synchronous_commit).

    Raises UsageProblem when the driver for PostgreSQL is not installed.
    """
    return _sqlite(address) if address.path is not None else _postgresql(address)


def blob(value: bytes | str) -> bytes:
    """A byte column's value; SQLite gives text back when somebody put text there."""
    return value if isinstance(value, bytes) else value.encode("utf-8", "surrogateescape")
