"""Reading a gear back over the bus: what it holds, what it cannot tell, and what a bad line does."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from simulated_faults import Faults, LineFaults
from simulated_gear import SimulatedGear
from simulated_line import Collisions, SimulatedLine, SimulatedPort

sys.path.append(str(Path(__file__).resolve().parents[1] / "domain"))

from any_settings import any_of

from vault.bus.asking import Questions
from vault.bus.emergency_state import EmergencyState, clear_inhibit, read_state, state_findings
from vault.bus.job import job_for
from vault.bus.progress_log import NotesInMemory, ProgressLog
from vault.bus.reading import addresses_of, read_control, read_gear
from vault.bus.setting import set_gear
from vault.domain.driver import DriverModel, Holds, Means, Way
from vault.domain.levels import MASK
from vault.domain.readback import compare
from vault.domain.schema import NOT_SET, check, flatten
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
from vault.errors import GearkeepError

NONE = 0xFFFF
LEVELS = ("min_level", "max_level", "power_on_level", "system_failure_level", "fade_time", "fade_rate", "extended_fade", "groups")
PLAIN = Control(protocol=Protocol.DALI, short_address=5, min_level=1)
EMERGENCY = Emergency(mode=EmergencyMode.MAINTAINED, supply=EmergencySupply.SELF_CONTAINED, rated_duration_min=180,
                      emergency_level_permille=100, function_test_days=7, duration_test_weeks=52, test_delay_min=150,
                      prolong_s=60, test_timeout_days=7)


def gear_of(control: Control | None = PLAIN, emergency: Emergency | None = None, *more: Control) -> Gear:
    channels = tuple(Channel(current_ma=700, control=one) for one in (None, *more))
    return Gear(duty=Duty.GENERAL, settings=Settings(output=Output.CONSTANT_CURRENT, channels=channels, control=control,
                                                     emergency=emergency))


def port_of(*gear: SimulatedGear, faults: LineFaults | None = None,
            collisions: Collisions = Collisions.OVERLAID) -> SimulatedPort:
    return SimulatedPort(SimulatedLine(gear, faults=faults, collisions=collisions))


def simulated(control: Control, **more: Any) -> SimulatedGear:
    """A gear that holds what a record states; what it leaves out is as after a reset."""
    held = {name: getattr(control, name) for name in LEVELS if isinstance(getattr(control, name), int)}
    scenes = control.scenes if isinstance(control.scenes, tuple) else ()
    held |= {f"scene_{number}": level for number, level in enumerate(scenes)}
    held |= {"curve": int(control.curve)} if isinstance(control.curve, Curve) else {}
    colour = control.colour
    if colour is not None:
        listed = colour.scene_mirek if isinstance(colour.scene_mirek, tuple) else ()
        held |= {name: value for name in ("coolest_mirek", "warmest_mirek") if isinstance(value := getattr(colour, name), int)}
        held |= {"power_on_mirek": colour.default_mirek} if isinstance(colour.default_mirek, int) else {}
        held |= {f"scene_{number}_mirek": mirek or NONE for number, mirek in enumerate(listed)}
    return SimulatedGear(short_address=5, device_types=(6, 8), held=held, **more)


def controls() -> st.SearchStrategy[Control]:
    """Any DALI control data without a problem."""
    found: st.SearchStrategy[Control] = st.builds(
        lambda made, address: Control(**{name: getattr(made, name) for name in (*LEVELS, "scenes", "curve", "colour")},
                                      protocol=Protocol.DALI, short_address=address),
        any_of(Control), st.just(5)).filter(lambda one: not list(check(one)))
    return found


def stated(control: Control) -> dict[str, Any]:
    return {name: value for name, value in flatten(control, "control").items() if value != "not set"}


@settings(max_examples=60)
@given(control=controls())
def test_reads_what_a_gear_holds(control: Control) -> None:
    """Every setting that the record states is read as the record says it, when the gear holds it."""
    read = read_control(port_of(simulated(control)), 5, control)
    assert stated(control).items() <= read.items()


@settings(max_examples=60)
@given(control=controls(), lost=st.sets(st.integers(1, 120), max_size=10))
def test_lost_frames_leave_gaps(control: Control, lost: set[int]) -> None:
    """Over a line that loses frames a field is right or left out, never wrong."""
    whole = read_control(port_of(simulated(control)), 5, control)
    read = read_control(port_of(simulated(control), faults=LineFaults(lose_frames=frozenset(lost))), 5, control)
    assert read.items() <= whole.items()


def test_one_lost_frame_costs_nothing() -> None:
    """A frame now and then that is lost leaves no gap."""
    faults = LineFaults(lose_frames=frozenset(range(7, 400, 31)))
    assert read_gear(port_of(simulated(PLAIN), faults=faults), gear_of()) == read_gear(port_of(simulated(PLAIN)), gear_of())


@pytest.mark.parametrize(("field", "held", "value"), [
    ("min_level", {"min_level": 85}, 85),
    ("max_level", {"max_level": 200}, 200),
    ("power_on_level", {"power_on_level": MASK}, MASK),
    ("fade_rate", {"fade_rate": 4, "fade_time": 9}, 4),
    ("fade_time", {"fade_rate": 4, "fade_time": 9}, 9),
    ("extended_fade", {"extended_fade": 0x1F}, 0x1F),
    ("groups", {"groups": 0x8001}, 0x8001),
    ("scenes", {"scene_3": 120}, [MASK] * 3 + [120] + [MASK] * 12),
    ("curve", {"curve": 1}, "linear"),
    ("short_address", {}, 5),
    ("protocol", {}, "dali"),
])
def test_fields_of_control_data(field: str, held: dict[str, int], value: object) -> None:
    """Each answer stands under the name that the record gives it, also where the record states nothing."""
    read = read_control(port_of(SimulatedGear(short_address=5, held=held)), 5, PLAIN)
    assert read[f"control.{field}"] == value


@pytest.mark.parametrize("field", ["current", "voltage", "power_max"])
def test_no_current_is_invented(field: str) -> None:
    """IEC 62386-102 can neither set nor read drive current and voltage window: no field speaks of them."""
    assert not [name for name in read_gear(port_of(simulated(PLAIN)), gear_of()) if name.startswith("channels") or field in name]


def test_a_gear_without_part_207_is_logarithmic() -> None:
    """A gear that is no LED gear knows only the logarithmic curve (IEC 62386-102)."""
    assert read_control(port_of(SimulatedGear(short_address=5, device_types=(1,))), 5, PLAIN)["control.curve"] == "logarithmic"


def test_nobody_there_reads_nothing() -> None:
    """A silent address gives no field at all."""
    assert read_gear(port_of(SimulatedGear(short_address=7)), gear_of()) == {}


@pytest.mark.parametrize("collisions", list(Collisions))
def test_two_that_differ_are_told(collisions: Collisions) -> None:
    """Two gear at one address that answer differently end the reading."""
    line = port_of(SimulatedGear(short_address=5), SimulatedGear(short_address=5, seed=1, held={"fade_time": 3}),
                   collisions=collisions)
    with pytest.raises(GearkeepError) as refused:
        read_gear(line, gear_of())
    assert refused.value.kind == "two-at-address"


def test_each_channel_has_its_address() -> None:
    """Channels with control data of their own are read at their own addresses."""
    second = Control(protocol=Protocol.DALI, short_address=9, min_level=1)
    gear = gear_of(PLAIN, None, second)
    read = read_gear(port_of(SimulatedGear(short_address=5, held={"fade_time": 1}),
                             SimulatedGear(short_address=9, seed=1, held={"fade_time": 2})), gear)
    assert addresses_of(gear) == {"control": 5, "channels.2.control": 9}
    assert (read["control.fade_time"], read["channels.2.control.fade_time"], read["bus.channels.2.status"]) == (1, 2, "lamp on")


def test_another_address_than_the_record() -> None:
    """Where the gear stands elsewhere, the address that answered is what was read."""
    assert read_gear(port_of(SimulatedGear(short_address=20)), gear_of(), {"control": 20})["control.short_address"] == 20


def test_unknown_to_the_record() -> None:
    """What the record does not know stands under names of its own."""
    read = read_gear(port_of(SimulatedGear(short_address=5, device_types=(6, 8), serial=4711)), gear_of())
    assert {name: read[name] for name in ("bus.version", "bus.device_types", "bus.actual_level", "bank0.serial")} == {
        "bus.version": "2.0", "bus.device_types": [6, 8], "bus.actual_level": 254, "bank0.serial": "4711"}


@pytest.mark.parametrize("types", [(), (6,), (1, 6), (1, 6, 8)])
def test_device_types(types: tuple[int, ...]) -> None:
    """None, one and several device types are told apart (IEC 62386-102: 254, the type, MASK)."""
    assert Questions(port_of(SimulatedGear(short_address=5, device_types=types)), 5).device_types() == types


def emergency_gear(**held: int) -> SimulatedGear:
    """A gear that holds EMERGENCY: level 170 is 10.09 % (IEC 62386-102), 90 × 2 min, 2 × 30 s, 10 quarter-hours."""
    return SimulatedGear(short_address=5, device_types=(1,), held={
        "emergency_level": 170, "rated_duration": 90, "prolong": 2, "test_delay": 10, "next_function_test": 10} | held)


def test_reads_emergency_settings() -> None:
    """Every emergency setting is read in the record's units; its own figure stands where the bus is coarser."""
    read = read_gear(port_of(emergency_gear()), gear_of(PLAIN, EMERGENCY))
    assert flatten(EMERGENCY, "emergency").items() <= read.items()


