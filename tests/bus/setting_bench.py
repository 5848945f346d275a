"""A gear, a spare and a line for tests that set the one by way of the others."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from hypothesis import strategies as st
from simulated_gear import SimulatedGear

from vault.bus.job import Job, job_for
from vault.domain.driver import DriverModel, EmergencyAbility, Holds, Means, Way
from vault.domain.schema import NOT_SET
from vault.domain.settings import (
    Channel,
    Control,
    Curve,
    Duty,
    Emergency,
    EmergencyMode,
    EmergencySupply,
    Gear,
    Output,
    Protocol,
    Settings,
)
from vault.domain.site import Line, LineKind

ADDRESS, FREE = 5, 255
LINE = Line(name="L1", revision=1, kind=LineKind.DALI, addresses_from=1)
ON_BUS = frozenset({Holds.ADDRESS, Holds.LEVELS, Holds.FADES, Holds.GROUPS_AND_SCENES, Holds.CURVE, Holds.COLOUR,
                    Holds.EMERGENCY})
SPARE = DriverModel(
    model="BENCH-40", revision=1, title="Spare on the bench", output=Output.CONSTANT_CURRENT, channels=2,
    protocols=frozenset({Protocol.DALI}), means=(Means(way=Way.BUS, holds=ON_BUS, dali_parts=(202, 207, 209)),),
    emergency=EmergencyAbility(modes=frozenset(EmergencyMode), durations_min=(60, 180)))
CONTROL = Control(protocol=Protocol.DALI, short_address=ADDRESS, min_level=85, max_level=250, power_on_level=200,
                  system_failure_level=254, fade_time=4, fade_rate=7, groups=1 << 9 | 1, curve=Curve.LINEAR,
                  scenes=(254, 0, 127, *[255] * 13))
EMERGENCY = Emergency(mode=EmergencyMode.MAINTAINED, supply=EmergencySupply.SELF_CONTAINED, rated_duration_min=180,
                      emergency_level_permille=500, function_test_days=14, duration_test_weeks=26, prolong_s=90,
                      test_timeout_days=3, test_delay_min=15)


def gear_with(control: Control = CONTROL, emergency: Emergency | None = None, *channels: Control) -> Gear:
    """A gear with one control, or one for each channel."""
    each = tuple(Channel(current_ma=700, control=one) for one in channels) or (Channel(current_ma=700),)
    return Gear(duty=Duty.GENERAL, settings=Settings(
        output=Output.CONSTANT_CURRENT, channels=each, control=None if channels else control, emergency=emergency))


def job_with(control: Control = CONTROL, emergency: Emergency | None = None) -> Job:
    """The job of one control."""
    return job_for(gear_with(control, emergency), SPARE, LINE)


def spare_on_line(**given: Any) -> SimulatedGear:
    """A spare as it comes from its box; a short address stands for a used one."""
    return SimulatedGear(**{"seed": 99, "device_types": (1, 6, 8), **given})


def neighbours_at(*addresses: int) -> list[SimulatedGear]:
    """Other gear with something stored."""
    return [SimulatedGear(short_address=address, seed=number, held={"max_level": 200, "groups": 3})
            for number, address in enumerate(addresses, 200)]


def _or_left(values: st.SearchStrategy[Any]) -> st.SearchStrategy[Any]:
    return values | st.just(NOT_SET) | st.none()


@st.composite
def controls(draw: st.DrawFn) -> Control:
    """Any control data that a gear can hold: levels in order, scenes and groups of every kind."""
    low = draw(st.integers(1, 254))
    levels = _or_left(st.integers(0, 255))
    return replace(
        CONTROL, min_level=low, max_level=draw(st.integers(low, 254)), power_on_level=draw(levels),
        system_failure_level=draw(levels), fade_time=draw(_or_left(st.integers(0, 15))),
        fade_rate=draw(_or_left(st.integers(1, 15))), extended_fade=draw(_or_left(st.integers(0, 0x4F))),
        groups=draw(_or_left(st.integers(0, 0xFFFF))), curve=draw(_or_left(st.sampled_from(Curve))),
        scenes=draw(_or_left(st.lists(st.integers(0, 255), min_size=16, max_size=16).map(tuple))))
