"""The files of a handover pack, as a folder or in a ZIP file: read without following anything that leads elsewhere."""

from __future__ import annotations

import os
import stat
from collections.abc import Iterator
from contextlib import contextmanager
from hashlib import sha256
from pathlib import Path
from typing import IO, Protocol

from vault.errors import GearkeepError, UsageProblem, VerificationError
from vault.exchange.pack_layout import LIST, Listed
from vault.exchange.safe_zip import SafeZip, open_safe_zip

MOST_FILES = 1000
MOST_BYTES = 4_000_000_000
MOST_LIST_BYTES = 1_000_000
_PIECE = 1 << 20
_AGAIN = "Ask the sender for the whole pack again."


def bad_pack(what: str, hint: str = _AGAIN) -> VerificationError:
    """A pack that is not what its signed list says."""
    return VerificationError(what, kind="bad-pack", hint=hint)


class PackFiles(Protocol):
    """The files that lie in a pack, by name."""

    @property
    def names(self) -> frozenset[str]:
        """Every file, whether the list names it or not."""

    def stream(self, name: str, /) -> Iterator[bytes]:
        """A file piece by piece. Raises GearkeepError."""


class _Folder:
    def __init__(self, path: Path) -> None:
        self._path = path
        entries = list(os.scandir(path))
        if len(entries) > MOST_FILES:
            raise bad_pack(f"The folder {path} holds {len(entries)} files; a pack holds at most {MOST_FILES}.")
        for one in entries:
            if one.is_symlink():
                raise bad_pack(f"{one.name} in {path} is a link to another place; a pack holds plain files.")
            if not one.is_file(follow_symlinks=False):
                raise bad_pack(f"{one.name} in {path} is no plain file; a pack has no folders inside.")
        self.names = frozenset(one.name for one in entries)

    def stream(self, name: str) -> Iterator[bytes]:
        try:
            # It may have become a link since the folder was listed.
            handle = os.open(self._path / name, os.O_RDONLY | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0))
            with os.fdopen(handle, "rb") as file:
                if not stat.S_ISREG(os.fstat(file.fileno()).st_mode):
                    raise bad_pack(f"{name} in {self._path} is no plain file.")
                yield from _pieces(file)
        except OSError as problem:
            raise GearkeepError(f"{self._path / name} cannot be read: {problem.strerror or problem}.", kind="unreadable-file",
                                hint="Check the file and its rights.") from problem


class _Zipped:
    def __init__(self, zip_file: SafeZip, what: str) -> None:
        self._zip = zip_file
        tops = {name.partition("/")[0] for name in zip_file.names if "/" in name}
        flat = [name for name in zip_file.names if "/" not in name]
        if (tops and flat) or len(tops) > 1 or any(name.count("/") > 1 for name in zip_file.names):
            raise bad_pack(f"{what} is no pack: its files do not lie in one folder.")
        self._top = f"{tops.pop()}/" if tops else ""
        self.names = frozenset(name.removeprefix(self._top) for name in zip_file.names)

    def stream(self, name: str) -> Iterator[bytes]:
        with self._zip.stream(self._top + name) as file:
            yield from _pieces(file)


def _pieces(file: IO[bytes]) -> Iterator[bytes]:
    while piece := file.read(_PIECE):
        yield piece


@contextmanager
def pack_files(path: Path) -> Iterator[PackFiles]:
    """The files of the pack at `path`. Raises UsageProblem (no-pack), VerificationError (bad-pack), FileProblem."""
    if path.is_dir() and not path.is_symlink():
        yield _Folder(path)
    elif path.is_file():
        with open_safe_zip(path, what=path.name, most_members=MOST_FILES, most_bytes=MOST_BYTES) as zip_file:
            yield _Zipped(zip_file, path.name)
    else:
        raise UsageProblem(f"There is no pack at {path}.", kind="no-pack",
                           hint="Give the folder or the ZIP file that gearkeep pack made.")


def read_whole(files: PackFiles, name: str, most_bytes: int) -> bytes:
    """A file of the pack. Raises VerificationError (bad-pack) where it is missing or longer than that."""
    if name not in files.names:
        raise bad_pack(f"{name} is missing from the pack.")
    held = bytearray()
    for piece in files.stream(name):
        held += piece
        if len(held) > most_bytes:
            raise bad_pack(f"{name} in the pack is larger than {most_bytes} bytes.")
    return bytes(held)


def hold_against(files: PackFiles, listed: dict[str, Listed]) -> None:
    """Every file's size and SHA-256 against the signed list; none may be missing and none be there beside.

    Raises VerificationError (bad-pack) that names each file that is wrong.
    """
    wrong = [f"{name} is missing" for name in sorted(listed.keys() - files.names)]
    wrong += [f"{name} lies in it, but its signed list does not name it" for name in sorted(files.names - listed.keys() - {LIST})]
    by_digest = {one.digest: name for name, one in listed.items()}
    for name in sorted(listed.keys() & files.names):
        digest, size = sha256(), 0
        for piece in files.stream(name):
            digest.update(piece)
            size += len(piece)
            if size > listed[name].size:
                break
        if size == listed[name].size and digest.digest() == listed[name].digest:
            continue
        other = by_digest.get(digest.digest())
        wrong.append(f"{name} holds what the list calls {other}: the files were exchanged" if other is not None else
                     f"{name} is not the file that was listed ({listed[name].size} bytes, SHA-256 "
                     f"{listed[name].digest.hex()[:16]} …)")
    if wrong:
        raise bad_pack(f"The pack is not as its sender signed it: {'; '.join(wrong)}.")
