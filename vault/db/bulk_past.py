"""What the chain rules ask of the journal, for many statements at once: asked in few queries, and of those not yet written."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from sqlalchemy import Connection, select

from vault.db import tables
from vault.db.heads import among, lots
from vault.db.projections import Row
from vault.db.table_past import StoredVersion, TablePast
from vault.domain.record import Reason
from vault.domain.tag import from_bytes

_R = tables.record.c
_VERSIONS = select(_R.tag, _R.digest, _R.version, _R.reason)


class LotPast(TablePast):
    """The journal's tables and, in front of them, the statements of a lot that is about to be written."""

    def __init__(self, connection: Connection) -> None:
        super().__init__(connection)
        self._recovered = connection.execute(select(tables.recovered_record.c.seq).limit(1)).first() is not None
        self._ratings: dict[tuple[str, int], bytes | None] = {}
        self._versions: dict[bytes, list[tuple[bytes, StoredVersion]]] = {}
        self._tags: dict[str, bytes] = {}
        self._revisions: dict[tuple[int, str], int] = {}

    def begin(self, tags: Iterable[bytes]) -> None:
        """A lot about these tags; what was fed before is in the tables by now."""
        self._revisions.clear()
        self._tags = {from_bytes(tag): tag for tag in tags}
        self._versions = {tag: [] for tag in self._tags.values()}
        for some in lots(self._tags):
            for tag, digest, version, reason in self._connection.execute(_VERSIONS.where(among(self._connection, _R.tag, some))):
                held = StoredVersion(version, Reason(reason), self._tags[tag])
                self._versions[held.tag].append((digest, held))

    def feed(self, row: Row) -> None:
        """One index row of a statement of the lot."""
        table, values = row
        if table is tables.record and values["tag"] in self._tags:
            held = StoredVersion(values["version"], Reason(values["reason"]), self._tags[values["tag"]])
            self._versions[held.tag].append((values["digest"], held))
        elif table is tables.catalogue:
            self._revisions[values["kind"], values["name"]] = values["revision"]

    def versions(self, tag: bytes) -> Sequence[tuple[bytes, Any]]:
        """(digest, version and reason) of every version of a tag."""
        held = self._versions.get(tag)
        return super().versions(tag) if held is None else held

    def rating_prefix(self, code: str, revision: int) -> bytes | None:
        """First 8 bytes of the digest of that rating."""
        if (code, revision) not in self._ratings:
            self._ratings[code, revision] = super().rating_prefix(code, revision)
        return self._ratings[code, revision]

    def revision(self, kind: int, name: str) -> int:
        """Highest revision so far."""
        return self._revisions.get((kind, name)) or super().revision(kind, name)

    def accepted(self, digest: bytes) -> bool:
        """Whether a recovery accepts the record."""
        return self._recovered and super().accepted(digest)


__all__ = ["LotPast"]
