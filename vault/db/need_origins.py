"""Which driver models the gear in service of a need group bears on record."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping

from sqlalchemy import func, select

from vault.db import tables
from vault.db.needs import GROUP_COLUMNS, NeedGroup, in_service
from vault.db.session import Session

_G = tables.gear.c


def origins_by_group(session: Session) -> Mapping[NeedGroup, Mapping[str | None, int]]:
    """Pieces by the model that their record names (None: it names none), by group. A luminaire with two heads counts at both."""
    query = in_service(select(*GROUP_COLUMNS, _G.model, func.count()).select_from(tables.record))
    query = query.where(_G.need.is_not(None)).group_by(*GROUP_COLUMNS, _G.model)
    found: dict[NeedGroup, dict[str | None, int]] = defaultdict(dict)
    for code, revision, duty, need, line, circuit, model, pieces in session.connection.execute(query):
        found[NeedGroup(code, revision, duty, bytes(need), line, circuit)][model] = pieces
    return found
