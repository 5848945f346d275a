"""Luminaires of this vault and of logs taken over, looked at in one way."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

from vault.actions.luminaire import View, find_tag, typed_tag, view
from vault.actions.origins import Taken, elsewhere, full_name, origin_words, split_name
from vault.db import queries, taken
from vault.db.session import Session
from vault.db.taken_mirror import mirror_of
from vault.domain.record import Record
from vault.domain.tag import from_bytes, shown
from vault.errors import GearkeepError
from vault.trust.signers import day_of


def locate(session: Session, text: str) -> tuple[str, Taken | None]:
    """(tag, whose it is: None for this vault's own) of a text as typed. Raises as `find_tag`, but for what was taken over."""
    typed, where = split_name(text)
    tag = typed_tag(session, typed)
    found = elsewhere(session, tag, where, is_own=bool(queries.versions_of(session, tag)))
    return (find_tag(session, text), None) if found is None else (tag, found)


@contextmanager
def vault_of(session: Session, found: Taken | None) -> Iterator[Session]:
    """The session that reads a luminaire: this vault's own, or one over its own vault's entries."""
    if found is None:
        yield session
        return
    with mirror_of(session, found.log, [found.tag]) as mirror:
        yield mirror


def look(session: Session, text: str) -> tuple[View, Taken | None]:
    """A luminaire as it stands, verified under the signers of its own vault, and whose it is."""
    tag, found = locate(session, text)
    with vault_of(session, found) as reading:
        return view(reading, tag), found


@dataclass(frozen=True, slots=True, kw_only=True)
class Adoption:
    """Where an adopted luminaire comes from. verified: whether that version stands so in the log taken over; why: what is wrong.

    words: one sentence for screens. signer: who signed it there.
    """

    tag: str
    log_id: bytes
    version: int
    signer: str | None
    verified: bool
    words: str
    why: str = ""

    def as_json(self) -> dict[str, object]:
        """The keys that other programs rely on."""
        return {"tag": self.tag, "log_id": self.log_id.hex(), "version": self.version, "signer": self.signer,
                "verified": self.verified, "problem": self.why or None}


def adoption_of(session: Session, record: Record) -> Adoption | None:
    """What an adopted luminaire's record says of its origin, held against the log taken over; None of any other."""
    origin = record.taken_from
    if origin is None:
        return None
    tag = from_bytes(origin.tag)
    log = next((one for one in taken.taken_logs(session) if one.log_id == origin.log_id), None)
    if log is None:
        return _doubtful(tag, record, f"log {origin.log_id.hex()[:8]}…", "this vault has no take-over of that log")
    site = origin_words(log)
    place = next((seq for seq, digest in taken.places_of(session, log.log_id, [tag]) if digest[:16] == origin.digest), None)
    if place is None:
        return _doubtful(tag, record, site, "that version does not stand in the log taken over")
    try:
        with mirror_of(session, log, [tag]) as mirror:
            statement = mirror.statement(place)
    except GearkeepError as problem:
        return _doubtful(tag, record, site, problem.what)
    body: Record = statement.body
    if (from_bytes(body.tag), body.version, statement.digest[:16]) != (tag, origin.version, origin.digest):
        return _doubtful(tag, record, site, "another version stands there under that digest")
    signer = statement.signer.code if statement.signer else "AUTH"
    return Adoption(tag=tag, log_id=log.log_id, version=origin.version, signer=signer, verified=True, words=(
        f"Adopted from {shown(tag)} ({full_name(session, tag, log.log_id)}) version {origin.version} of {site}; signed there by "
        f"{signer} on {day_of(body.time_s)}. Signer and digest are verified against the log taken over."))


def _doubtful(tag: str, record: Record, site: str, why: str) -> Adoption:
    assert record.taken_from is not None
    return Adoption(
        tag=tag, log_id=record.taken_from.log_id, version=record.taken_from.version, signer=None, verified=False, why=why,
        words=f"Says that it was adopted from {shown(tag)} version {record.taken_from.version} of {site}. NOT VERIFIED: {why}.")
