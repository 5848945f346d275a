"""Time in service and swaps, from the journal's index.

A gear is in service from its version's time to that of the luminaire's next version; a swap or a retirement ends its life.
Times are what signers said. A version dated before the one that it follows adds no time.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import ColumnElement, case, func, literal, null, select

from vault.db import tables
from vault.db.engine import blob
from vault.db.session import Session
from vault.domain.record import Reason, Record
from vault.domain.settings import Duty, Emergency

_R, _G, _P = tables.record.c, tables.gear.c, tables.record_predecessor.c
# A place in the journal and a gear's number (1 to 4) in one integer.
_GEARS = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """From one POSIX second to before another."""

    start_s: int
    end_s: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Served:
    """Gear that served alike. seconds: in service, in each of the spans asked for. pieces: of them in service now.

    need: digest of an emergency gear's settings. place, number: one such gear, by its version's place in the journal and its
    number in it, from 1.
    """

    model: str | None
    type_code: str
    circuit: str | None
    line: str | None
    duty: Duty
    need: bytes | None
    place: int
    number: int
    pieces: int
    seconds: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Swap:
    """One gear that was replaced: where the version of the swap stands, when, and what was taken out.

    number: the gear's place in its luminaire, from 1; None where the record does not tell which of them it was.
    """

    place: int
    before: int
    tag: str
    version: int
    time_s: int
    number: int | None
    model: str | None
    serial: str | None
    type_code: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Swaps:
    """Swaps in the order of the journal. without_past: versions of a swap that follow nothing in this vault."""

    swaps: tuple[Swap, ...]
    without_past: int


def _overlap(start: ColumnElement[int], end: ColumnElement[int], span: Span) -> ColumnElement[int]:
    first = case((start < span.start_s, literal(span.start_s)), else_=start)
    last = case((end > span.end_s, literal(span.end_s)), else_=end)
    return func.sum(case((last > first, last - first), else_=0))


def served(session: Session, spans: Sequence[Span], *, now_s: int, by_line: bool = False) -> list[Served]:
    """Gear by model, type, circuit, duty, settings where it has an emergency duty, and line where asked for."""
    following = func.lead(_R.time_s).over(partition_by=_R.tag, order_by=_R.seq)
    v = select(_R.seq, _R.type_code, _R.circuit, _R.line, _R.reason, _R.time_s, following.label("next_s")).subquery().c
    need = case((_G.duty == int(Duty.GENERAL), null()), else_=_G.need)
    g = (select(_G.model, v.type_code, v.circuit, (v.line if by_line else null()).label("line"), _G.duty, need.label("need"),
                (_G.seq * _GEARS + _G.number).label("example"), v.time_s, v.next_s)
         .join(tables.gear, _G.seq == v.seq).where(v.reason != int(Reason.RETIRED)).subquery().c)
    keys = (g.model, g.type_code, g.circuit, g.line, g.duty, g.need)
    end = func.coalesce(g.next_s, now_s)
    query = select(*keys, func.min(g.example), func.sum(case((g.next_s.is_(None), 1), else_=0)),
                   *(_overlap(g.time_s, end, span) for span in spans)).group_by(*keys)
    return [Served(model=model, type_code=type_code, circuit=circuit, line=line, duty=Duty(duty),
                   need=None if settings is None else blob(settings), place=example // _GEARS, number=example % _GEARS,
                   pieces=int(pieces), seconds=tuple(int(one) for one in seconds))
            for model, type_code, circuit, line, duty, settings, example, pieces, *seconds in session.connection.execute(query)]


def first_s(session: Session) -> int:
    """The earliest time that any version bears; 0 in a vault without luminaires."""
    return int(session.connection.execute(select(func.min(_R.time_s))).scalar_one() or 0)


def emergency_of(session: Session, one: Served) -> Emergency | None:
    """The emergency settings of such gear, read from what is signed. Raises VerificationError."""
    record = session.statement(one.place).body
    assert isinstance(record, Record)  # the index of gear is of records alone
    return record.gears[one.number - 1].settings.emergency


def swaps(session: Session) -> Swaps:
    """Every gear that a driver swap replaced. Two swaps side by side of one version are one swap."""
    old, before, new = tables.gear.alias().c, tables.record.alias(), tables.gear.alias().c
    is_swap = _R.reason == int(Reason.DRIVER_SWAP)
    query = (
        select(_R.seq, before.c.seq, _R.tag, _R.version, _R.time_s, before.c.type_code, old.number, old.model, old.serial,
               new.model, new.serial)
        .join(tables.record_predecessor, (_P.seq == _R.seq) & (_P.number == 1)).join(before, before.c.prefix == _P.prefix)
        .join(old.seq.table, old.seq == before.c.seq).join(new.seq.table, (new.seq == _R.seq) & (new.number == old.number))
        .where(is_swap).order_by(_R.seq, old.number))
    by_place: dict[int, list[Any]] = {}
    for row in session.connection.execute(query):
        by_place.setdefault(row[0], []).append(row)
    all_swaps = session.connection.execute(select(func.count()).select_from(tables.record).where(is_swap)).scalar_one()
    found: dict[tuple[str, int, int | None], Swap] = {}
    for rows in by_place.values():
        for one in _replaced(session, rows):
            found.setdefault((one.tag, one.version, one.number), one)
    return Swaps(swaps=tuple(found.values()), without_past=int(all_swaps) - len(by_place))


def _replaced(session: Session, rows: Sequence[Any]) -> list[Swap]:
    """The gear that one swap replaced: another model or serial number, or the only one, or what the signed bytes tell."""
    changed = [row for row in rows if row[7:9] != row[9:11]] or (list(rows) if len(rows) == 1 else [])
    if not changed:
        now, then = (session.statement(place).body for place in rows[0][:2])
        changed = [row for row in rows if now.gears[row[6] - 1] != then.gears[row[6] - 1]]
    told = bool(changed)
    return [Swap(place=place, before=before, tag=tag, version=version, time_s=time_s, type_code=type_code,
                 number=number if told else None, model=model if told else None, serial=serial if told else None)
            for place, before, tag, version, time_s, type_code, number, model, serial, _, _ in (changed or rows[:1])]
