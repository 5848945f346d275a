"""Whether what is kept for a luminaire, or goes out to it, can be used there at all."""

from __future__ import annotations

from collections.abc import Iterator

from vault.actions.fitting import judge
from vault.actions.luminaire import View, full_gears
from vault.actions.unsure import Unsure
from vault.db import stock_rows
from vault.db.session import Session
from vault.domain.driver import DriverModel
from vault.domain.findings import Severity, Verdict
from vault.domain.fit import Fit
from vault.domain.schema import words
from vault.domain.settings import Duty
from vault.domain.tag import shown
from vault.domain.terms import Item
from vault.errors import GearkeepError
from vault.spares.stock_walk import state_of

_BEST_FIRST = (Verdict.FITS, Verdict.FITS_WITH_CARE, Verdict.CANNOT_TELL, Verdict.DOES_NOT_FIT)


def use_notes(session: Session, seen: View, model: str, drivers: dict[str, DriverModel], *, keeping: int = 0) -> Iterator[str]:
    """What is to be heard before pieces of a model are kept for a luminaire or issued to it. keeping: pieces to be kept beside
    those that are kept for it, where nobody is sure yet that it needs so many.

    Raises GearkeepError (does-not-fit) where `fit` refuses the model for each of its gears; Unsure where more would be kept than
    its gears can use. What nobody can tell is told.
    """
    tag = shown(seen.tag)
    if model not in drivers:
        terms = stock_rows.supply_terms(session, [model]).get(model)
        if terms is not None and terms.item is Item.BATTERY and all(one.duty is Duty.GENERAL for one in seen.record.gears):
            yield f"{model} is a battery, and {tag} has general gear only: is it the right luminaire?"
        return
    if seen.conflict or seen.frozen:
        yield (f"Nobody can say whether {model} fits {tag}: its records contradict each other, or its label hung elsewhere. "
               f"Settle that first: gearkeep show {seen.tag}.")
        return
    judged = [(words(gear.duty), judge(session, seen, gear, drivers[model]).fit) for gear in full_gears(seen.record)]
    best = min((fit.verdict for _, fit in judged), key=_BEST_FIRST.index)
    if best is Verdict.DOES_NOT_FIT:
        raise GearkeepError(
            f"{model} cannot be used in {tag}, {seen.record.place}. {' '.join(_why(duty, fit) for duty, fit in judged)}",
            kind="does-not-fit", hint=f"Nothing was signed. What fits there: gearkeep fit {seen.tag} --in-stock. Where it hangs "
            f"there already, sign the swap, which takes it from stock: gearkeep swap {seen.tag} --spare {model} --provisional.")
    if keeping:
        _ask_more(session, seen, model, keeping, sum(fit.verdict is not Verdict.DOES_NOT_FIT for _, fit in judged))
    if best is Verdict.CANNOT_TELL:
        duty, fit = next(one for one in judged if one[1].verdict is best)
        yield f"Nobody can say whether {model} fits {tag}. {_why(duty, fit)}"


def _ask_more(session: Session, seen: View, model: str, pieces: int, gears: int) -> None:
    kept = state_of(stock_rows.each_movement(session, model), {}, today_day=0).reserved_for(model, seen.tag)
    if kept + pieces > gears:
        before = f", with {kept} kept for it already" if kept else ""
        raise Unsure("This reservation", (
            f"{pieces} of {model} would be kept for {shown(seen.tag)}, which has {'one' if gears == 1 else gears} gear that can "
            f"use it{before}",), ("Keep no more than it can use, or say --yes where more are needed. What is kept: "
                                  "gearkeep stock list.",))


def _why(duty: str, fit: Fit) -> str:
    """The first finding that decides, with its rule."""
    grave = Severity.STOP if fit.verdict is Verdict.DOES_NOT_FIT else Severity.UNKNOWN
    found = [one for one in fit.findings if one.severity is grave]
    more = f"; {len(found) - 1} more" if len(found) > 1 else ""
    return f"Its {duty} gear: {found[0].says.rstrip('.')} (rule {found[0].rule}{more})."
