"""Memory banks, emergency gear and colour of the simulated gear. Frames are typed as bytes; numbers are from the standards,
from memory, where no other source is named."""

from __future__ import annotations

from typing import cast

import pytest
from bus_talk import Talk, byte
from simulated_emergency import EmergencyPart
from simulated_gear import SimulatedGear
from simulated_line import Reply, SimulatedLine

YES = byte(0xFF)
UNLOCK = ("0B 81 x2", "C3 01", "A3 02", "C7 55")


def _talk(gear: SimulatedGear) -> Talk:
    return Talk(SimulatedLine([gear]))


@pytest.mark.parametrize(("bank", "start", "held"), [
    ("00", "03", "055dfcf6b2c1"),  # GTIN 5901234123457
    ("00", "0B", "00000000075bcd15"),  # serial 123456789
    ("00", "19", "0201"),  # two units, this is index 1
    ("01", "00", "77"),  # last location (DALI Part 251)
    ("01", "02", "ff"),  # the lock byte after power
    ("01", "03", "055dfcf6b2c1ff"),  # luminaire data, then nothing
])
def test_banks_are_read_with_dtr0_moving_on(bank: str, start: str, held: str) -> None:
    """READ MEMORY LOCATION: bank in DTR1, location in DTR0, which moves on by one (IEC 62386-102 clause 9.10)."""
    talk = _talk(SimulatedGear(short_address=5, serial=123456789, units=2, unit_index=1, bank1=bytes.fromhex("055dfcf6b2c1")))
    talk.say(f"C3 {bank}", f"A3 {start}")
    assert [talk.say("0B C5") for _ in bytes.fromhex(held)] == [byte(each) for each in bytes.fromhex(held)]


@pytest.mark.parametrize(("frames", "answer"), [
    (("C3 00", "A3 01", "0B C5"), None),  # reserved location
    (("C3 00", "A3 01", "0B C5", "0B 98"), byte(2)),  # DTR0 moves on all the same
    (("C3 00", "A3 1B", "0B C5"), None),  # past the last location
    (("C3 02", "A3 05", "0B C5"), None),  # no such bank
    (("C3 02", "A3 05", "0B C5", "0B 98"), byte(5)),  # there DTR0 stays
    (("C3 01", "A3 FF", "0B C5", "0B 98"), byte(0xFF)),  # it stops at FF
])
def test_locations_that_are_not_there_are_silent(frames: tuple[str, ...], answer: Reply) -> None:
    """No answer for a location or a bank that is not implemented (IEC 62386-102 clause 9.10)."""
    assert _talk(SimulatedGear(short_address=5)).say(*frames) == answer


@pytest.mark.parametrize(("frames", "answer", "stored"), [
    ((*UNLOCK, "A3 09", "C7 41"), byte(0x41), 0x41),  # unlocked
    ((*UNLOCK, "A3 09", "C9 41"), None, 0x41),  # the form without an answer
    (("0B 81 x2", "C3 01", "A3 09", "C7 41"), None, 0xFF),  # locked
    (("C3 01", "A3 02", "C7 55", "A3 09", "C7 41"), None, 0xFF),  # writing not enabled
    (("0B 81", "C3 01", "A3 02", "C7 55", "A3 09", "C7 41"), None, 0xFF),  # ENABLE WRITE MEMORY once
    ((*UNLOCK, "A3 09", "0B 98", "C7 41"), byte(0x41), 0x41),  # QUERY CONTENT DTR0 leaves it enabled
    ((*UNLOCK, "0B 91", "A3 09", "C7 41"), None, 0xFF),  # another command ends it
    ((*UNLOCK, "0D 91", "A3 09", "C7 41"), byte(0x41), 0x41),  # not one to another gear
    ((*UNLOCK, "A3 02", "C7 00", "A3 09", "C7 41"), None, 0xFF),  # locked again
    ((*UNLOCK, "A3 00", "C7 41"), None, 0xFF),  # location 0 is fixed
    ((*UNLOCK, "C3 00", "A3 03", "C7 41"), None, 0xFF),  # bank 0 is fixed
])
def test_bank_one_is_written_only_unlocked(frames: tuple[str, ...], answer: Reply, stored: int) -> None:
    """ENABLE WRITE MEMORY twice, then 55h into the lock byte 02h; a refused write is silent."""
    gear = SimulatedGear(short_address=5)
    assert _talk(gear).say(*frames) == answer
    assert gear.banks.banks[1][0x09] == stored


