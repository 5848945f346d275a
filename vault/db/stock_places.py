"""The bins that movements of stock name."""

from __future__ import annotations

from sqlalchemy import func, select, union

from vault.db import tables
from vault.db.session import Session


def bins_of(session: Session, store: str) -> list[str]:
    """Every bin of a store that a movement names, sorted."""
    m = tables.movement.c
    both = union(select(m.bin.label("bin")).where(m.store == store, m.bin.is_not(None)),
                 select(func.coalesce(m.to_bin, m.bin)).where(m.to_store == store, func.coalesce(m.to_bin, m.bin).is_not(None)))
    return sorted(session.connection.execute(both).scalars())
