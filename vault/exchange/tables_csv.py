"""Delimited text of any common kind: which letters, which delimiter, then its cells, within limits."""

from __future__ import annotations

import codecs
import csv
import io
import re
import statistics
import sys
import unicodedata
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

from vault.exchange.files import FileProblem
from vault.exchange.raw_table import RawTable
from vault.exchange.table_limits import MOST_BYTES, MOST_CELL, MOST_COLUMNS, MOST_ROWS, SAVE_AS, Progress, quiet
from vault.exchange.table_out import unsafe_cell

_CALLED = {",": "commas", ";": "semicolons", "\t": "tabs", "|": "bars"}
_QUOTED = re.compile(r'"(?:[^"]|"")*"')
# Between digits a comma may be a decimal mark, before a space one of a sentence: neither speaks for commas as delimiters.
_STRONG_COMMA = re.compile(r"(?<![0-9]),(?! )|,(?![0-9 ])")
_SEP_LINE = re.compile(r"sep=(.)\r?\n?", re.IGNORECASE)
_LOOKED_AT_LINES, _LOOKED_AT_LETTERS = 300, 100_000
_PROGRESS_ROWS = 5_000


def read_csv(path: Path, progress: Progress = quiet) -> RawTable:
    """The table of a delimited text. Raises FileProblem (unreadable-file), with the line where that can be said."""
    text, encoding = _text(path)
    declared = _SEP_LINE.match(text)
    if declared:  # a spreadsheet takes this line as a word to itself and does not count it
        text = text[declared.end():]
    delimiter = declared[1] if declared else find_delimiter(text)
    if delimiter in '"\r\n':
        raise FileProblem(f"{path.name}, line 1 names {delimiter!r} as its delimiter, which cannot be one", SAVE_AS)
    rows = _rows(path.name, text, delimiter, progress)
    if not any(cell.strip() for row in rows for cell in row):
        raise FileProblem(f"{path.name} holds no rows", "check that it is the right file")
    return RawTable(file=path.name, sheet=None, rows=rows, delimiter=delimiter,
                    made_of=f"CSV in {encoding}, separated by {_CALLED.get(delimiter, repr(delimiter))}")


def _text(path: Path) -> tuple[str, str]:
    """The file's text in composed form, and what it was written in."""
    try:
        with path.open("rb") as stream:
            data = stream.read(MOST_BYTES + 1)
    except OSError as error:
        raise FileProblem(f"{path} cannot be read: {error.strerror}", "check the file's name and rights") from error
    if len(data) > MOST_BYTES:
        raise FileProblem(f"{path.name} has more than {MOST_BYTES // 1_000_000} MB", "divide it into several files")
    text, encoding = _decoded(path.name, data)
    if "\0" in text:
        line = text.count("\n", 0, text.index("\0")) + 1
        raise FileProblem(f"{path.name} holds zero bytes in line {line} and is no text", SAVE_AS)
    return unicodedata.normalize("NFC", text), encoding


def _decoded(name: str, data: bytes) -> tuple[str, str]:
    wide = _wide(data)
    if wide:
        try:
            return data.decode(wide).removeprefix("\ufeff"), "UTF-16"
        except UnicodeDecodeError as error:
            line = data.count(b"\n", 0, error.start) + 1
            raise FileProblem(f"{name} is in UTF-16, but line {line} holds what is no letter", SAVE_AS) from error
    try:
        marked = data.startswith(codecs.BOM_UTF8)
        return data.decode("utf-8-sig"), "UTF-8 with byte-order mark" if marked else "UTF-8"
    except UnicodeDecodeError as error:
        # Text of an older kind hardly ever holds two bytes in a row that make a letter of UTF-8.
        good = sum(ord(letter) > 127 for letter in data.decode("utf-8", "ignore"))
        high = len(data.translate(None, delete=bytes(range(128))))
        if marked or good * 4 > high:
            line = data.count(b"\n", 0, error.start) + 1
            raise FileProblem(f"{name} is in UTF-8, but line {line} holds a byte that is none", SAVE_AS) from error
    try:
        return data.decode("cp1252"), "cp1252"
    except UnicodeDecodeError:  # five bytes mean nothing there
        return data.decode("latin-1"), "Latin-1"


