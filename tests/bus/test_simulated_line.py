"""The simulated line obeys IEC 62386-101 and -102; frames are typed as bytes. Numbers are from the standard, from memory,
where no other source is named."""

from __future__ import annotations

import pytest
from bus_talk import Talk, byte
from hypothesis import given, settings
from hypothesis import strategies as st
from simulated_gear import SimulatedGear
from simulated_line import Collisions, Garbled, Reply, SimulatedLine

YES = byte(0xFF)


def _talk(*gear: SimulatedGear, collisions: Collisions = Collisions.OVERLAID) -> Talk:
    return Talk(SimulatedLine(gear or [SimulatedGear(short_address=5)], collisions=collisions))


def test_more_than_64_gear_do_not_fit_on_a_line() -> None:
    """IEC 62386-101: 64 gear at most."""
    with pytest.raises(ValueError, match="65 gear"):
        SimulatedLine([SimulatedGear() for _ in range(65)])


@pytest.mark.parametrize(("frames", "answer"), [
    (("0B 91",), YES),  # QUERY CONTROL GEAR PRESENT, short address 5
    (("0D 91",), None),  # nobody at 6
    (("FF 91",), YES),  # broadcast
    (("FD 91",), None),  # broadcast to gear without an address
    (("8B 91",), None),  # group 5, not a member
    (("0B 65 x2", "8B 91"), YES),  # ADD TO GROUP 5, then the group
    (("0B 65 x2", "0B 75 x2", "8B 91"), None),  # REMOVE FROM GROUP 5
    (("0B 97",), byte(0x08)),  # QUERY VERSION NUMBER of the second edition: 2.0
    (("0B 96",), None),  # QUERY MISSING SHORT ADDRESS
    (("0B 90",), byte(0b00100100)),  # QUERY STATUS: lamp on, reset state
])
def test_addressing_and_plain_queries(frames: tuple[str, ...], answer: Reply) -> None:
    """The address byte is 0AAAAAAS, 100GGGGS, 1111111S or 1111110S (IEC 62386-102 clause 7.2)."""
    assert _talk().say(*frames) == answer


