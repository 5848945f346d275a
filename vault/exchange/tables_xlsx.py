"""A workbook's sheets as tables: what its cells show, with merged cells filled in and hidden rows told."""

from __future__ import annotations

import sys
import unicodedata
from dataclasses import dataclass, field
from operator import itemgetter
from pathlib import Path

from vault.exchange.cell_form import Form, Shown, iso_moment, shown_number
from vault.exchange.files import FileProblem
from vault.exchange.raw_table import Oddity, RawTable, Remark
from vault.exchange.safe_zip import SafeZip, open_safe_zip
from vault.exchange.sheet_xml import SheetCell, SheetFacts, hidden_columns, parse_sheet, parse_strings
from vault.exchange.table_limits import MOST_BYTES, MOST_CELL, SAVE_AS, Progress, quiet
from vault.exchange.table_out import unescaped, unsafe_cell
from vault.exchange.workbook_parts import ListedSheet, listed_sheets, main_part, number_forms, relations_of

_MOST_FILLED = 2_000_000
_PROGRESS_ROWS = 5_000
_KEPT = 200_000
_COLUMN = itemgetter(0)
_MERGED = Remark(oddity=Oddity.MERGED, says="from the merged cell that it lies in")
_NO_VALUE = Remark(oddity=Oddity.NO_VALUE, says="a formula without a value: open the file in a spreadsheet and save it")
_ERROR = Remark(oddity=Oddity.ERROR, says="an error of the spreadsheet")


@dataclass(slots=True, kw_only=True)
class _Book:
    """What all sheets of a workbook share. strings: shared texts by their number as cells write it."""

    file: str
    strings: dict[str, str]
    forms: list[Form]
    from_1904: bool
    short: dict[str | None, str]
    shown: dict[tuple[str | None, str], tuple[str, Remark | None]] = field(default_factory=dict)

    def text(self, cell: SheetCell, where: str) -> tuple[str, Remark | None]:
        """A cell's text and what is odd about it. where: sheet and row in words."""
        _, kind, style, value, formula = cell
        if value is None or (formula and kind == "n" and not value):
            return "", _NO_VALUE
        if kind == "n":
            done = self._number(value, style)
            if len(self.shown) < _KEPT:
                self.shown[value, style] = done
            return done
        if kind == "s":
            text = self.strings.get(value.strip())
            if text is None:
                raise FileProblem(f"{where} has a cell whose text is missing (number {value[:20]})",
                                  f"open it in a spreadsheet, {SAVE_AS}")
            if len(text) > MOST_CELL:
                raise FileProblem(f"{where} has a cell of more than {MOST_CELL:,} letters", f"at most {MOST_CELL:,} are read")
            return text, None
        if kind == "b":
            return ("TRUE" if value.strip() in ("1", "true") else "FALSE"), None
        if kind == "e":
            return value, _ERROR
        if kind == "d":
            return iso_moment(value)
        return _clean(unescaped(value)), None

    def _number(self, value: str, style: str) -> tuple[str, Remark | None]:
        number = int(style) if style.isdecimal() and len(style) < 6 else -1
        form = self.forms[number] if 0 <= number < len(self.forms) else Form(shown=Shown.NUMBER)
        if not value.strip():
            return "", None
        text, remark = shown_number(value.strip(), form, from_1904=self.from_1904)
        return sys.intern(_clean(text)), remark


def _clean(text: str) -> str:
    return sys.intern(unsafe_cell(unicodedata.normalize("NFC", text)))


def read_workbook(path: Path, progress: Progress = quiet) -> list[RawTable]:
    """Each sheet that holds anything, in the workbook's order. Raises FileProblem (unreadable-file)."""
    with open_safe_zip(path, what=path.name, most_bytes=MOST_BYTES) as packed:
        main = main_part(packed, path.name)
        listed, from_1904 = listed_sheets(packed, main, path.name)
        book = _book(packed, main, path.name, from_1904)
        total = sum(packed.size(one.part) for one in listed)
        told = _Told(progress, total)
        tables = [table for one in listed if (table := _table(packed, book, one, told)) is not None]
    if not tables:
        raise FileProblem(f"{path.name} holds no rows in any sheet", "check that it is the right file")
    return tables


