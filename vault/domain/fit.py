"""Whether a spare can take the settings of a gear in its fixture type."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

from vault.domain.driver import DriverModel
from vault.domain.findings import Finding, Severity, Verdict, verdict
from vault.domain.fit_case import Case
from vault.domain.fit_current import check_currents, same_shape
from vault.domain.fit_emergency import check_emergency_fit
from vault.domain.fit_mounting import check_place
from vault.domain.fit_safety import check_safety
from vault.domain.fit_supply import check_control_fit, check_supply, check_wiring
from vault.domain.fit_window import check_output_voltages, check_total_power, check_windows
from vault.domain.limits import check_hazards, place_of
from vault.domain.rating import EmergencyLimits, Essentials, GearRating, Module, Rating
from vault.domain.rules import Sheet, without_repeats
from vault.domain.schema import words
from vault.domain.settings import Duty, Gear
from vault.domain.site import Circuit, Line

_BEST_FIRST = (Verdict.FITS, Verdict.FITS_WITH_CARE, Verdict.CANNOT_TELL, Verdict.DOES_NOT_FIT)


@dataclass(frozen=True, slots=True, kw_only=True)
class Fit:
    """The answer for one driver model. checked: names of the rules that were asked, in order."""

    model: str
    verdict: Verdict
    findings: tuple[Finding, ...]
    checked: tuple[str, ...]


def fit_spare(gear: Gear, rating: Rating, spare: DriverModel, *, circuit: Circuit | None = None,
              line: Line | None = None) -> Fit:
    """Hold a spare against a gear's settings and its type's rating; every finding is given, not the first."""
    sheet = Sheet()
    check_hazards(sheet, rating)
    ask, position = sheet.ask("duty"), rating.gear_for(gear.duty)
    if position is None:
        ask.broken(f"the type has no {words(gear.duty)} gear.", found=words(gear.duty),
                   allowed=" and ".join(words(p.duty) for p in rating.gears))
    else:
        _check(Case(sheet=sheet, gear=gear, rating=rating, position=position, spare=spare, circuit=circuit, line=line))
    findings = without_repeats(sheet.findings)
    return Fit(model=spare.model, verdict=verdict(findings), findings=findings, checked=sheet.checked)


def _check(case: Case) -> None:
    where, several = place_of(case.gear), len(case.position.modules) > 1
    places = [place_of(case.gear, n if several else None) for n in range(1, len(case.position.modules) + 1)]
    if same_shape(case, where):
        check_currents(case, places)
        check_windows(case, places)
        check_total_power(case, where)
        check_emergency_fit(case, where)
    check_output_voltages(case, where)
    check_safety(case, where)
    check_place(case, where)
    check_supply(case, where)
    check_control_fit(case, where)
    check_wiring(case, where)


def fit_offline(gear: Gear, essentials: Essentials, spare: DriverModel) -> Fit:
    """Hold a spare against the few limits that a record carries.

    What they do not tell stays unknown, so the answer is seldom more than "cannot tell"; what stops is found.
    """
    return fit_spare(gear, carried_rating((gear,), essentials), spare)


def carried_rating(gears: Iterable[Gear], essentials: Essentials, *, code: str = "-", revision: int = 1) -> Rating:
    """The few limits that a record carries, in the shape of a rating; everything else in it is unknown."""
    return Rating(code=code, revision=revision, title="not in this vault; figures carried by the record",
                  gears=tuple(_carried_position(gear, essentials) for gear in gears),
                  protection_class=essentials.protection_class, ta_c=essentials.ta_c)


def _carried_position(gear: Gear, essentials: Essentials) -> GearRating:
    channels = gear.settings.channels
    # The carried maximum is the strictest of the luminaire. It is surely this light source's only where there is one.
    current = channels[0].current_ma
    most = essentials.module_max_ma if len(channels) == 1 else None
    if most is not None and current is not None and current > most:
        most = None
    limits = EmergencyLimits(emergency_current_min_ma=essentials.emergency_current_min_ma)
    return GearRating(
        duty=gear.duty, output=gear.settings.output, modules=tuple(Module(module_max_ma=most) for _ in channels),
        isolation=essentials.isolation, mounting=essentials.mounting,
        emergency=None if gear.duty is Duty.GENERAL else limits)


def rank(fits: Iterable[Fit], *, original: str | None = None) -> list[Fit]:
    """Best first: by verdict, then by the fewer stops, unknowns and cares, then the original's model, then by name."""
    def key(fit: Fit) -> tuple[int, int, int, int, bool, str]:
        count = Counter(finding.severity for finding in fit.findings)
        return (_BEST_FIRST.index(fit.verdict), count[Severity.STOP], count[Severity.UNKNOWN], count[Severity.CARE],
                fit.model != original, fit.model)
    return sorted(fits, key=key)
