"""Several stores and vans: what lies where, and one of them as if there were no other."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import replace

from vault.errors import UsageProblem
from vault.spares.stock_state import Due, StockState

DEFAULT_STORE = "MAIN"  # what the stock commands take where none is named


def names_of(stock: StockState) -> set[str]:
    """Stores that anything lies in, is coming to, or is kept in."""
    return {*(shelf.store for shelf in stock.shelves), *(due.store for due in stock.orders), *(kept.store for kept in stock.kept)}


def of_stores(stock: StockState, names: Iterable[str]) -> StockState:
    """What these stores hold; the others count as if they did not exist. Raises UsageProblem (not-found) for an unknown one."""
    chosen = set(names)
    unknown = sorted(chosen - names_of(stock))
    if unknown:
        raise UsageProblem(f"No store of the name {unknown[0]} holds anything.", kind="not-found",
                           hint=f"There are: {', '.join(sorted(names_of(stock))) or 'none'}.")
    return replace(stock, of_named=True, shelves=tuple(one for one in stock.shelves if one.store in chosen),
                   orders=tuple(one for one in stock.orders if one.store in chosen),
                   kept=tuple(one for one in stock.kept if one.store in chosen),
                   shortfalls=tuple(one for one in stock.shortfalls if one.store in chosen),
                   lots=[lot for lot in stock.lots if lot[0] in chosen])


def elsewhere(stock: StockState, model: str, coming: Iterable[Due]) -> tuple[tuple[str, int], ...]:
    """Usable pieces of a model and those coming, by store other than the main one, by name. None where stores were named, for
    these count alike, nor where the main one holds nothing and nothing comes to it, for then it is none.
    """
    main = any(one.store == DEFAULT_STORE and (one.good or one.needs_reset) for one in stock.shelves)
    if stock.of_named or not (main or any(due.store == DEFAULT_STORE for due in stock.orders)):
        return ()
    found: Counter[str] = Counter()
    for shelf in stock.shelves:
        if shelf.model == model:
            found[shelf.store] += shelf.good - shelf.too_old
    for due in coming:
        found[due.store] += due.pieces
    return tuple((store, pieces) for store, pieces in sorted(found.items()) if pieces and store != DEFAULT_STORE)


def elsewhere_words(where: Sequence[tuple[str, int]]) -> str:
    """ "3 in VAN-1 and 1 in VAN-2"."""
    return " and ".join(f"{pieces} in {store}" for store, pieces in where)
