"""Need classes: luminaires whose gear has the same settings (address apart), rating, line and circuit facts, so that one spare
answers for all of them.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from vault.domain.driver import DriverModel
from vault.domain.findings import Verdict
from vault.domain.rating import Rating
from vault.domain.settings import Duty, Gear
from vault.domain.site import Circuit, Line


@dataclass(frozen=True, slots=True, kw_only=True)
class NeedClass:
    """One class. key: digest over what makes it one, 8 bytes. gear: as recorded, without an address. ratings: the one
    that the records name and, where it is newer, the current one; the worse answer counts. pieces: gear in service that
    need it. tags: some luminaires, at most `EXAMPLES`.
    """

    key: bytes
    gear: Gear
    ratings: tuple[Rating, ...]
    line: Line | None
    circuit: Circuit | None
    pieces: int
    tags: tuple[str, ...]

    @property
    def vital(self) -> bool:
        """Whether it has an emergency duty."""
        return self.gear.duty is not Duty.GENERAL


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What one model is for one class. limit: the gravest finding in words with its figure, "" where it fits."""

    verdict: Verdict
    rule: str
    limit: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Coverage:
    """Every model against every class. answers[class][model] in the order of `needs` and `models`."""

    needs: Sequence[NeedClass]
    models: Sequence[DriverModel]
    answers: Sequence[Sequence[Answer]]

    def covers(self, need: int, model: int, *, with_care: bool = False) -> bool:
        """Whether a model may stand in for a class: it fits, or fits with care where that is allowed. Unknown never does."""
        verdict = self.answers[need][model].verdict
        return verdict is Verdict.FITS or (with_care and verdict is Verdict.FITS_WITH_CARE)

    def pieces(self, needs: Iterable[int]) -> int:
        """Drivers in service of some classes."""
        return sum(self.needs[need].pieces for need in needs)
