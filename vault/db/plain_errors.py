"""Turning a database's errors into words that say what to do."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy.exc import DBAPIError

from vault.errors import GearkeepError

# (what, what next, kind)
_Words = tuple[str, str, str]

_LOCKED: _Words = ("Another program is writing to the vault.", "Wait until it is done, then try again. Nothing was changed.",
                   "locked")
_DISK_FULL: _Words = ("The disk is full.", "Make room, then try again. Nothing of this step was kept.", "disk-full")
_APPEND_ONLY: _Words = ("The journal refuses to change what it holds.", "Entries are only ever added.", "append-only")
_OUT_OF_ORDER: _Words = ("The journal refuses an entry out of order.", "Try again.", "append-only")
_DAMAGED: _Words = ("The vault's file is damaged.", "Restore a backup, then hold it against your checkpoints with: "
                    "gearkeep audit --checkpoint FILE.", "damaged")
_READ_ONLY: _Words = ("The vault's file or folder is read-only.",
                      "Give yourself the right to write there, or copy the vault. Nothing was changed.", "read-only")
_NO_ENTRY: _Words = ("The database server does not let this user in.", "Check the user's name and password in the address (a "
                     "password can stand in ~/.pgpass), and that pg_hba.conf on the server names this machine.", "no-right")
_NO_DATABASE: _Words = ("There is no such database on the server.", "Make it first, for example with: createdb NAME.",
                        "cannot-open")
_LOST: _Words = ("The connection to the database server was lost.",
                 "Try again; what was acknowledged before is kept. gearkeep history TAG shows what arrived.", "connection-lost")

# Text that either engine gives.
_SAYS: tuple[tuple[str, _Words], ...] = (
    ("database is locked", _LOCKED),
    ("readonly", _READ_ONLY),
    ("read-only", _READ_ONLY),
    ("disk is full", _DISK_FULL),
    ("not a database", ("The file is not a vault.", "Check the name given with --vault.", "not-a-vault")),
    ("malformed", _DAMAGED),
    ("database corruption", _DAMAGED),
    ("unable to open", ("The vault cannot be opened.", "Check that the folder exists and may be read and written.",
                        "cannot-open")),
    ("append-only", _APPEND_ONLY),
    ("bear the next number", _OUT_OF_ORDER),
    # A refused connection bears no SQLSTATE.
    ("password authentication failed", _NO_ENTRY),
    ("no pg_hba.conf entry", _NO_ENTRY),
    ('FATAL:  role "', _NO_ENTRY),
    ('FATAL:  database "', _NO_DATABASE),
    ("disk I/O error", ("The disk did not answer.", "Check the disk and the folder's rights; nothing of this step was kept.",
                        "disk-error")),
)

# SQLSTATE of PostgreSQL (its documentation, appendix A), whole or its first two characters.
_SQLSTATE: tuple[tuple[str, _Words], ...] = (
    ("55P03", _LOCKED),
    ("40P01", _LOCKED),
    ("53100", _DISK_FULL),
    ("25006", ("This server only lends copies to read (it is a replica, or set to read-only).",
               "Name the main server with --vault. Nothing was changed.", "read-only")),
    ("42501", ("The database role may not do this.", "Use a role with the right to it: the vault's owner gives rights with "
               "gearkeep access.", "no-right")),
    ("28", _NO_ENTRY),
    ("3D000", _NO_DATABASE),
    ("XX001", ("The database server found damaged data.", "Restore a backup, then hold it against your checkpoints with: "
               "gearkeep audit --checkpoint FILE.", "damaged")),
    ("57P", _LOST),
    ("08", _LOST),
)
_NO_ANSWER: _Words = ("The database server does not answer.", "Check the address given with --vault and that the server runs.",
                      "cannot-open")


def connection_lost(problem: BaseException) -> bool:
    """Whether the server went away, so that nobody knows what became of the last command."""
    if not _from_database(problem):
        return False
    state = getattr(getattr(problem, "orig", problem), "sqlstate", None) or ""
    return bool(getattr(problem, "connection_invalidated", False)) or state.startswith(("08", "57P"))


def _from_database(problem: BaseException) -> bool:
    # psycopg is there only where PostgreSQL is used.
    return isinstance(problem, DBAPIError | sqlite3.Error) or type(problem).__module__.startswith("psycopg")


def _words(problem: BaseException) -> _Words | None:
    original = getattr(problem, "orig", problem)
    state = getattr(original, "sqlstate", None) or ""
    for prefix, words in _SQLSTATE:
        if state and state.startswith(prefix):
            return words
    for text, words in _SAYS:
        if text in str(original):
            return words
    if hasattr(original, "pgconn") or type(original).__module__.startswith("psycopg"):
        if connection_lost(problem) or "connection is closed" in str(original) or "closed the connection" in str(original):
            return _LOST
        if type(original).__name__ in ("OperationalError", "ConnectionTimeout") and not state:
            return _NO_ANSWER
    return None


@contextmanager
def plain_errors() -> Iterator[None]:
    """Database errors become GearkeepErrors that say what to do next."""
    try:
        yield
    except UnicodeDecodeError as problem:
        # sqlite3 quotes damaged text in a message of its own and then cannot read that.
        what, hint, kind = _DAMAGED
        raise GearkeepError(what, hint=hint, kind=kind) from problem
    except Exception as problem:
        if not _from_database(problem):
            raise
        words = _words(problem)
        if words is not None:
            what, hint, kind = words
            raise GearkeepError(what, hint=hint, kind=kind) from problem
        said = str(getattr(problem, "orig", problem)).strip().rstrip(".")
        raise GearkeepError(f"The database refused: {said}.", kind="database",
                            hint="Nothing of this step was kept. Run: gearkeep audit.") from problem
