"""Frames of self-contained emergency gear (IEC 62386-202). Centrally supplied gear (part 220) is not served."""

from __future__ import annotations

from typing import Any

from dali.gear import emergency

from vault.domain.frames_script import Script
from vault.domain.levels import MASK, nearest_level
from vault.domain.settings import Emergency, EmergencyMode

# (command, field, selector of QUERY TEST TIMING, what it is, divisor to the unit of IEC 62386-202)
_TESTS: tuple[tuple[Any, str, int, str, int], ...] = (
    (emergency.StoreFunctionTestInterval, "function_test_days", 4, "days between function tests", 1),
    (emergency.StoreDurationTestInterval, "duration_test_weeks", 5, "weeks between duration tests", 1),
    (emergency.StoreTestExecutionTimeout, "test_timeout_days", 6, "test timeout in days", 1),
    (emergency.StoreProlongTime, "prolong_s", 7, "prolong time in units of 30 s", 30),
)


def emergency_level(permille: int) -> int:
    """The level of IEC 62386-202 nearest to an emergency output in per mille of full."""
    return nearest_level(permille / 10)


def store_emergency(script: Script, settings: Emergency) -> None:
    """Store level, tests and times. Mode and rated duration cannot be stored over the bus."""
    if isinstance(settings.emergency_level_permille, int):
        script.about("emergency.emergency_level_permille")
        script.store(emergency.StoreDTRAsEmergencyLevel(script.to), emergency_level(settings.emergency_level_permille),
                     "store it as the emergency level")
    if isinstance(settings.test_delay_min, int):
        quarters = settings.test_delay_min // 15
        script.about("emergency.test_delay_min")
        script.store(emergency.StoreTestDelayTimeHighByte(script.to), quarters >> 8,
                     "store it as the high byte of the test delay in quarter-hours")
        script.store(emergency.StoreTestDelayTimeLowByte(script.to), quarters & 0xFF,
                     f"store it as the low byte: {quarters} quarter-hours")
    for command, name, _, what, unit in _TESTS:
        value = getattr(settings, name)
        if isinstance(value, int):
            script.about(f"emergency.{name}")
            script.store(command(script.to), value // unit, f"store it as the {what}")


def ask_emergency(script: Script, settings: Emergency) -> None:
    """Ask for what was stored, the rated duration, the features that show the mode, and an inhibit left over."""
    if isinstance(settings.emergency_level_permille, int):
        script.about("emergency.emergency_level_permille")
        level = emergency_level(settings.emergency_level_permille)
        script.ask(emergency.QueryEmergencyLevel(script.to), "emergency level", level)
    for _, name, selector, what, unit in _TESTS:
        value = getattr(settings, name)
        if isinstance(value, int):
            script.about(f"emergency.{name}")
            script.load(selector)
            script.ask(emergency.QueryTestTiming(script.to), what, value // unit)
    script.about("emergency.rated_duration_min")
    minutes = settings.rated_duration_min
    script.ask(emergency.QueryRatedDuration(script.to), "rated duration", min(MASK, minutes // 2),
               f"{minutes} min in units of 2 min")
    if isinstance(settings.mode, EmergencyMode):
        script.about("emergency.mode")
        said, answer, mask = {
            EmergencyMode.NON_MAINTAINED: ("bits 1 and 2 must be 0", 0, 0b110),
            EmergencyMode.MAINTAINED: ("bit 1 must be 1", 0b010, 0b010),
            EmergencyMode.SWITCHED_MAINTAINED: ("bit 2 must be 1", 0b100, 0b100)}[settings.mode]
        script.send(emergency.QueryEmergencyFeatures(script.to), f"ask for the features: {said}", answer, mask)
    script.about("emergency.inhibited")
    script.send(emergency.QueryEmergencyStatus(script.to), "ask for the emergency status: bit 0, inhibited, must be 0",
                0, 0b1)
