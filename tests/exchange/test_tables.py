"""Reading CSV files and workbooks of somebody else's making."""

from __future__ import annotations

import datetime
import re
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from hypothesis import given
from hypothesis import strategies as st
from openpyxl.styles import PatternFill
from workbooks import MAIN, by_hand, sheet_of

from vault.exchange.cell_form import decimal_text
from vault.exchange.files import FileProblem
from vault.exchange.raw_table import Oddity
from vault.exchange.tables import read_tables
from vault.exchange.tables_csv import find_delimiter


def _csv(tmp_path: Path, data: bytes, name: str = "a.csv") -> Path:
    path = tmp_path / name
    path.write_bytes(data)
    return path


TEXT = "Leuchte;Raum\r\nL-1;Büro – Süd\r\n"
ROWS = [("Leuchte", "Raum"), ("L-1", "Büro – Süd")]


@pytest.mark.parametrize(("data", "made_of"), [
    (TEXT.encode(), "CSV in UTF-8, separated by semicolons"),
    (TEXT.encode("utf-8-sig"), "CSV in UTF-8 with byte-order mark, separated by semicolons"),
    (TEXT.encode("utf-16"), "CSV in UTF-16, separated by semicolons"),
    (b"\xfe\xff" + TEXT.encode("utf-16-be"), "CSV in UTF-16, separated by semicolons"),
    (TEXT.encode("utf-16-le"), "CSV in UTF-16, separated by semicolons"),
    (TEXT.encode("utf-16-be"), "CSV in UTF-16, separated by semicolons"),
    (TEXT.encode("cp1252"), "CSV in cp1252, separated by semicolons"),
    (TEXT.replace("ü", "u\u0308").encode(), "CSV in UTF-8, separated by semicolons"),
    (TEXT.replace("\r\n", "\r").encode(), "CSV in UTF-8, separated by semicolons"),
    (TEXT.replace(";", "\t").encode(), "CSV in UTF-8, separated by tabs"),
    (TEXT.replace(";", "|").encode(), "CSV in UTF-8, separated by bars"),
    (b"sep=;\r\n" + TEXT.encode(), "CSV in UTF-8, separated by semicolons"),
])
def test_the_same_table_in_any_letters_and_any_delimiter(tmp_path: Path, data: bytes, made_of: str) -> None:
    """Bytes decide how a CSV file is read, and what was decided is said."""
    table, = read_tables(_csv(tmp_path, data))
    assert (list(table.rows), table.made_of) == (ROWS, made_of)


@pytest.mark.parametrize(("data", "cell", "made_of"), [
    # The byte 85 is the ellipsis of Windows code page 1252; 81 has no meaning there (Unicode's mapping table CP1252.TXT).
    (b"a;b\n27\x8554 V;x\n", "27…54 V", "CSV in cp1252, separated by semicolons"),
    (b"a;b\n\x81\xe4;x\n", "\x81ä", "CSV in Latin-1, separated by semicolons"),
])
def test_bytes_that_are_no_utf8_are_of_windows_or_latin(tmp_path: Path, data: bytes, cell: str, made_of: str) -> None:
    """Where UTF-8 fails it is cp1252, and Latin-1 only where that has no such letter."""
    table, = read_tables(_csv(tmp_path, data))
    assert (table.rows[1][0], table.made_of) == (cell, made_of)


@pytest.mark.parametrize(("text", "delimiter"), [
    ("Ref;I\n1;0,7\n2;1,05\n3;0,35\n", ";"),
    ("0,7;28,5\n0,7;28,5\n1,4;30,0\n", ";"),
    ("Schedule, Rev C, final\n\nRef;Type;Room\n1;A;2\n2;B;3\n", ";"),
    ("Ref,Type,Groups\n1,A,1;3\n2,B,1;3\n3,C,2;4\n", ","),
    ("Ref,I,U\n1,700,54\n2,350,42\n", ","),
    ('Ref,Room\n1,"a;b;c;d;e"\n2,"a;b;c;d;e"\n', ","),
    ("Ref\tRoom\n1\tHall, north; left\n2\tHall, south; left\n", "\t"),
    ("one column\nonly\n", ","),
])
def test_the_delimiter_is_what_most_lines_agree_on(text: str, delimiter: str) -> None:
    """Title rows, decimal commas and lists inside cells do not win over the delimiter."""
    assert find_delimiter(text) == delimiter


