"""A stock list held against what the vault holds: names that it does not know, terms that cannot be."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any

from vault.domain.terms import Item, ItemTerms
from vault.exchange.plain import nearest
from vault.exchange.stock_cells import term_words

Place = tuple[int, int]  # table, row


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """What the vault holds of items: its driver models, and the terms of every item by name."""

    drivers: Collection[str]
    terms: Mapping[str, ItemTerms]


@dataclass(frozen=True, slots=True, kw_only=True)
class Wrong:
    """One complaint. says: "row 3, model: …"; kind: its failure class."""

    place: Place
    says: str
    kind: str = "bad-stock-list"


@dataclass(frozen=True, slots=True, kw_only=True)
class Named:
    """A model that a list names. place, where: its first row; terms: what its rows say; said_at: field -> "row 3".
    unclear: whether a cell that says what it is cannot be read.
    """

    model: str
    place: Place
    where: str
    terms: Mapping[str, Any]
    said_at: Mapping[str, str]
    unclear: bool


def against(known: Known, named: Named) -> Iterator[Wrong]:
    """What cannot be of one model."""
    model, after = named.model, replace(known.terms.get(named.model, ItemTerms(model=named.model)), **named.terms)
    is_driver, called = model in known.drivers, after.item not in (None, Item.DRIVER)
    if not is_driver and not called and not named.unclear:
        near = nearest(model, {*known.drivers, *known.terms})
        yield Wrong(place=named.place, kind="not-found", says=(
            f"{named.where}, model: the vault does not know {model}" + (f", {near}" if near else "")))
    if is_driver and called:
        yield _cannot(named, "item", "item", f"{model} is a driver model of the catalogue, not {_article(after.item)}; leave the "
                                             "cell blank, or give the item another name")
    if is_driver and named.terms.get("shelf_life_months") is not None:
        yield _cannot(named, "shelf_life_months", "shelf_life_months", (
            f"{model} is a driver, which has no shelf life; leave the cell blank, or write none"))
    if after.price_cents is not None and after.currency is None:
        yield _cannot(named, "price_cents", "price", f"the price of {model} has no currency; add a column currency, such as EUR")
    if after.replaced_by == model:
        yield _cannot(named, "replaced_by", "replaced_by", f"{model} cannot replace itself")


def _article(item: Item | None) -> str:
    return "another item" if item is Item.OTHER else f"a {term_words('item', item)}"


def _cannot(named: Named, field: str, column: str, says: str) -> Wrong:
    return Wrong(place=named.place, kind="bad-value", says=f"{named.said_at.get(field, named.where)}, {column}: {says}")
