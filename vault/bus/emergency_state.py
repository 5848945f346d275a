"""Emergency gear with its own battery (IEC 62386-202): its settings, and the state in which the work leaves it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from dali.gear import emergency, general

from vault.bus.asking import TRIES, Questions, bits_words
from vault.bus.port import Port
from vault.domain.findings import Finding, Severity
from vault.domain.frames_emergency import emergency_level
from vault.domain.levels import LEVEL_MAX, MASK, output_percent
from vault.domain.schema import words
from vault.domain.settings import Emergency, EmergencyMode
from vault.errors import GearkeepError

# Bit 0 first, as IEC 62386-202:2009 numbers them (by python-dali 0.16).
MODE_BITS = ("rest", "normal", "emergency", "prolonged emergency", "function test running", "duration test running",
             "hard-wired inhibit active", "hard-wired switch on")
FEATURE_BITS = ("integral control gear", "maintained", "switched maintained", "automatic tests", "adjustable emergency level",
                "hard-wired inhibit", "physical selection", "re-light in rest mode")
FAILURE_BITS = ("circuit failure", "battery duration failure", "battery failure", "emergency lamp failure",
                "function test delayed too long", "duration test delayed too long", "function test failed",
                "duration test failed")
STATUS_BITS = ("inhibit active", "function test done", "duration test done", "battery fully charged", "function test pending",
               "duration test pending", "identification active", "physically selected")
_INHIBIT, _HARD_WIRED_INHIBIT, _DELAYED = 0b1, 0b0100_0000, 0b0011_0000
_FULL, _PENDING = 0b0000_1000, 0b0011_0000
_MAINTAINED, _SWITCHED = 0b010, 0b100
_QUARTER_MIN = 15
_SOURCE = "IEC 62386-202"
# (selector of QUERY TEST TIMING, field, what one unit of the answer is in units of the field)
_TIMING = ((4, "function_test_days", 1), (5, "duration_test_weeks", 1), (6, "test_timeout_days", 1), (7, "prolong_s", 30))
# (selector of QUERY TEST TIMING for the high byte of the time until the next test, interval of that test)
_NEXT_TESTS = ((0, "function_test_days"), (2, "duration_test_weeks"))


@dataclass(frozen=True, slots=True, kw_only=True)
class EmergencyState:
    """Four information bytes, and the battery's charge from 0 to 254; None for what was not answered or is not known."""

    mode: int | None
    features: int | None
    failures: int | None
    status: int | None
    charge: int | None

    @property
    def inhibited(self) -> bool | None:
        """Whether the luminaire would stay dark if its supply failed; None when the gear does not say."""
        if self.status is None:
            return None
        return bool(self.status & _INHIBIT) or bool((self.mode or 0) & _HARD_WIRED_INHIBIT)

    @property
    def charge_percent(self) -> int | None:
        """The battery's charge in per cent of full."""
        return None if self.charge is None else round(self.charge * 100 / LEVEL_MAX)


def read_state(port: Port, address: int) -> EmergencyState:
    """The state of the emergency gear at a short address. Raises GearkeepError: two-at-address, bus-lost."""
    return _state(Questions(port, address))


def _state(questions: Questions) -> EmergencyState:
    charge = questions.ask(emergency.QueryBatteryCharge(questions.to))
    return EmergencyState(
        mode=questions.ask(emergency.QueryEmergencyMode(questions.to)),
        features=questions.ask(emergency.QueryEmergencyFeatures(questions.to)),
        failures=questions.ask(emergency.QueryEmergencyFailureStatus(questions.to)),
        status=questions.ask(emergency.QueryEmergencyStatus(questions.to)),
        charge=None if charge == MASK else charge)


def state_fields(state: EmergencyState) -> dict[str, Any]:
    """The state as fields of a readback, beside what the record knows."""
    inhibited = state.inhibited
    read: dict[str, Any] = {
        f"bus.emergency.{name}": None if value is None else bits_words(value, names)
        for name, value, names in (("mode", state.mode, MODE_BITS), ("features", state.features, FEATURE_BITS),
                                   ("failures", state.failures, FAILURE_BITS), ("status", state.status, STATUS_BITS))}
    read |= {"bus.emergency.inhibited": None if inhibited is None else "yes" if inhibited else "no",
             "bus.emergency.battery_percent": state.charge_percent}
    return {name: value for name, value in read.items() if value is not None}


def read_emergency(questions: Questions, recorded: Emergency | None) -> dict[str, Any]:
    """Emergency settings and state as fields of a readback. recorded: its own figure stands where the bus cannot tell it
    from what was answered (levels and durations are coarser there)."""
    level = questions.ask(emergency.QueryEmergencyLevel(questions.to))
    duration = questions.ask(emergency.QueryRatedDuration(questions.to))
    state = _state(questions)
    read: dict[str, Any] = {
        "mode": None if state.features is None else words(_mode(state.features, recorded)),
        "rated_duration_min": None if duration is None else _minutes(duration, recorded),
        "emergency_level_permille": None if level is None or level == MASK else _permille(level, recorded)}
    for selector, name, unit in _TIMING:
        value = questions.ask_about(emergency.QueryTestTiming(questions.to), selector)
        read[name] = None if value is None else value * unit
    read["test_delay_min"] = _delay(questions, recorded)
    known = {f"emergency.{name}": value for name, value in read.items() if value is not None}
    return known | state_fields(state)


