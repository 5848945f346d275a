"""Gear in service grouped by what a spare has to meet; what the index says of a group is held against a signed record."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Select, func, select

from vault.db import tables
from vault.db.newest import IS_HEAD
from vault.db.queries import bad_index
from vault.db.session import Session
from vault.domain.record import Reason, Record
from vault.domain.settings import Gear
from vault.domain.tag import from_bytes, shown
from vault.trust.need_digest import need_digest

_R, _G = tables.record.c, tables.gear.c
_LOT = 500  # names in one question


@dataclass(frozen=True, slots=True)
class NeedGroup:
    """What the index groups by. need: digest of the settings without addresses (vault/trust/need_digest.py), 8 bytes."""

    type_code: str
    type_revision: int
    duty: int
    need: bytes
    line: str | None
    circuit: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Grouped:
    """A group with how many gear are in it, two of their luminaires and the entry of one."""

    group: NeedGroup
    pieces: int
    tags: tuple[str, ...]
    seq: int


GROUP_COLUMNS = (_R.type_code, _R.type_revision, _G.duty, _G.need, _R.line, _R.circuit)


def in_service(query: Select[Any]) -> Select[Any]:
    """A query of records, joined with their gear, of luminaires in service alone."""
    return query.join(tables.gear, _G.seq == _R.seq).where(IS_HEAD, _R.reason != int(Reason.RETIRED))


def _group(row: Sequence[Any]) -> NeedGroup:
    code, revision, duty, need, line, circuit = row
    if need is None:
        raise bad_index("it does not say what some gear needs, so it is older than this program")
    return NeedGroup(code, revision, duty, bytes(need), line, circuit)


def need_groups(session: Session, *, type_code: str | None = None, line: str | None = None) -> list[Grouped]:
    """Every group of gear in service, of one type or line where named. A luminaire with two heads is counted at both.

    Raises VerificationError (bad-index) where the index was made by an older program.
    """
    query = in_service(select(*GROUP_COLUMNS, func.count(), func.min(_R.tag), func.max(_R.tag), func.max(_R.seq))
                        .select_from(tables.record))
    for column, wanted in ((_R.type_code, type_code), (_R.line, line)):
        if wanted is not None:
            query = query.where(column == wanted)
    rows = session.connection.execute(query.group_by(*GROUP_COLUMNS))
    found = [Grouped(group=_group(row[:6]), pieces=row[6], tags=tuple(dict.fromkeys((row[7], row[8]))), seq=row[9])
             for row in rows]
    return sorted(found, key=lambda one: one.seq)


def groups_of(session: Session, tags: Iterable[str]) -> Iterator[tuple[str, tuple[int, int], NeedGroup]]:
    """(tag, (version, entry), group) of every gear in service of some luminaires."""
    wanted = sorted(set(tags))
    for start in range(0, len(wanted), _LOT):
        query = in_service(select(_R.tag, _R.version, _R.seq, *GROUP_COLUMNS).select_from(tables.record))
        for row in session.connection.execute(query.where(_R.tag.in_(wanted[start : start + _LOT])).order_by(_R.seq, _G.number)):
            yield row[0], (row[1], row[2]), _group(row[3:])


def luminaires_of(session: Session, groups: Iterable[NeedGroup]) -> dict[NeedGroup, list[str]]:
    """Tags by group, sorted; looked up by what they need."""
    wanted = set(groups)
    needs = sorted({group.need for group in wanted})
    found: dict[NeedGroup, list[str]] = {group: [] for group in wanted}
    for start in range(0, len(needs), _LOT):
        query = in_service(select(_R.tag, *GROUP_COLUMNS).select_from(tables.record))
        for row in session.connection.execute(query.where(_G.need.in_(needs[start : start + _LOT])).order_by(_R.tag)):
            group = _group(row[1:])
            if group in wanted:
                found[group].append(row[0])
    return found


def two_heads(session: Session) -> list[str]:
    """Luminaires with two newest versions or more."""
    query = select(_R.tag).where(IS_HEAD).group_by(_R.tag).having(func.count() > 1).order_by(_R.tag)
    return list(session.connection.execute(query).scalars())


def signed_by_suspects(session: Session) -> list[str]:
    """Luminaires with a version by a key that was in wrong hands; none where no withdrawal limits a key."""
    if not session.signers.any_doubt:
        return []
    query = select(_R.tag).where(_R.key_id.in_(session.signers.suspects())).distinct().order_by(_R.tag)
    return list(session.connection.execute(query).scalars())


def held_gear(session: Session, grouped: Grouped) -> tuple[Record, Gear]:
    """One record of a group and its gear, verified and held against the group. Raises VerificationError."""
    statement, group = session.statement(grouped.seq), grouped.group
    record = statement.body
    if not isinstance(record, Record):
        raise bad_index(f"it calls entry {grouped.seq} a record, and what is signed there is none")
    said = (record.fixture_type.code, record.fixture_type.revision, record.line, record.circuit)
    for gear in record.gears:
        if said == (group.type_code, group.type_revision, group.line, group.circuit) and int(gear.duty) == group.duty \
                and need_digest(gear.settings) == group.need:
            return record, gear
    raise bad_index(f"it says otherwise of {shown(from_bytes(record.tag))} than the signed record, entry {grouped.seq}")
