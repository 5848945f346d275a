"""What the index says of movements and terms of stock, held against what is signed before anybody reads it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import fields
from typing import NamedTuple

from sqlalchemy import select

from vault.db import tables
from vault.db.session import Session
from vault.db.stock_held import each_held, hold_entries, hold_stock, hold_terms
from vault.domain.terms import Importance, Item, ItemTerms


class MovementRow(NamedTuple):
    """One line of a movement, in journal order. A tuple, since a store has a million of them."""

    seq: int
    act: int
    store: str
    model: str
    quantity: int
    bin: str | None
    serial: str | None
    tag: str | None
    time_s: int
    to_store: str | None
    to_bin: str | None
    condition: int | None
    made_day: int | None
    order_number: str | None
    delivery: str | None
    due_day: int | None
    supplier: str | None
    stream: int | None
    reason: str | None


_MOVEMENT = tuple(tables.movement.c[name] for name in MovementRow._fields)


def movements(session: Session, model: str | None = None) -> list[MovementRow]:
    """Movement lines, oldest first."""
    return list(each_movement(session, model))


def each_movement(session: Session, model: str | None = None, *, models: Iterable[str] | None = None) -> Iterator[MovementRow]:
    """Movement lines, oldest first: of one model, of some, or all. They come as they are read; walk them once.

    Raises VerificationError (bad-index) where the index says otherwise than what is signed.
    """
    m = tables.movement
    if model is None and models is None:
        for found in each_held(session):
            yield MovementRow(found[0], *found[2:])
        return
    wanted = [model] if model is not None else sorted(set(models or ()))
    hold_stock(session, wanted)
    query = select(*_MOVEMENT).where(m.c.model.in_(wanted)).order_by(m.c.seq, m.c.number)
    for row in session.connection.execute(query, execution_options={"yield_per": 2000}):
        yield MovementRow._make(row)


def delivered(session: Session, store: str, delivery: str) -> list[MovementRow]:
    """The lines of a store's receipts on one delivery note."""
    m = tables.movement.c
    query = select(*_MOVEMENT).where(m.delivery == delivery, m.store == store).order_by(m.seq, m.number)
    found = [MovementRow(*row) for row in session.connection.execute(query)]
    hold_entries(session, (row.seq for row in found))
    return found


def models_with_serials(session: Session, serials: Iterable[str]) -> set[str]:
    """Models under which any movement names one of the serial numbers."""
    m = tables.movement.c
    wanted, found = sorted(set(serials)), set[str]()
    for start in range(0, len(wanted), 500):
        found.update(session.connection.execute(
            select(m.model).where(m.serial.in_(wanted[start : start + 500])).distinct()).scalars())
    return found


def supply_terms(session: Session, models: Iterable[str] | None = None) -> dict[str, ItemTerms]:
    """Model -> the newest terms of each item that has any, by model. An empty line took them back."""
    t = tables.supply_terms
    models = None if models is None else sorted(set(models))
    if models is None:
        hold_terms(session)
    else:
        hold_stock(session, models)
    names = [one.name for one in fields(ItemTerms)]
    query = select(*(t.c[name] for name in names)).order_by(t.c.seq, t.c.number)
    if models is not None:
        query = query.where(t.c.model.in_(models))
    newest: dict[str, ItemTerms] = {}
    for row in session.connection.execute(query):
        said = dict(zip(names, row, strict=True))
        for name, kind in (("item", Item), ("importance", Importance)):
            said[name] = None if said[name] is None else kind(said[name])
        newest[said["model"]] = ItemTerms(**said)
    return {model: line for model, line in sorted(newest.items()) if line != ItemTerms(model=model)}


def stores(session: Session) -> list[str]:
    """Every store or van that a movement names, sorted."""
    m = tables.movement.c
    found = {*session.connection.execute(select(m.store).distinct()).scalars(),
             *session.connection.execute(select(m.to_store).where(m.to_store.is_not(None)).distinct()).scalars()}
    return sorted(found)
