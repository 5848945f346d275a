"""What the chain rules ask of the journal so far, answered from the index tables of an open connection."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import BigInteger, BindParameter, Connection, bindparam, func, select

from vault.db import tables
from vault.db.prepared import Prepared
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
_T = tables.take_over.c

_BEFORE: BindParameter[int] = bindparam("before", type_=BigInteger)
_VERSIONS = Prepared(select(_R.digest, _R.version, _R.reason).where(_R.tag == bindparam("tag"), _R.seq < _BEFORE))
_RATING = Prepared(select(_C.digest).where(_C.kind == int(Kind.RATING), _C.name == bindparam("name"),
                                           _C.revision == bindparam("revision"), _C.seq < _BEFORE))
_REVISION = Prepared(select(func.max(_C.revision)).where(_C.kind == bindparam("kind"), _C.name == bindparam("name"),
                                                         _C.seq < _BEFORE))
_SIGNER = Prepared(select(_R.key_id).where(_R.digest == bindparam("digest"), _R.prefix == bindparam("prefix"),
                                           _R.seq < _BEFORE))
_KEY = Prepared(select(_S.seq).where(_S.key_id == bindparam("key_id"), _S.seq < _BEFORE).limit(1))
_COPIES = Prepared(select(func.max(_L.copy)).where(_L.tag == bindparam("tag"), _L.seq < _BEFORE))
_ACCEPTED = Prepared(select(_A.seq).where(_A.digest == bindparam("digest")).limit(1))
_TAKEN = Prepared(select(_T.size, _T.authority_key).where(_T.log_id == bindparam("log_id"), _T.seq < _BEFORE)
                  .order_by(_T.seq.desc()).limit(1))


class TablePast:
    """Answers from the index tables of an open connection.

    before: entries from this place on are not looked at. accept_all: take any record as one that is accepted.
    """

    def __init__(self, connection: Connection, *, before: int = 2**62, accept_all: bool = False) -> None:
        self._connection, self.before, self._accept_all = connection, before, accept_all

    def versions(self, tag: bytes) -> Sequence[tuple[bytes, Any]]:
        """(digest, version and reason) of every version of a tag."""
        found = _VERSIONS.rows(self._connection, tag=from_bytes(tag), before=self.before)
        return [(digest, StoredVersion(version, Reason(reason), tag)) for digest, version, reason in found]

    def rating_prefix(self, code: str, revision: int) -> bytes | None:
        """First 8 bytes of the digest of that rating."""
        found = _RATING.value(self._connection, name=code, revision=revision, before=self.before)
        return bytes(found[:8]) if found is not None else None

    def revision(self, kind: int, name: str) -> int:
        """Highest revision so far."""
        return int(_REVISION.value(self._connection, kind=kind, name=name, before=self.before) or 0)

    def record_signer(self, digest: bytes) -> bytes | None:
        """Key id of a record's signer."""
        found: bytes | None = _SIGNER.value(self._connection, digest=digest, prefix=digest[:16], before=self.before)
        return found

    def knows_key(self, key_id: bytes) -> bool:
        """Whether that key was ever granted."""
        return _KEY.one(self._connection, key_id=key_id, before=self.before) is not None

    def copies(self, tag: bytes) -> int:
        """Label copies ever issued for a tag."""
        return int(_COPIES.value(self._connection, tag=from_bytes(tag), before=self.before) or 0)

    def accepted(self, digest: bytes) -> bool:
        """Whether a recovery accepts the record."""
        return self._accept_all or _ACCEPTED.one(self._connection, digest=digest) is not None

    def taken(self, log_id: bytes) -> tuple[int, bytes] | None:
        """(size, authority's key) of the last take-over of another log."""
        row = _TAKEN.one(self._connection, log_id=log_id, before=self.before)
        return (row[0], bytes(row[1])) if row is not None else None
