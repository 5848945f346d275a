"""A need class in trade words."""

from __future__ import annotations

from vault.domain.control_rules import controls_of
from vault.domain.findings import Verdict
from vault.domain.schema import words
from vault.domain.settings import Duty, EmergencyMode, EmergencySupply, Gear, Output, Protocol
from vault.domain.site import LineKind
from vault.domain.units import ma, minutes, mv
from vault.spares.coverage_gaps import Gap
from vault.spares.needs import Answer, NeedClass

VERDICT_WORDS = {Verdict.FITS: "fits", Verdict.FITS_WITH_CARE: "with care", Verdict.CANNOT_TELL: "cannot tell",
                 Verdict.DOES_NOT_FIT: "does not fit"}
_DUTY = {Duty.GENERAL: "general", Duty.EMERGENCY_CONVERTER: "emergency converter",
         Duty.GENERAL_AND_EMERGENCY: "general and emergency"}
_PROTOCOL = {Protocol.NONE: "no control", Protocol.DALI: "DALI", Protocol.ANALOGUE_1_10V: "1-10 V",
             Protocol.PHASE_CUT: "phase cut", Protocol.SWITCH: "switched"}
_LINE = {LineKind.CENTRAL_BATTERY_BUS: "central battery bus", LineKind.SELF_CONTAINED_EMERGENCY_BUS: "emergency bus"}


def duty_words(duty: Duty) -> str:
    """ "emergency converter"."""
    return _DUTY[duty]


def output_words(gear: Gear) -> str:
    """ "700 mA", "2 x 350 mA", "24 V"; "not known" where the record does not say."""
    settings = gear.settings
    current = settings.output is Output.CONSTANT_CURRENT
    figures = [channel.current_ma if current else channel.voltage_mv for channel in settings.channels]
    said = ["not known" if figure is None else (ma if current else mv)(figure) for figure in figures]
    return f"{len(said)} x {said[0]}" if len(said) > 1 and len(set(said)) == 1 else " + ".join(said)


def class_words(of: NeedClass) -> str:
    """ "T3 rev 2, emergency converter, 350 mA, maintained 180 min, DALI": type, duty, output, mode, control, what is beside."""
    gear, rating = of.gear, of.ratings[0]
    parts = [f"{rating.code} rev {rating.revision}", duty_words(gear.duty), output_words(gear)]
    emergency = gear.settings.emergency
    if emergency is not None and gear.duty is not Duty.GENERAL:
        mode = words(emergency.mode) if isinstance(emergency.mode, EmergencyMode) else "mode as the driver has it"
        supply = "central supply" if emergency.supply is EmergencySupply.CENTRAL else minutes(emergency.rated_duration_min)
        parts.append(f"{mode} {supply}")
    parts += dict.fromkeys(_PROTOCOL[control.protocol] for control in controls_of(gear.settings))
    if of.line is not None and of.line.kind in _LINE:
        parts.append(_LINE[of.line.kind])
    if of.circuit is not None and of.circuit.central:
        parts.append("central circuit")
    return ", ".join(parts)


def answer_words(answer: Answer) -> str:
    """ "fits", or "does not fit: " and why."""
    said = VERDICT_WORDS[answer.verdict]
    return f"{said}: {answer.limit}" if answer.limit else said


def gap_words(gap: Gap) -> str:
    """Why the nearest model does not do: its answer, or whom it is kept for; "" where there is no model."""
    if gap.answer is None:
        return ""
    if not gap.kept:
        return answer_words(gap.answer)
    there = "the 1 that lies there is" if gap.kept == 1 else f"all {gap.kept} that lie there are"
    return f"{VERDICT_WORDS[gap.answer.verdict]}, but {there} kept for planned swaps"
