"""Questions to the index tables. What they find is then read from the journal and verified."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import bindparam, func, select

from vault.db import tables
from vault.db.engine import blob
from vault.db.newest import IS_HEAD
from vault.db.prepared import Prepared
from vault.db.session import Session
from vault.domain.record import Reason, Record
from vault.domain.tag import from_bytes, shown
from vault.errors import VerificationError
from vault.trust.statements import Kind
from vault.trust.verify import Statement


@dataclass(frozen=True, slots=True)
class RecordRow:
    """One version in the index."""

    seq: int
    tag: str
    version: int
    digest: bytes
    type_code: str
    type_revision: int
    place: str
    line: str | None
    circuit: str | None
    reference: str | None
    reason: int
    open_stops: str | None


_RECORD = (tables.record.c.seq, tables.record.c.tag, tables.record.c.version, tables.record.c.digest,
           tables.record.c.type_code, tables.record.c.type_revision, tables.record.c.place, tables.record.c.line,
           tables.record.c.circuit, tables.record.c.reference, tables.record.c.reason, tables.record.c.open_stops)
_R, _J = tables.record.c, tables.journal.c
_VERSIONS = Prepared(select(*_RECORD).where(_R.tag == bindparam("tag")).order_by(_R.version, _R.seq))
_HEADS = Prepared(select(*_RECORD, _J.signed).join(tables.journal, (_J.log == tables.MAIN) & (_J.seq == _R.seq))
                  .where(_R.tag == bindparam("tag"), IS_HEAD).order_by(_R.seq))


def versions_of(session: Session, tag: str) -> list[RecordRow]:
    """Every version of a tag, oldest first."""
    return [RecordRow(*row) for row in _VERSIONS.rows(session.connection, tag=tag)]


@dataclass(frozen=True, slots=True, kw_only=True)
class Head:
    """A newest version: its row in the index and what its signed bytes say, verified."""

    row: RecordRow
    statement: Statement


def bad_index(what: str) -> VerificationError:
    """The refusal of an index that says otherwise than what is signed."""
    return VerificationError(f"The index is wrong: {what}.", kind="bad-index",
                             hint="Use no figures from it. Run: gearkeep audit, then gearkeep rebuild.")


def _held(row: RecordRow, statement: Statement) -> Statement:
    # A signature says who signed what, not that it is what the index calls it.
    body = statement.body
    if not isinstance(body, Record) or from_bytes(body.tag) != row.tag or body.version != row.version:
        raise bad_index(f"it calls entry {row.seq} version {row.version} of {shown(row.tag)}, and what is signed there is not")
    if statement.digest != row.digest:
        raise bad_index(f"it has another digest for version {row.version} of {shown(row.tag)} than the journal")
    return statement


def verified_heads(session: Session, tag: str) -> list[Head]:
    """The heads of a luminaire, oldest first, each verified anew and held against the index; two are a conflict.

    Raises VerificationError: what `Session.verified` raises, and bad-index, also where the luminaire has no head at all.
    """
    heads = [(RecordRow(*found[:-1]), blob(found[-1]), found[0]) for found in _HEADS.rows(session.connection, tag=tag)]
    if not heads:
        raise bad_index(f"it names no newest version of {shown(tag)}")
    return [Head(row=row, statement=_held(row, session.verified(signed, seq))) for row, signed, seq in heads]


def record_at(session: Session, row: RecordRow) -> Statement:
    """The version that a row of the index stands for, verified and held against the row. Raises VerificationError."""
    return _held(row, session.statement(row.seq))


def head_rows(session: Session, *, tag: str | None = None, line: str | None = None,
              circuit: str | None = None) -> list[RecordRow]:
    """Heads (records that no other names), by tag then version; two of one tag are a conflict."""
    r = tables.record
    query = select(*_RECORD).where(IS_HEAD)
    for column, wanted in ((r.c.tag, tag), (r.c.line, line), (r.c.circuit, circuit)):
        if wanted is not None:
            query = query.where(column == wanted)
    return [RecordRow(**row._mapping) for row in session.connection.execute(query.order_by(r.c.seq))]


def heads_with_serial(session: Session, serial: str) -> list[RecordRow]:
    """Heads of luminaires in service that hold a driver with that serial number."""
    g, r = tables.gear, tables.record
    query = select(*_RECORD).join(g, g.c.seq == r.c.seq).where(g.c.serial == serial, IS_HEAD,
                                                               r.c.reason != int(Reason.RETIRED)).distinct()
    return [RecordRow(**row._mapping) for row in session.connection.execute(query)]


_TIME_BEFORE = select(func.max(_R.time_s)).where(_R.tag == bindparam("tag"), _R.seq < bindparam("seq"))


def latest_time_before(session: Session, row: RecordRow) -> int | None:
    """The latest time that a version of the luminaire bears which stands before this one in the journal."""
    found = session.connection.execute(_TIME_BEFORE, {"tag": row.tag, "seq": row.seq}).scalar()
    return None if found is None else int(found)


def issued(session: Session, tags: Sequence[str]) -> list[str]:
    """Those of some tags that this vault has issued, sorted."""
    r = tables.record.c
    return sorted(session.connection.execute(select(r.tag).where(r.tag.in_(tags)).distinct()).scalars())


@dataclass(frozen=True, slots=True, kw_only=True)
class CatalogueRow:
    """One revision of a rating, driver model, circuit or line."""

    seq: int
    name: str
    revision: int
    digest: bytes


def catalogue(session: Session, kind: Kind, name: str | None = None) -> list[CatalogueRow]:
    """Every revision, oldest first."""
    c = tables.catalogue
    query = select(c.c.seq, c.c.name, c.c.revision, c.c.digest).where(c.c.kind == int(kind))
    if name is not None:
        query = query.where(c.c.name == name)
    return [CatalogueRow(**row._mapping) for row in session.connection.execute(query.order_by(c.c.name, c.c.revision))]


_NAMED = {Kind.RATING: "code", Kind.DRIVER_MODEL: "model"}


def catalogue_body(session: Session, kind: Kind, row: CatalogueRow) -> Any:
    """What a row of the catalogue stands for, verified and held against the row. Raises VerificationError."""
    statement = session.statement(row.seq)
    said = None if statement.kind is not kind else (getattr(statement.body, _NAMED.get(kind, "name")), statement.body.revision)
    if statement.digest != row.digest or said != (row.name, row.revision):
        raise bad_index(f"it calls entry {row.seq} revision {row.revision} of {row.name}, and what is signed there is not")
    return statement.body


@dataclass(frozen=True, slots=True, kw_only=True)
class ApprovalRow:
    """One approval in the index."""

    seq: int
    accepts: str
    change_class: int
    key_id: bytes


def approvals(session: Session, record_digest: bytes) -> list[ApprovalRow]:
    """Approvals of one record."""
    a = tables.approval
    rows = session.connection.execute(
        select(a.c.seq, a.c.accepts, a.c.change_class, a.c.key_id).where(a.c.record_digest == record_digest)
        .order_by(a.c.seq))
    return [ApprovalRow(**row._mapping) for row in rows]


def serials_in_service(session: Session, serials: Iterable[str]) -> dict[str, str]:
    """Serial number -> tag of a luminaire in service whose newest version holds a driver with it."""
    g, r, found = tables.gear, tables.record, dict[str, str]()
    wanted = sorted(set(serials))
    for start in range(0, len(wanted), 500):
        rows = session.connection.execute(
            select(g.c.serial, r.c.tag).join(r, g.c.seq == r.c.seq)
            .where(g.c.serial.in_(wanted[start : start + 500]), IS_HEAD, r.c.reason != int(Reason.RETIRED)).order_by(r.c.tag))
        for serial, tag in rows:
            found.setdefault(serial, tag)
    return found


def signer_names(session: Session) -> dict[str, str]:
    """Code -> person's name, from the side table that can be erased."""
    return {row.code: row.name for row in session.connection.execute(select(tables.signer_name))}


