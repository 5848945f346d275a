"""One batch of the main journal, checked in a process of its own: signatures, rules, index rows, tree hashes."""

from __future__ import annotations

import threading
from dataclasses import dataclass, field
from operator import itemgetter
from typing import Any

from sqlalchemy import Connection, Engine, Table

from vault.db.address import Address
from vault.db.engine import make_engine
from vault.db.plain_errors import plain_errors
from vault.db.projections import rows_of
from vault.db.session import Session
from vault.db.table_past import TablePast
from vault.db.tables import MAIN, PROJECTIONS
from vault.db.trusted import Trusted
from vault.domain.record import Record
from vault.errors import GearkeepError
from vault.trust import merkle
from vault.trust.chain import check_place
from vault.trust.verify import verify, verify_genesis


@dataclass(frozen=True, slots=True, kw_only=True)
class Batch:
    """Entries start to end − 1; start is a multiple of 2^levels and there are at most so many."""

    start: int
    end: int
    levels: int


@dataclass(frozen=True, slots=True, kw_only=True)
class BatchAnswer:
    """All of it is good. root: of a whole batch; leaves: of the last one, which may be shorter.

    above: the tree hashes over the batch's own levels that its last row keeps. rated: (type, revision, digest prefix) of
    the ratings that records name -> the first such entry.
    """

    root: bytes = b""
    above: bytes = b""
    leaves: tuple[bytes, ...] = ()
    rated: dict[tuple[str, int, bytes], int] = field(default_factory=dict)


class _Here(threading.local):
    engine: Engine
    # Signers' statements that an earlier batch of this worker verified.
    trusted: Trusted | None = None


_here = _Here()


def prepare(address: Address) -> None:
    """Open the vault for this worker."""
    _here.engine = make_engine(address)


_TABLES: tuple[tuple[Table, Any, str], ...] = tuple(
    (table, itemgetter(*(column.name for column in table.columns)),
     f"SELECT {', '.join(column.name for column in table.columns)} FROM {table.name} WHERE seq >= %s AND seq < %s "
     f"ORDER BY {', '.join(column.name for column in table.primary_key)}")
    for table, log in PROJECTIONS.items() if log == MAIN)
_JOURNAL = (f"SELECT seq, kind, key_id, digest, signed, nodes FROM journal WHERE log = {MAIN} AND seq >= %s AND seq < %s "
            "ORDER BY seq")


def _rows(connection: Connection, query: str, batch: Batch) -> list[tuple[Any, ...]]:
    raw: Any = connection.connection.driver_connection
    marked = query.replace("%s", "?") if connection.dialect.name == "sqlite" else query
    return [tuple(row) for row in raw.execute(marked, (batch.start, batch.end)).fetchall()]


def check_batch(batch: Batch) -> BatchAnswer | None:
    """The answer of a batch that is good in everything that can be told from it, else None."""
    try:
        with plain_errors(), _here.engine.connect() as connection, connection.begin():
            session = Session(connection, _here.trusted)
            answer = _checked(session, batch)
            _here.trusted = session.trusted()
            return answer
    except (GearkeepError, TypeError, ValueError, AttributeError, KeyError, IndexError, OverflowError):
        # The careful walk says what it is.
        return None


def _checked(session: Session, batch: Batch) -> BatchAnswer | None:
    due: dict[Table, list[tuple[Any, ...]]] = {table: [] for table, _, _ in _TABLES}
    values = {table: getter for table, getter, _ in _TABLES}
    log_id, signers = session.genesis.log_id, session.signers
    leaves: list[bytes] = []
    stored: list[bytes] = []
    rated: dict[tuple[str, int, bytes], int] = {}
    past = TablePast(session.connection, before=batch.start)
    for number, (seq, kind, key_id, digest, signed, nodes) in enumerate(_rows(session.connection, _JOURNAL, batch), batch.start):
        statement = verify(signed, log_id=log_id, signers=signers, place=seq) if seq else verify_genesis(signed)
        if (seq, kind, key_id, digest) != (number, statement.kind, statement.key_id, statement.digest):
            return None
        body = statement.body
        if isinstance(body, Record):
            rating = body.fixture_type
            rated.setdefault((rating.code, rating.revision, rating.digest), seq)
            if (body.version == 1) != (body.predecessors is None):
                return None
            past.before = seq
            if body.taken_from is not None and past.taken(body.taken_from.log_id) is None:
                return None
        elif seq:
            past.before = seq
            check_place(statement, past)
        for table, row in rows_of(seq, statement):
            due[table].append(values[table](row))
        leaves.append(digest)
        stored.append(nodes)
    if len(leaves) != batch.end - batch.start:
        return None
    if any(_rows(session.connection, query, batch) != due[table] for table, _, query in _TABLES):
        return None
    return _tree(batch, leaves, stored, rated)


def _tree(batch: Batch, leaves: list[bytes], stored: list[bytes], rated: dict[tuple[str, int, bytes], int]) -> BatchAnswer | None:
    last: dict[int, bytes] = {}
    own = batch.levels * merkle.HASH_BYTES
    above, root = b"", b""
    for index, (leaf, kept) in enumerate(zip(leaves, stored, strict=True)):
        nodes = merkle.nodes_for_append(index, leaf, lambda level, _index: last[level])
        last[0] = leaf
        for level in range(1, len(nodes) // merkle.HASH_BYTES + 1):
            last[level] = nodes[(level - 1) * merkle.HASH_BYTES : level * merkle.HASH_BYTES]
        if kept != nodes:
            # Only the last row of a whole batch keeps nodes of levels that reach beyond it.
            if index + 1 != 1 << batch.levels or kept[:own] != nodes:
                return None
            above = kept[own:]
    if len(leaves) < 1 << batch.levels:
        return BatchAnswer(leaves=tuple(leaves), rated=rated)
    root = last[batch.levels]
    return BatchAnswer(root=root, above=above, rated=rated)
