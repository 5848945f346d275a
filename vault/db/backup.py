"""Files of backups: written beside their name, settled on the disk, moved into place whole, never over another."""

from __future__ import annotations

import contextlib
import os
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from urllib.parse import quote

from sqlalchemy import create_engine
from sqlalchemy.pool import NullPool

from vault.db.plain_errors import plain_errors
from vault.db.session import Session
from vault.errors import GearkeepError, UsageProblem

PART = ".part"
# SQLite's own files beside a database.
_BESIDE = ("", "-wal", "-shm", "-journal")


def _unwritable(path: Path, problem: OSError) -> GearkeepError:
    return GearkeepError(f"{path} cannot be written: {problem.strerror or problem}.", kind="unwritable-file",
                         hint="Check the folder, its rights and the room on its disk. Nothing of the copy was kept.")


def _lock(folder: Path) -> int | None:
    """Hold the folder against a second backup into it; systems without such a lock go without."""
    try:
        import fcntl
    except ImportError:
        return None
    handle = os.open(folder, os.O_RDONLY)
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        os.close(handle)
        raise GearkeepError(f"Another backup is being written into {folder}.", kind="locked",
                            hint="Wait until it is done, then try again.") from None
    except OSError:
        # A network folder may know no locks.
        os.close(handle)
        return None
    return handle


@contextmanager
def new_file(path: Path, leftovers: str) -> Iterator[Path]:
    """Gives the name to write to; behind the block what was written there is at `path`, whole, or nothing is.

    leftovers: a pattern of parts in the same folder that a killed run may have left; they are taken away first.
    Raises UsageProblem (exists, cannot-open), GearkeepError (unwritable-file, locked).
    """
    if not path.parent.is_dir():
        raise UsageProblem(f"The folder {path.parent} does not exist.", kind="cannot-open", hint="Make it first, or mount it.")
    for beside in _BESIDE:
        # A log left over from another vault of that name would be played into the new file.
        there = path.with_name(path.name + beside)
        if there.exists():
            raise UsageProblem(f"{there} is there already.", kind="exists", hint="Name another file, or move what belongs to "
                               f"{path.name} away together; no file is ever overwritten.")
    part = path.with_name(path.name + PART)
    handle = None
    try:
        handle = _lock(path.parent)
        for pattern in (leftovers + PART + beside for beside in _BESIDE):
            for old in path.parent.glob(pattern):
                old.unlink()
        yield part
        _settle(part)
        _into_place(part, path)
    except OSError as problem:
        raise _unwritable(path, problem) from problem
    finally:
        for beside in _BESIDE:
            with contextlib.suppress(OSError):
                part.with_name(part.name + beside).unlink()
        if handle is not None:
            os.close(handle)


def _settle(part: Path) -> None:
    # One file alone, that can be read from a medium that cannot be written to.
    with plain_errors(), closing(sqlite3.connect(part, isolation_level=None)) as raw:
        raw.execute("PRAGMA journal_mode=DELETE")
    _sync(part)


def _sync(path: Path) -> None:
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _into_place(part: Path, path: Path) -> None:
    try:
        # A link never overwrites, as a rename would.
        os.link(part, path)
    except FileExistsError:
        raise UsageProblem(f"{path} is there already.", kind="exists", hint="Name another file.") from None
    except OSError:
        # A disk that knows no links.
        if path.exists():
            raise UsageProblem(f"{path} is there already.", kind="exists", hint="Name another file.") from None
        part.rename(path)
    with contextlib.suppress(OSError):
        _sync(path.parent)


def _read_only(path: Path) -> sqlite3.Connection:
    return sqlite3.connect(f"file:{quote(str(path.resolve()))}?mode=ro", uri=True, isolation_level=None)


def copy_backup(backup: Path, part: Path) -> None:
    """Copy a backup's file page by page; the backup stays as it is.

    Raises UsageProblem (not-a-vault) when there is none, GearkeepError when it cannot be read.
    """
    if not backup.is_file():
        raise UsageProblem(f"There is no backup {backup}.", kind="not-a-vault", hint="Name a file that gearkeep backup wrote.")
    os.close(os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o666))
    with plain_errors(), closing(_read_only(backup)) as source, closing(sqlite3.connect(part, isolation_level=None)) as target:
        source.backup(target, pages=-1)


@contextmanager
def reading_backup(backup: Path) -> Iterator[Session]:
    """A session on a backup's file that changes nothing in it, not even how the file is kept."""
    engine = create_engine("sqlite://", creator=lambda: _read_only(backup), poolclass=NullPool)
    with plain_errors(), engine.connect() as connection:
        yield Session(connection)


def page_faults(path: Path) -> list[str]:
    """What SQLite's integrity check finds in a file's pages."""
    with plain_errors(), closing(_read_only(path)) as raw:
        return [str(line) for (line,) in raw.execute("PRAGMA integrity_check") if line != "ok"]
