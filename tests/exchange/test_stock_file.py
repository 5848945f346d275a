"""Stock lists in CSV and in workbooks: pieces, and what is agreed about each item."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from vault.domain.stock import Condition, MovementLine
from vault.domain.terms import Importance, Item, ItemTerms
from vault.errors import GearkeepError
from vault.exchange.delivery_note import given_note
from vault.exchange.stock_cells import cents_of, day_of, day_words
from vault.exchange.stock_file import read_stock_file
from vault.exchange.stock_known import Known
from vault.exchange.table_out import Sheet, write_xlsx_table


@pytest.mark.parametrize(("text", "expected"), [
    ("model,quantity\nM1,3\n", [MovementLine(model="M1", quantity=3)]),
    ("Quantity;Model;Bin;Serial\n1;M1;A 1;S9\n\n0;M2;;\n",
     [MovementLine(model="M1", quantity=1, bin="A 1", serial="S9"), MovementLine(model="M2", quantity=0)]),
    ("model,quantity,condition,made\nM1,2,Needs reset,1970-01-11\n",
     [MovementLine(model="M1", quantity=2, condition=Condition.NEEDS_RESET, made_day=10)]),
    ("model,quantity,bin,supplier\nM1,3,A1,Trade\nM1,2,A2,Trade\nM2,,,Trade\n",
     [MovementLine(model="M1", quantity=3, bin="A1"), MovementLine(model="M1", quantity=2, bin="A2")]),
])
def test_a_stock_list_is_read(tmp_path: Path, text: str, expected: list[MovementLine]) -> None:
    """Columns may be blank, or missing altogether; a row without a quantity names no pieces."""
    path = tmp_path / "stock.csv"
    path.write_text(text)
    assert list(read_stock_file(path).lines) == expected


@pytest.mark.parametrize(("text", "expected"), [
    ("model,supplier,price,currency,lead days\nM1,Trade,24.5,eur,21\n",
     {"M1": {"supplier": "Trade", "price_cents": 2450, "currency": "EUR", "lead_days": 21}}),
    ("model;price\nM1;1240,05\nM2;7\n", {"M1": {"price_cents": 124005}, "M2": {"price_cents": 700}}),
    ("model,pack,importance,last_order,replaced_by\nM1,5,vital,1970-02-01,M2\n",
     {"M1": {"order_multiple": 5, "importance": Importance.VITAL, "last_order_day": 31, "replaced_by": "M2"}}),
    ("model,item,count_days,shelf_life_months\nB1,battery,30,12\n",
     {"B1": {"item": Item.BATTERY, "count_every_days": 30, "shelf_life_months": 12}}),
    ("model,supplier,lead_days\nM1,-,\n", {"M1": {"supplier": None}}),
    ("model,supplier,last_order,price\nM1,none,None,–\n",
     {"M1": {"supplier": None, "last_order_day": None, "price_cents": None}}),
    ("model,quantity\nM1,3\n", {}),
])
def test_terms_are_read(tmp_path: Path, text: str, expected: dict[str, dict[str, Any]]) -> None:
    """A blank says nothing; "none" or a dash takes a value away."""
    path = tmp_path / "terms.csv"
    path.write_text(text)
    assert read_stock_file(path).terms == expected


@pytest.mark.parametrize("ending", ["csv", "xlsx"])
def test_headings_may_stand_below_a_title(tmp_path: Path, ending: str) -> None:
    """In one of the first ten rows; complaints name the rows of the file, and wrong headings theirs."""
    title = [("Delivery note DN-71", "", ""), ("", "", ""), ("from", "NORTHYARD", "")]
    for name, rows in (("good", [("Model", "Quantity", "Bin"), ("M1", "3", "A1")]),
                       ("cell", [("model", "quantity"), ("M1", "x")]),
                       ("head", [("model", "quantty", "bin"), ("M1", "3", "A1")])):
        path = tmp_path / f"{name}.{ending}"
        if ending == "csv":
            path.write_text("\n".join(map(",".join, [*title, *rows])) + "\n")
        else:
            write_xlsx_table(path, [Sheet(name="Note", rows=[*title, *rows])])
    assert read_stock_file(tmp_path / f"good.{ending}").lines == (MovementLine(model="M1", quantity=3, bin="A1"),)
    with pytest.raises(GearkeepError, match="row 5, quantity: found 'x'"):
        read_stock_file(tmp_path / f"cell.{ending}")
    with pytest.raises(GearkeepError, match="row 4: 'quantty' is not a heading we know, did you mean") as refused:
        read_stock_file(tmp_path / f"head.{ending}")
    assert "Columns are model, quantity" in refused.value.hint


def test_a_file_that_is_no_stock_list_says_where_its_headings_stand(tmp_path: Path) -> None:
    """Below its title, by the row of the file."""
    (tmp_path / "a.csv").write_text("Guests of May\n\nname,room\nA,1\n")
    with pytest.raises(GearkeepError, match=r"not a stock list\. Its headings in row 3: name, room\. Needed: model"):
        read_stock_file(tmp_path / "a.csv")


@pytest.mark.parametrize(("note", "given"), [(None, None), ("2d53fa4d175134d1", None), ("DN-71", "DN-71"),
                                             ("2026112600000017", "2026112600000017")])
def test_a_note_made_of_lines_is_no_delivery_note(note: str | None, given: str | None) -> None:
    """Sixteen figures may be a supplier's; sixteen hexadecimal digits with a letter are made."""
    assert given_note(note) == given


