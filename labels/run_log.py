"""The file of a print run: JSON lines that are only ever added to and are on the disk before anything goes on."""

from __future__ import annotations

import json
import os
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any, BinaryIO

from labels.errors import LabelError

LOG_NAME = "run.jsonl"
Note = Mapping[str, Any]


def as_line(note: Note) -> bytes:
    """One line of the file."""
    return json.dumps(note, ensure_ascii=False, separators=(",", ":")).encode() + b"\n"


def write_synced(path: Path, data: bytes) -> None:
    """A new file that is on the disk when this returns."""
    with path.open("xb") as out:
        out.write(data)
        out.flush()
        os.fsync(out.fileno())


def sync_folder(folder: Path) -> None:
    """Names in the folder are on the disk when this returns, where the system lets a folder be opened."""
    if hasattr(os, "O_DIRECTORY"):
        opened = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
        try:
            os.fsync(opened)
        finally:
            os.close(opened)


def _notes(path: Path, data: bytes) -> tuple[list[Note], int]:
    """Whole lines and where they end; a last line without its end was being written when the power went."""
    whole = data.rfind(b"\n") + 1
    notes: list[Note] = []
    for number, line in enumerate(data[:whole].splitlines(), 1):
        try:
            note = json.loads(line)
        except ValueError:
            note = None
        if not isinstance(note, dict):
            raise LabelError(f"{path}, line {number} is not a note of a print run.", kind="bad-run",
                             hint="The file was changed or damaged. Begin a new run for the labels that are missing.")
        notes.append(note)
    return notes, whole


def read_log(folder: Path) -> list[Note]:
    """The run's notes in order. Raises LabelError: no-run, bad-run."""
    path = folder / LOG_NAME
    try:
        return _notes(path, path.read_bytes())[0]
    except OSError as problem:
        raise LabelError(f"There is no print run in {folder}: {problem.strerror}.", kind="no-run",
                         hint="Give the folder that was named when the run began.") from problem


class RunLog:
    """The file, open for adding and held by this process alone."""

    def __init__(self, file: BinaryIO) -> None:
        self._file = file

    def add(self, note: Note) -> None:
        """On the disk when this returns."""
        self._file.write(as_line(note))
        self._file.flush()
        os.fsync(self._file.fileno())


@contextmanager
def held_log(folder: Path) -> Iterator[tuple[RunLog, list[Note]]]:
    """The file and its notes, held until the end so that nobody prints the same labels at the same time.

    Raises LabelError: no-run, bad-run, run-busy.
    """
    path = folder / LOG_NAME
    try:
        file = path.open("r+b")
    except OSError as problem:
        raise LabelError(f"The print run in {folder} cannot be opened: {problem.strerror}.", kind="no-run",
                         hint="Give the folder that was named when the run began, and check its rights.") from problem
    with file:
        try:
            _hold(file)
        except OSError as problem:
            raise LabelError(f"The print run in {folder} is being printed by another process.", kind="run-busy",
                             hint="Wait until that has ended.") from problem
        notes, whole = _notes(path, file.read())
        file.truncate(whole)
        file.seek(whole)
        yield RunLog(file), notes


def _hold(file: BinaryIO) -> None:
    """Given up by the system when the file is closed or the process ends."""
    try:
        import fcntl
    except ImportError:  # pragma: no cover (not on POSIX)
        import msvcrt

        msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)  # type: ignore[attr-defined]
        return
    fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
