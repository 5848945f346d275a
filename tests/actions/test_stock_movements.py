"""The store: every act, what is refused, and that the movements alone make the figures."""

from __future__ import annotations

import csv

import pytest
from small_vault import DEMO, SmallVault

from vault.actions.stock import one_movement
from vault.actions.stock_load import load_stock
from vault.domain.stock import Act
from vault.errors import GearkeepError, VerificationError

SPARE = "GEN-50-1050"  # six in bin A1 of MAIN (demo/stock.csv)


def _move(small: SmallVault, act: Act, quantity: int, *, code: str = "S01", model: str = SPARE, store: str = "MAIN",
          bin_name: str | None = "A1") -> dict[str, int]:
    return one_movement(small.desk(code), act=act, store=store, model=model, quantity=quantity, bin_name=bin_name,
                        serial=None, reason="a reason").pieces


def test_the_loaded_file_is_what_lies_there(small: SmallVault) -> None:
    """Every line of the stock file, in its bin."""
    with (DEMO / "stock.csv").open(encoding="utf-8", newline="") as file:
        expected = sorted((row["model"], row["bin"], int(row["quantity"])) for row in csv.DictReader(file))
    assert sorted((s.model, s.bin, s.good) for s in small.shelves()) == expected


@pytest.mark.parametrize(
    ("act", "quantity", "left"),
    [(Act.RECEIPT, 4, 10), (Act.ISSUE, 1, 5), (Act.ISSUE, 6, 0), (Act.RETURN, 1, 6), (Act.COUNT, 2, 2), (Act.COUNT, 0, 0),
     (Act.COUNT, 9, 9), (Act.SCRAP, 2, 4)],
)
def test_what_each_act_leaves(small: SmallVault, act: Act, quantity: int, left: int) -> None:
    """A receipt adds, issue and scrap take, a count sets the figure; what came back may not be issued yet."""
    assert _move(small, act, quantity) == {SPARE: left}
    assert small.usable(SPARE) == left


@pytest.mark.parametrize(
    ("act", "quantity", "options", "kind"),
    [
        (Act.ISSUE, 7, {}, "stock-short"),
        (Act.SCRAP, 7, {}, "stock-short"),
        (Act.ISSUE, 1, {"bin_name": "A9"}, "stock-short"),
        (Act.ISSUE, 1, {"bin_name": None}, "stock-short"),
        (Act.ISSUE, 1, {"store": "VAN-2"}, "stock-short"),
        (Act.RECEIPT, 1, {"model": "NO-SUCH"}, "not-found"),
        (Act.RECEIPT, 0, {}, "bad-payload"),
        (Act.RECEIPT, 1, {"bin_name": "seventeen letters"}, "bad-payload"),
    ],
)
def test_what_is_refused_moves_nothing(
        small: SmallVault, act: Act, quantity: int, options: dict[str, str | None], kind: str) -> None:
    """Below nought, an unknown model, nothing at all, a bin name too long."""
    before = small.shelves()
    with pytest.raises(GearkeepError) as caught:
        _move(small, act, quantity, **options)  # type: ignore[arg-type]
    assert caught.value.kind == kind and small.shelves() == before


def test_after_a_count_the_acts_go_on_from_there(small_on: SmallVault) -> None:
    """Three were counted where six should lie; two more come and one goes, on each engine; what is refused moves nothing."""
    _move(small_on, Act.COUNT, 3)
    _move(small_on, Act.RECEIPT, 2)
    assert _move(small_on, Act.ISSUE, 1) == {SPARE: 4}
    with pytest.raises(GearkeepError):
        _move(small_on, Act.ISSUE, 7)
    assert small_on.usable(SPARE) == 4


@pytest.mark.parametrize("code", ["I01", "P01", "authority"])
def test_only_stores_and_technicians_move_stock(small: SmallVault, code: str) -> None:
    """Others are refused by their role."""
    with pytest.raises(VerificationError) as caught:
        _move(small, Act.RECEIPT, 1, code=code)
    assert caught.value.kind == "wrong-role"


def test_a_bad_stock_file_is_told_whole_and_moves_nothing(small: SmallVault) -> None:
    """Both wrong cells are named; the good line is not received either."""
    path = small.folder / "bad.csv"
    path.write_text("model,quantity,bin\nGEN-50-1050,many,A1\nGEN-25-800,-1,A2\nGEN-45-900,1,A3\n", encoding="utf-8")
    before = small.shelves()
    with pytest.raises(GearkeepError) as caught:
        load_stock(small.desk("S01"), path, store="MAIN")
    assert "row 2" in caught.value.what and "row 3" in caught.value.what and small.shelves() == before


def test_a_file_with_one_unknown_model_moves_nothing(small: SmallVault) -> None:
    """All lines or none."""
    path = small.folder / "half.csv"
    path.write_text("model,quantity\nGEN-50-1050,1\nNO-SUCH,1\n", encoding="utf-8")
    before = small.shelves()
    with pytest.raises(GearkeepError) as caught:
        load_stock(small.desk("S01"), path, store="MAIN")
    assert caught.value.kind == "not-found" and small.shelves() == before
