"""A list of pieces counted, taken back, scrapped or transferred in one act."""

from __future__ import annotations

import pytest
from small_vault import SmallVault

from vault.actions.stock import Moved, Said, read_stock_state
from vault.actions.stock_batch import move_listed
from vault.actions.stock_load import load_stock
from vault.domain.stock import Act
from vault.errors import GearkeepError
from vault.exchange.count_sheet import write_count_sheet
from vault.exchange.tables import read_tables
from vault.spares.stock_state import StockShelf

BATTERIES = ("model,quantity,bin,item,made,shelf_life_months\nBATT-4,3,E1,battery,2030-02-01,12\n"
             "BATT-4,4,E1,battery,2029-12-01,12\n")
# What demo/stock.csv brought, and what the test below adds.
PADDED = ("GEN-50-1050,A1,good,", "GEN-50-1050,A1,needs-reset,", "GEN-25-800,A2,,", "GEN-45-900,A3,,", "CC-40-700,B1,,",
          "EM-6-180,C1,,", "TW-2X20,C2,,", "CV-24-60,D1,,", "BATT-4,E1,,2029-12-01", "BATT-4,E1,,2030-02-01")
SHEET = tuple(row.rstrip(",") for row in PADDED)
LIES_THERE = (6, 2, 4, 3, 1, 5, 1, 2, 4, 3)


def _move(small: SmallVault, text: str, act: Act, **said: str) -> Moved:
    path = small.folder / "list.csv"
    path.write_text(text, encoding="utf-8")
    return move_listed(small.desk("S01"), path, act=act, store="MAIN", said=Said(**{"reason": "yearly", **said}))[0]


def _shelves(small: SmallVault) -> tuple[StockShelf, ...]:
    return read_stock_state(small.desk()).shelves


@pytest.mark.parametrize("ending", ["csv", "xlsx"])
def test_a_sheet_filled_in_as_the_books_say_changes_nothing(small: SmallVault, ending: str) -> None:
    """Every bin has a row, of batteries every day made, of returned pieces a row of their own; one statement."""
    (small.folder / "b.csv").write_text(BATTERIES, encoding="utf-8")
    load_stock(small.desk("S01"), small.folder / "b.csv", store="MAIN")
    _move(small, "model,quantity,bin\nGEN-50-1050,2,A1\n", Act.RETURN)
    before, sizes, sheet = _shelves(small), small.sizes(), small.folder / f"sheet.{ending}"
    write_count_sheet(sheet, read_stock_state(small.desk()), "MAIN")
    heads, *rows = read_tables(sheet)[0].rows
    assert [",".join(row).rstrip(",") for row in (heads, *rows)] == ["model,bin,condition,made,quantity", *SHEET]
    filled = "\n".join([",".join(heads), *(f"{row},{pieces}" for row, pieces in zip(PADDED, LIES_THERE, strict=True))])
    assert _move(small, filled, Act.COUNT).notes == () and _shelves(small) == before
    assert small.sizes()[1] == sizes[1] + 1


def test_what_differs_is_told_and_rows_without_a_quantity_are_left_alone(small: SmallVault) -> None:
    """Five where six should lie; the other bin is not touched."""
    path = small.folder / "list.csv"
    path.write_text("model,quantity,bin\nGEN-50-1050,5,A1\nGEN-25-800,,A2\n", encoding="utf-8")
    moved, left = move_listed(small.desk("S01"), path, act=Act.COUNT, store="MAIN", said=Said(reason="yearly"))
    assert (moved.pieces, left) == ({"GEN-50-1050": 5}, 1)
    assert [note for note in moved.notes if "-1, signed with its reason" in note] == list(moved.notes)


def test_bins_go_to_a_van_and_pieces_to_the_waste(small: SmallVault) -> None:
    """Each in one statement, all of it or none."""
    moved = _move(small, "model,quantity,bin\nGEN-50-1050,2,A1\nGEN-25-800,1,A2\n", Act.TRANSFER, to_store="VAN-1")
    assert moved.pieces == {"GEN-50-1050": 4, "GEN-25-800": 3}
    before = small.sizes()
    with pytest.raises(GearkeepError, match="99 were asked for"):
        _move(small, "model,quantity,bin\nGEN-50-1050,1,A1\nGEN-25-800,99,A2\n", Act.SCRAP)
    assert small.sizes() == before


def test_what_comes_back_needs_a_reset(small: SmallVault) -> None:
    """Unless its row says that somebody checked it."""
    moved = _move(small, "model,quantity,bin,condition\nGEN-50-1050,2,A1,\nGEN-25-800,1,A2,good\n", Act.RETURN)
    assert moved.needs_reset == {"GEN-50-1050": 2, "GEN-25-800": 0}
    assert moved.pieces == {"GEN-50-1050": 6, "GEN-25-800": 5}


@pytest.mark.parametrize(("text", "says"), [
    ("model,quantity,bin,supplier\nGEN-50-1050,5,A1,TRADE\n", "agreed about GEN-50-1050"),
    ("model,quantity,bin,serial\nGEN-50-1050,1,A1,X1\n", "a count is of a bin and names no piece"),
    ("model,quantity,bin,made\nGEN-50-1050,1,A1,2030-02-01\nGEN-50-1050,1,A1,\n", "a row without a day made beside"),
    ("model,quantity,bin\nGEN-50-1050,,A1\n", "No row of list.csv has a quantity"),
    ("model,quantity,bin\nGEN-50-105,2,A1\n", "GEN-50-1050"),
])
def test_what_a_count_cannot_mean_is_refused(small: SmallVault, text: str, says: str) -> None:
    """Everything or nothing: no statement is signed."""
    before = small.sizes()
    with pytest.raises(GearkeepError) as caught:
        _move(small, text, Act.COUNT)
    assert says in caught.value.what and small.sizes() == before