@pytest.mark.parametrize(("frames", "answer"), [
    (("A3 C8", "0B 2A x2", "0B A1"), 200),  # maximum level
    (("A3 FF", "0B 2A x2", "0B A1"), 254),  # MASK as maximum is 254
    (("A3 64", "0B 2B x2", "A3 32", "0B 2A x2", "0B A1"), 100),  # the maximum stops at the minimum
    (("A3 C8", "0B 2A x2", "A3 FA", "0B 2B x2", "0B A2"), 200),  # the minimum stops at the maximum
    (("A3 C8", "0B 2A x2", "A3 FF", "0B 2B x2", "0B A2"), 200),  # MASK as minimum is the maximum
    (("A3 01", "0B 2B x2", "0B A2"), 10),  # the minimum stops at the physical minimum, here 10
    (("0B 9A",), 10),  # QUERY PHYSICAL MINIMUM
    (("A3 00", "0B 2D x2", "0B A3"), 0),  # power-on level off
    (("A3 FF", "0B 2C x2", "0B A4"), 255),  # system-failure level MASK: no change
    (("A3 07", "0B 2E x2", "A3 09", "0B 2F x2", "0B A5"), 0x79),  # fade time and rate in one byte
    (("A3 10", "0B 2E x2", "A3 00", "0B 2F x2", "0B A5"), 0xF1),  # time stops at 15, rate 0 becomes 1
    (("A3 4F", "0B 30 x2", "0B A8"), 0x4F),  # extended fade time, greatest
    (("A3 50", "0B 30 x2", "0B A8"), 0),  # one more is 0
    (("A3 80", "0B 42 x2", "0B B2"), 128),  # scene 2
    (("A3 80", "0B 42 x2", "0B 52 x2", "0B B2"), 255),  # removed from scene 2
    (("0B 60 x2", "0B 69 x2", "0B C0"), 0x01),  # groups 0 and 9: low byte
    (("0B 60 x2", "0B 69 x2", "0B C1"), 0x02),  # and high byte
    (("A3 AB", "0B 98"), 0xAB),  # content of DTR0
    (("C3 AB", "0B 9C"), 0xAB),  # of DTR1
    (("C5 AB", "0B 9D"), 0xAB),  # of DTR2
    (("A3 C8", "0B 2A x2", "0B 20 x2", "0B A1"), 254),  # RESET
    (("A3 64", "0B 2B x2", "0B 20 x2", "0B A2"), 10),  # RESET: minimum is the physical minimum
    (("0B 20 x2", "0B A5"), 0x07),  # RESET: fade time 0, rate 7
    (("0B 20 x2", "0B 91"), 255),  # RESET leaves the short address
    (("0A 96", "0B A0"), 150),  # direct level
    (("0A 05", "0B A0"), 10),  # a level below the minimum
    (("A3 C8", "0B 2A x2", "0A FE", "0B A0"), 200),  # a level above the maximum
    (("A3 C8", "0B 2A x2", "0A FE", "0B 94"), 255),  # is a limit error
    (("0A 00", "0B A0"), 0),  # off
    (("0A 96", "0A FF", "0B A0"), 150),  # MASK: stay
    (("0B 06", "0B A0"), 10),  # RECALL MIN LEVEL
    (("0B 05", "0B A0"), 254),  # RECALL MAX LEVEL
    (("0A 96", "0B 03", "0B A0"), 151),  # STEP UP
    (("0A 0A", "0B 07", "0B A0"), 0),  # STEP DOWN AND OFF at the minimum
    (("0A 00", "0B 08", "0B A0"), 10),  # ON AND STEP UP
    (("0A 96", "0A 00", "0B 0A", "0B A0"), 150),  # GO TO LAST ACTIVE LEVEL
    (("A3 80", "0B 42 x2", "0B 12", "0B A0"), 128),  # GO TO SCENE 2
    (("0A 96", "0B 21 x2", "0B 98"), 150),  # STORE ACTUAL LEVEL IN DTR0
    (("0B 99",), 6),  # QUERY DEVICE TYPE
    (("A3 0D", "0B 80 x2", "0D 91"), 255),  # SET SHORT ADDRESS 6: DTR0 is the address, shifted, and 1
])
def test_levels_fades_scenes_groups(frames: tuple[str, ...], answer: int) -> None:
    """Stored values are clamped as IEC 62386-102 clause 11.4 has it, and queries answer with what is stored."""
    assert _talk(SimulatedGear(short_address=5, physical_minimum=10)).say(*frames) == byte(answer)


@pytest.mark.parametrize(("dtr0", "address"), [("FF", 255), ("0D", 6), ("0C", 5), ("8D", 5), ("7F", 63)])
def test_set_short_address_takes_its_one_form(dtr0: str, address: int) -> None:
    """0AAAAAA1 gives an address, FF deletes it, anything else changes nothing (IEC 62386-102)."""
    gear = SimulatedGear(short_address=5)
    _talk(gear).say(f"A3 {dtr0}", "0B 80 x2")
    assert gear.held["short_address"] == address


@pytest.mark.parametrize(("types", "answers"), [
    ((), [byte(254), None]),
    ((6,), [byte(6), None]),
    ((8, 1, 6), [byte(255), byte(1), byte(6), byte(8), byte(254)]),
])
def test_device_types(types: tuple[int, ...], answers: list[Reply]) -> None:
    """QUERY DEVICE TYPE: 254 for none, MASK for several, which QUERY NEXT DEVICE TYPE names in rising order, then 254."""
    talk = _talk(SimulatedGear(short_address=5, device_types=types))
    assert [talk.say("0B 99"), *(talk.say("0B A7") for _ in answers[1:])] == answers


