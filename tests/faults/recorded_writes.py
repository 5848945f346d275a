"""A layer between SQLite and the disk that notes every write, sync, truncation and deletion, and images of a power loss.

The layer is a VFS (https://sqlite.org/vfs.html) put into the very library that Python's sqlite3 uses, by ctypes: the
program above it runs unchanged. Structures as in sqlite3.h (sqlite3_vfs, sqlite3_io_methods).
"""

from __future__ import annotations

import _sqlite3
import ctypes
import random
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

_P, _INT, _I64, _TEXT = ctypes.c_void_p, ctypes.c_int, ctypes.c_int64, ctypes.c_char_p
_OPEN = ctypes.CFUNCTYPE(_INT, _P, _P, _P, _INT, _P)
_DELETE = ctypes.CFUNCTYPE(_INT, _P, _TEXT, _INT)
_WRITE = ctypes.CFUNCTYPE(_INT, _P, _P, _INT, _I64)
_TRUNCATE = ctypes.CFUNCTYPE(_INT, _P, _I64)
_SYNC = ctypes.CFUNCTYPE(_INT, _P, _INT)
# A disk writes sectors; a write that was under way may have reached some of them.
SECTOR = 512


class _Vfs(ctypes.Structure):
    _fields_ = [("version", _INT), ("file_size", _INT), ("longest_path", _INT), ("next", _P), ("name", _TEXT), ("data", _P),
                ("open", _P), ("delete", _P), ("others", _P * 13)]  # version 3: access to xNextSystemCall


class _Methods(ctypes.Structure):
    _fields_ = [("version", _INT), ("close", _P), ("read", _P), ("write", _P), ("truncate", _P), ("sync", _P),
                ("others", _P * 13)]  # version 3: xFileSize to xUnfetch


@dataclass(frozen=True, slots=True)
class Event:
    """write (offset, data), truncate (offset: the new size), sync or delete of a file; or told: somebody was told."""

    what: str
    path: str = ""
    offset: int = 0
    data: bytes = b""


def _nothing_fails(_event: Event) -> int:
    return 0


class Recorder:
    """The layer; `events` grows with what goes to the disk. fault: SQLite's result code for an event, 0 to let it happen."""

    def __init__(self, fault: Callable[[Event], int] = _nothing_fails) -> None:
        self._fault = fault
        # Through the extension module: whatever SQLite it was linked to is found behind it.
        self._library = ctypes.CDLL(_sqlite3.__file__)
        self._library.sqlite3_vfs_find.restype = ctypes.POINTER(_Vfs)
        self.events: list[Event] = []
        self._paths: dict[int, str] = {}
        self._tables: dict[int, _Methods] = {}
        self._kept: list[Any] = []

    @contextmanager
    def installed(self) -> Iterator[list[Event]]:
        """Every database opened in this block goes through the layer; all of them must be closed in it."""
        usual = self._library.sqlite3_vfs_find(None)
        ours = _Vfs.from_buffer_copy(usual.contents)
        ours.name, ours.next = b"recorded", None
        opened, deleted = _OPEN(self._open(usual)), _DELETE(self._delete(usual))
        ours.open, ours.delete = ctypes.cast(opened, _P), ctypes.cast(deleted, _P)
        assert self._library.sqlite3_vfs_register(ctypes.byref(ours), 1) == 0
        try:
            yield self.events
        finally:
            self._library.sqlite3_vfs_unregister(ctypes.byref(ours))

    def told(self, *digests: bytes) -> None:
        """Somebody was told that these statements are kept."""
        self.events += [Event("told", data=digest) for digest in digests]

    def _open(self, usual: Any) -> Callable[..., int]:
        real = ctypes.cast(usual.contents.open, _OPEN)

        def run(_vfs: int, name: int | None, file: int, flags: int, out: int | None) -> int:
            done = real(ctypes.cast(usual, _P).value, name, file, flags, out)
            if done == 0 and name:
                methods = _P.from_address(file)
                self._paths[file] = ctypes.string_at(name).decode()
                methods.value = ctypes.addressof(self._table(methods.value or 0))
            return int(done)

        return run

    def _delete(self, usual: Any) -> Callable[..., int]:
        real = ctypes.cast(usual.contents.delete, _DELETE)

        def run(_vfs: int, name: bytes, sync_folder: int) -> int:
            self.events.append(Event("delete", name.decode()))
            return int(real(ctypes.cast(usual, _P).value, name, sync_folder))

        return run

    def _table(self, address: int) -> _Methods:
        """The methods at an address, with those that change a file replaced by ours."""
        if address in self._tables:
            return self._tables[address]
        table = _Methods.from_buffer_copy(_Methods.from_address(address))
        write, truncate, sync = (ctypes.cast(table.write, _WRITE), ctypes.cast(table.truncate, _TRUNCATE),
                                 ctypes.cast(table.sync, _SYNC))

        def happen(event: Event, real: Callable[..., int], *arguments: int) -> int:
            failed = self._fault(event)
            done = failed or int(real(*arguments))
            if done == 0:
                self.events.append(event)
            return done

        def on_write(file: int, data: int, size: int, offset: int) -> int:
            event = Event("write", self._paths[file], offset, ctypes.string_at(data, size))
            return happen(event, write, file, data, size, offset)

        def on_truncate(file: int, size: int) -> int:
            return happen(Event("truncate", self._paths[file], size), truncate, file, size)

        def on_sync(file: int, flags: int) -> int:
            return happen(Event("sync", self._paths[file]), sync, file, flags)

        callbacks = _WRITE(on_write), _TRUNCATE(on_truncate), _SYNC(on_sync)
        self._kept += callbacks
        table.write, table.truncate, table.sync = (ctypes.cast(one, _P) for one in callbacks)
        self._tables[address] = table
        return table


