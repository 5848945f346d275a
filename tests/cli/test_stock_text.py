"""What the stock commands print of a state, whatever was moved."""

from __future__ import annotations

from dataclasses import replace

import pytest

from vault.cli.stock_text import as_json, lines, rows, terms_table
from vault.domain.terms import Importance, Item, ItemTerms
from vault.spares.stock_state import Due, Shortfall, StockShelf, StockState

DAY = 20_000
STATE = StockState(
    shelves=(StockShelf(store="MAIN", model="B1", bin="A1", good=4, needs_reset=0, too_old=3),), kept=(), today_day=DAY,
    orders=tuple(Due(due_day=DAY - late, order=f"PO-{late}", model="M1", store="MAIN", pieces=2, supplier=None,
                     ordered_day=DAY - 90) for late in (0, 1, 2)),
    shortfalls=tuple(Shortfall(store=store, bin="A1", model="M1", missing=2, day=DAY) for store in ("MAIN", "VAN-1")),
    terms={"B1": ItemTerms(model="B1", item=Item.BATTERY, shelf_life_months=1)}, lots=(("MAIN", "B1", "A1", DAY - 40, 3),),
    counted={("MAIN", "B1", "A1"): (DAY, None)})


@pytest.mark.parametrize(("store", "stores"), [(None, ["MAIN", "VAN-1"]), ("MAIN", ["MAIN"]), ("VAN-1", ["VAN-1"]),
                                               ("VAN-2", [])])
def test_a_store_tells_its_own_shortfalls(store: str | None, stores: list[str]) -> None:
    """On the screen as in JSON."""
    assert [one["store"] for one in as_json(STATE, store)["shortfalls"]] == stores
    told = [line for line in lines(STATE, store) if line.startswith("Short:")]
    assert [f"bin A1 of {name} held" in line for name, line in zip(stores, told, strict=True)] == [True] * len(stores)


@pytest.mark.parametrize("words", ["due 2024-10-02, 2 days late.", "due 2024-10-03, 1 day late.", "due 2024-10-04.",
                                   "Too old: 3 of B1 in bin A1 of MAIN, made 2024-08-25, shelf life 1 month."])
def test_one_is_spoken_of_as_one(words: str) -> None:
    """Days late and months of shelf life; 20,000 days since 1970 are 2024-10-04 (date -d @1728000000)."""
    assert any(line.endswith(words) for line in lines(STATE, "MAIN"))


def test_what_is_too_old_is_good_and_not_free() -> None:
    """The sums in JSON."""
    assert as_json(STATE, None)["sums"][0] == {"store": "MAIN", "model": "B1", "good": 4, "too_old": 3, "needs_reset": 0,
                                               "reserved": 0, "on_order": 0, "free": 1}


@pytest.mark.parametrize(("terms", "headings", "rows"), [
    ([ItemTerms(model="M1", supplier="Trade")], ["model", "supplier"], [["M1", "Trade"]]),
    ([ItemTerms(model="B1", item=Item.BATTERY, count_every_days=30, shelf_life_months=12), ItemTerms(model="M1", lead_days=0)],
     ["model", "item", "lead days", "count days", "shelf months"],
     [["B1", "battery", None, 30, 12], ["M1", None, 0, None, None]]),
    ([ItemTerms(model="M1", price_cents=2450, currency="EUR", importance=Importance.VITAL, last_order_day=31)],
     ["model", "price", "importance", "last order"], [["M1", "24.50 EUR", "vital", "1970-02-01"]]),
])
def test_terms_are_shown_in_the_columns_that_they_fill(terms: list[ItemTerms], headings: list[str],
                                                       rows: list[list[object]]) -> None:
    """How often it is counted and how long it keeps among them; nought is a figure."""
    assert terms_table(terms) == (headings, rows)


def _shelf(bin_name: str, good: int) -> StockShelf:
    return StockShelf(store="MAIN", model="M1", bin=bin_name, good=good, needs_reset=0)


@pytest.mark.parametrize(("shelves", "bins"), [
    ((_shelf("A1", 0), _shelf("A2", 3)), ["A2"]), ((_shelf("A1", 0), _shelf("A2", 0)), ["A1"]),
    ((_shelf("A1", 1), _shelf("A2", 3)), ["A1", "A2"]),
])
def test_bins_that_were_emptied_do_not_crowd_the_list(shelves: tuple[StockShelf, ...], bins: list[str]) -> None:
    """Of a model that lies nowhere one row stays, to be seen."""
    state = replace(STATE, shelves=shelves, orders=(), lots=())
    assert [row[2] for row in rows(state, "MAIN")] == bins
