"""Findings about settings and ratings that a key in wrong hands signed."""

from __future__ import annotations

from vault.db.doubts import RULE, doubtful_revision, doubtful_versions, said
from vault.db.session import Session
from vault.domain.findings import Finding, Severity
from vault.domain.record import Record
from vault.trust.signers import Doubt
from vault.trust.statements import Kind

RATING_RULE = "doubtful-rating"
# The settings, or what they are judged by, are nobody's word: no spare fits them.
DOUBTS = frozenset({RULE, RATING_RULE})
_SOURCE = "gearkeep, vault/FORMAT.md, section Chain"


def doubt_findings(session: Session, tag: str, record: Record) -> list[Finding]:
    """One finding for each doubtful version of a luminaire that nobody answered for since, one for its type's newest rating."""
    found = [_finding(
        RULE, one.doubt, f"version {one.version}, entry {one.seq}",
        f"Version {one.version} was signed by {said(one.doubt)}. Compare it with the driver and have "
        "another signer approve it; or settle it by a readback.") for one in doubtful_versions(session, tag)]
    rating = doubtful_revision(session, Kind.RATING, record.fixture_type.code)
    if rating is not None:
        found.append(_finding(
            RATING_RULE, rating.doubt, f"{rating.what}, entry {rating.seq}",
            f"The {rating.what} was signed by {said(rating.doubt)}. Let an approver compare it with the type's documents and "
            "sign the next revision."))
    return found


def _finding(rule: str, doubt: Doubt, found: str, says: str) -> Finding:
    allowed = "no entry" if doubt.trusted_until is None else f"entries up to {doubt.trusted_until}"
    return Finding(rule=rule, severity=Severity.STOP, found=found, allowed=f"{allowed} by {doubt.code}", source=_SOURCE,
                   says=says)