def test_a_power_cut_locks_the_bank() -> None:
    """The lock byte is FFh after power, what was written stays."""
    gear = SimulatedGear(short_address=5)
    talk = _talk(gear)
    talk.say(*UNLOCK, "A3 09", "C7 41")
    talk.line.power_cycle()
    assert (talk.say("C3 01", "A3 02", "0B C5"), gear.kept()["bank1_09"]) == (byte(0xFF), 0x41)


@pytest.mark.parametrize(("option", "answer"), [({"bank1_locked_for_good": True}, None), ({"bank1": None}, None)])
def test_a_bank_locked_for_good_or_missing_takes_nothing(option: dict[str, None], answer: Reply) -> None:
    """Some makers lock bank 1 at the factory, and bank 1 need not be there."""
    assert _talk(SimulatedGear(short_address=5, **option)).say(*UNLOCK) == answer  # type: ignore[arg-type]


@pytest.mark.parametrize(("frames", "answer"), [
    (("A3 80", "C1 01", "0B E9 x2", "C1 01", "0B F6"), 128),  # emergency level
    (("A3 05", "C1 01", "0B E9 x2", "C1 01", "0B F6"), 20),  # not below the emergency minimum level
    (("C1 01", "0B F6"), 254),
    (("A3 0E", "C1 01", "0B EC x2", "A3 04", "C1 01", "0B F2"), 14),  # days between function tests
    (("A3 1A", "C1 01", "0B ED x2", "A3 05", "C1 01", "0B F2"), 26),  # weeks between duration tests
    (("A3 FF", "C1 01", "0B ED x2", "A3 05", "C1 01", "0B F2"), 97),  # 97 weeks at most
    (("A3 03", "C1 01", "0B EE x2", "A3 06", "C1 01", "0B F2"), 3),  # timeout in days
    (("A3 02", "C1 01", "0B EF x2", "A3 07", "C1 01", "0B F2"), 2),  # prolong time in 30 s
    # test delay 0105h quarter-hours, which the next interval takes: time until the function test, its bytes
    (("A3 01", "C1 01", "0B EA x2", "A3 05", "C1 01", "0B EB x2", "A3 07", "C1 01", "0B EC x2", "A3 00", "C1 01", "0B F2"), 1),
    (("A3 01", "C1 01", "0B EA x2", "A3 05", "C1 01", "0B EB x2", "A3 07", "C1 01", "0B EC x2", "A3 00", "C1 01", "0B F2",
      "0B 9C"), 5),
    (("C1 01", "0B F9"), 90),  # rated duration 3 h in units of 2 min
    (("C1 01", "0B FB"), 0x1A),  # features: maintained, automatic tests, adjustable level
    (("C1 01", "0B FD"), 0x08),  # status: battery full
    (("C1 01", "0B E1 x2", "C1 01", "0B FD"), 0x09),  # and inhibited
    (("C1 01", "0B E1 x2", "C1 01", "0B E2 x2", "C1 01", "0B FD"), 0x08),  # RE-LIGHT/RESET INHIBIT
    (("C1 01", "0B E3 x2", "C1 01", "0B FD"), 0x18),  # function test pending
    (("C1 01", "0B E4 x2", "C1 01", "0B FD"), 0x28),  # duration test pending
    (("C1 01", "0B E4 x2", "C1 01", "0B E5 x2", "C1 01", "0B FD"), 0x08),  # STOP TEST
    (("C1 01", "0B FA"), 0x02),  # normal mode
    (("C1 01", "0B F1"), 254),  # battery charge
    (("C1 01", "0B FC"), 0),  # no failure
    (("A3 0E", "C1 01", "0B EC x2", "0B 20 x2", "A3 04", "C1 01", "0B F2"), 14),  # RESET leaves the tests
    (("A3 0E", "C1 01", "0B EC x2", "A3 00", "C1 01", "0B FE x2", "A3 04", "C1 01", "0B F2"), 7),  # factory values
])
def test_device_type_1(frames: tuple[str, ...], answer: int) -> None:
    """Self-contained emergency gear (IEC 62386-202)."""
    gear = SimulatedGear(short_address=5, device_types=(1, 6), held={"emergency_min_level": 20})
    assert _talk(gear).say(*frames) == byte(answer)


