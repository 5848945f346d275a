"""Stock lists in CSV."""

from __future__ import annotations

from pathlib import Path

import pytest

from vault.domain.stock import MovementLine
from vault.errors import GearkeepError
from vault.exchange.stock_file import read_stock


@pytest.mark.parametrize(("text", "expected"), [
    ("model,quantity\nM1,3\n", [MovementLine(model="M1", quantity=3)]),
    ("Quantity;Model;Bin;Serial\n1;M1;A 1;S9\n\n0;M2;;\n",
     [MovementLine(model="M1", quantity=1, bin="A 1", serial="S9"), MovementLine(model="M2", quantity=0)]),
])
def test_a_stock_list_is_read(tmp_path: Path, text: str, expected: list[MovementLine]) -> None:
    """Bin and serial may be blank, or missing altogether."""
    path = tmp_path / "stock.csv"
    path.write_text(text)
    assert read_stock(path) == expected


@pytest.mark.parametrize(("text", "words"), [
    ("model,quantity\nM1,three\nM2,1.5\n", ["row 2", "quantity", "'three'", "row 3", "'1.5'"]),
    ("model,quantity\nM1,-1\n", ["row 2", "quantity", "0 to 1000000"]),
    ("model,quantity\n,1\n", ["row 2", "model", "nothing"]),
    ("model,quantity\nM1,\n", ["row 2", "quantity", "nothing"]),
    ("model,quantity,bin\nM1,1,A\nM1,2,A\n", ["row 3", "row 2"]),
    ("model,quantity,serial\nM1,2,S\n", ["row 2", "quantity", "serial"]),
    ("model,quantity\nM1,1,2\n", ["row 2", "more cells"]),
    ("model,quantty\nM1,1\n", ["row 1", "did you mean quantity?", "missing"]),
    ("model,quantity,Model\n", ["row 1", "twice"]),
    ("model,quantity\n", ["no lines"]),
    (f"model,quantity\n{'M' * 25},1\n", ["row 2", "model", "1 to 24"]),
])
def test_a_wrong_list_is_refused_whole(tmp_path: Path, text: str, words: list[str]) -> None:
    """Every wrong cell is told with its row, and nothing is read."""
    path = tmp_path / "stock.csv"
    path.write_text(text)
    with pytest.raises(GearkeepError) as refused:
        read_stock(path)
    assert refused.value.kind == "bad-stock-list"
    assert [word for word in words if word not in refused.value.what] == []
