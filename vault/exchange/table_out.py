"""Writing tables for spreadsheets: CSV and workbooks in which no text of somebody else's runs as a formula."""

from __future__ import annotations

import csv
import io
import re
import textwrap
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeAlias

from vault.errors import GearkeepError
from vault.exchange.files import write_whole
from vault.exchange.raw_table import RawTable

if TYPE_CHECKING:
    from openpyxl.worksheet._write_only import WriteOnlyWorksheet

Cell: TypeAlias = str | int | Decimal | None

# What a spreadsheet takes for a formula, or skips before it looks for one (OWASP, CSV Injection).
_STARTS = "=+-@\t\r\n＝＋－＠"
_HARMLESS = re.compile(r"[+-]?[0-9]+(?:[.,][0-9]+)?|-")  # a number, or the dash of an empty cell
_SAFE = re.compile(f"'+[{re.escape(_STARTS)}]")
# ECMA-376 Part 1, 22.9.2.19 (ST_Xstring): what XML cannot hold stands as _xHHHH_.
_ESCAPED = re.compile("_x[0-9A-Fa-f]{4}_")
_NOT_IN_XML = re.compile("[\x00-\x08\x0b-\x1f\ufffe\uffff]|_(?=x[0-9A-Fa-f]{4}_)")
# A spreadsheet's own limits.
MOST_CELL, MOST_ROWS, MOST_TITLE = 32_767, 1_048_576, 31
_LINE_PT = 15  # height of a line of text
_A3 = 8  # ECMA-376 Part 1, 18.3.1.63
_WIDEST, _LOOKED_AT = 60, 200  # letters; rows that decide a column's width


def safe_cell(text: str) -> str:
    """The text, behind an apostrophe where a spreadsheet would run it: it begins with = + - @ tab or CR and is no number.

    A text that already has apostrophes before such a letter gets one more, so that `unsafe_cell` gives every text back.
    """
    if _SAFE.match(text) or (text[:1] and text[0] in _STARTS and not _HARMLESS.fullmatch(text)):
        return "'" + text
    return text


def unsafe_cell(text: str) -> str:
    """The text that `safe_cell` was given. A cell like '=1 that somebody else wrote loses its apostrophe too."""
    return text[1:] if text[:1] == "'" and _SAFE.match(text) else text


def escaped(text: str) -> str:
    """The text as a workbook's XML can hold it (ST_Xstring)."""
    return _NOT_IN_XML.sub(lambda found: f"_x{ord(found[0]):04X}_", text)


def unescaped(text: str) -> str:
    """The text that a workbook's XML holds (ST_Xstring)."""
    return _ESCAPED.sub(lambda found: chr(int(found[0][2:6], 16)), text) if "_x" in text else text


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """One sheet to be written. rows: the headings first; texts stay texts ("01"), whole numbers and decimals are numbers, shown
    to as many places as they have, None is an empty cell. headings: how many rows at the top are bold and stay in view. name:
    at most 31 letters. folded: letters after which a cell goes on in its next line, the whole printed across one page's width;
    None: one line, however long."""

    name: str
    rows: Sequence[Sequence[Cell]]
    headings: int = 1
    folded: int | None = None


def csv_bytes(rows: Iterable[Sequence[Cell]], delimiter: str = ",") -> bytes:
    """Rows as delimited UTF-8 with a byte-order mark. Every text is in quotation marks, so that a spreadsheet that is
    told to take quoted cells as text keeps "01" and "03-Jan"."""
    out = io.StringIO(newline="")
    csv.writer(out, delimiter=delimiter, lineterminator="\r\n", quoting=csv.QUOTE_NONNUMERIC).writerows(
        ["" if cell is None else safe_cell(cell) if isinstance(cell, str) else cell for cell in row] for row in rows)
    return out.getvalue().encode("utf-8-sig")


def write_csv_table(path: Path, rows: Iterable[Sequence[Cell]], delimiter: str = ",") -> None:
    """Write rows as a CSV file, whole or not at all. Raises GearkeepError (unwritable-file)."""
    write_whole(path, csv_bytes(rows, delimiter))


def xlsx_bytes(sheets: Sequence[Sheet]) -> bytes:
    """Sheets as a workbook. Raises GearkeepError (too-large) for a text or a sheet that no workbook can hold."""
    from openpyxl import Workbook

    book = Workbook(write_only=True)
    for sheet in sheets:
        if len(sheet.rows) > MOST_ROWS:
            raise GearkeepError(f"The sheet {sheet.name} has {len(sheet.rows):,} rows; a workbook holds {MOST_ROWS:,}.",
                                hint="Write CSV instead.", kind="too-large")
        _fill(book.create_sheet(sheet_title(sheet.name)), sheet)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def write_xlsx_table(path: Path, sheets: Sequence[Sheet]) -> None:
    """Write sheets as a workbook, whole or not at all. Raises GearkeepError (unwritable-file, too-large)."""
    write_whole(path, xlsx_bytes(sheets))


