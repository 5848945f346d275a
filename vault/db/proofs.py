"""Proofs from the stored tree: the few nodes that a proof is made of are fetched in one query."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from vault.db.engine import blob
from vault.db.session import Session
from vault.db.tables import MAIN
from vault.errors import GearkeepError
from vault.trust import merkle
from vault.trust.cose import digest as digest_of

_COLUMNS = "SELECT seq, signed, nodes FROM journal WHERE log = {mark} AND seq "


def _rows(session: Session, log: int, places: list[int]) -> dict[int, Any]:
    raw: Any = session.connection.connection.driver_connection
    if session.connection.dialect.name == "sqlite":
        query = _COLUMNS.format(mark="?") + f"IN ({', '.join('?' * len(places))})"
        return {row[0]: row for row in raw.execute(query, (log, *places))}
    return {row[0]: row for row in raw.execute(_COLUMNS.format(mark="%s") + "= ANY (%s)", (log, places))}


def _from_rows(session: Session, log: int, make: Callable[[merkle.ReadNode], Any]) -> Any:
    wanted: list[tuple[int, int]] = []

    def note(level: int, index: int) -> bytes:
        wanted.append((level, index))
        return merkle.EMPTY_ROOT

    # Which nodes a proof reads depends on its sizes alone, so a first pass over nothing finds them.
    make(note)
    places = {merkle.node_location(level, index)[0] if level else index for level, index in wanted}
    rows = _rows(session, log, sorted(places))

    def read(level: int, index: int) -> bytes:
        place, offset = merkle.node_location(level, index) if level else (index, 0)
        row = rows.get(place)
        if row is None:
            raise GearkeepError(f"The journal has no entry {place}.", kind="not-found", hint="Run: gearkeep audit.")
        return blob(row[2])[offset : offset + merkle.HASH_BYTES] if level else digest_of(blob(row[1]))

    return make(read)


def inclusion_proof(session: Session, index: int, size: int, log: int = MAIN) -> list[bytes]:
    """PATH(index, D_size) of RFC 9162 2.1.3.1 over a log's stored tree. Raises GearkeepError (bad-proof)."""
    proof: list[bytes] = _from_rows(session, log, lambda read: merkle.inclusion_proof(index, size, read))
    return proof


def consistency_proof(session: Session, size1: int, size2: int, log: int = MAIN) -> list[bytes]:
    """PROOF(size1, D_size2) of RFC 9162 2.1.4.1 over a log's stored tree. Raises GearkeepError (bad-proof)."""
    proof: list[bytes] = _from_rows(session, log, lambda read: merkle.consistency_proof(size1, size2, read))
    return proof


def root(session: Session, size: int, log: int = MAIN) -> bytes:
    """The root of a log's first `size` entries."""
    found: bytes = _from_rows(session, log, lambda read: merkle.root(size, read))
    return found
