"""Which driver models the gear in service of a need group bears on record."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping

from sqlalchemy import exists, func, select

from vault.db import tables
from vault.db.needs import NeedGroup
from vault.db.session import Session
from vault.domain.record import Reason

_R, _G, _P = tables.record.c, tables.gear.c, tables.record_predecessor.c


def origins_by_group(session: Session) -> Mapping[NeedGroup, Mapping[str | None, int]]:
    """Pieces by the model that their record names (None: it names none), by group. A luminaire with two heads counts at both."""
    columns = (_R.type_code, _R.type_revision, _G.duty, _G.need, _R.line, _R.circuit)
    query = (select(*columns, _G.model, func.count()).select_from(tables.record).join(tables.gear, _G.seq == _R.seq)
             .where(~exists().where(_P.prefix == _R.prefix), _R.reason != int(Reason.RETIRED), _G.need.is_not(None))
             .group_by(*columns, _G.model))
    found: dict[NeedGroup, dict[str | None, int]] = defaultdict(dict)
    for code, revision, duty, need, line, circuit, model, pieces in session.connection.execute(query):
        found[NeedGroup(code, revision, duty, bytes(need), line, circuit)][model] = pieces
    return found
