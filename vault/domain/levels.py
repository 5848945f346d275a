"""Levels, curves and fades of IEC 62386-102 as people read them, and what a left-out setting means."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from fractions import Fraction
from types import MappingProxyType
from typing import Any

from vault.domain.record import Baseline
from vault.domain.settings import Control, Curve, Gear, Protocol
from vault.domain.units import percent
from vault.errors import GearkeepError

OFF = 0
LEVEL_MAX = 254
MASK = 255

_STEPS_PER_DECADE = 253 / 3
_EXTENDED_STEP_S = (Fraction(0), Fraction(1, 10), Fraction(1), Fraction(10), Fraction(60))

# Reset values of IEC 62386-102 (from memory), frozen as baseline 1 of FORMAT.md. The minimum level has none: it
# depends on the device, and is always written.
RESET_VALUES: Mapping[str, Any] = MappingProxyType({
    "max_level": LEVEL_MAX, "power_on_level": LEVEL_MAX, "system_failure_level": LEVEL_MAX, "fade_time": 0,
    "fade_rate": 7, "extended_fade": 0, "groups": 0, "scenes": (MASK,) * 16, "curve": Curve.LOGARITHMIC,
})


def _within(value: float, least: float, most: float, what: str) -> None:
    if not least <= value <= most:
        raise GearkeepError(f"{what} {value:g} does not exist.", hint=f"It runs from {least:g} to {most:g}.",
                            kind="out-of-range")


def output_percent(level: int, curve: Curve = Curve.LOGARITHMIC) -> float:
    """Output of a level 0 to 254 in per cent of full.

    Logarithmic: 10^((n-1)/(253/3) - 1), IEC 62386-102 9.3. Linear: n/254, IEC 62386-207. Raises GearkeepError
    (out-of-range); MASK has no output.
    """
    _within(level, OFF, LEVEL_MAX, "Level")
    if level == OFF:
        return 0.0
    if curve is Curve.LINEAR:
        return level * 100 / LEVEL_MAX
    return float(10 ** ((level - 1) / _STEPS_PER_DECADE - 1))


def nearest_level(output: float, curve: Curve = Curve.LOGARITHMIC) -> int:
    """The level whose output is nearest to `output` per cent (the lower of two as near); 0 only for no output.

    Raises GearkeepError (out-of-range).
    """
    _within(output, 0, 100, "An output in per cent of")
    if not output:
        return OFF
    return min(range(1, LEVEL_MAX + 1), key=lambda level: abs(output_percent(level, curve) - output))


def level_words(level: int, curve: Curve | None) -> str:
    """ "level 229 (50.5 %)"; without a curve on record it says that the logarithmic one is assumed."""
    if level == MASK:
        return "MASK, level 255 (stays as it is)"
    if level == OFF:
        return "level 0 (off)"
    shown = percent(Fraction(output_percent(level, curve or Curve.LOGARITHMIC)))
    return f"level {level} ({shown}{'' if curve is not None else ' on the logarithmic curve'})"


def fade_time_s(raw: int) -> float | None:
    """Seconds of a fade time 0 to 15: 0.5·2^(X/2), IEC 62386-102 Table 4. 0 gives None: the extended one counts."""
    _within(raw, 0, 15, "Fade time")
    return None if raw == 0 else float(0.5 * 2 ** (raw / 2))


def fade_rate_steps_per_s(raw: int) -> float:
    """Steps a second of a fade rate 1 to 15: 506/2^(Y/2), IEC 62386-102 Table 5."""
    _within(raw, 1, 15, "Fade rate")
    return float(506 / 2 ** (raw / 2))


def extended_fade_s(raw: int) -> Fraction:
    """Seconds of an extended fade time 0 to 0x4F: (base + 1) · multiplier, IEC 62386-102 Tables 6 and 7."""
    _within(raw, 0, 0x4F, "Extended fade time")
    return ((raw & 0x0F) + 1) * _EXTENDED_STEP_S[raw >> 4]


def _tenths(value: float | Fraction) -> str:
    return f"{float(value):.1f}"


def fade_time_words(raw: int) -> str:
    """ "5.7 s (fade time 7)"."""
    seconds = fade_time_s(raw)
    if seconds is None:
        return "as the extended fade time says (fade time 0)"
    return f"{_tenths(seconds)} s (fade time {raw})"


def fade_rate_words(raw: int) -> str:
    """ "44.7 steps a second (fade rate 7)"."""
    return f"{_tenths(fade_rate_steps_per_s(raw))} steps a second (fade rate {raw})"


def extended_fade_words(raw: int) -> str:
    """ "1.6 s (extended fade time 31)"."""
    seconds = extended_fade_s(raw)
    return f"{_tenths(seconds)} s (extended fade time {raw})" if seconds else f"none (extended fade time {raw})"


def _control_filled_in(control: Control | None) -> Control | None:
    if control is None or control.protocol is not Protocol.DALI:
        return control
    missing = {name: value for name, value in RESET_VALUES.items() if getattr(control, name) is None}
    return replace(control, **missing)


def filled_in(gear: Gear, baseline: Baseline) -> Gear:
    """The gear with what its record left out: the reset values where the record's baseline says so, else unchanged."""
    if baseline is not Baseline.RESET_VALUES:
        return gear
    settings = gear.settings
    channels = tuple(replace(channel, control=_control_filled_in(channel.control)) for channel in settings.channels)
    return replace(gear, settings=replace(settings, channels=channels, control=_control_filled_in(settings.control)))