@dataclass(slots=True)
class _File:
    """What surely is on the disk, and what may be."""

    safe: bytearray = field(default_factory=bytearray)
    exists: bool = False
    unsure: list[Event] = field(default_factory=list)


def _apply(content: bytearray, event: Event, data: bytes | None = None) -> None:
    if event.what == "truncate":
        del content[event.offset :]
        return
    said = event.data if data is None else data
    content.extend(bytes(max(0, event.offset + len(said) - len(content))))
    content[event.offset : event.offset + len(said)] = said


def _torn(event: Event, chance: random.Random) -> Iterator[Event]:
    """Those sectors of a write that reached the disk."""
    for at in range(0, len(event.data), SECTOR):
        if chance.random() < 0.5:
            yield Event("write", event.path, event.offset + at, event.data[at : at + SECTOR])


def image(start: dict[str, bytes], events: Iterable[Event], chance: random.Random) -> dict[str, bytes]:
    """The files as a power loss behind these events may have left them.

    What was synced is there. Of what was written since, each write may be there, may not, or in part; a deletion may not have
    reached the folder. start: the files before the first event, all on the disk.
    """
    files = {path: _File(bytearray(content), True) for path, content in start.items()}
    for event in events:
        file = files.setdefault(event.path, _File())
        if event.what in ("write", "truncate"):
            file.unsure.append(event)
        elif event.what == "sync":
            for waiting in file.unsure:
                _apply(file.safe, waiting)
            file.unsure, file.exists = [], True
        elif event.what == "delete" and chance.random() < 0.5:
            files[event.path] = _File()
    found: dict[str, bytes] = {}
    for path, file in files.items():
        if not path or not (file.exists or (file.unsure and chance.random() < 0.5)):
            continue
        content = bytearray(file.safe)
        for waiting in file.unsure:
            fate = chance.choice(("kept", "dropped", "torn"))
            if fate == "kept":
                _apply(content, waiting)
            elif fate == "torn" and waiting.what == "write":
                for sector in _torn(waiting, chance):
                    _apply(content, sector)
        found[path] = bytes(content)
    return found


def told_in(events: Iterable[Event]) -> set[bytes]:
    """What somebody was told is kept."""
    return {event.data for event in events if event.what == "told"}


def write_image(files: dict[str, bytes], folder: Path) -> Path:
    """Put an image's files into a folder; the path of the database among them."""
    for path, content in files.items():
        (folder / Path(path).name).write_bytes(content)
    return folder / next(Path(path).name for path in files if path.endswith(".db"))
