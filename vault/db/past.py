"""What the chain rules ask of the journal so far, answered from memory while it is walked."""

from __future__ import annotations

from array import array
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any

from vault.db import tables
from vault.db.projections import Row
from vault.db.table_past import StoredVersion
from vault.domain.record import Reason
from vault.domain.tag import from_bytes, to_bytes
from vault.trust.statements import Kind

DIGEST_BYTES = 32
_NONE = 2**32 - 1


class _Records:
    """Records in a few arrays, 60 bytes each and some 110 for each tag: an estate has millions of them.

    A number is a record's place in the order of feeding. _slots is an open-addressed table digest -> number.
    """

    def __init__(self) -> None:
        self._digests = bytearray()
        self._versions, self._earlier = array("I"), array("I")
        self._reasons, self._authors = array("B"), array("I")
        self._newest: dict[int, int] = {}
        self._keys: list[bytes] = []
        self._key_numbers: dict[bytes, int] = {}
        self._slots = array("I", [_NONE]) * 1024

    def _digest(self, number: int) -> bytes:
        return bytes(self._digests[number * DIGEST_BYTES : (number + 1) * DIGEST_BYTES])

    def _slot(self, digest: bytes) -> int:
        """The slot where a digest stands, or the empty one where it would."""
        mask = len(self._slots) - 1
        slot = int.from_bytes(digest[:8], "big") & mask
        while self._slots[slot] != _NONE and self._digest(self._slots[slot]) != digest:
            slot = slot + 1 & mask
        return slot

    def add(self, tag: bytes, digest: bytes, version: int, reason: Reason, author: bytes) -> None:
        number, key = len(self._versions), int.from_bytes(tag, "big")
        self._digests += digest
        self._versions.append(version)
        self._reasons.append(reason)
        self._earlier.append(self._newest.get(key, _NONE))
        self._newest[key] = number
        if author not in self._key_numbers:
            self._key_numbers[author] = len(self._keys)
            self._keys.append(author)
        self._authors.append(self._key_numbers[author])
        if 3 * (number + 1) > 2 * len(self._slots):
            self._slots = array("I", [_NONE]) * (2 * len(self._slots))
            for each in range(number):
                self._slots[self._slot(self._digest(each))] = each
        self._slots[self._slot(digest)] = number

    def of(self, tag: bytes) -> Iterator[tuple[bytes, StoredVersion]]:
        """(digest, version and reason) of a tag's records, the newest first."""
        number = self._newest.get(int.from_bytes(tag, "big"), _NONE)
        while number != _NONE:
            yield self._digest(number), StoredVersion(self._versions[number], Reason(self._reasons[number]), tag)
            number = self._earlier[number]

    def author(self, digest: bytes) -> bytes | None:
        """Key id of the signer of the record with that digest."""
        number = self._slots[self._slot(digest)]
        return None if number == _NONE else self._keys[self._authors[number]]


@dataclass(slots=True)
class MemoryPast:
    """Answers from index rows fed in the order of the journal. accepts: digests that recoveries accept; those stand
    behind the records that they are about.
    """

    accepts: frozenset[bytes] = frozenset()

    _records: _Records = field(default_factory=_Records)
    # Behind a damaged entry rows are fed as they are stored; what no array holds is kept as it is.
    _odd: dict[bytes, list[tuple[Any, StoredVersion]]] = field(default_factory=dict)
    _odd_authors: dict[Any, Any] = field(default_factory=dict)
    _catalogue: dict[tuple[int, str], dict[int, bytes]] = field(default_factory=dict)
    _keys: set[bytes] = field(default_factory=set)
    _copies: dict[str, int] = field(default_factory=dict)
    _taken: dict[bytes, tuple[int, bytes]] = field(default_factory=dict)

    def feed(self, row: Row) -> None:
        """Take in one index row."""
        table, values = row
        taker = _TAKERS.get(table)
        if taker is not None:
            taker(self, values)

    def _feed_record(self, values: dict[str, Any]) -> None:
        tag, digest, version, author = to_bytes(values["tag"]), values["digest"], values["version"], values["key_id"]
        reason = Reason(values["reason"])
        if isinstance(digest, bytes) and len(digest) == DIGEST_BYTES and isinstance(version, int) and 0 <= version < _NONE:
            self._records.add(tag, digest, version, reason, author)
            self._odd_authors.pop(digest, None)
        else:
            self._odd.setdefault(tag, []).append((digest, StoredVersion(version, reason, tag)))
            self._odd_authors[digest] = author

    def _feed_catalogue(self, values: dict[str, Any]) -> None:
        revisions = self._catalogue.setdefault((values["kind"], values["name"]), {})
        revisions[values["revision"]] = values["digest"][:8]

    def _feed_signer(self, values: dict[str, Any]) -> None:
        self._keys.add(values["key_id"])

    def _feed_label(self, values: dict[str, Any]) -> None:
        self._copies[values["tag"]] = max(values["copy"], self._copies.get(values["tag"], 0))

    def _feed_take_over(self, values: dict[str, Any]) -> None:
        self._taken[values["log_id"]] = values["size"], values["authority_key"]

    def versions(self, tag: bytes) -> Sequence[tuple[bytes, Any]]:
        """(digest, version and reason) of every version of a tag, in the order of the journal."""
        return [*list(self._records.of(tag))[::-1], *self._odd.get(tag, ())]

    def rating_prefix(self, code: str, revision: int) -> bytes | None:
        """First 8 bytes of the digest of that rating."""
        return self._catalogue.get((int(Kind.RATING), code), {}).get(revision)

    def revision(self, kind: int, name: str) -> int:
        """Highest revision so far."""
        return max(self._catalogue.get((kind, name), {0: b""}))

    def record_signer(self, digest: bytes) -> bytes | None:
        """Key id of a record's signer."""
        found: bytes | None = self._odd_authors.get(digest)
        return found if found is not None else self._records.author(digest)

    def knows_key(self, key_id: bytes) -> bool:
        """Whether that key was ever granted."""
        return key_id in self._keys

    def copies(self, tag: bytes) -> int:
        """Label copies ever issued for a tag."""
        return self._copies.get(from_bytes(tag), 0)

    def accepted(self, digest: bytes) -> bool:
        """Whether a recovery accepts the record."""
        return digest in self.accepts

    def taken(self, log_id: bytes) -> tuple[int, bytes] | None:
        """(size, authority's key) of the last take-over of another log."""
        return self._taken.get(log_id)


_TAKERS: dict[Any, Callable[[MemoryPast, dict[str, Any]], None]] = {
    tables.record: MemoryPast._feed_record, tables.catalogue: MemoryPast._feed_catalogue,
    tables.signer: MemoryPast._feed_signer, tables.label: MemoryPast._feed_label,
    tables.take_over: MemoryPast._feed_take_over,
}
