"""Bus frames. Bytes are typed as python-dali 0.16 gives them, unless another source is named."""

from __future__ import annotations

from dataclasses import replace

import pytest
from any_settings import any_of
from dali.gear import general
from hypothesis import given

from vault.domain.driver import Holds
from vault.domain.frames import Frame, frames_for
from vault.domain.frames_find import frames_to_find
from vault.domain.schema import NOT_SET
from vault.domain.settings import (
    ColourControl,
    Control,
    Curve,
    Emergency,
    EmergencyMode,
    EmergencySupply,
    Protocol,
)

BARE = Control(protocol=Protocol.DALI, short_address=5, min_level=NOT_SET)
EMERGENCY = Emergency(mode=EmergencyMode.MAINTAINED, supply=EmergencySupply.SELF_CONTAINED, rated_duration_min=180)
NO_SCENES = (255,) * 16


def bytes_of(frames: tuple[Frame, ...]) -> list[str]:
    """The bytes, a star behind what is sent twice and a question mark behind what must be answered."""
    return [f"{f.bytes_hex}{'*' if f.send_twice else ''}{'?' if f.expects_answer else ''}" for f in frames]


PRESENT = "0B 91?"  # QUERY CONTROL GEAR PRESENT


@pytest.mark.parametrize(("control", "frames"), [
    (replace(BARE, power_on_level=85), [PRESENT, "A3 55", "0B 2D*", PRESENT, "0B A3?"]),
    (replace(BARE, system_failure_level=85), [PRESENT, "A3 55", "0B 2C*", PRESENT, "0B A4?"]),
    (replace(BARE, max_level=85), [PRESENT, "A3 55", "0B 2A*", PRESENT, "0B A1?"]),
    (replace(BARE, min_level=85), [PRESENT, "A3 55", "0B 2B*", PRESENT, "0B A2?"]),
    (replace(BARE, fade_time=7), [PRESENT, "A3 07", "0B 2E*", PRESENT, "0B A5?"]),
    (replace(BARE, fade_rate=7), [PRESENT, "A3 07", "0B 2F*", PRESENT, "0B A5?"]),
    (replace(BARE, extended_fade=31), [PRESENT, "A3 1F", "0B 30*", PRESENT, "0B A8?"]),
    (replace(BARE, curve=Curve.LINEAR), [PRESENT, "A3 01", "C1 06", "0B E3*", PRESENT, "C1 06", "0B EE?"]),
    (replace(BARE, short_address=63, power_on_level=254),
     ["7F 91?", "A3 FE", "7F 2D*", "7F 91?", "7F A3?"]),
    (replace(BARE, min_level=85, max_level=250),
     [PRESENT, "A3 FA", "0B 2A*", "A3 55", "0B 2B*", "A3 FA", "0B 2A*", PRESENT, "0B A1?", "0B A2?"]),
])
def test_a_value_is_stored_and_asked_for(control: Control, frames: list[str]) -> None:
    """DTR0 is loaded, the value stored by a command sent twice, then asked for again."""
    assert bytes_of(frames_for(control)) == frames


def test_groups() -> None:
    """Group 9 and no other: it is added to one group and taken out of fifteen."""
    found = bytes_of(frames_for(replace(BARE, groups=1 << 9)))
    assert found == [PRESENT, *(f"0B {0x70 + n:02X}*" for n in range(9)), "0B 69*",
                     *(f"0B {0x70 + n:02X}*" for n in range(10, 16)), PRESENT, "0B C0?", "0B C1?"]


def test_scenes() -> None:
    """Scene 2 is stored; it is taken out of the others."""
    found = bytes_of(frames_for(replace(BARE, scenes=(255, 255, 85, *NO_SCENES[3:]))))
    assert found[:6] == [PRESENT, "0B 50*", "0B 51*", "A3 55", "0B 42*", "0B 53*"]
    assert found[-16:] == [f"0B {0xB0 + n:02X}?" for n in range(16)]