@pytest.mark.parametrize(("held", "field", "value"), [
    ({"emergency_level": 254}, "emergency_level_permille", 1000),
    ({"emergency_level": 85}, "emergency_level_permille", 10),
    ({"emergency_level": MASK}, "emergency_level_permille", None),
    ({"rated_duration": 30}, "rated_duration_min", 60),
    ({"function_test_days": 30}, "function_test_days", 30),
    ({"prolong": 3}, "prolong_s", 90),
    ({"emergency_features": 0b001}, "mode", "non-maintained"),
    ({"emergency_features": 0b100}, "mode", "switched-maintained"),
    ({"emergency_features": 0b110}, "mode", "maintained"),
    ({"next_function_test": 400}, "test_delay_min", None),
    ({"next_function_test": 9}, "test_delay_min", 150),
    ({"next_function_test": 400, "next_duration_test": 10}, "test_delay_min", 150),
    ({"next_function_test": 0xFFFF, "next_duration_test": 0xFFFF}, "test_delay_min", None),
])
def test_emergency_settings_that_differ(held: dict[str, int], field: str, value: object) -> None:
    """Another setting is read as it is, and what cannot be told is left out."""
    assert read_gear(port_of(emergency_gear(**held)), gear_of(PLAIN, EMERGENCY)).get(f"emergency.{field}") == value