@pytest.mark.parametrize(("minutes", "status"), [(14.9, 0x09), (15.1, 0x08)])
def test_an_inhibit_is_over_after_fifteen_minutes(minutes: float, status: int) -> None:
    """IEC 62386-202: the inhibit timer runs 15 minutes."""
    talk = _talk(SimulatedGear(short_address=5, device_types=(1,)))
    talk.say("C1 01", "0B E1 x2")
    talk.at_ms += minutes * 60_000
    assert talk.say("C1 01", "0B FD") == byte(status)


@pytest.mark.parametrize(("before", "after", "mode"), [
    ((), (), 0x04), (("C1 01", "0B E1 x2"), (), 0x01), ((), ("C1 01", "0B E0 x2"), 0x01),
    (("C1 01", "0B E1 x2"), ("C1 01", "0B E2 x2"), 0x04),
])
def test_mains_lost(before: tuple[str, ...], after: tuple[str, ...], mode: int) -> None:
    """Emergency mode; rest mode while inhibited or after REST; RE-LIGHT brings emergency mode back (IEC 62386-202)."""
    gear = SimulatedGear(short_address=5, device_types=(1,))
    talk, part = _talk(gear), cast(EmergencyPart, gear.parts[1])
    talk.say("0B 91", *before)
    part.mains_lost()
    assert talk.say(*after, "C1 01", "0B FA") == byte(mode)


@pytest.mark.parametrize(("frames", "high", "low"), [
    # 250 mirek = 00FAh, 4000 K: temporary, activated, asked for as the actual colour (selector 2)
    (("A3 FA", "C3 00", "C1 08", "0B E7", "C1 08", "0B E2", "A3 02"), 0x00, 0xFA),
    # 370 mirek = 0172h with scene 2; the query of its level puts it into the report (selector 226)
    (("A3 72", "C3 01", "C1 08", "0B E7", "A3 80", "0B 42 x2", "0B B2", "A3 E2"), 0x01, 0x72),
    # a scene stored without a temporary colour has none
    (("A3 80", "0B 42 x2", "0B B2", "A3 E2"), 0xFF, 0xFF),
    # the temporary colour is used up by the first store
    (("A3 72", "C3 01", "C1 08", "0B E7", "A3 80", "0B 42 x2", "0B 43 x2", "0B B3", "A3 E2"), 0xFF, 0xFF),
    # REMOVE FROM SCENE takes it away
    (("A3 72", "C3 01", "C1 08", "0B E7", "A3 80", "0B 42 x2", "0B 52 x2", "0B B2", "A3 E2"), 0xFF, 0xFF),
    # power-on level
    (("A3 72", "C3 01", "C1 08", "0B E7", "A3 80", "0B 2D x2", "0B A3", "A3 E2"), 0x01, 0x72),
    # coolest limit 200 = C8h (DTR2 0), warmest 370 (DTR2 1)
    (("A3 C8", "C3 00", "C5 00", "C1 08", "0B F2 x2", "A3 80"), 0x00, 0xC8),
    (("A3 72", "C3 01", "C5 01", "C1 08", "0B F2 x2", "A3 82"), 0x01, 0x72),
    # neither passes what is physically possible: 153 = 99h and 454 = 01C6h here
    (("A3 01", "C3 00", "C5 00", "C1 08", "0B F2 x2", "A3 80"), 0x00, 0x99),
    (("A3 FF", "C3 0F", "C5 01", "C1 08", "0B F2 x2", "A3 82"), 0x01, 0xC6),
    # sent once: nothing is stored
    (("A3 C8", "C3 00", "C5 00", "C1 08", "0B F2", "A3 80"), 0x00, 0x99),
])
def test_device_type_8(frames: tuple[str, ...], high: int, low: int) -> None:
    """QUERY COLOUR VALUE answers with the high byte and leaves the low byte in DTR0 (IEC 62386-209)."""
    gear = SimulatedGear(short_address=5, device_types=(8,), held={
        "physical_coolest_mirek": 153, "coolest_mirek": 153, "physical_warmest_mirek": 454, "warmest_mirek": 454})
    talk = _talk(gear)
    talk.say(*frames)
    assert (talk.say("C1 08", "0B FA"), talk.say("0B 98")) == (byte(high), byte(low))
