"""Whether a driver that was taken out had failed, as far as anything on record says."""

from __future__ import annotations

from collections.abc import Sequence
from enum import Enum

from vault.db.old_drivers import found_good, issues_that_say, last_served, note_at
from vault.db.session import Session
from vault.db.swaps_seen import Swap

SAYS = "old driver: "
# One act signs the version and the issue; its clock is read twice.
SAME_ACT_S = 60
_NOT_FAULTY, _DAMAGED = "not faulty", "damaged"
_LOOKED_AT = ("kept for inspection", "sent to maker")


class Fate(Enum):
    """FAILED where nothing says otherwise: a driver is seldom replaced for anything else (common practice, no source)."""

    FAILED = "failed"
    UNDECIDED = "failed, and somebody looks for the cause"
    NOT_FAULTY = "not faulty"
    DAMAGED = "damaged from outside"

    @property
    def is_failure(self) -> bool:
        """Whether the driver failed by itself."""
        return self in (Fate.FAILED, Fate.UNDECIDED)


def _said(text: str) -> Fate | None:
    _, found, fate = text.partition(SAYS)
    if not found:
        return None
    return (Fate.NOT_FAULTY if fate.startswith(_NOT_FAULTY) else Fate.DAMAGED if fate.startswith(_DAMAGED) else
            Fate.UNDECIDED if fate.startswith(_LOOKED_AT) else Fate.FAILED)


def fates(session: Session, swaps: Sequence[Swap]) -> list[Fate]:
    """The fate of each old driver, in the order given.

    Not faulty: it came back to a store as good or was checked there, it served again later, or whoever replaced it said so in
    the spare's issue or the version's note. Damaged: whoever replaced it said so. Raises VerificationError.
    """
    serials = [swap.serial for swap in swaps if swap.serial is not None]
    good, again, issues = found_good(session, serials), last_served(session, serials), issues_that_say(session, SAYS)
    found = []
    for swap in swaps:
        piece = (swap.model or "", swap.serial or "")
        if good.get(piece, -1) >= swap.time_s or again.get(piece, -1) > swap.place:
            found.append(Fate.NOT_FAULTY)
            continue
        said = [_said(reason) for time_s, reason in issues.get(swap.tag, []) if abs(time_s - swap.time_s) <= SAME_ACT_S]
        found.append((said[-1] if said else _said(note_at(session, swap.place))) or Fate.FAILED)
    return found