def test_a_workbook_says_the_same_as_its_csv(tmp_path: Path) -> None:
    """The same rows give the same lines, the same terms and the same note; so do rows in another order."""
    rows = [("model", "quantity", "price", "currency"), ("M1", 3, "24.50", "EUR"), ("M2", 1, "7", "EUR")]
    write_xlsx_table(tmp_path / "stock.xlsx", [Sheet(name="Stock", rows=rows)])
    (tmp_path / "stock.csv").write_text("model,quantity,price,currency\nM2,1,7,EUR\nM1,3,24.50,EUR\n")
    book, text = read_stock_file(tmp_path / "stock.xlsx"), read_stock_file(tmp_path / "stock.csv")
    assert (set(book.lines), book.terms, book.note) == (set(text.lines), text.terms, text.note)


@pytest.mark.parametrize("other", [
    "model,quantity\nM1,4\n", "model,quantity,bin\nM1,3,A1\n", "model,quantity,made\nM1,3,2027-01-01\n"])
def test_another_list_has_another_note(tmp_path: Path, other: str) -> None:
    """Another figure, bin or day is another delivery."""
    (tmp_path / "a.csv").write_text("model,quantity\nM1,3\n")
    (tmp_path / "b.csv").write_text(other)
    assert read_stock_file(tmp_path / "a.csv").note != read_stock_file(tmp_path / "b.csv").note


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
    ("model,quantity,made\nM1,1,31.5.2027\n", ["row 2, made", "'31.5.2027'", "2027-05-31"]),
    ("model,quantity,condition\nM1,1,broken\n", ["row 2, condition", "'broken'", "good, needs-reset"]),
    ("model,price\nM1,about 20\nM2,1.234\n", ["row 2, price", "'about 20'", "24.50", "row 3, price"]),
    ("model,currency\nM1,euro\n", ["row 2, currency", "ISO 4217"]),
    ("model,lead_days\nM1,4000\n", ["row 2, lead_days", "0 to 3650"]),
    ("model,importance\nM1,high\n", ["row 2, importance", "vital, essential, desirable"]),
    ("model,supplier,bin\nM1,A,A1\n", ["row 2: M1 has a bin", "no column quantity"]),
    ("model,supplier,last_order\nM1,,\n", ["row 2: M1 stands alone", "write none"]),
    ("model,supplier,quantity\nM1,,\n", ["row 2: M1 stands alone", "give a quantity"]),
    ("model,quantity,supplier\nM1,1,Trade\nM2,1,Trade\nM1,2,Other\n", ["row 4", "supplier of M1", "Other", "row 2", "Trade"]),
])
def test_a_wrong_list_is_refused_whole(tmp_path: Path, text: str, words: list[str]) -> None:
    """Every wrong cell is told with its row, and nothing is read."""
    path = tmp_path / "stock.csv"
    path.write_text(text)
    with pytest.raises(GearkeepError) as refused:
        read_stock_file(path)
    assert refused.value.kind == "bad-stock-list"
    assert [word for word in words if word not in refused.value.what] == []


