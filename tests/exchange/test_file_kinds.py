"""A file that was given to another command than it is for is told by what it seems to be, in a few lines."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from openpyxl import Workbook
from small_vault import DEMO

from vault.errors import GearkeepError
from vault.exchange.catalogue import read_circuits, read_drivers, read_lines, read_types
from vault.exchange.cobie_layout import COLUMNS as COBIE
from vault.exchange.cover_table import _CLASS as COVER
from vault.exchange.file_kinds import seems
from vault.exchange.hours_file import read_hours_file
from vault.exchange.reorder_file import HEADINGS as REORDER
from vault.exchange.stock_file import read_stock_file
from vault.exchange.tables import read_tables

READERS: dict[str, tuple[Callable[[Path], Any], str]] = {
    "stock": (read_stock_file, "model, and quantity"), "types": (read_types, "'code'"), "drivers": (read_drivers, "'model'"),
    "circuits": (read_circuits, "'name'"), "lines": (read_lines, "'name'"), "hours": (read_hours_file, "hours")}


def _book(path: Path, sheets: dict[str, tuple[str, ...]], rows: int = 3) -> Path:
    book = Workbook()
    book.remove(book.active)
    for name, headings in sheets.items():
        sheet = book.create_sheet(name)
        sheet.append(headings)
        for number in range(rows):
            sheet.append([f"x{number}"] * len(headings))
    book.save(path)
    return path


@pytest.fixture(scope="module")
def foreign(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """Files of several kinds."""
    folder = tmp_path_factory.mktemp("foreign")
    schedule = folder / "schedule.csv"
    schedule.write_bytes(b"".join((DEMO / "schedule.csv").read_bytes().splitlines(keepends=True)[:4]))
    return {
        "a luminaire schedule": schedule,
        "a COBie workbook": _book(folder / "cobie.xlsx", dict(COBIE)),
        "a table of coverage": _book(folder / "cover.xlsx", {"Matrix": COVER, "Models": ("Model", "What it is")}),
        "a reorder list": _book(folder / "reorder.xlsx", {"Reorder": REORDER}),
        "": _book(folder / "notes.xlsx", {"Notes": ("who", "what", "when it was"), "More": ("a", "b")}),
    }


@pytest.mark.parametrize(("reader", "kind"), [
    ("stock", "a luminaire schedule"), ("stock", "a COBie workbook"), ("stock", "a table of coverage"),
    ("stock", "a reorder list"), ("stock", ""), ("types", "a luminaire schedule"), ("drivers", "a COBie workbook"),
    ("circuits", "a reorder list"), ("lines", ""), ("hours", "a luminaire schedule")])
def test_a_file_of_another_kind_is_told_in_short(foreign: dict[str, Path], kind: str, reader: str) -> None:
    """What it seems to be, which headings it has, which are needed; not a complaint for each cell."""
    read, needed = READERS[reader]
    with pytest.raises(GearkeepError) as refused:
        read(foreign[kind])
    what = refused.value.what
    assert what.startswith(f"{foreign[kind].name} seems to be {kind}, not a" if kind else f"{foreign[kind].name} is not a")
    assert "Its headings: " in what and needed in what.partition("Needed: ")[2]
    assert len(what) < 500 and "\n" not in what


@pytest.mark.parametrize(("headings", "expected"), [
    (("model", "quantity", "bin"), "a stock list"), (("Model", "Supplier", "Lead days"), "a stock list"),
    (("circuit", "hours"), "a list of burning hours"), (("gear", "field", "asks", "value"), "a readback"),
    (("model", "revision", "title", "channels", "Max output power (W)"), "a list of drivers"),
    (("name", "revision", "breaker", "rated_current_ma"), "a list of circuits"), (("who", "what"), ""), (("model",), ""),
])
def test_what_a_table_seems_to_be(tmp_path: Path, headings: tuple[str, ...], expected: str) -> None:
    """By its headings alone, and nothing where they do not tell."""
    assert seems(read_tables(_book(tmp_path / "a.xlsx", {"Sheet": headings}, rows=1))) == expected


def test_hours_with_nearly_their_headings_are_told_so(tmp_path: Path) -> None:
    """Whoever gives them as hours means hours, and hears what each heading should be."""
    (tmp_path / "hours.csv").write_text("circ,hrs\nL1,4000\n")
    with pytest.raises(GearkeepError, match=r"row 1: found circ, hrs, allowed .*circ: did you mean circuit\?; hrs: did"):
        read_hours_file(tmp_path / "hours.csv")
