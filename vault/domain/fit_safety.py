"""Fit: what keeps people safe. Isolation, touchable voltage, protection class, mounting, approvals."""

from __future__ import annotations

from vault.domain.fit_case import Case
from vault.domain.rating import Isolation, Mounting, ProtectionClass
from vault.domain.schema import words
from vault.domain.units import mv

# IEC 60598-1:2008 8.2.3 c), ripple-free d.c.: ordinary luminaires, and other than ordinary ones.
TOUCHABLE_MV = 60_000
TOUCHABLE_WET_MV = 30_000
# IEC 61558-1 and IEC 61140: upper end of the SELV band, ripple-free d.c.
SELV_MV = 120_000


def check_safety(case: Case, where: str) -> None:
    """Every rule of this file."""
    _isolation(case, where)
    _touchable(case, where)
    _selv(case, where)
    _class(case)
    _mounting(case, where)


def _isolation(case: Case, where: str) -> None:
    """The type of isolation; a low voltage alone never proves it."""
    ask, have, need = case.sheet.ask("isolation", where), case.spare.isolation, case.position.isolation
    touchable = case.rating.touchable
    if touchable and have is not None and have is not Isolation.SELV:
        ask.broken(f"LED parts can be touched, and the output of the spare is {_said(have)}, not SELV.",
                   found=_said(have), allowed="SELV")
    elif have is not None and need is not None and have < need:
        ask.broken(f"the isolation of the spare is {_said(have)}, but the type needs {_said(need)}.",
                   found=_said(have), allowed=_said(need))
    elif ask.known((have, "The isolation of the spare"), (need, "The isolation that the type needs")) \
            and touchable is None and have is not Isolation.SELV:
        ask.missing("Whether LED parts of the type can be touched")


def _said(isolation: Isolation) -> str:
    return "SELV" if isolation is Isolation.SELV else words(isolation)


def _touchable(case: Case, where: str) -> None:
    touchable, wet, highest = case.rating.touchable, case.rating.wet, case.spare.output_voltage_max_mv
    if touchable is False:
        return
    ask = case.sheet.ask("touchable-voltage", where)
    what = "the highest output voltage of the spare"
    if highest is None:
        ask.missing(what)
        return
    limit = TOUCHABLE_WET_MV if wet else TOUCHABLE_MV
    if touchable and highest > limit:
        ask.at_most(highest, limit, mv, what, f"the limit for parts that can be touched in {_place(wet)}")
    elif highest > (TOUCHABLE_MV if wet is False else TOUCHABLE_WET_MV):
        ask.known((touchable, "Whether LED parts of the type can be touched"), (wet, "Whether the place is wet"))


def _place(wet: bool | None) -> str:
    return "a wet place" if wet else "a dry place"


def _selv(case: Case, where: str) -> None:
    if case.position.isolation is not Isolation.SELV and case.spare.isolation is not Isolation.SELV:
        return
    case.sheet.ask("selv-voltage", where).at_most(
        case.spare.output_voltage_max_mv, SELV_MV, mv, "the highest output voltage of the spare",
        "the upper end of the SELV band")


def _class(case: Case) -> None:
    ask, need, have = case.sheet.ask("protection-class"), case.rating.protection_class, case.spare.classes
    if ask.known((need, "The protection class of the type"), (have, "The protection class of the spare")) \
            and need is not None and have is not None and need not in have:
        made_for = " or ".join(_numeral(c) for c in sorted(have)) or "none"
        ask.broken(f"the spare is made for luminaires of {made_for}, but the type is of {_numeral(need)}.",
                   found=made_for, allowed=_numeral(need))


def _numeral(kind: ProtectionClass) -> str:
    return f"class {kind.name.removeprefix('CLASS_')}"


def _mounting(case: Case, where: str) -> None:
    ask, need, have = case.sheet.ask("mounting", where), case.position.mounting, case.spare.mounting
    if not ask.known((need, "Where the gear of the type sits"), (have, "Whether the spare is built-in or independent")):
        return
    if need is Mounting.INDEPENDENT and have is Mounting.BUILT_IN:
        ask.broken("the spare must be built in, but the gear sits outside the luminaire.", found="built-in",
                   allowed="independent")
    elif need is Mounting.BUILT_IN and have is Mounting.INDEPENDENT:
        ask.care("the spare is an independent gear, and the original is built in.", found="independent",
                 allowed="built-in")
