"""Other vaults' entries that were taken over: kept, asked for, and the few rows of index over them."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import ColumnElement, bindparam, func, select

from vault.db import tables
from vault.db.bulk_rows import roomy, write_rows, write_tuples
from vault.db.engine import blob
from vault.db.heads import lots
from vault.db.prepared import Prepared
from vault.db.projections import Row
from vault.db.replay import Tree
from vault.db.session import Session
from vault.domain.record import Record
from vault.domain.tag import from_bytes
from vault.errors import GearkeepError
from vault.trust import cbor, merkle
from vault.trust.cose import digest as digest_of
from vault.trust.cose import open_envelope
from vault.trust.mapping import from_plain_cbor
from vault.trust.statements import Kind

Progress = Callable[[int, int], None]

_T, _R, _O, _A = tables.taken.c, tables.taken_record.c, tables.take_over.c, tables.adopted.c
_NODE = Prepared(select(_T.signed, _T.nodes).where(_T.log_id == bindparam("log_id"), _T.seq == bindparam("seq")))
_HOLDERS = Prepared(select(_R.log_id).distinct().where(_R.tag == bindparam("tag")))
_PLACE = Prepared(select(_T.log_id, _T.seq).where(_T.digest == bindparam("digest")))
_ADOPTED = Prepared(select(tables.record.c.tag).distinct().join(tables.adopted, _A.seq == tables.record.c.seq)
                    .where(_A.log_id == bindparam("log_id"), _A.tag == bindparam("tag")).order_by(tables.record.c.tag))


@dataclass(frozen=True, slots=True, kw_only=True)
class TakenLog:
    """Another vault's main log as it was last taken over. seq: the take-over's place in our journal."""

    seq: int
    log_id: bytes
    host: str
    site: str
    authority_key: bytes
    size: int
    root: bytes
    time_s: int


_LOG = tuple(_O[name] for name in TakenLog.__slots__)


def take_overs(session: Session) -> list[TakenLog]:
    """Every take-over, oldest first, as the index says."""
    return [TakenLog(**row._mapping) for row in session.connection.execute(select(*_LOG).order_by(_O.seq))]


def taken_logs(session: Session) -> list[TakenLog]:
    """Each log that was taken over, as of its last take-over, by site and log id."""
    newest = {one.log_id: one for one in take_overs(session)}
    return sorted(newest.values(), key=lambda one: (one.site, one.log_id))


def stored_size(session: Session, log_id: bytes) -> int:
    """How many entries of a log are kept."""
    last = session.connection.execute(select(func.max(_T.seq)).where(_T.log_id == log_id)).scalar()
    return 0 if last is None else int(last) + 1


def read_node(session: Session, log_id: bytes) -> merkle.ReadNode:
    """A function (level, index) -> hash over the kept tree of a log."""

    def read(level: int, index: int) -> bytes:
        place, offset = merkle.node_location(level, index) if level else (index, 0)
        row = _NODE.one(session.connection, log_id=log_id, seq=place)
        if row is None:
            raise GearkeepError(f"Entry {place} of the log {log_id.hex()[:8]}, which was taken over, is missing.", kind="damaged",
                                hint="Run: gearkeep audit. Import its pack again, or restore a backup.")
        return blob(row[1])[offset : offset + merkle.HASH_BYTES] if level else digest_of(blob(row[0]))

    return read


def signed_at(session: Session, log_id: bytes, seq: int) -> bytes | None:
    """The signed bytes of an entry of a log, or None."""
    row = _NODE.one(session.connection, log_id=log_id, seq=seq)
    return None if row is None else blob(row[0])


def place_of(session: Session, digest: bytes) -> tuple[bytes, int] | None:
    """(log id, place) of a statement among those taken over, or None."""
    row = _PLACE.one(session.connection, digest=digest)
    return (bytes(row[0]), int(row[1])) if row is not None else None


def holders(session: Session, tag: str) -> frozenset[bytes]:
    """Ids of the logs taken over that hold a luminaire of that tag."""
    return frozenset(bytes(row[0]) for row in _HOLDERS.rows(session.connection, tag=tag))


def tags_of(session: Session, log_id: bytes) -> list[str]:
    """Every tag of a log, sorted."""
    return list(session.connection.execute(select(_R.tag).distinct().where(_R.log_id == log_id).order_by(_R.tag)).scalars())


def places_of(session: Session, log_id: bytes, tags: Sequence[str]) -> list[tuple[int, bytes]]:
    """(place, digest) of every version of some luminaires of a log."""
    found = [(row.seq, bytes(row.digest)) for some in lots(tags) for row in session.connection.execute(
        select(_R.seq, _R.digest).where(_R.log_id == log_id, _R.tag.in_(list(some))))]
    return sorted(found)


def used_tags(session: Session, tags: Sequence[str]) -> set[str]:
    """Those of some tags that a luminaire taken over bears."""
    return set(session.connection.execute(select(_R.tag).distinct().where(_R.tag.in_(list(tags)))).scalars())


def adopted_as(session: Session, log_id: bytes, tag: str) -> tuple[str, ...]:
    """Our own tags of luminaires that were adopted from one of another log: none or one, more only where others signed so."""
    return tuple(row[0] for row in _ADOPTED.rows(session.connection, log_id=log_id, tag=tag))


def index_row(log_id: bytes, seq: int, signed: bytes) -> Row | None:
    """The index row that an entry stands for, or None for what is no record.

    The signature is not asked: the take-over vouches for the bytes. Raises VerificationError for what cannot be read.
    """
    envelope = open_envelope(signed)
    if envelope.kind != Kind.RECORD:
        return None
    record: Record = from_plain_cbor(Record, cbor.decode(envelope.payload))
    return tables.taken_record, {
        "log_id": log_id, "seq": seq, "tag": from_bytes(record.tag), "version": record.version, "digest": digest_of(signed),
        "type_code": record.fixture_type.code, "place": record.place, "line": record.line, "circuit": record.circuit,
        "reference": record.reference}


def store(session: Session, log_id: bytes, entries: Sequence[bytes], progress: Progress) -> int:
    """Keep those of a log's entries that are not kept yet, with their index; returns how many those were.

    entries: signed bytes of the whole log, verified; those that are kept already have to be its beginning.
    """
    held = stored_size(session, log_id)
    tree = Tree()
    rows: list[tuple[Any, ...]] = []
    index: list[Row] = []

    def write() -> None:
        write_tuples(session.connection, tables.taken, rows)
        write_rows(session.connection, index)
        rows.clear()
        index.clear()

    with roomy(session.connection):
        for seq, signed in enumerate(entries):
            digest = digest_of(signed)
            nodes = tree.add(digest)
            if seq < held:
                continue
            rows.append((log_id, seq, open_envelope(signed).kind, digest, signed, nodes))
            row = index_row(log_id, seq, signed)
            index += [row] if row is not None else []
            if len(rows) >= 2000:
                write()
                progress(seq + 1, len(entries))
        write()
    return max(0, len(entries) - held)


def rows_in_order(session: Session, log_id: bytes) -> Iterable[Any]:
    """Every row of a log (seq, kind, digest, signed, nodes) by its place."""
    query = select(_T.seq, _T.kind, _T.digest, _T.signed, _T.nodes).where(_T.log_id == log_id).order_by(_T.seq)
    return session.connection.execute(query, execution_options={"yield_per": 500})


def kept_logs(session: Session) -> list[bytes]:
    """Ids of every log of which rows are kept, whether a take-over vouches for them or not."""
    logs = set(session.connection.execute(select(_T.log_id).distinct()).scalars())
    logs |= set(session.connection.execute(select(_R.log_id).distinct()).scalars())
    return sorted(blob(one) for one in logs)


def last_places(session: Session, log_id: bytes, tag: str) -> str:
    """Where the versions with a luminaire's highest number say that it hangs, by the index."""
    query = select(_R.version, _R.place).where(_R.log_id == log_id, _R.tag == tag).order_by(_R.version.desc(), _R.seq)
    rows = session.connection.execute(query).all()
    return " or ".join(dict.fromkeys(row.place for row in rows if row.version == rows[0].version))


def search(session: Session, conditions: Sequence[ColumnElement[bool]]) -> dict[bytes, list[str]]:
    """Log id -> tags of luminaires of which one version meets every condition on the columns of `taken_record`."""
    found: dict[bytes, list[str]] = {}
    query = select(_R.log_id, _R.tag).distinct().where(*conditions).order_by(_R.log_id, _R.tag)
    for row in session.connection.execute(query):
        found.setdefault(bytes(row.log_id), []).append(row.tag)
    return found


def tags_at(session: Session, log_id: bytes, seq: int) -> list[str]:
    """The tag of the record at a place of a log, by the index; empty where none stands there."""
    return list(session.connection.execute(select(_R.tag).where(_R.log_id == log_id, _R.seq == seq)).scalars())
