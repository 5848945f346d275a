"""Luminaires in service that wait for somebody, from the index."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from sqlalchemy import select

from vault.db import tables
from vault.db.newest import IS_HEAD
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


def with_open_stops(session: Session) -> list[OpenStops]:
    """Newest versions of luminaires in service that name open stops, by their place in the journal."""
    query = select(_R.tag, _R.digest, _R.open_stops).where(
        _R.open_stops.is_not(None), _R.open_stops != "", _R.reason != int(Reason.RETIRED), IS_HEAD).order_by(_R.seq)
    return [OpenStops(tag, bytes(digest), frozenset(names.split())) for tag, digest, names in session.connection.execute(query)]


def approved_digests(session: Session) -> set[bytes]:
    """Digests of the versions that anybody approved."""
    return {bytes(one) for one in session.connection.execute(select(tables.approval.c.record_digest).distinct()).scalars()}


def in_service(session: Session, tags: Iterable[str]) -> dict[str, bool]:
    """Of each of some luminaires that are not retired, whether any of its gear has an emergency duty."""
    wanted, found = sorted(set(tags)), dict[str, bool]()
    for start in range(0, len(wanted), _LOT):
        query = (select(_R.tag, _G.duty).join(tables.gear, _G.seq == _R.seq)
                 .where(_R.tag.in_(wanted[start : start + _LOT]), _R.reason != int(Reason.RETIRED), IS_HEAD))
        for tag, duty in session.connection.execute(query):
            found[tag] = found.get(tag, False) or duty != int(Duty.GENERAL)
    return found


def swapped_whole(session: Session, tags: Iterable[str]) -> dict[tuple[str, str], int]:
    """(tag, model) -> POSIX seconds of the last swap by which the only gear of one of some luminaires became that model. Where
    there are several gears the index does not tell which was swapped; those are left out.
    """
    wanted, found = sorted(set(tags)), dict[tuple[str, str], int]()
    for start in range(0, len(wanted), _LOT):
        versions: dict[int, list[tuple[str, int, str | None]]] = {}
        query = (select(_R.seq, _R.tag, _R.time_s, _G.model).join(tables.gear, _G.seq == _R.seq)
                 .where(_R.tag.in_(wanted[start : start + _LOT]), _R.reason == int(Reason.DRIVER_SWAP)))
        for seq, tag, time_s, model in session.connection.execute(query):
            versions.setdefault(seq, []).append((tag, time_s, model))
        for gears in versions.values():
            tag, time_s, model = gears[0]
            if len(gears) == 1 and model is not None:
                found[tag, model] = max(time_s, found.get((tag, model), 0))
    return found