@pytest.mark.parametrize(("intervals", "delay"), [
    ({"function_test_days": 7, "duration_test_weeks": None}, 150),
    ({"function_test_days": NOT_SET, "duration_test_weeks": 52}, 150),
    ({"function_test_days": None, "duration_test_weeks": NOT_SET}, None),
    ({"function_test_days": 0, "duration_test_weeks": 0}, None),
])
def test_a_delay_is_read_by_way_of_a_test_on_record(intervals: dict[str, Any], delay: int | None) -> None:
    """A next test that is as far away as the delay shows it only where the record gives that test an interval: else the
    gear did not take the delay up, and the two agree by chance."""
    gear = gear_of(PLAIN, replace(EMERGENCY, **intervals))
    assert read_gear(port_of(emergency_gear(next_duration_test=10)), gear).get("emergency.test_delay_min") == delay


# Bits by IEC 62386-202:2009 as python-dali 0.16 numbers them.
@pytest.mark.parametrize(("state", "rules"), [
    ({}, {}),
    ({"status": 0b0000_1001}, {"inhibit-active": "stop"}),
    ({"mode": 0b0100_0010}, {"inhibit-active": "stop"}),
    ({"status": None}, {"emergency-state": "unknown"}),
    ({"failures": 0b0000_0100}, {"emergency-failure": "stop"}),
    ({"failures": 0b0001_0000}, {"test-delayed": "care"}),
    ({"status": 0b0011_1000}, {"test-pending": "note"}),
    ({"status": 0b0000_0000, "charge": 127}, {"battery-charge": "note"}),
])
def test_findings_of_the_emergency_state(state: dict[str, int | None], rules: dict[str, str]) -> None:
    """An inhibit and a failure are stops, a missing answer is unknown, what time will bring is a note."""
    good: dict[str, int | None] = {"mode": 0b10, "features": 0b1010, "failures": 0, "status": 0b1000, "charge": 254}
    found = state_findings(EmergencyState(**(good | state)))
    assert {finding.rule: finding.severity.value for finding in found} == rules


