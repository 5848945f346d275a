"""What lies elsewhere than in the main store is told only where there is a main store, and no store was named."""

from __future__ import annotations

import pytest

from vault.spares.stock_state import Due, StockShelf, StockState
from vault.spares.stores import elsewhere, of_stores


def _state(shelves: dict[str, int], to: str | None = None) -> StockState:
    orders = () if to is None else (Due(due_day=9, order="P", model="A", store=to, pieces=2, supplier=None, ordered_day=0),)
    return StockState(shelves=tuple(StockShelf(store=store, model="A", bin="", good=good, needs_reset=0)
                                    for store, good in shelves.items()),
                      orders=orders, kept=(), shortfalls=(), terms={}, today_day=0, lots=(), counted={})


@pytest.mark.parametrize(("shelves", "to", "named", "found"), [
    ({"MAIN": 1, "VAN-1": 3}, None, (), (("VAN-1", 3),)), ({"MAIN": 1}, "VAN-1", (), (("VAN-1", 2),)),
    ({"MAIN": 0, "VAN-1": 3}, "MAIN", (), (("VAN-1", 3),)),
    ({"HQ": 5, "VAN-1": 3}, None, (), ()), ({"HQ": 5, "VAN-1": 3}, "VAN-1", (), ()), ({"MAIN": 0, "HQ": 5}, None, (), ()),
    ({"HQ": 5, "VAN-1": 3}, None, ("HQ", "VAN-1"), ()), ({"MAIN": 1, "VAN-1": 3}, None, ("MAIN", "VAN-1"), ()),
    ({"MAIN": 1, "VAN-1": 3}, None, ("VAN-1",), ()), ({"MAIN": 4}, None, (), ()),
])
def test_what_lies_elsewhere(shelves: dict[str, int], to: str | None, named: tuple[str, ...],
                             found: tuple[tuple[str, int], ...]) -> None:
    """Pieces there and coming, by store."""
    state = _state(shelves, to)
    assert elsewhere(of_stores(state, named) if named else state, "A", state.orders) == found
