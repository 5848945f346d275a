"""Reading comma-separated files and writing files whole or not at all."""

from __future__ import annotations

import contextlib
import csv
import io
import os
import sys
import tempfile
import unicodedata
from collections.abc import Sequence
from pathlib import Path

from vault.errors import GearkeepError, UsageProblem

ZIP_MAGIC = b"PK\x03\x04"


class FileProblem(GearkeepError):
    """A file cannot be read at all. Kind: unreadable-file."""

    def __init__(self, what: str, hint: str) -> None:
        super().__init__(what, hint=hint, kind="unreadable-file")


def read_bytes(path: Path) -> bytes:
    """The file's bytes. Raises FileProblem."""
    try:
        return path.read_bytes()
    except OSError as error:
        raise FileProblem(f"{path} cannot be read: {error.strerror}", "check the file's name and rights") from error


def _text(path: Path) -> str:
    data = read_bytes(path)
    save_as = 'save it as "CSV UTF-8 (comma delimited)" and try again'
    if data.startswith(ZIP_MAGIC):
        raise FileProblem(f"{path.name} is a workbook, not a CSV file", save_as)
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise FileProblem(f"{path.name} is not in UTF-8: line {line} holds a byte that is none", save_as) from error
    if "\0" in text:
        raise FileProblem(f"{path.name} holds zero bytes and is not in UTF-8", save_as)
    # Some programs write é as e and an accent; what is signed is in composed form (vault/FORMAT.md), so both mean the same.
    return unicodedata.normalize("NFC", text)


def _delimiter(path: Path, heading: str) -> str:
    counts = {mark: heading.count(mark) for mark in ",;\t|"}
    best = max(counts, key=lambda mark: counts[mark])
    if best in "\t|" and counts[best]:
        called = "tabs" if best == "\t" else "bars"
        raise FileProblem(f"{path.name} is separated by {called}", "save it with commas; semicolons are read too")
    return best


def read_table(path: Path) -> list[tuple[str, ...]]:
    """All rows of a CSV file, the heading first, cells as they stand. Row n of a spreadsheet is item n - 1.

    UTF-8 with or without a byte-order mark; commas, or semicolons where the heading has more of those. Anything else
    is refused with a FileProblem that says how to save the file.
    """
    text = _text(path)
    delimiter = _delimiter(path, text.split("\n", 1)[0])
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    try:
        # Most cells of a large file say the same few things; each of those is kept once.
        rows = [tuple(map(sys.intern, row)) for row in reader]
    except csv.Error as error:
        raise FileProblem(f"{path.name}, line {reader.line_num}: {error}", "check the quotation marks there") from error
    if not rows or not any(cell.strip() for cell in rows[0]):
        raise FileProblem(f"{path.name} has no headings in its first row", "put the headings into row 1")
    return rows


def refuse_ending(path: Path, endings: Sequence[str]) -> None:
    """Raises UsageProblem (bad-value) for a file that is to be written and whose name ends otherwise."""
    if path.suffix.lower() not in endings:
        raise UsageProblem(f"{path} ends in {path.suffix or 'nothing'}.", kind="bad-value",
                           hint=f"End it in {', '.join(endings[:-1])} or {endings[-1]}.")


def write_whole(path: Path, data: bytes) -> None:
    """Write a file by renaming a finished one into its place, so that nobody ever sees half of it."""
    try:
        handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
    except OSError as error:
        raise GearkeepError(f"{path} cannot be written: {error.strerror}", hint="check the directory and its rights",
                            kind="unwritable-file") from error
    try:
        with os.fdopen(handle, "wb") as out:
            out.write(data)
            out.flush()
            os.fsync(out.fileno())
        # mkstemp makes files for the owner alone; a plain new file follows the umask.
        umask = os.umask(0)
        os.umask(umask)
        Path(name).chmod(0o666 & ~umask)
        Path(name).replace(path)
    except OSError as error:
        with contextlib.suppress(OSError):
            Path(name).unlink()
        raise GearkeepError(f"{path} cannot be written: {error.strerror}", hint="check the disk and its rights",
                            kind="unwritable-file") from error