def test_next_device_type_must_follow_at_once() -> None:
    """Any frame between ends the list (IEC 62386-102)."""
    assert _talk(SimulatedGear(short_address=5, device_types=(1, 6))).say("0B 99", "0B 91", "0B A7") is None


@pytest.mark.parametrize(("gap_ms", "between", "level"), [
    (30, None, 200), (100, None, 200), (101, None, 254), (30, "0B 91", 254), (30, "0D 91", 254), (30, "A3 64", 254),
])
def test_a_command_to_be_sent_twice_needs_both_within_100_ms(gap_ms: int, between: str | None, level: int) -> None:
    """IEC 62386-101: the same frame within 100 ms, and nothing between."""
    gear = SimulatedGear(short_address=5)
    line = SimulatedLine([gear])
    line.forward(bytes.fromhex("A3C8"), 0)
    line.forward(bytes.fromhex("0B2A"), 50)
    _between(line, between)
    line.forward(bytes.fromhex("0B2A"), 50 + gap_ms)
    assert gear.held["max_level"] == level


def _between(line: SimulatedLine, frame: str | None) -> None:
    for text in [frame] if frame else []:
        line.forward(bytes.fromhex(text), 60)


def test_a_third_frame_is_the_first_of_another_two() -> None:
    """Each pair is used up: three frames are one command."""
    gear = SimulatedGear(short_address=5)
    _talk(gear).say("0B 25 x3")
    assert gear.identified == 1


def test_a_power_cut_goes_to_the_power_on_level_and_shows_in_the_status() -> None:
    """Power-on level after power; QUERY POWER FAILURE until a level command (IEC 62386-102)."""
    gear = SimulatedGear(short_address=5)
    talk = _talk(gear)
    talk.say("A3 64", "0B 2D x2", "0A 96")
    talk.line.power_cycle()
    assert [talk.say(each) for each in ("0B A0", "0B 9B", "0B 98", "0A 64", "0B 9B")] == [byte(100), YES, byte(0), None, None]


@pytest.mark.parametrize(("collisions", "levels", "heard"), [
    (Collisions.OVERLAID, (200, 200), byte(200)),
    (Collisions.GARBLED, (200, 200), Garbled.FRAME),
    (Collisions.OVERLAID, (200, 201), Garbled.FRAME),
])
def test_answers_at_the_same_time(collisions: Collisions, levels: tuple[int, int], heard: Reply) -> None:
    """Equal answers may look like one, or not; different ones are garbled."""
    two = [SimulatedGear(short_address=5, held={"max_level": level}) for level in levels]
    assert _talk(*two, collisions=collisions).say("0B A1") == heard


@settings(max_examples=25)
@given(st.lists(st.integers(0, 63) | st.just(255), min_size=0, max_size=20), st.integers(0, 1000),
       st.sampled_from(Collisions))
def test_halving_finds_every_gear(addresses: list[int], seed: int, collisions: Collisions) -> None:
    """INITIALISE all, RANDOMISE, COMPARE and WITHDRAW find each random address once, and TERMINATE ends it."""
    gear = [SimulatedGear(short_address=address, seed=seed + at) for at, address in enumerate(addresses)]
    talk = _talk(*gear, collisions=collisions) if gear else Talk(SimulatedLine([]))
    talk.say("A5 00 x2", "A7 00 x2")
    assert talk.find_all() == sorted({each.held["random_address"] for each in gear})
    assert talk.say("A1 00") is None


@pytest.mark.parametrize(("called", "found"), [("00", {0, 1, 2}), ("FF", {0}), ("0B", {1}), ("0A", set()), ("80", set())])
def test_initialise_calls_all_or_the_unaddressed_or_one(called: str, found: set[int]) -> None:
    """00 is all, FF those without an address, 0AAAAAA1 one address, anything else nobody (IEC 62386-102)."""
    gear = [SimulatedGear(short_address=address, held={"random_address": at}) for at, address in enumerate((255, 5, 6))]
    talk = _talk(*gear)
    talk.say(f"A5 {called} x2")
    assert set(talk.find_all()) == found


