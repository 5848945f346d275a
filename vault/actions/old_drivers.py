"""Whether a driver that was taken out had failed, as far as anything on record says."""

from __future__ import annotations

from collections.abc import Sequence
from enum import Enum

from vault.db.old_drivers import found_good, issues_that_say, last_served, note_at, on_books
from vault.db.session import Session
from vault.db.swaps_seen import Swap, swaps

SAYS = "old driver: "
# One act signs the version and the issue; its clock is read twice.
SAME_ACT_S = 60
NOT_FAULTY, _DAMAGED = "not faulty", "damaged"
_LOOKED_AT = ("kept for inspection", "sent to maker")
TO_STORE = ("returned to store", NOT_FAULTY)


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
    return (Fate.NOT_FAULTY if fate.startswith(NOT_FAULTY) else Fate.DAMAGED if fate.startswith(_DAMAGED) else
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


def on_no_books(session: Session) -> list[Swap]:
    """Swaps whose old driver was to go to a store and is on no store's books since, nor in service again.

    Of those with a serial number alone, and where the new driver came from a store, whose issue says what becomes of the old one.
    """
    to_store = {tag: times for tag, said in issues_that_say(session, SAYS).items()
                if (times := [time_s for time_s, reason in said if reason.removeprefix(SAYS).startswith(TO_STORE)])}
    found = [one for one in swaps(session).swaps if one.model is not None and one.serial is not None and any(
        abs(time_s - one.time_s) <= SAME_ACT_S for time_s in to_store.get(one.tag, ()))] if to_store else []
    serials = [one.serial for one in found if one.serial is not None]
    back, again = on_books(session, serials), last_served(session, serials)
    return [one for one in found if back.get((one.model or "", one.serial or ""), -1) < one.time_s
            and again.get((one.model or "", one.serial or ""), -1) < one.place]