@pytest.mark.parametrize(("data", "says"), [
    (b'a,b\n1,2\n3,"open\n4,5\n', "line 3"),
    (b'a,b\n1,"x"y\n', "line 2"),
    (b"a,b\n" + b"1," * 1000 + b"1\n", "row 2 has more than 1,000 columns"),
    (b"a,b\n1," + b"x" * 32768 + b"\n", "row 2 has a cell of more than 32,767 letters"),
    (b'a,b\n1,"' + b"x" * 140_000 + b'"\n', "row 2 has a cell of more than 32,767 letters"),
    ("Büro;x\n".encode() * 9 + b"\xfc;x\n", "in UTF-8, but line 10 holds a byte that is none"),
    (b"a,b\n1,\0\n", "zero bytes in line 2"),
    (b"\n\n", "holds no rows"),
    (b"", "holds no rows"),
    (b"sep=\"\na,b\n", "as its delimiter"),
    (b"%PDF-1.7", "a PDF"),
    (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(600), "old kind"),
    (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + "EncryptedPackage".encode("utf-16-le"), "behind a password"),
    (b"  <html><table>", "a page or an XML document"),
])
def test_what_is_no_table_is_refused_with_the_place(tmp_path: Path, data: bytes, says: str) -> None:
    """Broken quotes, endless rows and other kinds of file are refused by line or row, with what to do."""
    with pytest.raises(FileProblem, match=says) as caught:
        read_tables(_csv(tmp_path, data, "wrong.xlsx"))
    assert caught.value.hint


def test_cells_that_say_the_same_are_kept_once(tmp_path: Path) -> None:
    """A large file of few different texts stays small in memory."""
    table, = read_tables(_csv(tmp_path, b"Hall east,Hall east\nHall east,Hall east\n"))
    assert len({id(cell) for row in table.rows for cell in row}) == 1


def test_a_thousand_columns_are_read(tmp_path: Path) -> None:
    """The limit itself is allowed, also where marks stand in quoted cells."""
    table, = read_tables(_csv(tmp_path, b"a," * 999 + b"a\n" + b'"' + b"," * 2000 + b'",b\n'))
    assert [len(row) for row in table.rows] == [1000, 2]


def _made(tmp_path: Path, values: dict[str, Any], formats: dict[str, str]) -> Path:
    book = openpyxl.Workbook()
    for place, value in values.items():
        book.active[place] = value
    for place, code in formats.items():
        book.active[place].number_format = code
    book.save(tmp_path / "m.xlsx")
    return tmp_path / "m.xlsx"


@pytest.mark.parametrize(("value", "code", "text", "oddity"), [
    (1.0500000000000003, "General", "1.05", None),
    (700.0, "General", "700", None),
    (0.1 + 0.2, "General", "0.3", None),
    (-5, "General", "-5", None),
    (1e-7, "General", "0.0000001", None),
    (4006381333931, "General", "4006381333931", None),
    (7, "000", "007", None),
    (7, '"L-"000', "L-007", None),
    (700, '0" mA"', "700 mA", None),
    (1050, "#,##0", "1050", None),
    (1.5, '0.0\\ "W"', "1.5 W", None),
    (1.1, "0.00", "1.1", Oddity.NUMBER),
    (1.25, "0.00", "1.25", None),
    (0.5, "0%", "50 %", None),
    (0.075, "0.0%", "7.5 %", None),
    (3, "0.00E+00", "3", Oddity.NUMBER),
    (0.125, "[h]:mm", "03:00", Oddity.NUMBER),
    (datetime.date(2026, 12, 4), "d. mmm", "2026-12-04", Oddity.DATE),
    (datetime.datetime(2026, 12, 4, 10, 30), "yyyy-mm-dd hh:mm", "2026-12-04 10:30", Oddity.DATE),
    (True, "General", "TRUE", None),
    ("01", "General", "01", None),
    ("u\u0308", "General", "ü", None),
    ("'=1+1", "General", "=1+1", None),
    ("#REF!", "General", "#REF!", Oddity.ERROR),
    ("=A1+1", "General", "", Oddity.NO_VALUE),
])
def test_a_cell_says_what_the_screen_shows(tmp_path: Path, value: Any, code: str, text: str, oddity: Oddity | None) -> None:
    """Numbers stand in their shortest form, with the zeros and units that their format adds; what is lost is remarked."""
    table, = read_tables(_made(tmp_path, {"B1": value, "C1": "x"}, {"B1": code}))
    remark = table.remarks.get((1, 1))
    assert (table.rows[0][1], remark.oddity if remark else None) == (text, oddity)


def test_a_date_cell_bears_its_date(tmp_path: Path) -> None:
    """Whoever typed 4/12 can be asked, because the date is kept."""
    table, = read_tables(_made(tmp_path, {"A1": datetime.date(2026, 12, 4)}, {"A1": "dd/mm"}))
    assert table.remarks[1, 0].date == datetime.date(2026, 12, 4)


