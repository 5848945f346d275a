"""Opening a ZIP container from a stranger: workbooks and packs. What is wrong with it is found before anything is unpacked.

A member's size is what the directory of the file says of it. Reading stops at that size and refuses what says otherwise,
so that a container that lies costs no more memory than one that tells the truth.
"""

from __future__ import annotations

import itertools
import stat
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO

from vault.exchange.files import FileProblem

# Sheet XML of a hundred thousand equal rows shrinks to about a fiftieth; a megabyte of zeros to a thousandth.
MOST_RATIO = 400
SMALL_BYTES = 1_000_000  # below this a member does no harm, however well it was packed
MEGABYTE = 1_000_000
SOUND = "ask for the file again from whoever made it"


class _Sized:
    """A member that is read to the size that the directory gives and no further. Read forwards only."""

    def __init__(self, zip_file: zipfile.ZipFile, member: zipfile.ZipInfo, where: str) -> None:
        self._stream = zip_file.open(member)
        self._left = member.file_size
        self._where = where

    def read(self, size: int = -1) -> bytes:
        wanted = self._left + 1 if size < 0 or size > self._left else size
        try:
            data = self._stream.read(wanted)
        except (zipfile.BadZipFile, zlib.error, EOFError, OSError, NotImplementedError) as error:
            raise FileProblem(f"{self._where} is damaged: {error}", SOUND) from error
        if len(data) > self._left:
            raise FileProblem(f"{self._where} unpacks to more than the file says of it", SOUND)
        self._left -= len(data)
        if not data and self._left and size:
            raise FileProblem(f"{self._where} unpacks to less than the file says of it", SOUND)
        return data

    def close(self) -> None:
        self._stream.close()


class SafeZip:
    """A container whose directory was found sound. names: its files in the order that they lie in, no directories."""

    def __init__(self, zip_file: zipfile.ZipFile, members: dict[str, zipfile.ZipInfo], what: str) -> None:
        self._zip = zip_file
        self._members = members
        self._what = what

    @property
    def names(self) -> tuple[str, ...]:
        return tuple(self._members)

    def size(self, name: str) -> int:
        """Bytes of a member when unpacked. Raises FileProblem where there is no such member."""
        return self._member(name).file_size

    def read(self, name: str) -> bytes:
        """A member's bytes, checked against its size and check sum. Raises FileProblem."""
        with self.stream(name) as stream:
            return stream.read()

    @contextmanager
    def stream(self, name: str) -> Iterator[IO[bytes]]:
        """A member to be read piece by piece. Raises FileProblem, also while it is read."""
        try:
            sized = _Sized(self._zip, self._member(name), f"{name} in {self._what}")
        except (zipfile.BadZipFile, OSError, RuntimeError, NotImplementedError) as error:
            raise FileProblem(f"{name} in {self._what} cannot be unpacked: {error}", SOUND) from error
        try:
            yield sized  # type: ignore[misc]  # read and close are all that its readers use
        finally:
            sized.close()

    def _member(self, name: str) -> zipfile.ZipInfo:
        if name not in self._members:
            raise FileProblem(f"{self._what} holds no {name}", SOUND)
        return self._members[name]

    def close(self) -> None:
        self._zip.close()

    def __enter__(self) -> SafeZip:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()


def _bad_name(name: str) -> bool:
    parts = name.replace("\\", "/").split("/")
    return (not name or "\\" in name or name.startswith("/") or ".." in parts or "." in parts or "" in parts[:-1]
            or ":" in parts[0] or any(ord(letter) < 32 or ord(letter) == 127 for letter in name))


def _checked(member: zipfile.ZipInfo, what: str) -> None:
    # The name as it is stored: zipfile itself would cut it at a zero byte and turn backslashes.
    name = member.orig_filename
    if _bad_name(name):
        raise FileProblem(f"{what} holds a file with the name {name[:80]!r}, which leads out of a folder or is none",
                          "names inside have to be plain ones; " + SOUND)
    if member.flag_bits & 0x1:
        raise FileProblem(f"{name} in {what} is encrypted", "take the password off and save it again")
    if member.create_system == 3 and stat.S_ISLNK(member.external_attr >> 16):
        raise FileProblem(f"{name} in {what} is a link to another file", "only plain files are read; " + SOUND)
    if member.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
        raise FileProblem(f"{name} in {what} is packed in a way that is not read", "stored and deflated files are read")
    if member.file_size > SMALL_BYTES and member.file_size > MOST_RATIO * max(1, member.compress_size):
        raise FileProblem(f"{name} in {what} unpacks to {member.file_size // max(1, member.compress_size)} times its size",
                          f"at most {MOST_RATIO} times is allowed")


def _overlap(members: list[zipfile.ZipInfo]) -> bool:
    """Whether two members claim the same packed bytes, as a bomb does that packs a thousand files into one."""
    places = sorted((one.header_offset, one.compress_size) for one in members)
    return any(start + size > following for (start, size), (following, _) in itertools.pairwise(places))


def open_safe_zip(path: Path, *, what: str, most_members: int = 10_000, most_bytes: int = 400 * MEGABYTE) -> SafeZip:
    """The container at `path`. what: what to call it in messages ("schedule.xlsx"). most_bytes: of all members unpacked.

    Refused with a FileProblem (unreadable-file): no ZIP file; too many members or bytes, a member that unpacks to more
    than 400 times its size; names that are absolute, climb (..), repeat (also in other capitals) or hold control
    characters; links; encryption; members that lie in one another. Names of directories are left out.
    """
    try:
        zip_file = zipfile.ZipFile(path)
    except OSError as error:
        raise FileProblem(f"{path} cannot be read: {error.strerror}", "check the file's name and rights") from error
    except (zipfile.BadZipFile, zipfile.LargeZipFile, ValueError, NotImplementedError) as error:
        raise FileProblem(f"{what} is not a sound ZIP file: {error}", SOUND) from error
    try:
        return SafeZip(zip_file, _members(zip_file.infolist(), what, most_members, most_bytes), what)
    except FileProblem:
        zip_file.close()
        raise


def _members(found: list[zipfile.ZipInfo], what: str, most_members: int, most_bytes: int) -> dict[str, zipfile.ZipInfo]:
    if len(found) > most_members:
        raise FileProblem(f"{what} holds {len(found):,} files", f"at most {most_members:,} are read")
    total = sum(one.file_size for one in found)
    if total > most_bytes:
        raise FileProblem(f"{what} unpacks to {total // MEGABYTE:,} MB", f"at most {most_bytes // MEGABYTE:,} MB are read")
    members: dict[str, zipfile.ZipInfo] = {}
    seen: set[str] = set()
    for one in found:
        _checked(one, what)
        plain = one.filename.rstrip("/").casefold()
        if plain in seen:
            raise FileProblem(f"{what} holds two files called {one.filename}", SOUND)
        seen.add(plain)
        if not one.is_dir():
            members[one.filename] = one
    if _overlap(found):
        raise FileProblem(f"{what} holds files that lie in one another", SOUND)
    return members