class _Told:
    """Progress in rows: how many a workbook has is guessed from the bytes of its sheets."""

    def __init__(self, progress: Progress, total_bytes: int) -> None:
        self._progress, self._rows, self._guess = progress, 0, max(1, total_bytes // 600)

    def row(self) -> None:
        self._rows += 1
        if self._rows % _PROGRESS_ROWS == 0:
            self._progress(self._rows, max(self._rows, self._guess))


def _table(packed: SafeZip, book: _Book, one: ListedSheet, told: _Told) -> RawTable | None:
    rows: list[tuple[str, ...]] = []
    remarks: dict[tuple[int, int], Remark] = {}
    sheet = f"{book.file}, sheet {one.name}"
    short, shown = book.short, book.shown

    def on_row(number: int, cells: list[SheetCell]) -> None:
        if number <= len(rows):
            raise FileProblem(f"{sheet}: row {number} stands there twice",
                              f"open it in a spreadsheet, {SAVE_AS}")
        texts = [""] * (max(map(_COLUMN, cells)) + 1)
        for cell in cells:
            column, kind, style, value, _ = cell
            # What most cells are goes without a further call: a short shared text, a number that was seen before.
            if kind == "s" and value in short:
                texts[column] = short[value]
                continue
            seen = shown.get((value, style)) if kind == "n" and value else None
            texts[column], remark = seen or book.text(cell, f"{sheet}, row {number}")
            if remark is not None:
                remarks[number, column] = remark
        rows.extend([()] * (number - 1 - len(rows)))
        rows.append(tuple(texts))
        told.row()

    with packed.stream(one.part) as stream:
        facts = parse_sheet(stream, sheet, on_row)
    if not rows:
        return None
    _fill_merged(rows, remarks, facts, sheet)
    return RawTable(file=book.file, sheet=one.name, rows=rows, remarks=remarks,
                    hidden=frozenset(row for row in facts.hidden_rows if row <= len(rows)),
                    made_of=_made_of(one, rows, facts))


def _made_of(one: ListedSheet, rows: list[tuple[str, ...]], facts: SheetFacts) -> str:
    from openpyxl.utils import get_column_letter

    hidden = sum(row <= len(rows) for row in facts.hidden_rows)
    columns = sorted(set(hidden_columns(facts.hidden_columns, max(map(len, rows)))))
    says = [f"sheet {one.name} of an XLSX workbook"]
    says += ["the sheet is hidden"] if one.hidden else []
    says += [f"{hidden} hidden {'row' if hidden == 1 else 'rows'}"] if hidden else []
    if columns:
        says.append(f"hidden {'column' if len(columns) == 1 else 'columns'} "
                    + ", ".join(get_column_letter(column + 1) for column in columns))
    return ", ".join(says)


def _fill_merged(rows: list[tuple[str, ...]], remarks: dict[tuple[int, int], Remark], facts: SheetFacts, where: str) -> None:
    # What a merged cell covers beyond the cells in use says nothing.
    widest = max(map(len, rows))
    ranges = [(top, left, min(bottom, len(rows)), min(right, max(left, widest - 1))) for top, left, bottom, right in facts.merged
              if top <= len(rows) and left < len(rows[top - 1]) and rows[top - 1][left]]
    if sum((bottom - top + 1) * (right - left + 1) for top, left, bottom, right in ranges) > _MOST_FILLED:
        raise FileProblem(f"{where}: its merged cells cover more than {_MOST_FILLED:,} cells", "take the merging off")
    for top, left, bottom, right in ranges:
        text = rows[top - 1][left]
        for row in range(top, bottom + 1):
            cells = list(rows[row - 1]) + [""] * (right + 1 - len(rows[row - 1]))
            for column in range(left, right + 1):
                if (row, column) != (top, left):
                    cells[column] = text
                    remarks[row, column] = _MERGED
            rows[row - 1] = tuple(cells)


def _book(packed: SafeZip, main: str, name: str, from_1904: bool) -> _Book:
    parts = dict(relations_of(packed, main, name).values())
    strings: dict[str, str] = {}
    if parts.get("sharedStrings") in packed.names:
        with packed.stream(parts["sharedStrings"]) as stream:
            found = parse_strings(stream, f"{parts['sharedStrings']} in {name}")
            strings = {str(number): _clean(text) for number, text in enumerate(found)}
    forms = number_forms(packed, parts["styles"], name) if parts.get("styles") in packed.names else []
    short: dict[str | None, str] = {number: text for number, text in strings.items() if len(text) <= MOST_CELL}
    return _Book(file=name, strings=strings, short=short, forms=forms, from_1904=from_1904)
