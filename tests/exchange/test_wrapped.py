"""Lines folded to a width lose nothing; sheets that are folded can be read as printed."""

from __future__ import annotations

from io import BytesIO

import openpyxl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from rich.cells import cell_len

from vault.exchange.table_out import Sheet, xlsx_bytes
from vault.exchange.wrapped import wrapped

WORDS = st.lists(st.text("abé中💡-,;", min_size=1, max_size=50), min_size=1, max_size=12)


@settings(max_examples=30)
@given(WORDS, st.integers(0, 8), st.integers(20, 100))
def test_nothing_is_lost_and_no_line_is_wider(words: list[str], indent: int, columns: int) -> None:
    """Letters of two columns count two; every letter stands there in order."""
    lines = wrapped(" " * indent + " ".join(words), columns)
    assert max(map(cell_len, lines)) <= columns
    assert "".join("".join(lines).split()) == "".join(words)


@pytest.mark.parametrize(("said", "lines"), [
    ("", [""]), ("one two", ["one two"]),
    ("one two three four five six", ["one two three four", "  five six"]),
    ("    32  T9 rev 1, general, DALI", ["    32  T9 rev 1,", "      general, DALI"]),
    ("The luminaire 1EX9 RH4Y 7", ["The luminaire", "  1EX9 RH4Y 7"]),
    ("It gives just at 350 mA", ["It gives just at", "  350 mA"]),
    ("a" * 45, ["a" * 20, "a" * 20, "a" * 5]),
])
def test_a_line_is_broken_between_words(said: str, lines: list[str]) -> None:
    """At twenty columns; what follows hangs two further in."""
    assert wrapped(said, 20) == lines


def test_a_folded_sheet_prints_across_one_page_with_its_headings() -> None:
    """Cells go on in their next line, rows are as high as they need, A3 across (ECMA-376 Part 1, 18.3.1.63: 8)."""
    rows = [("What it is", "Drivers"), ("word " * 12, 3)]
    book = openpyxl.load_workbook(BytesIO(xlsx_bytes([Sheet(name="S", rows=rows, folded=20)])))
    sheet = book["S"]
    assert (sheet.page_setup.orientation, sheet.page_setup.paperSize, sheet.page_setup.fitToWidth) == ("landscape", 8, 1)
    assert sheet["A2"].alignment.wrap_text and sheet.print_title_rows == "$1:$1"
    assert sheet.column_dimensions["A"].width == 20 and sheet.row_dimensions[2].height > 3 * sheet.row_dimensions[1].height
    assert [cell.value for cell in sheet[2]] == ["word " * 12, 3]
