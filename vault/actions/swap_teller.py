"""What a guided swap shows on its way; the command line prints it."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Protocol

from vault.actions.fitting import FitResult, Judged
from vault.actions.luminaire import View
from vault.domain.findings import Finding
from vault.domain.readback import Comparison
from vault.domain.settings import Gear
from vault.domain.site import Line


class Teller(Protocol):
    """Whoever reads along."""

    def heading(self, title: str) -> None:
        """The next part of the swap begins."""

    def note(self, *lines: str) -> None:
        """Plain lines."""

    def luminaire(self, seen: View, neighbours: Sequence[str]) -> None:
        """What hangs where, and what hangs beside it: enough to know it by."""

    def cautions(self, cautions: Sequence[str]) -> None:
        """All of them, before anything else is said of the work."""

    def spares(self, result: FitResult) -> None:
        """Spares ranked, with stock and place."""

    def plan(self, gear: Gear, judged: Judged, line: Line | None, drawings: Sequence[Path]) -> None:
        """Cautions, what the spare cannot hold, steps. line: numbers the addresses; drawings: the files that draw them."""

    def compared(self, comparisons: Sequence[Comparison], line: Line | None) -> None:
        """What was read, field by field, beside what the record says. line: gives the numbering of addresses."""

    def findings(self, findings: Sequence[Finding]) -> None:
        """Findings with their sentences."""
