"""Every version of a luminaire, verified, with what changed from one to the next."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

from vault.actions.looking import locate, vault_of
from vault.actions.luminaire import Approved, approvals_of, change_class_words, open_after, view
from vault.actions.origins import Taken
from vault.db import proofs, queries
from vault.db.session import Session, Vault
from vault.db.taken import read_node
from vault.domain.record import Record
from vault.domain.schema import flatten, words
from vault.trust.merkle import inclusion_proof, verify_inclusion

# Fields that differ between any two versions and tell a reader nothing.
_PLUMBING = ("version", "predecessors", "time_s", "reason", "basis", "open_stops", "fixture_type.digest")


@dataclass(frozen=True, slots=True, kw_only=True)
class HistoryEntry:
    """One version. changes: (field, before, after) against its first predecessor. place: entry of the journal.

    proof: hashes of the inclusion proof (RFC 9162) in the journal of `journal_size` entries; it was verified.
    """

    tag: str
    version: int
    place: int
    digest: bytes
    time_s: int
    signer: str
    reason: str
    open_stops: frozenset[str]
    change_class: str | None
    changes: tuple[tuple[str, Any, Any], ...]
    approvals: tuple[Approved, ...]
    journal_size: int
    proof: tuple[bytes, ...]

    def as_json(self) -> dict[str, Any]:
        """The version as JSON values."""
        return {
            "version": self.version, "entry": self.place, "digest": self.digest.hex(), "time_s": self.time_s,
            "signer": self.signer, "reason": self.reason, "open_stops": sorted(self.open_stops),
            "change_class": self.change_class, "journal_size": self.journal_size,
            "inclusion_proof": [node.hex() for node in self.proof],
            "changes": [{"field": f, "before": b, "after": a} for f, b, a in self.changes],
            "approvals": [{"signer": a.signer, "accepts": sorted(a.accepts), "because": a.because,
                           "change_class": change_class_words(a.change_class)} for a in self.approvals],
        }


def _changes(before: Record | None, after: Record) -> tuple[tuple[str, Any, Any], ...]:
    if before is None:
        return ()
    old, new = flatten(before), flatten(after)
    names = [*new, *(name for name in old if name not in new)]
    return tuple((name, old.get(name, "–"), new.get(name, "–")) for name in names
                 if old.get(name) != new.get(name) and name not in _PLUMBING)


@dataclass(frozen=True, slots=True, kw_only=True)
class History:
    """Versions oldest first. taken: whose luminaire it is, None for this vault's own. frozen: labels and swaps wait."""

    entries: list[HistoryEntry]
    taken: Taken | None
    frozen: bool


def history(vault: Vault, tag_text: str) -> list[HistoryEntry]:
    """Versions oldest first. Raises VerificationError when one does not verify."""
    with vault.reading() as session:
        tag, taken = locate(session, tag_text)
        with vault_of(session, taken) as reading:
            return list(_entries(reading, tag, _prover(session, taken)))


def told(vault: Vault, tag_text: str) -> History:
    """The same, with whose it is and whether it is frozen."""
    with vault.reading() as session:
        tag, taken = locate(session, tag_text)
        with vault_of(session, taken) as reading:
            return History(entries=list(_entries(reading, tag, _prover(session, taken))), taken=taken,
                           frozen=bool(view(reading, tag).frozen))


# (place, digest) -> the size and the proof, verified.
_Prove = Callable[[int, bytes], tuple[int, list[bytes]]]


def _prover(session: Session, taken: Taken | None) -> _Prove:
    """Proves entries of this vault's journal, or of a log taken over up to the size that its take-over vouches for."""
    if taken is None:
        size = session.size()
        root = proofs.root(session, size)
        return lambda place, digest: (size, _proven(proofs.inclusion_proof(session, place, size), place, digest, size, root))
    log, read = taken.log, read_node(session, taken.log.log_id)
    return lambda place, digest: (log.size, _proven(inclusion_proof(place, log.size, read), place, digest, log.size, log.root))


def _proven(proof: list[bytes], place: int, digest: bytes, size: int, root: bytes) -> list[bytes]:
    verify_inclusion(digest, place, size, proof, root)
    return proof


def _entries(session: Session, tag: str, prove: _Prove) -> Iterator[HistoryEntry]:
    held: dict[bytes, Record] = {}
    for row in queries.versions_of(session, tag):
        statement = queries.record_at(session, row)
        record: Record = statement.body
        held[statement.digest[:16]] = record
        before = next((held[p] for p in record.predecessor_prefixes if p in held), None)
        approvals = approvals_of(session, statement.digest)
        size, proof = prove(row.seq, statement.digest)
        yield HistoryEntry(
            tag=tag, version=record.version, place=row.seq, digest=statement.digest, time_s=record.time_s,
            signer=statement.signer.code if statement.signer else "AUTH", reason=words(record.reason),
            open_stops=open_after(record.open_stop_names, approvals),
            change_class=change_class_words(record.change_class), changes=_changes(before, record),
            approvals=approvals, journal_size=size, proof=tuple(proof))