def _wide(data: bytes) -> str:
    """Which UTF-16 it is, "" for none: by its mark, else by where the zero bytes of Latin letters lie."""
    if data.startswith(codecs.BOM_UTF16_LE):
        return "utf-16-le"
    if data.startswith(codecs.BOM_UTF16_BE):
        return "utf-16-be"
    start = data[:4096]
    even, odd = start[::2].count(0), start[1::2].count(0)
    half = len(start) // 4
    if half and odd > half and even * 8 < odd:
        return "utf-16-le"
    return "utf-16-be" if half and even > half and odd * 8 < even else ""


def find_delimiter(text: str) -> str:
    """The delimiter that most of the first lines agree on; a comma for a text of one column.

    A mark counts by the lines that have it as often as most lines that have it do. Commas count by the share of them that
    can be nothing else.
    """
    lines = _QUOTED.sub("x", text[:_LOOKED_AT_LETTERS]).splitlines()[:_LOOKED_AT_LINES]

    def weight(mark: str) -> float:
        counts = [count for line in lines if (count := line.count(mark))]
        if not counts:
            return 0
        usual = statistics.mode(sorted(counts, reverse=True))
        agreed = Counter(counts)[usual] * usual
        strong = sum(len(_STRONG_COMMA.findall(line)) for line in lines) / sum(counts) if mark == "," else 1
        return agreed * strong

    return max(_CALLED, key=weight)


class _Lines:
    """The lines of a text for the reader of rows, counted. A row that grows past what is allowed stops here, unread."""

    def __init__(self, name: str, text: str, delimiter: str) -> None:
        self._lines = io.StringIO(text, newline="")
        self._name, self._delimiter = name, delimiter
        self.read = 0
        self.row = self.row_line = 1
        self._pending: list[str] = []
        self._marks, self._look_at = 0, MOST_COLUMNS

    def __iter__(self) -> Iterator[str]:
        for line in self._lines:
            self.read += 1
            self._pending.append(line)
            self._marks += line.count(self._delimiter)
            if self._marks >= self._look_at:
                self._count()
            yield line

    def _count(self) -> None:
        # Marks inside quotation marks do not count; the last cell may still be open.
        outside = _QUOTED.sub("", "".join(self._pending)).partition('"')[0].count(self._delimiter)
        if outside >= MOST_COLUMNS:
            raise FileProblem(f"{self._name}, row {self.row} has more than {MOST_COLUMNS:,} columns",
                              f"at most {MOST_COLUMNS:,} are read; check its delimiter and line ends")
        self._look_at = self._marks * 2

    def next_row(self) -> None:
        self.row += 1
        self.row_line = self.read + 1
        self._pending.clear()
        self._marks, self._look_at = 0, MOST_COLUMNS


def _rows(name: str, text: str, delimiter: str, progress: Progress) -> list[tuple[str, ...]]:
    lines = _Lines(name, text, delimiter)
    rows: list[tuple[str, ...]] = []
    done = 0
    expected = text.count("\n") or text.count("\r")
    try:
        for row in csv.reader(lines, delimiter=delimiter, strict=True):
            if row and len(max(row, key=len)) > MOST_CELL:
                raise _too_long(name, lines.row)
            if len(rows) >= MOST_ROWS:
                raise FileProblem(f"{name} has more than {MOST_ROWS:,} rows, row {lines.row} is one too many",
                                  f"at most {MOST_ROWS:,} are read; divide it into several files")
            # Most cells of a large file say the same few things; each of those is kept once.
            rows.append(tuple([sys.intern(unsafe_cell(cell) if cell[:1] == "'" else cell) for cell in row]))
            lines.next_row()
            done += 1
            if done % _PROGRESS_ROWS == 0:
                progress(done, max(expected, done))
    except csv.Error as error:
        if "field larger" in str(error):
            raise _too_long(name, lines.row) from error
        raise FileProblem(f"{name}, line {lines.row_line}: a quotation mark is not closed, or stands inside a cell",
                          "check the quotation marks there; one inside a quoted cell has to be written twice") from error
    progress(len(rows), len(rows))
    return rows


def _too_long(name: str, row: int) -> FileProblem:
    return FileProblem(f"{name}, row {row} has a cell of more than {MOST_CELL:,} letters",
                       f"at most {MOST_CELL:,} are read; check its quotation marks")