def test_a_sheets_merged_cells_hidden_rows_and_columns_are_told(tmp_path: Path) -> None:
    """Merged cells are filled in and marked, hidden rows kept by number, hidden columns and sheets named."""
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = "Lights"
    for row in (["Title"], ["Ref", "Type", "Room"], ["L-1", "A", "1"], ["L-2", None, "2"]):
        sheet.append(row)
    sheet.merge_cells("A1:C1")
    sheet.merge_cells("B3:B4")
    sheet.row_dimensions[4].hidden = True
    sheet.column_dimensions["C"].hidden = True
    sheet["XFD1048576"].fill = PatternFill("solid", fgColor="FF0000")
    book.create_sheet("Old").append(["x"])
    book["Old"].sheet_state = "hidden"
    book.create_sheet("Empty")
    book.save(tmp_path / "m.xlsx")
    lights, old = read_tables(tmp_path / "m.xlsx")
    assert list(lights.rows) == [("Title",) * 3, ("Ref", "Type", "Room"), ("L-1", "A", "1"), ("L-2", "A", "2")]
    assert {place for place, remark in lights.remarks.items() if remark.oddity is Oddity.MERGED} == {(1, 1), (1, 2), (4, 1)}
    assert (lights.hidden, lights.made_of) == (frozenset({4}), "sheet Lights of an XLSX workbook, 1 hidden row, hidden column C")
    assert (old.sheet, old.made_of) == ("Old", "sheet Old of an XLSX workbook, the sheet is hidden")


@pytest.mark.parametrize(("cells", "rows"), [
    ('<row r="3"><c r="B3" t="s"><v>1</v></c></row>', [(), (), ("", "rich")]),
    ('<row><c t="inlineStr"><is><t>in</t></is></c><c><v>2</v></c></row>', [("in", "2")]),
    ('<row r="1"><c r="A1" t="str"><f>B1</f><v></v></c><c r="B1" t="str"><f>C1</f><v>a_x000D_b</v></c></row>', [("", "a\rb")]),
    ('<row r="1"><c r="A1" t="d"><v>2026-12-04</v></c></row>', [("2026-12-04",)]),
    ('<row r="1"><c r="A1" t="b"><v>0</v></c><c r="B1" s="9"><v>7</v></c></row>', [("FALSE", "7")]),
])
def test_cells_in_the_forms_that_programs_write(tmp_path: Path, cells: str, rows: list[tuple[str, ...]]) -> None:
    """Shared, rich and inline strings, kept values of formulas, cells without a place (ECMA-376 Part 1, 18.3.1.4)."""
    table, = read_tables(by_hand(tmp_path / "h.xlsx", sheet=sheet_of(cells)))
    assert list(table.rows) == rows


def test_names_with_a_prefix_are_read_alike(tmp_path: Path) -> None:
    """Some programs write x:worksheet for worksheet."""
    plain = sheet_of('<row r="1"><c r="B1"><v>7</v></c></row>')
    made = re.sub(r"<(/?)(?=[a-z])", r"<\1x:", plain).replace("xmlns=", "xmlns:x=")
    table, = read_tables(by_hand(tmp_path / "h.xlsx", sheet=made))
    assert list(table.rows) == [("", "7")]


@pytest.mark.parametrize(("changed", "says"), [
    ({"sheet": sheet_of('<row r="1"><c t="s"><v>7</v></c></row>')}, "row 1 has a cell whose text is missing"),
    ({"sheet": sheet_of('<row r="2"><c><v>1</v></c></row><row r="2"><c><v>1</v></c></row>')}, "row 2 stands there twice"),
    ({"sheet": sheet_of('<row r="1"><c><v>1</v></row>')}, "sheet S is broken"),
    ({"sheet": sheet_of(f'<row r="4"><c t="inlineStr"><is><t>{"x" * 32_768}</t></is></c></row>')}, "row 4 has a cell of more"),
    ({"strings": f"<sst {MAIN}><si><t>{'x' * 32_768}</t></si></sst>"}, "row 1 has a cell of more than 32,767 letters"),
    ({"sheet": sheet_of("")}, "no rows in any sheet"),
    ({"workbook": "<document/>"}, "without sheets"),
])
def test_a_broken_workbook_is_refused(tmp_path: Path, changed: dict[str, str], says: str) -> None:
    """What is wrong is said with its sheet and row, never as a traceback."""
    with pytest.raises(FileProblem, match=says):
        read_tables(by_hand(tmp_path / "h.xlsx", **changed))


@pytest.mark.parametrize(("parts", "says"), [
    ({"mimetype": "application/vnd.oasis.opendocument.spreadsheet", "content.xml": ""}, "OpenDocument"),
    ({"xl/workbook.bin": ""}, "binary workbook"),
    ({"a.txt": "x"}, "holds no workbook"),
])
def test_another_kind_of_zip_is_refused_with_what_to_do(tmp_path: Path, parts: dict[str, str], says: str) -> None:
    """OpenDocument and binary workbooks are to be saved as XLSX or CSV."""
    with pytest.raises(FileProblem, match=says) as caught:
        read_tables(by_hand(tmp_path / "h.xlsx", parts))
    assert "XLSX" in caught.value.hint


@given(st.decimals(min_value=-10**9, max_value=10**9, places=5))
def test_a_stored_number_means_the_same_in_its_shortest_form(number: Any) -> None:
    """Fifteen digits say all that a spreadsheet's number says, and no zeros stand behind them."""
    said = decimal_text(repr(float(number)))
    assert said is not None
    assert (float(said) == float(number), "." in said and said.endswith("0")) == (True, False)
