"""Levels, curves and fades against IEC 62386-102."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from any_settings import CURVES
from domain_examples import GEAR, TAPE_GEAR
from hypothesis import given
from hypothesis import strategies as st

from vault.domain.levels import (
    RESET_VALUES,
    extended_fade_s,
    extended_fade_words,
    fade_rate_steps_per_s,
    fade_rate_words,
    fade_time_s,
    fade_time_words,
    filled_in,
    level_words,
    nearest_level,
    output_percent,
)
from vault.domain.record import Baseline
from vault.domain.schema import NOT_SET
from vault.domain.settings import Curve, Protocol
from vault.errors import GearkeepError


@pytest.mark.parametrize(("level", "percent"), [
    (0, 0), (1, 0.100), (60, 0.5007), (85, 0.991), (86, 1.018), (126, 3.035), (144, 4.962), (170, 10.091),
    (180, 13.26), (195, 19.971), (203, 24.846), (210, 30.079), (220, 39.52), (229, 50.53), (235, 59.53), (241, 70.12),
    (246, 80.38), (250, 89.65), (253, 97.31), (254, 100),
])
def test_logarithmic_curve(level: int, percent: float) -> None:
    """A level gives the output of the standard curve (IEC 62386-102 9.3, formula from memory)."""
    assert output_percent(level) == pytest.approx(percent, abs=0.005)


@pytest.mark.parametrize(("level", "percent"), [(1, 0.393701), (2, 0.787402), (127, 50), (254, 100)])
def test_linear_curve(level: int, percent: float) -> None:
    """The linear curve is n/254 (IEC 62386-207)."""
    assert output_percent(level, Curve.LINEAR) == pytest.approx(percent, abs=0.000001)


@pytest.mark.parametrize(("percent", "level"), [
    (0, 0), (0.1, 1), (0.5, 60), (1, 85), (2, 111), (3, 126), (5, 144), (10, 170), (15, 185), (20, 195), (25, 203),
    (30, 210), (40, 220), (50, 229), (60, 235), (70, 241), (75, 243), (80, 246), (90, 250), (100, 254),
])
def test_nearest_level(percent: float, level: int) -> None:
    """The level nearest to an output (computed from the formula of IEC 62386-102 9.3)."""
    assert nearest_level(percent) == level


@given(st.integers(0, 254), CURVES)
def test_nearest_level_inverts_the_curve(level: int, curve: Curve) -> None:
    """The level nearest to a level's own output is that level, on either curve."""
    assert nearest_level(output_percent(level, curve), curve) == level


@pytest.mark.parametrize(("raw", "seconds"), [
    (1, 0.7), (2, 1.0), (3, 1.4), (4, 2.0), (5, 2.8), (6, 4.0), (7, 5.7), (8, 8.0), (9, 11.3), (10, 16.0), (11, 22.6),
    (12, 32.0), (13, 45.3), (14, 64.0), (15, 90.5),
])
def test_fade_time(raw: int, seconds: float) -> None:
    """Fade times as in IEC 62386-102 Table 4."""
    assert fade_time_s(raw) == pytest.approx(seconds, abs=0.05)


@pytest.mark.parametrize(("raw", "steps"), [
    (1, 357.8), (2, 253), (3, 178.9), (4, 126.5), (5, 89.4), (6, 63.3), (7, 44.7), (8, 31.6), (9, 22.4), (10, 15.8),
    (11, 11.2), (12, 7.9), (13, 5.6), (14, 4.0), (15, 2.8),
])
def test_fade_rate(raw: int, steps: float) -> None:
    """Fade rates as in IEC 62386-102 Table 5 (63.25 is printed 63.3 there)."""
    assert fade_rate_steps_per_s(raw) == pytest.approx(steps, abs=0.06)


