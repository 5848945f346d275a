"""What the chain rules ask of the journal so far, answered from the index tables of an open connection."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import BigInteger, BindParameter, Connection, bindparam, func, select

from vault.db import tables
from vault.domain.record import Reason
from vault.domain.tag import from_bytes
from vault.trust.statements import Kind


@dataclass(frozen=True, slots=True)
class StoredVersion:
    """The three things the chain rules ask of an earlier version."""

    version: int
    reason: Reason
    tag: bytes


_R, _C, _S, _L, _A = (tables.record.c, tables.catalogue.c, tables.signer.c, tables.label.c, tables.recovered_record.c)

# Built once: composing a query anew costs more than running it.
_BEFORE: BindParameter[int] = bindparam("before", type_=BigInteger)
_VERSIONS = select(_R.digest, _R.version, _R.reason).where(_R.tag == bindparam("tag"), _R.seq < _BEFORE)
_RATING = select(_C.digest).where(_C.kind == int(Kind.RATING), _C.name == bindparam("name"),
                                  _C.revision == bindparam("revision"), _C.seq < _BEFORE)
_REVISION = select(func.max(_C.revision)).where(_C.kind == bindparam("kind"), _C.name == bindparam("name"), _C.seq < _BEFORE)
_SIGNER = select(_R.key_id).where(_R.digest == bindparam("digest"), _R.prefix == bindparam("prefix"), _R.seq < _BEFORE)
_KEY = select(_S.seq).where(_S.key_id == bindparam("key_id"), _S.seq < _BEFORE).limit(1)
_COPIES = select(func.max(_L.copy)).where(_L.tag == bindparam("tag"), _L.seq < _BEFORE)
_ACCEPTED = select(_A.seq).where(_A.digest == bindparam("digest")).limit(1)


class TablePast:
    """Answers from the index tables of an open connection.

    before: entries from this place on are not looked at. accept_all: take any record as one that is accepted.
    """

    def __init__(self, connection: Connection, *, before: int = 2**62, accept_all: bool = False) -> None:
        self._connection, self.before, self._accept_all = connection, before, accept_all

    def versions(self, tag: bytes) -> Sequence[tuple[bytes, Any]]:
        """(digest, version and reason) of every version of a tag."""
        found = self._connection.execute(_VERSIONS, {"tag": from_bytes(tag), "before": self.before})
        return [(row.digest, StoredVersion(row.version, Reason(row.reason), tag)) for row in found]

    def rating_prefix(self, code: str, revision: int) -> bytes | None:
        """First 8 bytes of the digest of that rating."""
        found = self._connection.execute(_RATING, {"name": code, "revision": revision, "before": self.before}).scalar()
        return bytes(found[:8]) if found is not None else None

    def revision(self, kind: int, name: str) -> int:
        """Highest revision so far."""
        return int(self._connection.execute(_REVISION, {"kind": kind, "name": name, "before": self.before}).scalar() or 0)

    def record_signer(self, digest: bytes) -> bytes | None:
        """Key id of a record's signer."""
        return self._connection.execute(_SIGNER, {"digest": digest, "prefix": digest[:16], "before": self.before}).scalar()

    def knows_key(self, key_id: bytes) -> bool:
        """Whether that key was ever granted."""
        return self._connection.execute(_KEY, {"key_id": key_id, "before": self.before}).first() is not None

    def copies(self, tag: bytes) -> int:
        """Label copies ever issued for a tag."""
        return int(self._connection.execute(_COPIES, {"tag": from_bytes(tag), "before": self.before}).scalar() or 0)

    def accepted(self, digest: bytes) -> bool:
        """Whether a recovery accepts the record."""
        return self._accept_all or self._connection.execute(_ACCEPTED, {"digest": digest}).first() is not None
