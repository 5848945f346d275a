"""The bins, delivery notes and orders that movements of stock name."""

from __future__ import annotations

from sqlalchemy import func, select, union

from vault.db import tables
from vault.db.session import Session
from vault.domain.stock import Act


def bins_of(session: Session, store: str) -> list[str]:
    """Every bin of a store that a movement names, sorted."""
    m = tables.movement.c
    both = union(select(m.bin.label("bin")).where(m.store == store, m.bin.is_not(None)),
                 select(func.coalesce(m.to_bin, m.bin)).where(m.to_store == store, func.coalesce(m.to_bin, m.bin).is_not(None)))
    return sorted(session.connection.execute(both).scalars())


def delivery_notes(session: Session) -> list[str]:
    """Every delivery note that a receipt names, sorted."""
    m = tables.movement.c
    return sorted(session.connection.execute(select(m.delivery).where(m.delivery.is_not(None)).distinct()).scalars())


def order_numbers(session: Session) -> list[str]:
    """The number of every order that was placed, sorted."""
    m = tables.movement.c
    return sorted(session.connection.execute(
        select(m.order_number).where(m.order_number.is_not(None), m.act == int(Act.ORDER)).distinct()).scalars())
