"""Files made to harm whoever opens them: containers that unfold, XML that declares, rows without end, formulas."""

from __future__ import annotations

import csv
import io
import stat
import zipfile
from collections.abc import Callable
from pathlib import Path

import openpyxl
import pytest
from workbooks import HEAD, MAIN, PARTS, by_hand, sheet_of

from vault.exchange.files import FileProblem
from vault.exchange.safe_zip import open_safe_zip
from vault.exchange.table_out import Sheet, write_csv_table, write_xlsx_table
from vault.exchange.tables import read_tables

LAUGHS = ('<!DOCTYPE x [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;&a;&a;"><!ENTITY c "&b;&b;&b;&b;&b;&b;&b;&b;&b;&b;">'
          '<!ENTITY d "&c;&c;&c;&c;&c;&c;&c;&c;&c;&c;">]>')
OUTSIDE = '<!DOCTYPE x [<!ENTITY d SYSTEM "file:///etc/hostname">]>'
FORMULAS = ["=1+1", "+1+1", "-1+1", "@SUM(1)", "\t=1+1", "\r=1+1", "=HYPERLINK(\"x\")", "=cmd|' /C calc'!A0", "＝1+1"]


def _container(path: Path, *names: str, data: bytes = b"x") -> Path:
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as packed:
        for name in names:
            packed.writestr(zipfile.ZipInfo(name), data)
    return path


def _unfolding(path: Path) -> Path:
    return by_hand(path, sheet=sheet_of(f'<row r="1"><c t="str"><v>{"a" * 3_000_000}</v></c></row>'))


def _crowded(path: Path) -> Path:
    return _container(path, *(str(number) for number in range(10_001)))


def _repeated(path: Path) -> Path:
    return _container(path, "xl/a.xml", "XL/a.xml")


def _lying(path: Path, says: int) -> Path:
    """A container whose sizes in the directory and before the member are not those of what is packed."""
    _container(path, "a", data=b"y" * 5000)
    data, true = path.read_bytes(), (5000).to_bytes(4, "little")
    path.write_bytes(data.replace(true, says.to_bytes(4, "little")))
    return path


def _nested(path: Path) -> Path:
    """Two entries of the directory that claim the same packed bytes."""
    data = _container(path, "a").read_bytes()
    at = data.index(b"PK\x01\x02")
    end = data.index(b"PK\x05\x06")
    twice = data[at:end].replace(b"a", b"b")
    tail = bytearray(data[end:])
    tail[8:12] = b"\x02\x00\x02\x00"
    tail[12:16] = (2 * (end - at)).to_bytes(4, "little")
    path.write_bytes(data[:end] + twice + tail)
    return path


def _linked(path: Path) -> Path:
    with zipfile.ZipFile(path, "w") as packed:
        member = zipfile.ZipInfo("link")
        member.create_system, member.external_attr = 3, (stat.S_IFLNK | 0o777) << 16
        packed.writestr(member, "/etc/hostname")
    return path


def _locked(path: Path) -> Path:
    data = bytearray(_container(path, "a").read_bytes())
    data[6] |= 1
    data[data.index(b"PK\x01\x02") + 8] |= 1
    path.write_bytes(data)
    return path


@pytest.mark.parametrize(("make", "says"), [
    (_unfolding, "times its size"), (_crowded, "10,001 files"), (_repeated, "two files called"), (_nested, "lie in one another"),
    (_linked, "a link"), (_locked, "encrypted"),
])
def test_a_container_that_unfolds(tmp_path: Path, make: Callable[[Path], Path], says: str) -> None:
    """Before anything is unpacked the directory tells of bombs, crowds, doubles, links and locks."""
    with pytest.raises(FileProblem, match=says):
        open_safe_zip(make(tmp_path / "a.zip"), what="a.zip")


@pytest.mark.parametrize(("says", "refused"), [(50, "damaged|more than"), (9000, "less than|damaged")])
def test_a_container_that_lies_of_its_sizes(tmp_path: Path, says: int, refused: str) -> None:
    """A member is read to the size that is claimed and no further; another size is refused."""
    with open_safe_zip(_lying(tmp_path / "a.zip", says), what="a.zip") as packed, pytest.raises(FileProblem, match=refused):
        packed.read("a")


@pytest.mark.parametrize("most", [{"most_members": 2}, {"most_bytes": 20}])
def test_a_container_larger_than_its_use(tmp_path: Path, most: dict[str, int]) -> None:
    """Whoever opens a container says how much it may hold."""
    with pytest.raises(FileProblem, match=r"holds 3 files|unpacks to"):
        open_safe_zip(_container(tmp_path / "a.zip", "a", "b", "c", data=b"0123456789"), what="a.zip", **most)


