"""When a label seen on a wrong housing freezes luminaires: two fittings that may be taken for one another.

A label in a drawer, in a store or on a workbench freezes nothing. One that hangs on a housing does, and so does one that may
hang there: it was found where another luminaire is recorded, or it had been on its own housing before.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from vault.domain.findings import Finding
from vault.domain.label_findings import stray_words
from vault.domain.label_life import LabelLife, Stray
from vault.domain.places import same_place
from vault.domain.rules import Sheet

# Rules whose findings freeze swaps and printing until somebody settles where the label belongs.
FREEZING = frozenset({"label-housing", "label-type", "label-of-another"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Seat:
    """A luminaire in service where its record says it hangs."""

    tag_shown: str
    place: str
    type_code: str


def others_meant(stray: Stray, there: Sequence[Seat]) -> tuple[Seat, ...]:
    """Which of the other luminaires at the stray label's place may bear it: those of the housing's type, where that is known
    and any is; nobody where it lies loose.
    """
    if stray.on_housing is False:
        return ()
    of_type = tuple(seat for seat in there if seat.type_code == stray.type_code)
    return of_type or tuple(there)


def freezes(stray: Stray, life: LabelLife, there: Sequence[Seat]) -> bool:
    """Whether a stray label freezes its luminaire. there: the other luminaires recorded at that place."""
    if stray.on_housing is False:
        return False
    if stray.on_housing or stray.type_code is not None or others_meant(stray, there):
        return True
    # It left its housing: the luminaire was moved, or its label came off. A spare that hung nowhere yet did not.
    may_be = [copy for copy in life.copies if copy.copy in stray.copies]
    return bool(may_be) and all(copy.placed for copy in may_be)


def own_findings(frozen: Sequence[tuple[Stray, Sequence[Seat]]], seat: Seat) -> tuple[Finding, ...]:
    """What freezes a luminaire about its own labels. frozen: strays that do, each with the luminaires that may bear it."""
    sheet = Sheet()
    for stray, others in frozen:
        if same_place(stray.place, seat.place):
            sheet.ask("label-type").broken(
                f"{stray_words(stray)} was seen on a housing of type {stray.type_code}, but the luminaire is of type "
                f"{seat.type_code}.", found=str(stray.type_code), allowed=seat.type_code)
            continue
        housing = f", on a housing of type {stray.type_code}" if stray.type_code is not None else ""
        beside = f" {_named(others)} {'is' if len(others) == 1 else 'are'} recorded there." if others else ""
        sheet.ask("label-housing").broken(
            f"{stray_words(stray)} was found at {stray.place}{housing}, but the luminaire hangs at {seat.place}.{beside} Two "
            "fittings may be taken for one another.", found=stray.place, allowed=seat.place)
    return tuple(sheet.findings)


def another_finding(stray: Stray, bearer: Seat, seat: Seat, there: Sequence[Seat]) -> Finding:
    """What a luminaire at `seat` is told of another's label found there. bearer: whose label it is.

    Frozen where it is the only one that can bear it; where several hang at that place, a care for each.
    """
    ask = Sheet().ask("label-of-another" if len(others_meant(stray, there)) == 1 else "label-near")
    ask.broken(f"{stray_words(stray)} of {bearer.tag_shown}, which hangs at {bearer.place}, was found at {seat.place}, where "
               "this luminaire is recorded. Two fittings may be taken for one another.", found=bearer.tag_shown,
               allowed=seat.tag_shown)
    return ask.sheet.findings[0]


def _named(seats: Sequence[Seat]) -> str:
    shown = [seat.tag_shown for seat in seats[:3]]
    more = [f"{len(seats) - 3} more"] if len(seats) > 3 else []
    return " and ".join([*shown, *more])


def ways_out(findings: Iterable[Finding], tag: str) -> str:
    """How what froze a luminaire is settled, as a hint. tag: its own."""
    whose = {finding.found if finding.rule == "label-of-another" else tag for finding in findings}
    of = " or ".join(sorted("".join(one.split()) for one in whose))
    moved = "" if whose == {tag} else f" If this luminaire was moved: gearkeep move {''.join(tag.split())}."
    return (f"Look at both fittings, then sign what is true of {of}: gearkeep move TAG when it hangs there now; gearkeep placed "
            "TAG --copy N when that copy hangs on its own housing; gearkeep withdraw-label TAG --copy N when it was taken off; "
            f"gearkeep found TAG --at PLACE --loose when it hangs on nothing there.{moved}")
