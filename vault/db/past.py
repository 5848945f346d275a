"""What the chain rules ask of the journal so far: from the tables for an append, from memory for an audit."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any

from sqlalchemy import Connection, func, select

from vault.db import tables
from vault.db.projections import Row
from vault.domain.record import Reason
from vault.domain.tag import from_bytes, to_bytes
from vault.trust.statements import Kind


@dataclass(frozen=True, slots=True)
class StoredVersion:
    """The three things the chain rules ask of an earlier version."""

    version: int
    reason: Reason
    tag: bytes


class TablePast:
    """Answers from the index tables of an open connection. accept_all: take any record as one that is accepted."""

    def __init__(self, connection: Connection, *, accept_all: bool = False) -> None:
        self._connection, self._accept_all = connection, accept_all

    def versions(self, tag: bytes) -> Sequence[tuple[bytes, Any]]:
        """(digest, version and reason) of every version of a tag."""
        r = tables.record
        found = self._connection.execute(select(r.c.digest, r.c.version, r.c.reason).where(r.c.tag == from_bytes(tag)))
        return [(row.digest, StoredVersion(row.version, Reason(row.reason), tag)) for row in found]

    def rating_prefix(self, code: str, revision: int) -> bytes | None:
        """First 8 bytes of the digest of that rating."""
        c = tables.catalogue
        found = self._connection.execute(
            select(c.c.digest).where(c.c.kind == int(Kind.RATING), c.c.name == code, c.c.revision == revision)).scalar()
        return bytes(found[:8]) if found is not None else None

    def revision(self, kind: int, name: str) -> int:
        """Highest revision so far."""
        c = tables.catalogue
        found = self._connection.execute(
            select(func.max(c.c.revision)).where(c.c.kind == kind, c.c.name == name)).scalar()
        return int(found or 0)

    def record_signer(self, digest: bytes) -> bytes | None:
        """Key id of a record's signer."""
        r = tables.record
        return self._connection.execute(select(r.c.key_id).where(r.c.digest == digest, r.c.prefix == digest[:16])).scalar()

    def knows_key(self, key_id: bytes) -> bool:
        """Whether that key was ever granted."""
        s = tables.signer
        return self._connection.execute(select(s.c.seq).where(s.c.key_id == key_id).limit(1)).first() is not None

    def copies(self, tag: bytes) -> int:
        """Label copies ever issued for a tag."""
        t = tables.label
        found = self._connection.execute(select(func.max(t.c.copy)).where(t.c.tag == from_bytes(tag))).scalar()
        return int(found or 0)

    def accepted(self, digest: bytes) -> bool:
        """Whether a recovery accepts the record."""
        t = tables.recovered_record
        return self._accept_all or self._connection.execute(
            select(t.c.seq).where(t.c.digest == digest).limit(1)).first() is not None


@dataclass(slots=True)
class MemoryPast:
    """Answers from index rows fed in the order of the journal. accepts: digests that recoveries accept; those stand
    behind the records that they are about.
    """

    accepts: frozenset[bytes] = frozenset()

    _records: dict[bytes, list[tuple[bytes, StoredVersion]]] = field(default_factory=dict)
    _catalogue: dict[tuple[int, str], dict[int, bytes]] = field(default_factory=dict)
    _signers: dict[bytes, bytes] = field(default_factory=dict)
    _keys: set[bytes] = field(default_factory=set)
    _copies: dict[str, int] = field(default_factory=dict)

    def feed(self, row: Row) -> None:
        """Take in one index row."""
        table, values = row
        takers: dict[Any, Callable[[dict[str, Any]], None]] = {
            tables.record: self._feed_record, tables.catalogue: self._feed_catalogue,
            tables.signer: lambda v: self._keys.add(v["key_id"]), tables.label: self._feed_label,
        }
        if table in takers:
            takers[table](values)

    def _feed_record(self, values: dict[str, Any]) -> None:
        tag = to_bytes(values["tag"])
        held = StoredVersion(values["version"], Reason(values["reason"]), tag)
        self._records.setdefault(tag, []).append((values["digest"], held))
        self._signers[values["digest"]] = values["key_id"]

    def _feed_catalogue(self, values: dict[str, Any]) -> None:
        revisions = self._catalogue.setdefault((values["kind"], values["name"]), {})
        revisions[values["revision"]] = values["digest"][:8]

    def _feed_label(self, values: dict[str, Any]) -> None:
        self._copies[values["tag"]] = max(values["copy"], self._copies.get(values["tag"], 0))

    def versions(self, tag: bytes) -> Sequence[tuple[bytes, Any]]:
        """(digest, version and reason) of every version of a tag."""
        return self._records.get(tag, [])

    def rating_prefix(self, code: str, revision: int) -> bytes | None:
        """First 8 bytes of the digest of that rating."""
        return self._catalogue.get((int(Kind.RATING), code), {}).get(revision)

    def revision(self, kind: int, name: str) -> int:
        """Highest revision so far."""
        return max(self._catalogue.get((kind, name), {0: b""}))

    def record_signer(self, digest: bytes) -> bytes | None:
        """Key id of a record's signer."""
        return self._signers.get(digest)

    def knows_key(self, key_id: bytes) -> bool:
        """Whether that key was ever granted."""
        return key_id in self._keys

    def copies(self, tag: bytes) -> int:
        """Label copies ever issued for a tag."""
        return self._copies.get(from_bytes(tag), 0)

    def accepted(self, digest: bytes) -> bool:
        """Whether a recovery accepts the record."""
        return digest in self.accepts
