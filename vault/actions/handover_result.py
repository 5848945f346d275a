"""What became of a schedule that was handed over."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TypeAlias

from vault.domain.findings import Finding
from vault.exchange.schedule import Rejected, Schedule
from vault.exchange.schedule_translation import Translation

Changes: TypeAlias = tuple[tuple[str, object, object], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Accepted:
    """One luminaire of the schedule that was signed, or would be. change: new, revised or unchanged.

    changes: (field, before, after) of a revised one.
    """

    reference: str
    tag: str
    version: int
    change: str
    provisional: bool
    changes: Changes


@dataclass(frozen=True, slots=True, kw_only=True)
class HandoverResult:
    """What became of a schedule. findings: (reference, finding) of accepted luminaires, worth knowing. kin: row of the
    file -> all rows of the same luminaire. schedule: what the strict reader held, its rows numbered as it counts them.
    """

    accepted: tuple[Accepted, ...]
    rejected: tuple[Rejected, ...]
    findings: tuple[tuple[str, Finding], ...]
    schedule: Schedule
    translation: Translation
    kin: Mapping[int, tuple[int, ...]]
