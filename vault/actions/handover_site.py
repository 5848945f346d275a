"""What the vault knows already of a schedule's types, lines, circuits, references and tags, asked for in few questions."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TypeVar

from vault.actions.luminaire import carried_stops, view
from vault.db import queries
from vault.db.heads import issued, tags_of_references, versions_of_tags
from vault.db.queries import RecordRow
from vault.db.session import Session
from vault.domain.rating import Essentials, Rating, essentials_of
from vault.domain.record import Reason, Record, TypeRef
from vault.domain.site import Circuit, Line
from vault.domain.tag import TAG_BYTES, tag_from_bits
from vault.errors import GearkeepError
from vault.trust.statements import Kind

T = TypeVar("T")

MOST_TAGS = 500  # tags drawn and looked for at a time
MOST_TRIES = 1000


class Newest(Mapping[str, T]):
    """Name -> newest revision of a rating, line or circuit, read and verified when it is asked for."""

    def __init__(self, session: Session, kind: Kind) -> None:
        self._session, self._kind = session, kind
        self.rows = {row.name: row for row in queries.catalogue(session, kind)}
        self._read: dict[str, T] = {}

    def __getitem__(self, name: str) -> T:
        if name not in self._read:
            self._read[name] = queries.catalogue_body(self._session, self._kind, self.rows[name])
        return self._read[name]

    def __contains__(self, name: object) -> bool:
        return name in self.rows

    def __iter__(self) -> Iterator[str]:
        return iter(self.rows)

    def __len__(self) -> int:
        return len(self.rows)


class Site:
    """The newest ratings, lines and circuits, and what records say of their type."""

    def __init__(self, session: Session) -> None:
        self.ratings: Newest[Rating] = Newest(session, Kind.RATING)
        self.lines: Newest[Line] = Newest(session, Kind.LINE)
        self.circuits: Newest[Circuit] = Newest(session, Kind.CIRCUIT)
        self._types: dict[str, tuple[TypeRef, Essentials]] = {}

    def type_of(self, rating: Rating) -> tuple[TypeRef, Essentials]:
        """The reference to a rating and its essentials, the same two for every record of the type."""
        if rating.code not in self._types:
            digest = self.ratings.rows[rating.code].digest
            self._types[rating.code] = (TypeRef(code=rating.code, revision=rating.revision, digest=digest[:8]),
                                        essentials_of(rating))
        return self._types[rating.code]


@dataclass(frozen=True, slots=True)
class _Version:
    row: RecordRow
    is_head: bool


class Known:
    """Luminaires that the vault holds under the schedule's references, and tags for new ones."""

    def __init__(self, session: Session, references: Iterable[str], random_bits: Callable[[int], int]) -> None:
        self._session, self._random_bits = session, random_bits
        self._tags = tags_of_references(session, references)
        self._versions: dict[str, list[_Version]] = {}
        self._new: deque[tuple[str, bytes]] = deque()
        self._drawn: set[str] = set()
        self._left = 1

    def look_ahead(self, references: Iterable[str], *, left: int) -> None:
        """Read the versions of the luminaires that come next. left: how many come at most until the schedule's end."""
        tags = {tag for reference in references for tag in self._tags.get(reference, ())}
        self._versions = {tag: [_Version(row, is_head) for row, is_head in rows]
                          for tag, rows in versions_of_tags(self._session, tags).items()}
        self._left = left

    def tags(self, reference: str) -> Sequence[str]:
        """Tags whose newest version bears a drawing reference."""
        return self._tags.get(reference, ())

    def versions(self, tag: str) -> list[RecordRow]:
        """Every version, oldest first."""
        return [version.row for version in self._versions[tag]]

    def heads(self, tag: str) -> list[RecordRow]:
        """The versions that no other names."""
        return [version.row for version in self._versions[tag] if version.is_head]

    def body(self, row: RecordRow) -> Record:
        """A version's record, verified."""
        body: Record = queries.record_at(self._session, row).body
        return body

    def last_handed_over(self, tag: str) -> Record | None:
        """The last version that a handover made, verified."""
        rows = [row for row in self.versions(tag) if row.reason in (Reason.HANDOVER, Reason.CORRECTION)]
        return self.body(rows[-1]) if rows else None

    def carried_stops(self, tag: str) -> frozenset[str]:
        """Open stops that the next version takes along."""
        return carried_stops(view(self._session, tag))

    def new_tag(self) -> tuple[str, bytes]:
        """A tag that this vault has never issued and whose check character is one that a label may show; and its bytes."""
        if not self._new:
            self._draw(max(1, min(self._left, MOST_TAGS)))
        return self._new.popleft()

    def _draw(self, count: int) -> None:
        for _ in range(MOST_TRIES):
            drawn = {tag_from_bits(bits): bits for bits in [self._random_bits(8 * TAG_BYTES) for _ in range(count)]}
            tags = {tag: bits.to_bytes(TAG_BYTES, "big") for tag, bits in drawn.items() if tag is not None}
            used = issued(self._session, tags) | self._drawn
            self._new.extend(pair for pair in tags.items() if pair[0] not in used)
            self._drawn.update(tags)
            if self._new:
                return
        raise GearkeepError(f"No free tag was found in {MOST_TRIES} tries.", hint="Try again.", kind="no-tag")


__all__ = ["Known", "Newest", "Site"]