def test_short_address_of_gear_alone() -> None:
    """Alone on the line the address is broadcast: DTR0 = (5 << 1) | 1, SET SHORT ADDRESS twice."""
    assert bytes_of(frames_for(BARE, alone=True)) == ["A3 0B", "FF 80*", PRESENT]


def test_colour_temperature_with_power_on() -> None:
    """250 mirek (4000 K) become the temporary colour, which SET POWER ON LEVEL stores (IEC 62386-209)."""
    control = replace(BARE, power_on_level=254, colour=ColourControl(default_mirek=250))
    assert bytes_of(frames_for(control))[:7] == [PRESENT, "A3 FA", "C3 00", "C1 08", "0B E7", "A3 FE", "0B 2D*"]


def test_colour_limits() -> None:
    """STORE COLOUR TEMPERATURE Tc LIMIT, DTR2 0 for the coolest, 1 for the warmest (IEC 62386-209, from memory)."""
    control = replace(BARE, colour=ColourControl(coolest_mirek=153, warmest_mirek=370))
    assert bytes_of(frames_for(control))[1:11] == [
        "A3 99", "C3 00", "C5 00", "C1 08", "0B F2*", "A3 72", "C3 01", "C5 01", "C1 08", "0B F2*"]


def test_scene_colours() -> None:
    """A scene's colour is made temporary before SET SCENE stores both (IEC 62386-209, from memory)."""
    control = replace(BARE, scenes=(254, *NO_SCENES[1:]), colour=ColourControl(scene_mirek=(250, 0xFFFF)))
    found = bytes_of(frames_for(control))
    assert found[1:7] == ["A3 FA", "C3 00", "C1 08", "0B E7", "A3 FE", "0B 40*"]
    assert found[found.index("0B B0?"):][:5] == ["0B B0?", "A3 E2", "C1 08", "0B FA?", "0B 98?"]


@pytest.mark.parametrize(("emergency", "frames"), [
    (replace(EMERGENCY, emergency_level_permille=500), ["A3 E5", "C1 01", "0B E9*"]),
    (replace(EMERGENCY, function_test_days=7), ["A3 07", "C1 01", "0B EC*"]),
    (replace(EMERGENCY, duration_test_weeks=52), ["A3 34", "C1 01", "0B ED*"]),
    (replace(EMERGENCY, test_timeout_days=7), ["A3 07", "C1 01", "0B EE*"]),
    (replace(EMERGENCY, prolong_s=90), ["A3 03", "C1 01", "0B EF*"]),
    (replace(EMERGENCY, test_delay_min=15 * 300), ["A3 01", "C1 01", "0B EA*", "A3 2C", "C1 01", "0B EB*"]),
])
def test_emergency(emergency: Emergency, frames: list[str]) -> None:
    """Part 202 commands follow ENABLE DEVICE TYPE 1; 50 % is level 229, 90 s three units of 30 s."""
    found = bytes_of(frames_for(BARE, emergency))
    assert found[1 : 1 + len(frames)] == frames


def test_emergency_is_asked_for_what_it_cannot_be_told() -> None:
    """Rated duration (90 units of 2 min), features and an inhibit left over."""
    found = frames_for(BARE, EMERGENCY)
    assert bytes_of(found)[-6:] == ["C1 01", "0B F9?", "C1 01", "0B FB?", "C1 01", "0B FD?"]
    assert "5A (90, 180 min" in found[-5].words


def test_answers_are_named() -> None:
    """A query says which answer the record asks for: fade time 7 and rate 7 give 77."""
    assert "77" in frames_for(replace(BARE, fade_time=7, fade_rate=7))[-1].words


@pytest.mark.parametrize("control", [
    replace(BARE, short_address=NOT_SET), replace(BARE, short_address=None), replace(BARE, protocol=Protocol.SWITCH),
])
def test_nobody_to_speak_to(control: Control) -> None:
    """Without a DALI short address there are no frames."""
    assert frames_for(replace(control, power_on_level=254), alone=True) == ()