@pytest.mark.parametrize("name", ["../a", "/a", "a/../../b", "C:/a", "a\\..\\b", "./a", "a//b", "a\x1bb"])
def test_a_name_in_a_container_that_leads_out(tmp_path: Path, name: str) -> None:
    """Names that climb, are absolute, or hold what cannot be seen are refused before anybody could write to them."""
    with pytest.raises(FileProblem, match="leads out"):
        open_safe_zip(_container(tmp_path / "a.zip", name), what="a.zip")


@pytest.mark.parametrize("declared", [LAUGHS, OUTSIDE, "<!DOCTYPE x>"])
@pytest.mark.parametrize("part", ["sheet", "strings", "workbook"])
def test_an_entity_in_a_workbook(tmp_path: Path, part: str, declared: str) -> None:
    """A part of a workbook that declares anything is refused: it neither unfolds nor fetches."""
    inside = {"sheet": sheet_of('<row r="1"><c t="str"><v>&d;</v></c></row>'),
              "strings": f"{HEAD}<sst {MAIN}><si><t>&d;</t></si></sst>", "workbook": PARTS["xl/workbook.xml"]}[part]
    made = by_hand(tmp_path / "a.xlsx", **{part: inside.replace(HEAD, HEAD + declared)})
    with pytest.raises(FileProblem, match="declares a document type"):
        read_tables(made)


def test_a_row_without_end(tmp_path: Path) -> None:
    """A million columns are refused while the row is read."""
    (tmp_path / "a.csv").write_bytes(b"ref,type\n" + b"," * 1_000_000 + b"\n")
    with pytest.raises(FileProblem, match="row 2 has more than 1,000 columns"):
        read_tables(tmp_path / "a.csv")


def test_a_row_without_end_in_a_quoted_cell(tmp_path: Path) -> None:
    """Marks are counted over all lines of a row, so that line ends in quoted cells hide none."""
    (tmp_path / "a.csv").write_bytes(b"ref,type\n" + b'x,y,"\n",' * 100_000 + b"\n")
    with pytest.raises(FileProblem, match="row 2 has more than 1,000 columns"):
        read_tables(tmp_path / "a.csv")


@pytest.mark.parametrize(("cell", "says"), [("XFD1", "column 16,384"), ("A1048576", "row 1,048,576"), ("ZZZZZZ1", "in column")])
def test_a_cell_at_the_end_of_the_world(tmp_path: Path, cell: str, says: str) -> None:
    """One cell far out would make a table of billions; it is refused by its place."""
    row = "".join(letter for letter in cell if letter.isdigit())
    with pytest.raises(FileProblem, match=says):
        read_tables(by_hand(tmp_path / "a.xlsx", sheet=sheet_of(f'<row r="{row}"><c r="{cell}"><v>1</v></c></row>')))


def test_a_dimension_and_a_merged_cell_over_the_whole_sheet(tmp_path: Path) -> None:
    """What a sheet claims of its size is not believed, and merged cells fill what is in use alone."""
    made = sheet_of('<row r="1"><c r="A1"><v>1</v></c></row><row r="2"><c r="B2"><v>2</v></c></row>',
                    '<mergeCells><mergeCell ref="A1:XFD1048576"/></mergeCells>')
    made = made.replace("<sheetData>", '<dimension ref="A1:XFD1048576"/><sheetData>')
    table, = read_tables(by_hand(tmp_path / "a.xlsx", sheet=made))
    assert list(table.rows) == [("1", "1"), ("1", "1")]


def test_a_thousand_merged_cells_on_top_of_one_another(tmp_path: Path) -> None:
    """Merged ranges that cover millions of cells together are refused."""
    rows = '<row><c r="A1"><v>1</v></c></row>' * 1000 + '<row><c r="Z1"><v>1</v></c></row>'
    merged = "<mergeCells>" + '<mergeCell ref="A1:Z1000"/>' * 100 + "</mergeCells>"
    with pytest.raises(FileProblem, match="merged cells cover more than"):
        read_tables(by_hand(tmp_path / "a.xlsx", sheet=sheet_of(rows, merged)))


@pytest.mark.parametrize("formula", FORMULAS)
def test_a_formula_in_a_table_that_we_write(tmp_path: Path, formula: str) -> None:
    """In CSV and in workbooks every such text is text, and our reader gives it back as it was."""
    write_csv_table(tmp_path / "a.csv", [["ref"], [formula]])
    write_xlsx_table(tmp_path / "a.xlsx", [Sheet(name="S", rows=[["ref"], [formula]])])
    (in_csv,) = list(csv.reader(io.StringIO((tmp_path / "a.csv").read_bytes().decode("utf-8-sig"), newline="")))[1]
    in_book = openpyxl.load_workbook(tmp_path / "a.xlsx").active["A2"]
    assert (in_csv, in_book.data_type, in_book.value[0]) == (f"'{formula}", "s", "'")
    assert [read_tables(tmp_path / name)[0].rows[1] for name in ("a.csv", "a.xlsx")] == [(formula,), (formula,)]
