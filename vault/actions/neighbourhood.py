"""What hangs beside a luminaire: on its line by address, and near it by the names of places."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from vault.actions.handover_addresses import address_uses
from vault.actions.luminaire import View
from vault.db import finding, queries
from vault.db.queries import RecordRow
from vault.db.session import Session
from vault.domain.places import Nearness, nearness, nearness_words
from vault.domain.record import Reason, Record
from vault.domain.site import Line

_PLACES = 12  # names of places that are looked at, the nearest


@dataclass(frozen=True, slots=True, kw_only=True)
class Neighbour:
    """One luminaire beside another, verified. apart: how it lies to it, in words."""

    row: RecordRow
    record: Record
    apart: str


def neighbours(session: Session, seen: View, lines: Mapping[str, Line]) -> list[Neighbour]:
    """Those on the same line, the next addresses first, then those whose places have names near its own; none that is retired.

    Raises VerificationError where one does not verify.
    """
    found = {one.row.tag: one for one in _on_line(session, seen, lines)}
    for one in _by_place(session, seen):
        known = found.get(one.row.tag)
        found[one.row.tag] = one if known is None else replace(known, apart=f"{known.apart}; {one.apart}")
    return list(found.values())


def _others(session: Session, seen: View, rows: Sequence[RecordRow]) -> list[tuple[RecordRow, Record]]:
    there: dict[str, tuple[RecordRow, Record]] = {}
    for row in rows:
        if row.tag != seen.tag and row.reason != Reason.RETIRED:
            there[row.tag] = row, queries.record_at(session, row).body
    return list(there.values())


def _first_short(record: Record) -> int | None:
    return min((use.short_address for use in address_uses("", record.line, record.gears) if use.short_address is not None),
               default=None)


def _on_line(session: Session, seen: View, lines: Mapping[str, Line]) -> list[Neighbour]:
    """By address; those of the line that bear none come last."""
    name, own = seen.record.line, _first_short(seen.record)
    if name is None:
        return []
    first = lines[name].addresses_from if name in lines else 0
    there = _others(session, seen, queries.head_rows(session, line=name))
    addressed = sorted(((address, row.tag, row, record) for row, record in there
                        if (address := _first_short(record)) is not None), key=lambda one: one[:2])
    below = [one for one in reversed(addressed) if own is not None and one[0] < own]
    above = [one for one in addressed if own is not None and one[0] >= own]
    ranked = [(step, way, one) for way, side in (("below", below), ("above", above)) for step, one in enumerate(side, 1)]
    ranked.sort(key=lambda one: one[:2])
    made = [Neighbour(row=row, record=record, apart=_line_words(name, address + first, step, way))
            for step, way, (address, _, row, record) in ranked]
    seated = {one.row.tag for one in made}
    return made + [Neighbour(row=row, record=record, apart=f"on line {name}") for row, record in there if row.tag not in seated]


def _line_words(name: str, address: int, step: int, way: str) -> str:
    said = f"the next address {way}" if step == 1 else f"{step} addresses {way}"
    return f"{said} on line {name}, address {address}"


def _by_place(session: Session, seen: View) -> list[Neighbour]:
    place = seen.record.place
    near: dict[str, Nearness] = {}
    for other in finding.places(session):
        lies = nearness(place, other)
        if lies is not None:
            near[other] = lies
    named = sorted(near, key=lambda other: (near[other], other))[:_PLACES]
    there = _others(session, seen, finding.heads_at(session, named))
    there.sort(key=lambda one: (near[one[0].place], one[0].place, one[0].tag))
    return [Neighbour(row=row, record=record, apart=nearness_words(near[row.place])) for row, record in there]