def test_clears_an_inhibit() -> None:
    """RE-LIGHT / RESET INHIBIT takes an inhibit away, and the state says so."""
    gear = emergency_gear()
    port = port_of(gear)
    gear.parts[1].do(0xE1)
    assert (read_state(port, 5).inhibited, clear_inhibit(port, 5).inhibited) == (True, False)


def test_an_inhibit_that_stays_is_told() -> None:
    """An inhibit that does not go ends the work with its own kind."""
    gear = SimulatedGear(short_address=5, device_types=(1,), faults=Faults(reports={"emergency_status": 0b1001}))
    with pytest.raises(GearkeepError) as refused:
        clear_inhibit(port_of(gear), 5)
    assert refused.value.kind == "inhibit-active"


def test_settings_left_to_the_driver_are_read_too() -> None:
    """What the record leaves to the driver is read as it is."""
    control = Control(protocol=Protocol.DALI, short_address=5, min_level=1, fade_time=NOT_SET)
    assert read_control(port_of(SimulatedGear(short_address=5, held={"fade_time": 4})), 5, control)["control.fade_time"] == 4


EVERYTHING = DriverModel(model="SPARE", revision=1, title="Spare", output=Output.CONSTANT_CURRENT, channels=1, means=(
    Means(way=Way.BUS, holds=frozenset(Holds), dali_parts=(101, 102, 202, 207, 209)),))


def in_order(control: Control) -> bool:
    """Levels and colour limits that a gear can hold together."""
    held = control.colour
    pairs = [(control.min_level, control.max_level)] + ([(held.coolest_mirek, held.warmest_mirek)] if held is not None else [])
    return all(low <= high for low, high in pairs if isinstance(low, int) and isinstance(high, int))


def stored_field(field: str) -> str:
    """The record's field of a frame: one scene, or half of the groups, stands for all."""
    head, _, last = field.rpartition(".")
    return head if last.isdigit() else field


def delay_shows(emergency: Emergency) -> bool:
    """Whether a test shows its delay: the bus cannot ask for it, and a gear takes it up with the interval of a test, if at
    all (IEC 62386-202)."""
    return any(isinstance(days, int) and days > 0 for days in (emergency.function_test_days, emergency.duration_test_weeks))


@settings(max_examples=30)
@given(control=controls().filter(in_order), emergency=any_of(Emergency).filter(lambda one: not list(check(one))))
def test_what_is_set_is_what_is_read(control: Control, emergency: Emergency) -> None:
    """On a line without a fault everything that a spare was told over the bus is read back as the record says it: but for
    the test delay where no test shows it, which the bus cannot tell."""
    emergency = replace(emergency, mode=EmergencyMode.MAINTAINED, supply=EmergencySupply.SELF_CONTAINED, rated_duration_min=180)
    gear = gear_of(control, emergency)
    port = port_of(SimulatedGear(device_types=(1, 6, 8)), SimulatedGear(short_address=9, seed=1))
    job = job_for(gear, EVERYTHING)
    set_gear(port, job, log=ProgressLog(NotesInMemory()), tell=lambda _sentence: None)
    told = {field for target in job.targets for frame in target.stores if (field := stored_field(frame.field))}
    told |= {"control.colour.scene_mirek"} if "control.scenes" in told else set()
    told -= set() if delay_shows(emergency) else {"emergency.test_delay_min"}
    differing = [one for one in compare(gear, read_gear(port, gear), spare_tolerance_permille=None)
                 if one.field in told and one.result not in ("same", "extra")]
    assert differing == []
