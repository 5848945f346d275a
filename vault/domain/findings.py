"""Findings: the result of a check, and the verdict that a list of them gives."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import Enum


class Severity(Enum):
    """stop: may hurt a person, destroy equipment or break a duty. unknown: a figure is missing, never good."""

    STOP = "stop"
    UNKNOWN = "unknown"
    CARE = "care"
    NOTE = "note"


class Verdict(Enum):
    """Whether a spare can take the settings."""

    FITS = "fits"
    FITS_WITH_CARE = "fits-with-care"
    DOES_NOT_FIT = "does-not-fit"
    CANNOT_TELL = "cannot-tell"


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One result of a check.

    rule: kebab-case name. found, allowed: figures as text in `unit`. margin: how far inside (or, below zero,
    outside) the limit, in per cent of the limit; None where there is no such figure. source: standard with clause,
    or "common practice, no source". says: one sentence that can be read aloud. where: gear or channel, or "".
    """

    rule: str
    severity: Severity
    found: str
    allowed: str
    unit: str = ""
    source: str
    says: str
    where: str = ""
    margin_percent: float | None = None

    def as_json(self) -> dict[str, object]:
        """The keys that other programs rely on, in a fixed order."""
        return {
            "rule": self.rule, "severity": self.severity.value, "found": self.found, "allowed": self.allowed,
            "unit": self.unit, "source": self.source, "says": self.says, "where": self.where,
            "margin_percent": self.margin_percent,
        }


def verdict(findings: Iterable[Finding]) -> Verdict:
    """A stop beats an unknown, an unknown beats a care; notes never count."""
    seen = {finding.severity for finding in findings}
    if Severity.STOP in seen:
        return Verdict.DOES_NOT_FIT
    if Severity.UNKNOWN in seen:
        return Verdict.CANNOT_TELL
    if Severity.CARE in seen:
        return Verdict.FITS_WITH_CARE
    return Verdict.FITS


def stops(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """The findings that a second signer has to accept before the record counts."""
    return tuple(f for f in findings if f.severity in (Severity.STOP, Severity.UNKNOWN))
