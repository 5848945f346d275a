"""The XML of a workbook's parts, piece by piece through expat. A part that declares anything (DTD, entities) is refused.

ECMA-376 Part 1: 18.3.1 (sheets), 18.4.8 (shared strings). Names are taken without their namespace, so that both the
transitional and the strict form are read.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import IO, Any, TypeAlias
from xml.parsers import expat

from vault.exchange.files import FileProblem
from vault.exchange.table_limits import MOST_CELL, MOST_COLUMNS, MOST_ROWS, SAVE_AS
from vault.exchange.table_out import unescaped

_PIECE = 1 << 18
# How Python's XML readers say that: a name no codec has, a codec of several bytes a letter.
UNKNOWN_ENCODING = (LookupError, ValueError)


@dataclass(slots=True)
class SheetFacts:
    """What stands in a sheet beside its cells. Rows count from 1, columns from 0."""

    hidden_rows: set[int] = field(default_factory=set)
    hidden_columns: list[tuple[int, int]] = field(default_factory=list)
    merged: list[tuple[int, int, int, int]] = field(default_factory=list)  # first row, first column, last row, last column


# A cell as the file holds it: column from 0, kind (the attribute t, 18.18.11), style, value (None where the file holds none),
# whether it has a formula. A plain tuple: there are millions of them.
SheetCell: TypeAlias = tuple[int, str, str, str | None, bool]
OnRow: TypeAlias = Callable[[int, list[SheetCell]], None]


def parse_part(stream: IO[bytes], where: str, start: Callable[[str, dict[str, str]], None], end: Callable[[str], None],
               letters: Callable[[str], None]) -> None:
    """Runs one part through the three handlers, which get names without prefix. Raises FileProblem."""
    parser = expat.ParserCreate()
    parser.buffer_text = True

    def refuse(*_: object) -> Any:
        raise FileProblem(f"{where} declares a document type, which no spreadsheet writes",
                          f"open it in a spreadsheet, {SAVE_AS}")

    parser.StartDoctypeDeclHandler = parser.EntityDeclHandler = parser.ExternalEntityRefHandler = refuse
    def first(tag: str, given: dict[str, str]) -> None:
        # Most programs write no prefix, and a call a cell is saved then.
        if ":" in tag:
            parser.StartElementHandler = lambda tag, given: start(tag.rpartition(":")[2], given)
            parser.EndElementHandler = lambda tag: end(tag.rpartition(":")[2])
        else:
            parser.StartElementHandler, parser.EndElementHandler = start, end
        parser.StartElementHandler(tag, given)

    parser.StartElementHandler = first
    parser.CharacterDataHandler = letters
    try:
        while piece := stream.read(_PIECE):
            parser.Parse(piece, False)
        parser.Parse(b"", True)
    except (expat.ExpatError, *UNKNOWN_ENCODING) as error:
        raise FileProblem(f"{where} is broken: {error}", f"open it in a spreadsheet, {SAVE_AS}") from error


def column_number(reference: str) -> int:
    """The column of A1 from 0; "XFD7" is 16,383. -1 for what is no reference."""
    number = 0
    for letter in reference:
        if not "A" <= letter <= "Z":
            break
        number = number * 26 + ord(letter) - 64
    return number - 1


def row_number(reference: str) -> int:
    """The row of A1, 0 for what is no reference."""
    digits = reference.lstrip("ABCDEFGHIJKLMNOPQRSTUVWXYZ")
    return int(digits) if digits.isdecimal() and len(digits) < 8 else 0


_DIGITS = "0123456789"


def parse_sheet(stream: IO[bytes], where: str, on_row: OnRow) -> SheetFacts:
    """Gives each row that holds anything to on_row (row from 1, its cells in the file's order). Raises FileProblem."""
    facts = SheetFacts()
    row, column, phonetic = 0, -1, 0
    kind, style, formula, reading = "n", "0", False, False
    value: str | None = None
    cells: list[SheetCell] = []
    columns: dict[str, int] = {}

    def start(tag: str, given: dict[str, str]) -> None:
        nonlocal row, column, phonetic, kind, style, formula, reading, value, cells
        if tag == "c":
            name = given.get("r", "").rstrip(_DIGITS)
            if not name:
                column += 1
            else:
                known = columns.get(name)
                column = columns.setdefault(name, column_number(name)) if known is None else known
            kind, style, value, formula = given.get("t", "n"), given.get("s", "0"), None, False
        elif tag == "v" or tag == "t":
            reading = not phonetic
            value = value or ""
        elif tag == "f":
            formula = True
        elif tag == "row":
            said = given.get("r", "")
            row = int(said) if said.isdecimal() and len(said) < 8 else row + 1
            column, cells = -1, []
            if given.get("hidden") in ("1", "true"):
                facts.hidden_rows.add(row)
        elif tag == "rPh":
            phonetic += 1
        elif tag == "mergeCell":
            _merge(facts, given.get("ref", ""))
        elif tag == "col" and given.get("hidden") in ("1", "true"):
            facts.hidden_columns.append((column_count(given.get("min")) - 1, column_count(given.get("max")) - 1))

    def end(tag: str) -> None:
        nonlocal reading, phonetic
        if tag == "v" or tag == "t":
            reading = False
        elif tag == "c":
            if value is not None or formula:
                if not 0 <= column < MOST_COLUMNS or not 0 < row <= MOST_ROWS:
                    raise _out_of_bounds(where, row, column)
                cells.append((column, kind, style, value, formula))
        elif tag == "row":
            if cells:
                on_row(row, cells)
        elif tag == "rPh":
            phonetic -= 1

    def letters(text: str) -> None:
        nonlocal value
        if reading:
            value = (value or "") + text
            if len(value) > MOST_CELL:
                raise _out_of_bounds(where, row, column)

    parse_part(stream, where, start, end, letters)
    return facts


def _out_of_bounds(where: str, row: int, column: int) -> FileProblem:
    if not 0 <= column < MOST_COLUMNS:
        return FileProblem(f"{where}, row {row} has a cell in column {column + 1:,}",
                           f"at most {MOST_COLUMNS:,} columns are read; delete what stands there")
    if not 0 < row <= MOST_ROWS:
        return FileProblem(f"{where} has a cell in row {row:,}",
                           f"rows 1 to {MOST_ROWS:,} are read; divide it into several files")
    return FileProblem(f"{where}, row {row} has a cell of more than {MOST_CELL:,} letters", f"at most {MOST_CELL:,} are read")


def column_count(said: str | None) -> int:
    """A column's number as the file counts them from 1; 0 for what is none."""
    return int(said) if said is not None and said.isdecimal() and len(said) < 6 else 0


def _merge(facts: SheetFacts, said: str) -> None:
    first, _, last = said.partition(":")
    place = row_number(first), column_number(first), row_number(last or first), column_number(last or first)
    if min(place[0], place[2]) > 0 and min(place[1], place[3]) >= 0:
        facts.merged.append(place)


class _Strings:
    """Handlers for the part of shared strings: plain ones and runs of rich text, without how they are pronounced."""

    def __init__(self) -> None:
        self.found: list[str] = []
        self._pieces: list[str] = []
        self._inside = False
        self._phonetic = 0

    def start(self, tag: str, _given: dict[str, str]) -> None:
        if tag == "si":
            self._pieces = []
        elif tag == "rPh":
            self._phonetic += 1
        self._inside = tag == "t" and not self._phonetic

    def end(self, tag: str) -> None:
        self._inside = False
        if tag == "si":
            self.found.append(unescaped("".join(self._pieces)))
        elif tag == "rPh":
            self._phonetic -= 1

    def letters(self, text: str) -> None:
        if self._inside:
            self._pieces.append(text)


def parse_strings(stream: IO[bytes], where: str) -> list[str]:
    """The texts of a workbook's part of shared strings, in their order. Raises FileProblem."""
    strings = _Strings()
    parse_part(stream, where, strings.start, strings.end, strings.letters)
    return strings.found


def hidden_columns(ranges: list[tuple[int, int]], used: int) -> Iterator[int]:
    """The hidden ones among the columns in use."""
    for first, last in ranges:
        yield from range(max(0, first), min(last, used - 1) + 1)