def _mode(features: int, recorded: Emergency | None) -> EmergencyMode:
    able = {EmergencyMode.MAINTAINED: features & _MAINTAINED, EmergencyMode.SWITCHED_MAINTAINED: features & _SWITCHED}
    if recorded is not None and isinstance(recorded.mode, EmergencyMode) and able.get(recorded.mode):
        return recorded.mode
    return next((mode for mode, can in reversed(able.items()) if can), EmergencyMode.NON_MAINTAINED)


def _minutes(answered: int, recorded: Emergency | None) -> int:
    if recorded is not None and min(MASK, recorded.rated_duration_min // 2) == answered:
        return recorded.rated_duration_min
    return answered * 2


def _permille(level: int, recorded: Emergency | None) -> int:
    wanted = recorded.emergency_level_permille if recorded is not None else None
    if isinstance(wanted, int) and emergency_level(wanted) == level:
        return wanted
    return round(output_percent(level) * 10)


def _delay(questions: Questions, recorded: Emergency | None) -> int | None:
    """The delay on record where a next test is that far away, as it is after storing; else it cannot be told.

    IEC 62386-202 has no query for the delay. A gear takes it up when the interval of a test is stored, so that only a test
    whose interval is on record, and not 0, can show it.
    """
    wanted = recorded.test_delay_min if recorded is not None else None
    if not isinstance(wanted, int):
        return None
    for selector, name in _NEXT_TESTS:
        interval = getattr(recorded, name)
        if not isinstance(interval, int) or interval == 0:
            continue
        high = questions.ask_about(emergency.QueryTestTiming(questions.to), selector)
        low = questions.ask(general.QueryContentDTR1(questions.to)) if high is not None else None
        if high is not None and low is not None and wanted // _QUARTER_MIN - (high << 8 | low) in (0, 1):
            return wanted
    return None


def clear_inhibit(port: Port, address: int) -> EmergencyState:
    """Send RE-LIGHT / RESET INHIBIT to one gear and return its state afterwards.

    Raises GearkeepError: inhibit-active when it stays inhibited; two-at-address, bus-lost.
    """
    questions = Questions(port, address)
    for _ in range(TRIES):
        questions.order(emergency.ReLightResetInhibit(questions.to))
        state = _state(questions)
        if state.inhibited is False:
            return state
    raise GearkeepError(f"The inhibit of the emergency gear at address {address} (as on the bus, from 0) is still active.",
                        kind="inhibit-active",
                        hint="Look for a hard-wired inhibit switch; else wait 15 minutes and read the gear once more.")


def state_findings(state: EmergencyState, *, where: str = "") -> tuple[Finding, ...]:
    """What the state asks for before the work is done: an inhibit or a failure is a stop, a test that is due a note."""
    return tuple(_findings(state, where))


def _finding(rule: str, severity: Severity, where: str, found: str, allowed: str, says: str) -> Finding:
    return Finding(rule=rule, severity=severity, found=found, allowed=allowed, source=_SOURCE, says=says, where=where)


def _findings(state: EmergencyState, where: str) -> Iterator[Finding]:
    if state.inhibited is None or state.failures is None:
        yield _finding("emergency-state", Severity.UNKNOWN, where, "no answer", "status and failure bytes",
                       "The emergency gear does not say whether it is inhibited or has failed.")
    if state.inhibited:
        by_wire = bool((state.mode or 0) & _HARD_WIRED_INHIBIT)
        yield _finding("inhibit-active", Severity.STOP, where, "active", "not active",
                       "The inhibit is still active: the luminaire stays dark when its supply fails. "
                       + ("Open the hard-wired inhibit." if by_wire else "Clear it over the bus, or wait 15 minutes."))
    if state.failures is not None and state.failures & ~_DELAYED:
        said = bits_words(state.failures & ~_DELAYED, FAILURE_BITS)
        yield _finding("emergency-failure", Severity.STOP, where, said, "none", f"The emergency gear reports: {said}.")
    if state.failures is not None and state.failures & _DELAYED:
        said = bits_words(state.failures & _DELAYED, FAILURE_BITS)
        yield _finding("test-delayed", Severity.CARE, where, said, "none", f"The emergency gear reports: {said}.")
    if state.status is not None and state.status & _PENDING:
        said = bits_words(state.status & _PENDING, STATUS_BITS)
        yield _finding("test-pending", Severity.NOTE, where, said, "none", f"A test waits to be run: {said}.")
    if state.status is not None and not state.status & _FULL:
        charge = "not known" if state.charge_percent is None else f"{state.charge_percent} %"
        yield _finding("battery-charge", Severity.NOTE, where, charge, "fully charged",
                       f"The battery is not fully charged yet (charge {charge}). Test the full duration after 24 h of charge.")
