"""Tables in columns: nothing is cut, and what belongs together stays together where it can."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len

from vault.exchange.in_columns import in_columns

CELL = st.text("abé中 -,", max_size=20).map(str.strip)
ROWS = st.integers(1, 5).flatmap(lambda width: st.lists(st.lists(CELL, min_size=width, max_size=width), min_size=1, max_size=4))


@given(ROWS, st.none() | st.integers(20, 100))
def test_no_letter_is_lost(rows: list[list[str]], columns: int | None) -> None:
    """Every letter of every cell stands there, as often as it is in the rows."""
    lines = "".join(in_columns(rows, columns)).replace(" ", "")
    assert sorted(lines) == sorted("".join(map("".join, rows)).replace(" ", ""))


@given(ROWS)
def test_no_line_is_wider_than_the_screen(rows: list[list[str]]) -> None:
    """Five columns of words up to twenty wide always find room in 104, with a blank between."""
    assert max(map(cell_len, in_columns(rows, 104))) <= 104


HEAD, ROW = ("model", "service", "chance"), ("GEN-50-1050", "essential 95 %", "95.78 %")


@pytest.mark.parametrize(("columns", "lines"), [
    (None, ["model        service         chance", "GEN-50-1050  essential 95 %  95.78 %"]),
    (36, ["model        service         chance", "GEN-50-1050  essential 95 %  95.78 %"]),
    (35, ["model        service    chance", "GEN-50-1050  essential  95.78 %", "             95 %"]),
    (29, ["model       service   chance", "GEN-50-1050 essential 95.78 %", "            95 %"]),
    (28, ["model        service         chance", "GEN-50-1050  essential 95 %  95.78 %"]),
])
def test_names_and_figures_stay_whole(columns: int | None, lines: list[str]) -> None:
    """Folded between words as far as a word a column finds room; a narrower screen breaks the lines itself."""
    assert in_columns([HEAD, ROW], columns) == lines
