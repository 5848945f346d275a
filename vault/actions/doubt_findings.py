"""Findings about settings and ratings that a key in wrong hands signed."""

from __future__ import annotations

from vault.db.doubts import RULE, doubtful_revision, doubtful_versions, said
from vault.db.session import Session
from vault.domain.findings import Finding, Severity
from vault.domain.record import Record
from vault.trust.signers import Doubt
from vault.trust.statements import Kind

# What the newest revision is called in a finding, and what settles it.
_OF_CATALOGUE = {
    Kind.RATING: ("doubtful-rating", "Let an approver compare it with the type's documents and sign the next revision."),
    Kind.DRIVER_MODEL: ("doubtful-driver", "Compare it with the driver's data sheet and let another signer load it: gearkeep "
                                           "driver load FILE."),
    Kind.LINE: ("doubtful-line", "Compare it with the line on site and let another signer load it: gearkeep line load FILE."),
    Kind.CIRCUIT: ("doubtful-circuit", "Compare it with the circuit on site and let another signer load it: gearkeep circuit "
                                       "load FILE."),
}
# The settings, or what they are judged by, are nobody's word: no spare fits them.
DOUBTS = frozenset({RULE, *(rule for kind, (rule, _) in _OF_CATALOGUE.items() if kind is not Kind.DRIVER_MODEL)})
_SOURCE = "gearkeep, vault/FORMAT.md, section Chain"


def doubt_findings(session: Session, tag: str, record: Record) -> list[Finding]:
    """One finding for each doubtful version of a luminaire that nobody answered for since, one each where the newest revision of
    its type's rating, its line or its circuit is doubtful.
    """
    found = [_finding(
        RULE, one.doubt, f"version {one.version}, entry {one.seq}",
        f"Version {one.version} was signed by {said(one.doubt)}. Compare it with the driver and have "
        "another signer approve it; or settle it by a readback.") for one in doubtful_versions(session, tag)]
    return [*found, *place_doubts(session, record.fixture_type.code, record.line, record.circuit)]


def place_doubts(session: Session, type_code: str, line: str | None, circuit: str | None) -> tuple[Finding, ...]:
    """That what a gear is judged by was signed by a key in wrong hands: its type's rating, its line, its circuit."""
    named = ((Kind.RATING, type_code), (Kind.LINE, line), (Kind.CIRCUIT, circuit))
    return tuple(found for kind, name in named if name is not None
                 for found in [catalogue_doubt(session, kind, name)] if found is not None)


def model_doubts(session: Session, model: str) -> tuple[Finding, ...]:
    """That a driver model's newest revision was signed by a key in wrong hands: what it can do is nobody's word."""
    found = catalogue_doubt(session, Kind.DRIVER_MODEL, model)
    return () if found is None else (found,)


def catalogue_doubt(session: Session, kind: Kind, name: str) -> Finding | None:
    """A stop where the newest revision of a rating, driver model, line or circuit is in doubt."""
    found = doubtful_revision(session, kind, name)
    if found is None:
        return None
    rule, settle = _OF_CATALOGUE[kind]
    return _finding(rule, found.doubt, f"{found.what}, entry {found.seq}",
                    f"The {found.what} was signed by {said(found.doubt)}. {settle}")


def _finding(rule: str, doubt: Doubt, found: str, says: str) -> Finding:
    allowed = "no entry" if doubt.trusted_until is None else f"entries up to {doubt.trusted_until}"
    return Finding(rule=rule, severity=Severity.STOP, found=found, allowed=f"{allowed} by {doubt.code}", source=_SOURCE,
                   says=says)