@pytest.mark.parametrize("frames", [("A5 00",), ("A5 00 x2", "A1 00")])
def test_nobody_takes_part_before_initialise_or_after_terminate(frames: tuple[str, ...]) -> None:
    """A single INITIALISE is none."""
    talk = _talk()
    talk.say(*frames)
    assert talk.say("A9 00") is None


@pytest.mark.parametrize(("minutes", "answer"), [(14.9, YES), (15.1, None)])
def test_initialise_lasts_fifteen_minutes(minutes: float, answer: Reply) -> None:
    """IEC 62386-102: 15 minutes."""
    talk = _talk()
    talk.say("A5 00 x2")
    talk.at_ms += minutes * 60_000
    assert talk.say("A9 00") == answer


@pytest.mark.parametrize(("frames", "answer"), [
    (("BB 00",), byte(0x0B)),  # QUERY SHORT ADDRESS of the one selected
    (("B7 0D", "BB 00"), byte(0x0D)),  # PROGRAM SHORT ADDRESS 6
    (("B7 FF", "BB 00"), byte(0xFF)),  # deleted
    (("B7 06", "BB 00"), byte(0x0B)),  # not the form 0AAAAAA1
    (("B9 0B",), YES),  # VERIFY SHORT ADDRESS
    (("B9 0D",), None),
    (("B5 35", "BB 00"), None),  # another search address: nobody is selected
    (("B5 35", "B7 0D", "B5 34", "BB 00"), byte(0x0B)),
    (("AB 00", "A9 00"), None),  # withdrawn: no part in COMPARE
    (("AB 00", "BB 00"), byte(0x0B)),  # yet still selected
    (("B5 33", "A9 00"), None),  # the random address is above the search address
    (("B5 35", "A9 00"), YES),
    (("0B C2",), byte(0x12)), (("0B C3",), byte(0x34)), (("0B C4",), byte(0x34)),  # random address bytes
])
def test_the_gear_selected_by_its_search_address(frames: tuple[str, ...], answer: Reply) -> None:
    """Special commands B7h, B9h, BBh, ABh, A9h speak to the gear whose random address is the search address 123434h."""
    talk = _talk(SimulatedGear(short_address=5, held={"random_address": 0x123434}))
    talk.say("A5 00 x2", "B1 12", "B3 34", "B5 34")
    assert talk.say(*frames) == answer


@pytest.mark.parametrize(("frames", "answer"), [
    (("A3 01", "C1 06", "0B E3 x2", "C1 06", "0B EE"), byte(1)),  # SELECT DIMMING CURVE linear (IEC 62386-207)
    (("A3 01", "0B E3 x2", "C1 06", "0B EE"), byte(0)),  # without ENABLE DEVICE TYPE
    (("A3 01", "C1 06", "0B 91", "0B E3 x2", "C1 06", "0B EE"), byte(0)),  # it lasts for the next command alone
    (("A3 01", "C1 01", "0B E3 x2", "C1 06", "0B EE"), byte(0)),  # another type
    (("A3 02", "C1 06", "0B E3 x2", "C1 06", "0B EE"), byte(0)),  # no such curve
    (("A3 1B", "C1 06", "0B E4 x2", "C1 06", "0B FD"), byte(27)),  # fast fade time, greatest
    (("A3 1C", "C1 06", "0B E4 x2", "C1 06", "0B FD"), byte(0)),  # one more
    (("C1 06", "0B EE", "0B EE"), None),
    (("0B FF",), None),
    (("C1 06", "0B FF"), byte(1)),  # QUERY EXTENDED VERSION NUMBER
    (("C1 07", "0B FF"), None),
])
def test_device_type_6(frames: tuple[str, ...], answer: Reply) -> None:
    """LED modules (IEC 62386-207); ENABLE DEVICE TYPE lasts for the next command (IEC 62386-102)."""
    assert _talk().say(*frames) == answer
