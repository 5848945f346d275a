"""What a long piece of work has come to, as JSON lines that are only ever added to and are on the disk at once."""

from __future__ import annotations

import json
import os
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any, BinaryIO

from vault.errors import GearkeepError


class KeptNotes:
    """The notes of one file, held by this process alone. path: where they are kept."""

    def __init__(self, path: Path, file: BinaryIO, notes: list[dict[str, Any]]) -> None:
        self.path = path
        self._file = file
        self._notes = notes

    def __iter__(self) -> Iterator[Mapping[str, Any]]:
        return iter(self._notes)

    def last(self, step: str) -> Mapping[str, Any] | None:
        """The newest note of that step, None without one."""
        return next((note for note in reversed(self._notes) if note["step"] == step), None)

    def of(self, step: str) -> list[Mapping[str, Any]]:
        """Every note of that step, oldest first."""
        return [note for note in self._notes if note["step"] == step]

    def add(self, step: str, **facts: Any) -> Mapping[str, Any]:
        """Write one note; it is on the disk when this returns."""
        note = {"step": step, **facts}
        self._file.write(json.dumps(note, ensure_ascii=False, separators=(",", ":")).encode() + b"\n")
        self._file.flush()
        os.fsync(self._file.fileno())
        self._notes.append(note)
        return note


@contextmanager
def held_notes(path: Path) -> Iterator[KeptNotes]:
    """Open the file, or make it, and hold it until the end so that no other process adds to it meanwhile.

    A last line without its end was being written when the process was killed, and is dropped. Raises GearkeepError:
    notes-busy, bad-notes, unwritable-file.
    """
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        file = os.fdopen(os.open(path, os.O_RDWR | os.O_CREAT, 0o644), "r+b")
    except OSError as problem:
        raise GearkeepError(f"{path} cannot be written: {problem.strerror}.", kind="unwritable-file",
                            hint="Check the folder's rights, or name another folder.") from problem
    with file:
        _hold(path, file)
        notes, whole = _read(path, file.read())
        file.truncate(whole)
        file.seek(whole)
        _sync_name(path.parent)
        yield KeptNotes(path, file, notes)


def _read(path: Path, data: bytes) -> tuple[list[dict[str, Any]], int]:
    whole = data.rfind(b"\n") + 1
    notes = []
    for number, line in enumerate(data[:whole].splitlines(), 1):
        try:
            note = json.loads(line)
        except ValueError:
            note = None
        if not isinstance(note, dict) or not isinstance(note.get("step"), str):
            raise GearkeepError(f"{path}, line {number} is no note of this program.", kind="bad-notes",
                                hint="The file was changed or damaged. Keep it, and begin anew in another folder.")
        notes.append(note)
    return notes, whole


def _hold(path: Path, file: BinaryIO) -> None:
    """Given up by the system when the file is closed or the process ends."""
    try:
        try:
            import fcntl
        except ImportError:  # pragma: no cover (not on POSIX)
            import msvcrt

            msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)  # type: ignore[attr-defined]
            return
        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError as problem:
        raise GearkeepError(f"Another process is at work on {path}.", kind="notes-busy",
                            hint="Wait until that has ended, or end it.") from problem


def _sync_name(folder: Path) -> None:
    """The file's name is on the disk when this returns, where the system lets a folder be opened."""
    if hasattr(os, "O_DIRECTORY"):
        opened = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
        try:
            os.fsync(opened)
        finally:
            os.close(opened)