def set_signer_name(session: Session, code: str, name: str | None) -> None:
    """Keep or erase the name behind a signer's code."""
    n = tables.signer_name
    session.connection.execute(n.delete().where(n.c.code == code))
    if name:
        session.connection.execute(n.insert(), {"code": code, "name": name})


def checkpoints(session: Session, log: int) -> Sequence[tuple[int, bytes, str]]:
    """(size, root, note) of every checkpoint signed, smallest first."""
    c = tables.checkpoint
    return [(row.size, row.root, row.note) for row in
            session.connection.execute(select(c).where(c.c.log == log).order_by(c.c.size))]


def keep_checkpoint(session: Session, log: int, size: int, root: bytes, note: str) -> None:
    """Keep a signed checkpoint; one of that size already kept stays as it is."""
    c = tables.checkpoint
    last = session.connection.execute(select(func.max(c.c.size)).where(c.c.log == log)).scalar()
    if last is None or size > last:
        session.connection.execute(c.insert(), {"log": log, "size": size, "root": root, "note": note})


def signed_of_kinds(session: Session, kinds: Sequence[int]) -> list[tuple[int, bytes]]:
    """(place, signed bytes) of the main log's statements of some kinds, in order."""
    j = tables.journal
    rows = session.connection.execute(
        select(j.c.seq, j.c.signed).where(j.c.log == tables.MAIN, j.c.kind.in_(kinds)).order_by(j.c.seq))
    return [(row.seq, row.signed) for row in rows]


def signed_statements(session: Session, log: int) -> list[bytes]:
    """The signed bytes of every statement of a log, in order."""
    j = tables.journal
    return [blob(signed) for signed in session.connection.execute(
        select(j.c.signed).where(j.c.log == log).order_by(j.c.seq)).scalars()]
