"""Heads of many luminaires in few questions: by line, by central circuit, by drawing reference, by tag."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Iterator, Sequence
from itertools import islice
from typing import Any, TypeVar

from sqlalchemy import ARRAY, ColumnElement, Connection, Select, Text, any_, cast, func, or_, select

from vault.db import tables
from vault.db.newest import IS_HEAD
from vault.db.queries import RecordRow
from vault.db.session import Session
from vault.db.tables import MAIN

T = TypeVar("T")

LOT = 500  # values asked for in one query

_R, _J = tables.record.c, tables.journal.c
_COLUMNS = tuple(_R[name] for name in RecordRow.__slots__)


def lots(values: Iterable[T], size: int = LOT) -> Iterator[list[T]]:
    """The values in order, so many at a time."""
    left = iter(values)
    while lot := list(islice(left, size)):
        yield lot


def among(connection: Connection, column: ColumnElement[str], values: Iterable[str]) -> ColumnElement[bool]:
    """Whether a text column holds one of many values, which go to the database as one: a parameter each costs more than
    looking the value up.
    """
    if connection.dialect.name == "sqlite":
        listed = func.json_each(json.dumps(list(values))).table_valued("value")
        return column.in_(select(listed.c.value))
    return column == any_(cast(list(values), ARRAY(Text)))


def _rows(session: Session, query: Select[Any]) -> list[RecordRow]:
    return [RecordRow(**row._mapping) for row in session.connection.execute(query)]


def names(connection: Connection, signed: ColumnElement[bytes], text: str) -> ColumnElement[bool]:
    """Whether signed bytes hold a text as CBOR writes it (RFC 8949 3.1: a head, then UTF-8)."""
    name = text.encode()
    written = (bytes([0x60 + len(name)]) if len(name) < 24 else bytes([0x78, len(name)])) + name
    find: Callable[..., Any] = func.instr if connection.dialect.name == "sqlite" else func.pg_catalog.position
    return find(signed, written) > 0  # type: ignore[no-any-return]


def heads_near(session: Session, *, lines: Sequence[str], central_circuits: Sequence[str]) -> list[RecordRow]:
    """Heads on one of the lines, and those that name one of the circuits anywhere, in the order of the journal.

    A channel may bear a central address of its own, which no index table holds: for circuits the signed bytes are looked
    through, so that none is missed.
    """
    found: dict[int, RecordRow] = {}
    for some in lots(lines):
        query = select(*_COLUMNS).where(among(session.connection, _R.line, some), IS_HEAD)
        found |= {row.seq: row for row in _rows(session, query)}
    for some in lots(central_circuits, 50):
        query = select(*_COLUMNS).join(tables.journal, (_J.log == MAIN) & (_J.seq == _R.seq)).where(
            or_(*(names(session.connection, _J.signed, name) for name in some)), IS_HEAD)
        found |= {row.seq: row for row in _rows(session, query)}
    return [found[seq] for seq in sorted(found)]


def tags_of_references(session: Session, references: Iterable[str]) -> dict[str, list[str]]:
    """Reference -> tags whose head bears it, for those that any head bears."""
    found: dict[str, list[str]] = {}
    if session.connection.execute(select(_R.seq).where(_R.reference.is_not(None)).limit(1)).first() is None:
        return found
    for some in lots(references):
        query = select(_R.reference, _R.tag).where(among(session.connection, _R.reference, some), IS_HEAD).order_by(_R.seq)
        for reference, tag in session.connection.execute(query):
            known = found.setdefault(reference, [])
            if tag not in known:
                known.append(tag)
    return found


def versions_of_tags(session: Session, tags: Iterable[str]) -> dict[str, list[tuple[RecordRow, bool]]]:
    """Tag -> every version of it, oldest first, each with whether it is a head."""
    found: dict[str, list[tuple[RecordRow, bool]]] = {}
    for some in lots(tags):
        query = select(*_COLUMNS, IS_HEAD.label("is_head")).where(among(session.connection, _R.tag, some)).order_by(
            _R.tag, _R.version, _R.seq)
        for row in session.connection.execute(query):
            values = dict(row._mapping)
            head = bool(values.pop("is_head"))
            found.setdefault(row.tag, []).append((RecordRow(**values), head))
    return found


def issued(session: Session, tags: Iterable[str]) -> set[str]:
    """Those of the tags that the vault has issued."""
    found: set[str] = set()
    for some in lots(tags):
        query = select(_R.tag).where(among(session.connection, _R.tag, some))
        found.update(session.connection.execute(query).scalars())
    return found
