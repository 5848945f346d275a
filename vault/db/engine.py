"""Opening a database, and turning its errors into words that say what to do."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event
from sqlalchemy.engine import make_url
from sqlalchemy.exc import ArgumentError, DBAPIError, NoSuchModuleError

from vault.errors import GearkeepError, UsageProblem

BUSY_TIMEOUT_MS = 5000

# Text that SQLite gives -> (what, what next, kind)
_SQLITE_SAYS: tuple[tuple[str, str, str, str], ...] = (
    ("database is locked", "Another program is writing to the vault.",
     "Wait until it is done, then try again. Nothing was changed.", "locked"),
    ("readonly", "The vault's file or folder is read-only.",
     "Give yourself the right to write there, or copy the vault. Nothing was changed.", "read-only"),
    ("read-only", "The vault's file or folder is read-only.",
     "Give yourself the right to write there, or copy the vault. Nothing was changed.", "read-only"),
    ("disk is full", "The disk is full.", "Make room, then try again. Nothing of this step was kept.", "disk-full"),
    ("not a database", "The file is not a vault.", "Check the name given with --vault.", "not-a-vault"),
    ("malformed", "The vault's file is damaged.", "Restore a backup, then hold it against your checkpoints "
     "with: gearkeep audit --checkpoint FILE.", "damaged"),
    ("unable to open", "The vault cannot be opened.", "Check that the folder exists and may be read and "
     "written.", "cannot-open"),
    ("append-only", "The journal refuses to change what it holds.", "Entries are only ever added.", "append-only"),
    ("bear the next number", "The journal refuses an entry out of order.", "Try again.", "append-only"),
    ("disk I/O error", "The disk did not answer.", "Check the disk and the folder's rights; nothing of this step "
     "was kept.", "disk-error"),
)


def database_url(vault: str) -> str:
    """An SQLAlchemy URL from a URL or a file name. Raises UsageProblem when it is neither."""
    if "://" not in vault:
        return f"sqlite:///{Path(vault)}"
    try:
        make_url(vault).get_dialect()
    except (ArgumentError, NoSuchModuleError) as problem:
        raise UsageProblem(f"{vault} is not a vault address that can be opened.", kind="bad-vault",
                           hint="Give a file name, such as vault.db.") from problem
    if not vault.startswith("sqlite"):
        raise UsageProblem(f"{vault.split(':', 1)[0]} vaults are not served by this version.", kind="bad-vault",
                           hint="Give a file name, such as vault.db.")
    return vault


def _on_connect(raw: Any, _record: Any) -> None:
    # pysqlite would begin and commit by itself; here every BEGIN is ours (see _on_begin).
    raw.isolation_level = None
    # A damaged text must come back as it is, so that an audit can name it.
    raw.text_factory = lambda data: data.decode("utf-8", "surrogateescape")
    for pragma in (f"busy_timeout={BUSY_TIMEOUT_MS}", "journal_mode=WAL", "synchronous=FULL", "foreign_keys=ON"):
        raw.execute(f"PRAGMA {pragma}")


def _on_begin(connection: Connection) -> None:
    # A writer takes the lock at once: a read that later turns into a write could not be retried.
    mode = "IMMEDIATE" if connection.get_execution_options().get("writing") else "DEFERRED"
    connection.exec_driver_sql(f"BEGIN {mode}")


def make_engine(url: str) -> Engine:
    """An engine with WAL, synchronous=FULL and explicit BEGIN."""
    engine = create_engine(url, connect_args={"check_same_thread": False} if url.startswith("sqlite") else {})
    event.listen(engine, "connect", _on_connect)
    event.listen(engine, "begin", _on_begin)
    return engine


@contextmanager
def plain_errors() -> Iterator[None]:
    """Database errors become GearkeepErrors that say what to do next."""
    try:
        yield
    except (DBAPIError, sqlite3.Error) as problem:
        said = str(getattr(problem, "orig", problem))
        for text, what, hint, kind in _SQLITE_SAYS:
            if text in said:
                raise GearkeepError(what, hint=hint, kind=kind) from problem
        raise GearkeepError(f"The database refused: {said}.", kind="database",
                            hint="Nothing of this step was kept. Run: gearkeep audit.") from problem


def blob(value: bytes | str) -> bytes:
    """A byte column's value; SQLite gives text back when somebody put text there."""
    return value if isinstance(value, bytes) else value.encode("utf-8", "surrogateescape")