@pytest.mark.parametrize(("text", "kind", "told"), [
    ("model,quantity\nGEN-5O,1\n", "not-found", ["row 2, model: the vault does not know GEN-5O, did you mean GEN-50?"]),
    ("model,quantity\nGEN-50,many\nGEN-51,1\nNEW-1,\n", "bad-stock-list",
     ["row 2, quantity: found 'many'", "row 3, model: the vault does not know GEN-51", "row 4, quantity", "row 4, model"]),
    ("model,item\nGEN-50,battery\n", "bad-value", ["row 2, item: GEN-50 is a driver model"]),
    ("model,price,supplier\nGEN-50,7,\n", "bad-value", ["row 2, price: the price of GEN-50 has no currency"]),
    ("model,currency\nBATT,none\n", "bad-value", ["row 2, price: the price of BATT has no currency"]),
    ("model,replaced_by\nGEN-50,GEN-50\n", "bad-value", ["row 2, replaced_by: GEN-50 cannot replace itself"]),
    ("model,item,quantity\nNEW-1,batery,1\n", "bad-stock-list", ["row 2, item: found 'batery'"]),
])
def test_what_the_vault_does_not_know_is_told_with_the_rest(tmp_path: Path, text: str, kind: str, told: list[str]) -> None:
    """In the order of the rows, with what may have been meant, beside every wrong cell."""
    path = tmp_path / "stock.csv"
    path.write_text(text)
    known = Known(drivers=["GEN-50"], terms={"BATT": ItemTerms(model="BATT", item=Item.BATTERY, price_cents=100, currency="EUR")})
    with pytest.raises(GearkeepError) as refused:
        read_stock_file(path, known=known)
    assert refused.value.kind == kind
    places = [refused.value.what.find(one) for one in told]
    assert -1 not in places and places == sorted(places)


def test_a_list_with_much_wrong_tells_the_first(tmp_path: Path) -> None:
    """Eight complaints, each on a line of its own, and how many more there are."""
    path = tmp_path / "stock.csv"
    path.write_text("model,quantity\n" + "M1,many\n" * 40)
    with pytest.raises(GearkeepError) as refused:
        read_stock_file(path)
    first, *lines = refused.value.what.splitlines()
    assert first == "stock.csv cannot be taken, 40 things are wrong:" and len(lines) == 9
    assert lines[7].startswith("  row 9, quantity") and lines[8] == "  and 32 more"


def test_blank_cells_of_terms_are_remembered(tmp_path: Path) -> None:
    """Of rows that say terms and name no pieces, so that whoever meant to empty them can be told."""
    path = tmp_path / "terms.csv"
    path.write_text("model,quantity,supplier,last_order\nM1,,Trade,\nM2,3,Trade,\n")
    found = read_stock_file(path)
    assert (found.left, found.said_at["M1", "supplier"]) == ({"M1": ("last_order_day",)}, "row 2")


@pytest.mark.parametrize(("said", "cents"), [("24.50", 2450), ("24,5", 2450), ("7", 700), ("0.05", 5), ("1.234", None),
                                             ("-3", None), ("", None), ("12.", None)])
def test_prices(said: str, cents: int | None) -> None:
    """A point or a comma before the cents; three digits behind it are no price."""
    assert cents_of(said) == cents


@pytest.mark.parametrize(("said", "day"), [("1970-01-01", 0), ("2000-03-01", 11_017), ("2027-02-29", None), ("20270531", None),
                                           ("soon", None)])
def test_days(said: str, day: int | None) -> None:
    """Days since 1970-01-01 (2000-03-01 is day 11017: from memory)."""
    assert day_of(said) == day and (day is None or day_words(day) == said)
