"""Writing tables that spreadsheets open: nothing runs, nothing changes."""

from __future__ import annotations

import subprocess
from decimal import Decimal
from pathlib import Path

import openpyxl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from vault.errors import GearkeepError
from vault.exchange.raw_table import RawTable
from vault.exchange.table_out import (
    Sheet,
    escaped,
    safe_cell,
    sheet_title,
    unescaped,
    unsafe_cell,
    write_csv_table,
    write_like,
    write_xlsx_table,
)
from vault.exchange.tables import read_tables


@pytest.mark.parametrize(("text", "safe"), [
    ("=1+1", "'=1+1"), ("+49 30", "'+49 30"), ("-5 V", "'-5 V"), ("@SUM(A1)", "'@SUM(A1)"), ("\tx", "'\tx"), ("\rx", "'\rx"),
    ("'=1", "''=1"), ("-5", "-5"), ("+1,5", "+1,5"), ("-", "-"), ("L-1", "L-1"), ("", ""), ("'quoted", "'quoted"),
])
def test_a_text_that_a_spreadsheet_would_run_gets_an_apostrophe(text: str, safe: str) -> None:
    """The starts are those of OWASP's page on CSV injection; plain numbers stay numbers."""
    assert (safe_cell(text), unsafe_cell(safe)) == (safe, text)


@given(st.text())
def test_every_text_comes_back_from_a_safe_cell(text: str) -> None:
    """Taking the apostrophe away gives what was written."""
    assert unsafe_cell(safe_cell(text)) == text


@given(st.text())
def test_every_text_comes_back_from_a_workbooks_escapes(text: str) -> None:
    """What XML cannot hold is written as _xHHHH_ and read again (ECMA-376 Part 1, 22.9.2.19)."""
    assert unescaped(escaped(text)) == text


CELLS = [("ref", "note"), ("01", "=1+1"), ("'quoted'", "1.03"), ("Büro ß €", "12345678901234567890"), ("03-Jan", "-5"),
         ("1.050,00", "TRUE"), ("#N/A", "+49 1"), ("two\nlines", 'say "x"; y'), ("4/12", "00,5"), ("_x0041_", "1E5")]


@pytest.fixture(scope="module")
def through_office(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with our CSV and our workbook as LibreOffice saved them, in one start of it; quoted cells are taken as text."""
    folder = tmp_path_factory.mktemp("office")
    write_csv_table(folder / "csv.csv", CELLS, ";")
    write_xlsx_table(folder / "xlsx.xlsx", [Sheet(name="L", rows=CELLS)])
    subprocess.run(["soffice", f"-env:UserInstallation=file://{folder}/profile", "--headless",
                    "--infilter=CSV:59,34,76,1,,0,true", "--convert-to", "xlsx:Calc MS Excel 2007 XML", "--outdir",
                    str(folder / "out"), str(folder / "csv.csv"), str(folder / "xlsx.xlsx")],
                   check=True, capture_output=True, timeout=120)
    return folder / "out"


@pytest.mark.parametrize("name", ["csv.xlsx", "xlsx.xlsx"])
def test_a_round_trip_through_a_spreadsheet_changes_nothing(through_office: Path, name: str) -> None:
    """Leading zeros, apostrophes, long digits, what looks like a date or a formula: all come back from LibreOffice."""
    table, = read_tables(through_office / name)
    assert (list(table.rows), dict(table.remarks)) == (CELLS, {})


def test_a_workbooks_texts_are_texts_and_its_headings_stay_in_view(tmp_path: Path) -> None:
    """No text becomes a number or a formula; whole numbers are numbers; the first row is bold and frozen."""
    write_xlsx_table(tmp_path / "a.xlsx", [Sheet(name="a/b", rows=[("ref", "=h"), ("01", 5), (None, "#REF!")])])
    sheet = openpyxl.load_workbook(tmp_path / "a.xlsx").active
    assert [[cell.data_type for cell in row] for row in sheet.iter_rows()] == [["s", "s"], ["s", "n"], ["n", "s"]]
    assert (sheet.title, sheet.freeze_panes, sheet["A1"].font.bold, sheet["A2"].font.bold) == ("a_b", "A2", True, False)


@pytest.mark.parametrize(("delimiter", "name"), [(";", "a.csv"), ("\t", "a.csv"), ("", "a.xlsx")])
def test_a_table_is_written_in_the_form_that_it_was_read_from(tmp_path: Path, delimiter: str, name: str) -> None:
    """CSV keeps its delimiter and a workbook its sheet's name."""
    given_table = RawTable(file="x", sheet=None if delimiter else "Lights", rows=[], delimiter=delimiter)
    write_like(tmp_path / name, given_table, CELLS)
    table, = read_tables(tmp_path / name)
    assert (list(table.rows), table.delimiter, table.sheet) == (CELLS, delimiter, given_table.sheet)


def test_sums_of_money_can_be_summed(tmp_path: Path) -> None:
    """Decimals are numbers in a workbook and a CSV file, shown to as many places as they have."""
    rows = [("price",), (Decimal("24.50"),), (Decimal("7"),)]
    write_xlsx_table(tmp_path / "a.xlsx", [Sheet(name="a", rows=rows)])
    sheet = openpyxl.load_workbook(tmp_path / "a.xlsx").active
    assert [(cell.value, cell.number_format) for cell in sheet["A"][1:]] == [(24.5, "0.00"), (7, "0")]
    write_csv_table(tmp_path / "a.csv", rows)
    assert (tmp_path / "a.csv").read_text(encoding="utf-8-sig").split() == ['"price"', "24.50", "7"]


def test_what_no_workbook_can_hold_is_refused_and_nothing_written(tmp_path: Path) -> None:
    """A text beyond a cell's limit is told, not cut."""
    with pytest.raises(GearkeepError, match="32,767"):
        write_xlsx_table(tmp_path / "a.xlsx", [Sheet(name="a", rows=[("x" * 32_768,)])])
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(("name", "title"), [
    ("a[b]:c*?/\\d", "a_b__c____d"), ("x" * 40, "x" * 31), ("'", "Sheet1"), ("", "Sheet1")])
def test_a_sheets_name_is_one_that_a_workbook_allows(name: str, title: str) -> None:
    """At most 31 letters, none of []:*?/\\ (the limits of common spreadsheet programs, from memory)."""
    assert sheet_title(name) == title
