"""Fit: mains and battery supply, control, breaker and leakage."""

from __future__ import annotations

from fractions import Fraction

from vault.domain.control_rules import curve_of, floor_level, is_dimmed
from vault.domain.fit_case import Case
from vault.domain.schema import words
from vault.domain.settings import Protocol
from vault.domain.supply import CABLE_DROP_PERCENT, battery_floor_v
from vault.domain.units import permille, ua, volts


def check_supply(case: Case, where: str) -> None:
    """Mains range; d.c. range where a central battery may feed it."""
    ask, spare, rating = case.sheet.ask("supply-ac", where), case.spare, case.rating
    ask.at_most(spare.supply_min_v, rating.supply_min_v, volts, "the lowest mains voltage of the spare",
                "the lowest mains voltage of the type")
    ask.at_least(spare.supply_max_v, rating.supply_max_v, volts, "the highest mains voltage of the spare",
                 "the highest mains voltage of the type")
    if not case.central:
        return
    ask = case.sheet.ask("supply-dc", where)
    least, most, low_is, high_is = _battery_range(case)
    ask.at_most(spare.dc_min_v, least, volts, "the lowest d.c. voltage of the spare", low_is)
    ask.at_least(spare.dc_max_v, most, volts, "the highest d.c. voltage of the spare", high_is)


def _battery_range(case: Case) -> tuple[Fraction | int | None, int | None, str, str]:
    circuit = case.circuit
    if circuit is not None and circuit.battery_min_v is not None and circuit.battery_max_v is not None:
        return (battery_floor_v(circuit.battery_min_v), circuit.battery_max_v,
                f"the battery's lowest less {CABLE_DROP_PERCENT} % in the cable", "the battery's highest")
    return (case.rating.dc_min_v, case.rating.dc_max_v, "the lowest d.c. voltage of the type",
            "the highest d.c. voltage of the type")


def check_control_fit(case: Case, where: str) -> None:
    """Protocol, DALI device type, dimming floor."""
    _protocol(case, where)
    if case.uses_dali:
        _device_type(case, where)
    if is_dimmed(case.position, case.gear.settings):
        _floor(case, where)


def _device_type(case: Case, where: str) -> None:
    ask, have, need = case.sheet.ask("device-type", where), case.spare.dali_device_types, case.position.dali_device_type
    if ask.known((have, "The DALI device type of the spare"), (need, "The DALI device type of the type")) \
            and have is not None and need not in have:
        found = " and ".join(str(kind) for kind in have) or "none"
        ask.broken(f"the spare is DALI device type {found}, but device type {need} is needed.", found=found,
                   allowed=str(need))


def _protocol(case: Case, where: str) -> None:
    ask, have, permitted = case.sheet.ask("protocol", where), case.spare.protocols, case.position.protocols
    # A driver whose control terminals are left open gives full output, so "none" suits every spare.
    wanted = sorted({control.protocol for control in case.controls if control.protocol is not Protocol.NONE})
    if not case.controls:
        if ask.known((permitted, "How the gear is controlled"), (have, "By what the spare can be controlled")) \
                and permitted and have is not None and not permitted & have and Protocol.NONE not in permitted:
            names = " or ".join(words(p) for p in sorted(permitted))
            ask.broken(f"the spare cannot be controlled by {names}.", found=_said(have), allowed=names)
        return
    if not wanted or not ask.known((have, "By what the spare can be controlled")) or have is None:
        return
    for protocol in wanted:
        if protocol not in have:
            ask.broken(f"the gear is controlled by {words(protocol)}, and the spare is not made for that.",
                       found=_said(have), allowed=words(protocol))


def _said(protocols: frozenset[Protocol]) -> str:
    return " or ".join(words(p) for p in sorted(protocols)) or "none"


def _floor(case: Case, where: str) -> None:
    ask, floor = case.sheet.ask("dimming-floor", where), case.spare.dimming_floor_permille
    levels = [(control.min_level, floor_level(floor or 0, curve_of(control)))
              for control in case.controls if isinstance(control.min_level, int)]
    if floor is None:
        ask.missing("The lowest dimming level of the spare")
    elif not levels:
        ask.at_most(floor, case.position.dimming_floor_permille, permille, "the lowest dimming level of the spare",
                    "the lowest dimming level of the type")
    for level, least in levels if floor is not None else []:
        if level < least:
            ask.broken(f"the minimum level on record is {level}; the spare dims to level {least} and no lower.",
                       found=str(least), allowed=f"at most {level}")


def check_wiring(case: Case, where: str) -> None:
    """How many hang on one breaker, and what leaks to earth."""
    ask, count = case.sheet.ask("inrush", where), case.spare.inrush_b16
    most = case.circuit.luminaires_max if case.circuit is not None else None
    if ask.known((count, "How many of the spare one breaker may feed")) and count is not None and most is not None \
            and count < most:
        ask.broken(f"one 16 A type B breaker may feed {count} of the spare, and the circuit may hold {most}.",
                   found=str(count), allowed=f"at least {most}")
    ask, leaks = case.sheet.ask("leakage", where), case.spare.leakage_ua
    limit = case.circuit.leakage_max_ua if case.circuit is not None else None
    if limit is None:
        ask.known((leaks, "The leakage current of the spare"))
    else:
        ask.at_most(leaks, limit, ua, "the leakage current of the spare", "what the circuit may see in all")
