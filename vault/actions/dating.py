"""Dates that cannot be right. The journal's order counts, and clocks are wrong at times: a care, never a stop."""

from __future__ import annotations

from vault.domain.findings import Finding, Severity
from vault.domain.record import Record

# Whoever signs without a network may be days late, and clocks differ; more than this is worth a look.
_LATE_S = 7 * 86_400


def dated_back(record: Record, before_s: int | None) -> list[Finding]:
    """A record that bears a date long before a version that stands before it in the journal. before_s: the latest of those."""
    if before_s is None or before_s - record.time_s < _LATE_S:
        return []
    days = (before_s - record.time_s) // 86_400
    return [Finding(
        rule="dated-back", severity=Severity.CARE, found=f"{days} days earlier", allowed="a later date",
        source="gearkeep, vault/FORMAT.md, section Chain",
        says="This version stands behind another one in the journal and bears a much earlier date: a wrong clock, or somebody "
             "who dates back. The journal's order counts; ask the signer.")]


# Clocks differ by hours where a time zone is set wrong, not by days.
_AHEAD_S = 86_400


def dated_ahead(record: Record, now_s: int) -> list[Finding]:
    """A record that bears a date which is still to come by the reader's clock."""
    if record.time_s - now_s <= _AHEAD_S:
        return []
    return [Finding(
        rule="dated-ahead", severity=Severity.CARE, found=f"{(record.time_s - now_s) // 86_400} days ahead",
        allowed="no later than today", source="gearkeep, vault/FORMAT.md, section Chain",
        says="This version bears a date that is still to come by this computer's clock: one of the two clocks is wrong, or "
             "somebody dates ahead. The journal's order counts; ask the signer.")]