def write_like(path: Path, table: RawTable, rows: Sequence[Sequence[str]]) -> None:
    """Write rows in the form that `table` was read from: CSV with its delimiter, or a workbook with its sheet's name."""
    if table.delimiter:
        write_csv_table(path, rows, table.delimiter)
    else:
        write_xlsx_table(path, [Sheet(name=table.sheet or "Sheet1", rows=rows)])


def sheet_title(name: str) -> str:
    """The name as a workbook allows it for a sheet: 31 letters, none of []:*?/\\, no apostrophe at an end."""
    return re.sub(r"[\[\]:*?/\\\x00-\x1f]", "_", name)[:MOST_TITLE].strip("'") or "Sheet1"


def _fill(sheet: WriteOnlyWorksheet, given: Sheet) -> None:
    from openpyxl.cell import WriteOnlyCell
    from openpyxl.styles import Alignment, Font
    from openpyxl.utils import get_column_letter

    bold = Font(bold=True)
    folding, figure = Alignment(wrap_text=True, vertical="top"), Alignment(horizontal="right", vertical="top", indent=1)
    widths = _widths(given.rows[:_LOOKED_AT]) if given.folded is None else _folded_widths(given, given.folded)
    for column, width in enumerate(widths, start=1):
        sheet.column_dimensions[get_column_letter(column)].width = width
    if given.folded is not None:
        _across_a_page(sheet, given.headings)
    if given.headings:
        sheet.freeze_panes = f"A{given.headings + 1}"

    def made(cell: Cell, heading: bool) -> Any:
        if isinstance(cell, Decimal):
            number = WriteOnlyCell(sheet, value=cell)
            places = f"{cell:f}".partition(".")[2]
            number.number_format = f"0.{'0' * len(places)}" if places else "0"
            return number if given.folded is None else aligned(number)
        if not isinstance(cell, str):
            return cell if given.folded is None or cell is None else aligned(WriteOnlyCell(sheet, value=cell))
        text = escaped(safe_cell(cell))
        if len(cell) > MOST_CELL:
            raise GearkeepError(f"A text of {len(cell):,} letters is too long for a workbook's cell ({MOST_CELL:,}).",
                                hint="Write CSV instead.", kind="too-large")
        # What begins so would be taken for a formula or an error value by the library.
        if not heading and text[:1] not in ("=", "#") and given.folded is None:
            return text
        written = WriteOnlyCell(sheet, value=text)
        written.data_type = "s"
        if heading:
            written.font = bold
        return written if given.folded is None else aligned(written)

    def aligned(written: Any) -> Any:
        written.alignment = folding if isinstance(written.value, str) else figure
        return written

    for number, row in enumerate(given.rows):
        if given.folded is not None:
            sheet.row_dimensions[number + 1].height = _LINE_PT * _lines(row, widths)
        sheet.append([made(cell, number < given.headings) for cell in row])


def _across_a_page(sheet: WriteOnlyWorksheet, headings: int) -> None:
    """Print on A3 across, as wide as one page, the headings on each."""
    from openpyxl.worksheet.properties import PageSetupProperties

    sheet.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)
    sheet.page_setup.orientation, sheet.page_setup.paperSize = "landscape", _A3
    sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight = 1, 0
    if headings:
        sheet.print_title_rows = f"1:{headings}"


def _folded_widths(given: Sheet, widest: int) -> list[int]:
    """Letters in each column: what the rows below the headings need, and each word of a heading, but no more than `widest`."""
    heads, rows = given.rows[: given.headings], given.rows[given.headings : _LOOKED_AT]
    words = [[max(str(cell or "").split(), key=len, default="") for cell in row] for row in heads]
    return [min(width, widest) for width in _widths([*words, *rows])]


def _lines(row: Sequence[Cell], widths: Sequence[int]) -> int:
    return max((len(textwrap.wrap(str(cell or ""), max(width - 2, 1))) for cell, width in zip(row, widths, strict=False)),
               default=1) or 1


def _widths(rows: Sequence[Sequence[Cell]]) -> list[int]:
    widths: list[int] = []
    for row in rows:
        widths += [8] * (len(row) - len(widths))
        for column, cell in enumerate(row):
            widths[column] = min(_WIDEST, max(widths[column], len(str(cell or "")) + 2))
    return widths
