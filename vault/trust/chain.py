"""Rules that bind a statement to what stands before it in the journal (FORMAT.md, section Chain)."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Protocol

from vault.domain.record import MAY_FOLLOW, Reason, Record
from vault.domain.schema import words
from vault.domain.stock import Movement
from vault.domain.tag import from_bytes, shown
from vault.domain.terms import SupplyTerms
from vault.errors import VerificationError
from vault.trust.keys import check_public_key
from vault.trust.statements import (
    Appointment,
    Approval,
    Genesis,
    Grant,
    LabelIssue,
    LabelPlaced,
    LabelSighting,
    LabelWithdrawal,
    Recovery,
    Withdrawal,
)
from vault.trust.takeover import TakeOver
from vault.trust.verify import Statement


class RecordPast(Protocol):
    """What the rules of a record ask about the journal before it."""

    def versions(self, tag: bytes, /) -> Sequence[tuple[bytes, Any]]:
        """(digest, what bears its version and reason) of every version of a tag so far."""

    def rating_prefix(self, code: str, revision: int, /) -> bytes | None:
        """First 8 bytes of the digest of that rating, or None."""


class Past(RecordPast, Protocol):
    """What the rules of all kinds ask about the journal before the statement."""

    def revision(self, kind: int, name: str) -> int:
        """Highest revision so far of a rating, driver model, circuit or line; 0 for none."""

    def record_signer(self, digest: bytes) -> bytes | None:
        """Key id of the signer of the record with that digest, or None."""

    def knows_key(self, key_id: bytes) -> bool:
        """Whether that key was ever granted."""

    def copies(self, tag: bytes) -> int:
        """How many label copies of a tag were ever issued."""

    def accepted(self, digest: bytes) -> bool:
        """Whether a recovery accepts the record with that digest."""

    def taken(self, log_id: bytes) -> tuple[int, bytes] | None:
        """(size, authority's key) of the last take-over of another log, or None."""


def _broken(what: str, *, kind: str = "bad-chain", hint: str = "") -> VerificationError:
    return VerificationError(what, kind=kind, hint=hint or "The statement does not follow what the journal says.")


def check_record(record: Record, past: RecordPast, *, accepted: bool = False) -> None:
    """Version, predecessors, reason and rating of a record stand in the journal. Raises VerificationError.

    accepted: the record came back from a label; what the lost journal held before it is not asked for.
    """
    label = shown(from_bytes(record.tag))
    versions = past.versions(record.tag)
    if record.version == 1 and versions and not accepted:
        raise _broken(f"The tag {label} has been used already.", kind="tag-in-use",
                      hint="A tag is never used twice; give the luminaire a new one.")
    named = []
    for prefix in record.predecessor_prefixes:
        match = [held for digest, held in versions if digest[:16] == prefix]
        if match:
            named.append(match[0])
        elif not accepted:
            raise _broken(f"{label} version {record.version} follows a version that the journal does not hold.")
    whole = len(named) == len(record.predecessor_prefixes)
    if named and whole and record.version != 1 + max(held.version for held in named):
        raise _broken(f"{label} says version {record.version} after version {max(h.version for h in named)}.")
    for reason in [held.reason for held in named] or ([] if accepted else [None]):
        if record.reason not in MAY_FOLLOW[reason]:
            before = "nothing" if reason is None else words(reason)
            raise _broken(f"{label}: a version for {words(record.reason)} may not follow {before}.",
                          hint="A retired luminaire stays retired; a new one gets a new tag."
                          if reason is Reason.RETIRED else "")
    kept = past.rating_prefix(record.fixture_type.code, record.fixture_type.revision)
    if not accepted and kept != record.fixture_type.digest:
        raise _broken(f"{label} names a rating of {record.fixture_type.code} revision "
                      f"{record.fixture_type.revision} that the journal does not hold.")


def check_place(statement: Statement, past: Past) -> None:
    """Step 8: the kind's own rules against the journal so far. Raises VerificationError."""
    body = statement.body
    if isinstance(body, Record):
        accepted = past.accepted(statement.digest)
        check_record(body, past, accepted=accepted)
        if body.taken_from is not None and not accepted and past.taken(body.taken_from.log_id) is None:
            raise _broken(f"{shown(from_bytes(body.tag))} says that it was taken from the log {body.taken_from.log_id.hex()}, "
                          "which was never taken over.")
    elif isinstance(body, (Movement, SupplyTerms)):
        raise _broken("Movements of stock and terms of supply belong into the stock journal.")
    elif isinstance(body, Genesis):
        raise _broken("A vault has one genesis and it stands first.")
    elif isinstance(body, Grant):
        check_public_key(body.public_key)
    elif isinstance(body, Withdrawal):
        if not past.knows_key(body.key_id):
            raise _broken(f"The key {body.key_id.hex()} was never granted a role.")
    elif isinstance(body, Approval):
        author = past.record_signer(body.record_digest)
        if author is None:
            raise _broken("The approval is of a record that the journal does not hold.")
        if author == statement.key_id:
            raise _broken("A signer cannot approve their own record.",
                          hint="Ask another signer with the role approver or authority.", kind="wrong-role")
    elif isinstance(body, LabelIssue):
        for line in body.labels:
            if not any(digest[:8] == line.record_digest for digest, _ in past.versions(line.tag)):
                raise _broken(f"A label names a record of {shown(from_bytes(line.tag))} that the journal does not hold.")
    elif isinstance(body, (LabelPlaced, LabelWithdrawal)):
        for copy in body.labels:
            if copy.copy > past.copies(copy.tag):
                raise _broken(f"Copy {copy.copy} of {shown(from_bytes(copy.tag))} was never issued.")
    elif isinstance(body, LabelSighting):
        _check_sighting(body, past)
    elif isinstance(body, Recovery):
        _check_recovery(body, past)
    elif isinstance(body, TakeOver):
        _check_take_over(body, past)
    elif not isinstance(body, Appointment):  # of an appointment the signers decide everything, in vault/trust/verify.py
        _check_revision(statement, past)


def _check_sighting(body: LabelSighting, past: Past) -> None:
    for found in body.labels:
        if not past.versions(found.tag):
            raise _broken(f"The journal holds no luminaire {shown(from_bytes(found.tag))}.")
        if found.copy is not None and found.copy > past.copies(found.tag):
            raise _broken(f"Copy {found.copy} of {shown(from_bytes(found.tag))} was never issued.")


def _check_recovery(body: Recovery, past: Past) -> None:
    if len(body.digests) % 32:
        raise _broken("A recovery names digests of 32 bytes each.", kind="bad-payload")
    for start in range(0, len(body.digests), 32):
        digest = body.digests[start : start + 32]
        if past.record_signer(digest) is None:
            raise _broken(f"The recovery names a record {digest[:8].hex()} … that the journal does not hold.")


def _check_take_over(body: TakeOver, past: Past) -> None:
    before = past.taken(body.log_id)
    if before is None:
        return
    size, authority_key = before
    if authority_key != body.authority_key:
        raise _broken(f"The log {body.log_id.hex()} was taken over as another authority's.")
    if body.said.size <= size:
        raise _broken(f"The take-over names {body.said.size} entries of a log of which {size} were taken over before.")


def _check_revision(statement: Statement, past: Past) -> None:
    body = statement.body
    name = next((getattr(body, field) for field in ("code", "model", "name") if hasattr(body, field)), None)
    if name is None or not hasattr(body, "revision"):
        return
    last = past.revision(int(statement.kind), name)
    if body.revision != last + 1:
        raise _broken(f"{name} revision {body.revision} cannot follow revision {last}.",
                      hint=f"The next revision is {last + 1}.")
