"""What the stock commands print."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from vault.domain.schema import flatten, words
from vault.domain.tag import shown
from vault.domain.terms import ItemTerms
from vault.exchange.stock_cells import counted_days, counted_months, day_words
from vault.spares.stock_state import StockState

_TERMS_HEADINGS = ("model", "item", "supplier", "price", "lead days", "pack", "importance", "last order", "replaced by",
                   "count days", "shelf months")


def _pairs(state: StockState, store: str | None) -> list[tuple[str, str]]:
    held = {(one.store, one.model) for one in state.shelves} | {(one.store, one.model) for one in state.orders}
    held |= {(one.store, one.model) for one in state.kept}
    return sorted(pair for pair in held if store in (None, pair[0]))


def state_holds(state: StockState, store: str | None) -> bool:
    """Whether the list has a row."""
    return bool(_pairs(state, store))


def nothing_words(state: StockState, model: str | None, store: str | None) -> str:
    """Why the list has no row."""
    stores = sorted({name for name, _ in _pairs(state, None)})
    if not stores:
        return f"No store holds {model}, and none is on order." if model else \
            "The store is empty. Load a list: gearkeep stock load FILE."
    return f"{store} holds no {model or 'piece'}, and none is on order for it. " + (
        f"Stores that do: {', '.join(stores)}.")


def rows(state: StockState, store: str | None) -> list[tuple[Any, ...]]:
    """A row for each bin that holds something, or one of a model that lies nowhere; what is reserved, on order and free stands
    once for each store and model, on its first row.
    """
    found = []
    for name, model in _pairs(state, store):
        sums = (state.reserved(model, name), sum(due.pieces for due in state.on_order(model, name)), state.free(model, name))
        shelves = [one for one in state.shelves if (one.store, one.model) == (name, model)]
        filled = [one for one in shelves if one.good or one.needs_reset] or shelves[:1]
        bins = [(one.bin, one.good, one.needs_reset) for one in filled] or [("", 0, 0)]
        for number, one in enumerate(bins):
            found.append((name, model, *one, *(sums if number == 0 else ("", "", ""))))
    return found


def lines(state: StockState, store: str | None) -> Iterator[str]:
    """Orders with their days, what is kept for whom, counts that are due, batteries that are too old, shortfalls."""
    for due in state.orders:
        if store in (None, due.store):
            late = f", {counted_days(state.today_day - due.due_day)} late" if due.due_day < state.today_day else ""
            yield f"On order: {due.pieces} of {due.model} for {due.store}, order {due.order}, due {day_words(due.due_day)}{late}."
    for kept in state.kept:
        if store in (None, kept.store):
            yield f"Reserved: {kept.pieces} of {kept.model} in {kept.store} for {shown(kept.tag)}."
    for name, model in _pairs(state, store):
        if state.free(model, name) < 0:
            yield (f"Too few: {name} keeps {state.reserved(model, name)} of {model} for planned swaps and holds "
                   f"{state.usable(model, name)} that may be issued.")
    for one in state.counts_due():
        if store in (None, one.store):
            yield (f"Count due since {day_words(one.due_day)}: {one.model} in {f'bin {one.bin} of ' if one.bin else ''}"
                   f"{one.store}.")
    for lot in state.batteries():
        if lot.too_old and store in (None, lot.store):
            yield (f"Too old: {lot.pieces} of {lot.model} in {f'bin {lot.bin} of ' if lot.bin else ''}{lot.store}, made "
                   f"{day_words(lot.made_day or 0)}, shelf life {counted_months(lot.shelf_life_months or 0)}.")
    for short in state.shortfalls:
        if store in (None, short.store):
            yield (f"Short: on {day_words(short.day)} a movement took {short.missing} more of {short.model} than "
                   f"{f'bin {short.bin} of ' if short.bin else ''}{short.store} held. Count it.")


def as_json(state: StockState, store: str | None) -> dict[str, Any]:
    """Everything that the list shows."""
    mine = [one for one in state.shelves if store in (None, one.store)]
    return {
        "shelves": [{"store": one.store, "model": one.model, "bin": one.bin, "pieces": one.good, "needs_reset": one.needs_reset,
                     "serials": list(one.serials)} for one in mine],
        "sums": [{"store": name, "model": model, "good": state.usable(model, name) + state.too_old(model, name),
                  "too_old": state.too_old(model, name), "needs_reset": state.needs_reset(model, name),
                  "reserved": state.reserved(model, name), "on_order": sum(due.pieces for due in state.on_order(model, name)),
                  "free": state.free(model, name)} for name, model in _pairs(state, store)],
        "on_order": [{"store": due.store, "model": due.model, "order": due.order, "pieces": due.pieces,
                      "due": day_words(due.due_day), "supplier": due.supplier, "late": due.due_day < state.today_day}
                     for due in state.orders if store in (None, due.store)],
        "reserved": [{"store": one.store, "model": one.model, "tag": one.tag, "pieces": one.pieces,
                      "since": day_words(one.since_day)}
                     for one in state.kept if store in (None, one.store)],
        "counts_due": [{"store": one.store, "model": one.model, "bin": one.bin, "pieces": one.pieces,
                        "due": day_words(one.due_day), "last": None if one.last_day is None else day_words(one.last_day)}
                       for one in state.counts_due() if store in (None, one.store)],
        "batteries": [{"store": lot.store, "model": lot.model, "bin": lot.bin, "pieces": lot.pieces, "age_days": lot.age_days,
                       "made": None if lot.made_day is None else day_words(lot.made_day),
                       "shelf_life_months": lot.shelf_life_months, "too_old": lot.too_old}
                      for lot in state.batteries() if store in (None, lot.store)],
        "shortfalls": [{"store": one.store, "model": one.model, "bin": one.bin, "missing": one.missing, "day": day_words(one.day)}
                       for one in state.shortfalls if store in (None, one.store)],
    }


def price_words(cents: int | None, currency: str | None) -> str:
    """24.50 EUR."""
    return "" if cents is None else f"{cents // 100}.{cents % 100:02d} {currency or ''}".strip()


def terms_table(found: Iterable[ItemTerms]) -> tuple[list[str], list[list[Any]]]:
    """Headings and rows of the terms of some items; a column that none of them fills is left out."""
    rows = [_terms_row(one) for one in found]
    filled = [number for number in range(len(_TERMS_HEADINGS)) if any(row[number] is not None for row in rows)]
    return [_TERMS_HEADINGS[number] for number in filled], [[row[number] for number in filled] for row in rows]


def _terms_row(one: ItemTerms) -> tuple[Any, ...]:
    return (one.model, None if one.item is None else words(one.item), one.supplier,
            None if one.price_cents is None else price_words(one.price_cents, one.currency), one.lead_days, one.order_multiple,
            None if one.importance is None else words(one.importance),
            None if one.last_order_day is None else day_words(one.last_order_day), one.replaced_by, one.count_every_days,
            one.shelf_life_months)


def terms_json(one: ItemTerms) -> dict[str, Any]:
    """The terms of one item, days written as dates."""
    said = flatten(one)
    day = said.pop("last_order_day", None)
    return {**said, **({"last_order": day_words(day)} if day is not None else {})}
