"""Fit: heat and room. Case and ambient temperature, loss, size."""

from __future__ import annotations

from vault.domain.fit_case import Case
from vault.domain.rating import OriginalGear
from vault.domain.rules import margin_percent
from vault.domain.units import celsius, mm, mw

HEAT_CARE_PERCENT = 5


def check_place(case: Case, where: str) -> None:
    """Every rule of this file."""
    _ambient(case, where)
    if case.built_in and not case.approved_model:
        original = case.position.original or OriginalGear()
        case.sheet.ask("case-temperature", where).at_least(
            case.spare.tc_max_c, original.tc_max_c, celsius, "the case temperature limit of the spare",
            "the case temperature limit of the original")
        _heat(case, original, where)
    if not case.approved_model:
        _size(case, where)


def _ambient(case: Case, where: str) -> None:
    site = [place.site_ta_c for place in (case.line, case.circuit) if place is not None and place.site_ta_c is not None]
    needed, whose = (max(site), "the air where it hangs") if site else (case.rating.ta_c, "the limit of the type")
    case.sheet.ask("ambient", where).at_least(case.spare.ta_max_c, needed, celsius,
                                              "the ambient temperature that the spare bears", whose)


def _heat(case: Case, original: OriginalGear, where: str) -> None:
    ask, loss, most = case.sheet.ask("heat", where), case.spare.loss_mw, original.loss_mw
    if loss is not None and most is not None and most < loss <= most * (100 + HEAT_CARE_PERCENT) / 100:
        ask.care(f"the spare gives off {mw(loss)} of heat, a little more than the original's {mw(most)}.",
                 found=mw(loss), allowed=f"at most {mw(most)}", unit="W",
                 margin=margin_percent(loss, most, above=False))
    else:
        ask.at_most(loss, most, mw, "the heat that the spare gives off",
                    "the heat that the original gives off")


def _size(case: Case, where: str) -> None:
    """Inside a luminaire the room is what it is; outside it, the size is only worth knowing."""
    spare, room = case.spare, case.position
    ask = case.sheet.ask("size", where)
    sides = (("length", spare.length_mm, room.length_max_mm), ("width", spare.width_mm, room.width_max_mm),
             ("height", spare.height_mm, room.height_max_mm))
    for side, have, most in sides:
        if case.built_in:
            ask.at_most(have, most, mm, f"the {side} of the spare", f"the room for its {side}")
        elif have is not None and most is not None and have > most:
            ask.note(f"the spare has a {side} of {mm(have)}; the original had room for {mm(most)}.", found=mm(have),
                     allowed=f"at most {mm(most)}", unit="mm")
