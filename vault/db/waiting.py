"""Luminaires in service that wait for somebody, from the index."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from sqlalchemy import ColumnElement, exists, select

from vault.db import tables
from vault.db.session import Session
from vault.domain.record import Reason
from vault.domain.settings import Duty

_R, _G = tables.record.c, tables.gear.c
_LOT = 500


class OpenStops(NamedTuple):
    """A newest version that was signed with stops left open. names: as signed, before any approval."""

    tag: str
    digest: bytes
    names: frozenset[str]


def _is_newest() -> ColumnElement[bool]:
    p = tables.record_predecessor
    return ~exists().where(p.c.prefix == _R.prefix)


def with_open_stops(session: Session) -> list[OpenStops]:
    """Newest versions of luminaires in service that name open stops, by their place in the journal."""
    query = select(_R.tag, _R.digest, _R.open_stops).where(
        _R.open_stops.is_not(None), _R.open_stops != "", _R.reason != int(Reason.RETIRED), _is_newest()).order_by(_R.seq)
    return [OpenStops(tag, bytes(digest), frozenset(names.split())) for tag, digest, names in session.connection.execute(query)]


def approved_digests(session: Session) -> set[bytes]:
    """Digests of the versions that anybody approved."""
    return {bytes(one) for one in session.connection.execute(select(tables.approval.c.record_digest).distinct()).scalars()}


def in_service(session: Session, tags: Iterable[str]) -> dict[str, bool]:
    """Of each of some luminaires that are not retired, whether any of its gear has an emergency duty."""
    wanted, found = sorted(set(tags)), dict[str, bool]()
    for start in range(0, len(wanted), _LOT):
        query = (select(_R.tag, _G.duty).join(tables.gear, _G.seq == _R.seq)
                 .where(_R.tag.in_(wanted[start : start + _LOT]), _R.reason != int(Reason.RETIRED), _is_newest()))
        for tag, duty in session.connection.execute(query):
            found[tag] = found.get(tag, False) or duty != int(Duty.GENERAL)
    return found
