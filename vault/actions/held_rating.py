"""What a record names by name, and what to say when the vault does not hold it: its rating, its control line.

A vault that came back from labels holds records without the rest of the catalogue.
"""

from __future__ import annotations

from dataclasses import dataclass

from vault.db import queries
from vault.db.session import Session
from vault.domain.findings import Finding, Severity
from vault.domain.rating import Rating
from vault.domain.record import Record
from vault.trust.statements import Kind

MISSING = "rating-missing"
_SOURCE = "gearkeep, vault/FORMAT.md, section Chain"


@dataclass(frozen=True, slots=True, kw_only=True)
class HeldRating:
    """named: the rating that the record names; current: the newest. finding: what is wrong with either, or None.

    held: False when the vault has no rating of the type at all; both are then the few figures that the record carries.
    """

    named: Rating
    current: Rating
    finding: Finding | None
    held: bool


def held_rating(session: Session, record: Record) -> HeldRating:
    """Look up what a record names by code, revision and digest."""
    wanted = record.fixture_type
    rows = queries.catalogue(session, Kind.RATING, wanted.code)
    if not rows:
        from vault.domain.fit import carried_rating  # all that judges spares: only where the vault lacks the rating

        carried = carried_rating(record.gears, record.essentials, code=wanted.code, revision=wanted.revision)
        return HeldRating(named=carried, current=carried, finding=_missing(record), held=False)
    current: Rating = queries.catalogue_body(session, Kind.RATING, rows[-1])
    for row in rows:
        if row.revision == wanted.revision and row.digest[:8] == wanted.digest:
            named = current if row is rows[-1] else queries.catalogue_body(session, Kind.RATING, row)
            return HeldRating(named=named, current=current, finding=None, held=True)
    return HeldRating(named=current, current=current, finding=_renewed(record, current), held=True)


def _name(record: Record) -> str:
    return f"{record.fixture_type.code} revision {record.fixture_type.revision}"


def missing_line(record: Record) -> Finding:
    """The finding for a record whose control line is not held."""
    return Finding(
        rule="line-missing", severity=Severity.CARE, found="none", allowed=f"the line {record.line}", source=_SOURCE,
        says=f"The control line {record.line} is not in this vault, so addresses are numbered from 0 here, as on the bus; the "
             "label may number them from 1. Load it with: gearkeep line load FILE.")


def _missing(record: Record) -> Finding:
    return Finding(
        rule=MISSING, severity=Severity.UNKNOWN, found="none", allowed=_name(record), source=_SOURCE,
        says=f"The rating of {_name(record)} is not in this vault; load it with: gearkeep type load FILE.")


def _renewed(record: Record, current: Rating) -> Finding:
    return Finding(
        rule="rating-renewed", severity=Severity.CARE, found=f"{current.code} revision {current.revision}, loaded since",
        allowed=f"{_name(record)}, digest {record.fixture_type.digest.hex()}", source=_SOURCE,
        says=f"The very rating of {_name(record)} that the record was signed against is not in this vault; the settings are "
             f"held against revision {current.revision} as it was loaded since. The next version will name that one.")