def test_central_supply_is_not_served() -> None:
    """Part 220 has other commands; a centrally supplied gear gets none of part 202."""
    central = replace(EMERGENCY, supply=EmergencySupply.CENTRAL, emergency_level_permille=500)
    assert bytes_of(frames_for(BARE, central)) == [PRESENT, PRESENT]


@given(any_of(Control))
def test_only_its_own_address_is_spoken_to(control: Control) -> None:
    """No frame but DTR loads and ENABLE DEVICE TYPE speaks to anybody else."""
    control = replace(control, protocol=Protocol.DALI, short_address=5)
    firsts = {frame.bytes_hex[:2] for frame in frames_for(control)}
    assert firsts <= {"0B", "A3", "C3", "C5", "C1"}


@given(any_of(Control))
def test_what_is_not_held_is_not_sent(control: Control) -> None:
    """A bus that holds nothing is asked whether gear is there and no more."""
    control = replace(control, protocol=Protocol.DALI, short_address=5)
    assert bytes_of(frames_for(control, holds=frozenset({Holds.PRESENCE}))) == [PRESENT, PRESENT]


def test_each_frame_says_what_it_serves() -> None:
    """Loads, stores and queries name the field of the record; a query names the byte that must come."""
    frames = frames_for(replace(BARE, power_on_level=85), path="channels.2.control")
    assert [frame.field.removeprefix("channels.2.control.") for frame in frames] == [
        "short_address", "power_on_level", "power_on_level", "short_address", "power_on_level"]
    assert (frames[-1].answer, frames[-1].answer_mask) == (85, 255)


@pytest.mark.parametrize(("control", "answer", "mask"), [
    (replace(BARE, fade_time=7), 0x70, 0xF0), (replace(BARE, fade_rate=7), 0x07, 0x0F),
    (replace(BARE, fade_time=4, fade_rate=7), 0x47, 0xFF),
])
def test_half_an_answer(control: Control, answer: int, mask: int) -> None:
    """QUERY FADE TIME/FADE RATE answers both: the time in the high digit, the rate in the low one (IEC 62386-102)."""
    last = frames_for(control)[-1]
    assert (last.answer, last.answer_mask) == (answer, mask)


@pytest.mark.parametrize(("mode", "answer", "mask"), [
    (EmergencyMode.NON_MAINTAINED, 0, 6), (EmergencyMode.MAINTAINED, 2, 2), (EmergencyMode.SWITCHED_MAINTAINED, 4, 4),
])
def test_the_features_show_the_mode(mode: EmergencyMode, answer: int, mask: int) -> None:
    """Bit 1 of the features is maintained, bit 2 switched maintained (IEC 62386-202)."""
    asked = [frame for frame in frames_for(BARE, replace(EMERGENCY, mode=mode)) if frame.field == "emergency.mode"]
    assert [(frame.answer, frame.answer_mask) for frame in asked][-1] == (answer, mask)


@given(any_of(Control))
def test_stores_serve_a_field(control: Control) -> None:
    """Every frame but those of presence names a field of the control data, and its command has its bytes."""
    for frame in frames_for(replace(control, protocol=Protocol.DALI, short_address=5)):
        assert frame.field.startswith("control.")
        assert bytes(frame.command.frame.as_byte_sequence) == bytes.fromhex(frame.bytes_hex)


def test_finding_a_spare_in_words() -> None:
    """INITIALISE for those without an address, RANDOMISE, COMPARE, WITHDRAW, PROGRAM and VERIFY for 5, TERMINATE."""
    found = bytes_of(frames_to_find(5, initialise=general.Initialise(), whom="the gear that has no address"))
    assert found[:7] == ["A1 00", "A5 FF*", "A7 00*", "B1 FF", "B3 FF", "B5 FF", "A9 00?"]
    assert found[-3:] == ["B7 0B", "B9 0B?", "A1 00"]
