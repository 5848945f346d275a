"""Stock lists taken in: pieces as receipts on a delivery note, and what is agreed about each item."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from vault.actions.desk import Desk
from vault.actions.luminaire import driver_models
from vault.actions.stock import LINES_PER_STATEMENT, Moved, Said, move_stock
from vault.db import queries
from vault.db.session import Session
from vault.domain.stock import Act
from vault.domain.terms import Item, ItemTerms, SupplyTerms
from vault.errors import UsageProblem
from vault.exchange.stock_file import read_stock_file
from vault.trust.statements import Kind


@dataclass(frozen=True, slots=True, kw_only=True)
class Loaded:
    """What a stock list changed. moved: None where it named no pieces.

    note: the delivery note, as given or made of the lines. again: lines that stood on it already and added nothing.
    terms: items whose terms changed.
    """

    store: str
    note: str
    moved: Moved | None
    received: int
    again: int
    terms: tuple[str, ...]


def load_stock(desk: Desk, path: Path, *, store: str, order: str | None = None, delivery: str | None = None,
               supplier: str | None = None) -> Loaded:
    """Take in everything that a file says, or nothing. A line that came on the same delivery note before adds nothing; without
    a note a digest of the lines stands in for it, so that the same list is never received twice.

    Raises GearkeepError: delivery-differs where the note was received with another quantity, and what `move_stock` raises.
    """
    listed = read_stock_file(path)
    note = delivery or listed.note
    with desk.vault.writing() as session:
        changed = set_terms(session, desk, listed.terms)
        wanted = tuple(line for line in listed.lines if line.quantity)
        moved = move_stock(session, desk, act=Act.RECEIPT, store=store, lines=wanted,
                           said=Said(order=order, delivery=note, supplier=supplier)) if wanted else None
    again = moved.again if moved else 0
    return Loaded(store=store, note=note, moved=moved, received=len(wanted) - again, again=again, terms=changed)


def set_terms(session: Session, desk: Desk, said: Mapping[str, Mapping[str, Any]]) -> tuple[str, ...]:
    """Sign the terms of items as changed; those that stay the same add nothing. Returns the items whose terms changed.

    Raises UsageProblem (not-found) for what is neither a driver model nor called a battery or another item.
    """
    if not said:
        return ()
    held = queries.supply_terms(session, said)
    drivers = driver_models(session)
    lines = []
    for model, fields in said.items():
        before = held.get(model, ItemTerms(model=model))
        after = replace(before, **fields)
        if model not in drivers and after.item in (None, Item.DRIVER):
            raise UsageProblem(f"The vault does not know the driver model {model}.", kind="not-found",
                               hint="Load its data first with: gearkeep driver load FILE. What is no driver gets battery or "
                                    "other in the column item.")
        if model in drivers and after.item not in (None, Item.DRIVER):
            raise UsageProblem(f"{model} is a driver model of the catalogue, not a {after.item.name.lower()}.", kind="bad-value",
                               hint="Leave the column item blank, or give the item another name.")
        if after.price_cents is not None and after.currency is None:
            raise UsageProblem(f"The price of {model} has no currency.", kind="bad-value",
                               hint="Add a column currency, such as EUR.")
        if after != before:
            lines.append(after)
    for start in range(0, len(lines), LINES_PER_STATEMENT):
        body = SupplyTerms(time_s=desk.now_s(), main_size=session.size(), lines=tuple(lines[start : start + LINES_PER_STATEMENT]))
        session.append(Kind.SUPPLY_TERMS, body, desk.key())
    return tuple(line.model for line in lines)


def read_terms(desk: Desk, model: str | None = None) -> dict[str, ItemTerms]:
    """Model -> what is agreed about it, of one item or of all."""
    with desk.vault.reading() as session:
        return queries.supply_terms(session, None if model is None else [model])