@pytest.mark.parametrize(("raw", "seconds"), [
    (0x00, 0), (0x0F, 0), (0x10, Fraction(1, 10)), (0x1F, Fraction(16, 10)), (0x20, 1), (0x2F, 16), (0x30, 10),
    (0x3F, 160), (0x40, 60), (0x4F, 960),
])
def test_extended_fade(raw: int, seconds: Fraction) -> None:
    """Extended fade times as in IEC 62386-102 Tables 6 and 7."""
    assert extended_fade_s(raw) == seconds


@pytest.mark.parametrize(("level", "curve", "said"), [
    (229, Curve.LOGARITHMIC, "level 229 (50.5 %)"), (127, Curve.LINEAR, "level 127 (50 %)"),
    (127, Curve.LOGARITHMIC, "level 127 (3.1 %)"), (254, None, "level 254 (100 % on the logarithmic curve)"),
    (0, None, "level 0 (off)"), (255, None, "MASK, level 255 (stays as it is)"),
])
def test_level_words(level: int, curve: Curve | None, said: str) -> None:
    """A level is said with its output, and with the curve where that is assumed."""
    assert level_words(level, curve) == said


@pytest.mark.parametrize(("said", "expected"), [
    (fade_time_words(7), "5.7 s (fade time 7)"), (fade_time_words(0), "as the extended fade time says (fade time 0)"),
    (fade_rate_words(7), "44.7 steps a second (fade rate 7)"),
    (extended_fade_words(0x1F), "1.6 s (extended fade time 31)"),
    (extended_fade_words(0), "none (extended fade time 0)"),
])
def test_fade_words(said: str, expected: str) -> None:
    """Raw fade values are said in seconds and steps."""
    assert said == expected


@pytest.mark.parametrize("call", [
    lambda: output_percent(255), lambda: output_percent(-1), lambda: nearest_level(100.1), lambda: fade_time_s(16),
    lambda: fade_rate_steps_per_s(0), lambda: extended_fade_s(0x50),
])
def test_what_does_not_exist_is_refused(call: object) -> None:
    """MASK has no output, fade rate 0 is not permitted, and so on."""
    with pytest.raises(GearkeepError, match="does not exist"):
        call()  # type: ignore[operator]


@pytest.mark.parametrize(("name", "value"), [
    ("power_on_level", 254), ("system_failure_level", 254), ("max_level", 254), ("fade_time", 0), ("fade_rate", 7),
    ("extended_fade", 0), ("groups", 0), ("scenes", (255,) * 16), ("curve", Curve.LOGARITHMIC),
])
def test_reset_values(name: str, value: object) -> None:
    """Baseline 1 is the reset table of IEC 62386-102 (from memory)."""
    assert RESET_VALUES[name] == value


def test_reset_values_name_no_minimum_level() -> None:
    """The minimum level has no reset value of its own: it depends on the device."""
    assert "min_level" not in RESET_VALUES


def test_filled_in_by_the_baseline() -> None:
    """Left-out settings become reset values; stated ones, and not set, stay."""
    control = replace(GEAR.settings.control, groups=NOT_SET, fade_time=4)  # type: ignore[type-var]
    gear = replace(GEAR, settings=replace(GEAR.settings, control=control))
    found = filled_in(gear, Baseline.RESET_VALUES).settings.control
    assert found is not None
    assert (found.fade_rate, found.max_level, found.groups, found.fade_time) == (7, 254, NOT_SET, 4)


@pytest.mark.parametrize(("gear", "baseline"), [
    (GEAR, Baseline.NOT_RECORDED),
    (replace(TAPE_GEAR, settings=replace(TAPE_GEAR.settings, control=replace(
        TAPE_GEAR.settings.control, protocol=Protocol.SWITCH))), Baseline.RESET_VALUES),  # type: ignore[type-var]
])
def test_nothing_is_filled_in(gear: object, baseline: Baseline) -> None:
    """Nothing is made up where the baseline is not recorded, or the gear has no bus."""
    assert filled_in(gear, baseline) == gear  # type: ignore[arg-type]
