"""Memory banks 0 and 1: decoding, comparing, writing, and what a lock or a lost frame does."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from simulated_faults import LineFaults
from simulated_gear import SimulatedGear
from simulated_line import SimulatedLine, SimulatedPort

from vault.bus.bank_one import (
    BankOne,
    bank_one_fields,
    compare_bank_one,
    decode_bank_one,
    read_bank_one,
    wanted_bank_one,
    write_bank_one,
)
from vault.bus.bank_zero import BankZero, bank_zero_fields, decode_bank_zero, read_bank_zero
from vault.bus.memory import Contents
from vault.domain.rating import GearRating, Module, Rating
from vault.domain.settings import Duty, Output
from vault.errors import GearkeepError

TAG = "7K3D9QXW6"
RATING = Rating(code="LIN-40", revision=1, title="Linear pendant, opal é", power_max_mw=36_400, gears=(
    GearRating(duty=Duty.GENERAL, output=Output.CONSTANT_CURRENT, modules=(Module(),)),))
WANTED = wanted_bank_one(TAG, RATING)
LAST = 0x77


def contents(**parts: str) -> Contents:
    """Bank 1 with bytes FF but for parts named by their first location, at03="05…" ."""
    held: Contents = [LAST, 0, 0xFF] + [0xFF] * (LAST - 2)
    for name, data in parts.items():
        start = int(name[2:], 16)
        held[start : start + len(data) // 2] = bytes.fromhex(data)
    return held


def port_of(gear: SimulatedGear, faults: LineFaults | None = None) -> SimulatedPort:
    return SimulatedPort(SimulatedLine([gear], faults=faults))


# DALI Part 251 v1.1, bytes and values decoded by python-dali 0.16 (a worked example of the trade data).
@pytest.mark.parametrize(("at", "data", "field", "value"), [
    ("at03", "055dfcf6b2c1", "gtin", 5901234123457),
    ("at11", "0003", "format_id", 3),
    ("at13", "19", "year", 25),
    ("at13", "64", "year", None),
    ("at14", "36", "week", None),
    ("at14", "35", "week", 53),
    ("at15", "0024", "power_w", 36),
    ("at17", "ffff", "power_min_dim_w", None),
    ("at19", "00dc", "mains_min_v", 220),
    ("at1b", "01e1", "mains_max_v", None),
    ("at1d", "001068", "flux_lm", 4200),
    ("at20", "50", "colour_rendering", 80),
    ("at21", "0fa0", "cct_k", 4000),
    ("at21", "fffe", "cct_k", None),
    ("at23", "03", "distribution", "Type III"),
    ("at3c", "4c494e2d3430" + "00" * 54, "identification", "LIN-40"),
    ("at09", "00000000000000ff", "luminaire_id", 255),
])
def test_decodes_bank_one(at: str, data: str, field: str, value: object) -> None:
    """Every value of the bank is decoded, and one outside its range is unknown."""
    assert getattr(decode_bank_one(contents(**{at: data})), field) == value


def test_an_unwritten_bank_says_nothing() -> None:
    """A bank of bytes FF holds no value at all."""
    assert decode_bank_one(contents()) == BankOne()


def test_a_short_bank_says_less() -> None:
    """A bank that ends at 10h, as IEC 62386-102 alone asks for, holds GTIN and identification number."""
    assert decode_bank_one(contents(at03="055dfcf6b2c1", at09="0000000000000007")[:0x11]) == BankOne(
        gtin=5901234123457, luminaire_id=7)


# IEC 62386-102 9.10.6; legacy serial ends at 0Eh (edition 2009), by python-dali 0.16.
@pytest.mark.parametrize(("data", "told"), [
    ("1a0001055dfcf6b2c10102000000000000302901000808ff000402",
     BankZero(gtin=5901234123457, serial=12329, firmware="1.2", hardware="1.0", part_102="2.0", unit_count=4, unit_index=2)),
    ("0e0001055dfcf6b2c1010200003029",
     BankZero(gtin=5901234123457, serial=12329, firmware="1.2", hardware=None, part_102=None, unit_count=None, unit_index=None)),
])
def test_decodes_bank_zero(data: str, told: BankZero) -> None:
    """Both editions of bank 0 give the driver's numbers."""
    assert decode_bank_zero(list(bytes.fromhex(data))) == told


def test_reads_bank_zero_of_a_gear() -> None:
    """Bank 0 is read from the gear at an address, and becomes fields of a readback."""
    held = read_bank_zero(port_of(SimulatedGear(short_address=5, serial=88213, units=2, unit_index=1)), 5)
    assert held is not None
    assert bank_zero_fields(held) == {"bank0.gtin": "5901234123457", "bank0.serial": "88213", "bank0.firmware": "1.2",
                                      "bank0.hardware": "1.0", "bank0.part_102": "2.0", "bank0.unit_count": 2,
                                      "bank0.unit_index": 1}


def test_wanted_is_plain_ascii() -> None:
    """What the memory should say: the tag's 40 bits, and text without accents."""
    # 7K3D9QXW in Crockford base32 by hand: 7 19 3 13 9 23 29 28, five bits each.
    bits = int("00111" "10011" "00011" "01101" "01001" "10111" "11101" "11100", 2)
    assert wanted_bank_one(TAG, RATING) == BankOne(luminaire_id=bits,
                                                   identification="7K3D9QXW6 LIN-40 Linear pendant, opal e")


@pytest.mark.parametrize(("held", "severities"), [
    (WANTED, []),
    (None, ["note"]),
    (BankOne(), ["note", "note"]),
    (BankOne(luminaire_id=99, identification=WANTED.identification, power_w=36), ["care"]),
    (BankOne(luminaire_id=WANTED.luminaire_id, identification="other", power_w=37), ["care", "care"]),
])
def test_compares_bank_one(held: BankOne | None, severities: list[str]) -> None:
    """A memory that agrees gives no finding, an empty one notes, another luminaire's care."""
    assert [finding.severity.value for finding in compare_bank_one(held, WANTED, RATING.power_max_mw)] == severities


def test_writes_an_open_bank() -> None:
    """The bank is written, read back, and its lock byte stands as before."""
    gear = SimulatedGear(short_address=5)
    after = write_bank_one(port_of(gear), 5, WANTED)
    assert (after, gear.banks.banks[1][2]) == (WANTED, 0xFF)


def test_other_gear_keep_their_memory() -> None:
    """Writing one gear's memory leaves that of another on the line as it is, also one left ready to be written."""
    gear, other = SimulatedGear(short_address=5), SimulatedGear(short_address=6, seed=1)
    other.banks.enable_writing()
    before = dict(other.banks.banks[1])
    write_bank_one(SimulatedPort(SimulatedLine([gear, other])), 5, WANTED)
    assert other.banks.banks[1] == before


@pytest.mark.parametrize(("gear", "kind"), [
    (SimulatedGear(short_address=5, bank1_locked_for_good=True), "bank-locked"),
    (SimulatedGear(short_address=5, bank1=None), "no-bank"),
])
def test_refuses_a_bank_that_takes_nothing(gear: SimulatedGear, kind: str) -> None:
    """A locked bank and a missing one are refused by their kind."""
    with pytest.raises(GearkeepError) as refused:
        write_bank_one(port_of(gear), 5, WANTED)
    assert refused.value.kind == kind


@given(lost=st.sets(st.integers(1, 900), max_size=12))
def test_lost_frames_never_write_elsewhere(lost: set[int]) -> None:
    """Whatever frames are lost, every byte is as wanted or as it was, and success means as wanted."""
    gear = SimulatedGear(short_address=5, bank1=bytes.fromhex("055dfcf6b2c1"))
    before = dict(gear.banks.banks[1])
    try:
        told = write_bank_one(port_of(gear, LineFaults(lose_frames=frozenset(lost))), 5, WANTED)
    except GearkeepError as problem:
        told = None
        assert problem.kind in {"bank-not-read", "bank-not-written", "bank-locked", "no-bank"}
    after = gear.banks.banks[1]
    touched = {location for location in after if after[location] != before[location]} - {2}
    assert touched <= {*range(0x09, 0x11), *range(0x3C, 0x78)}
    assert told in (None, BankOne(gtin=5901234123457, luminaire_id=WANTED.luminaire_id,
                                  identification=WANTED.identification))


@given(lost=st.sets(st.integers(1, 300), max_size=8))
def test_lost_frames_never_read_wrong(lost: set[int]) -> None:
    """A bank read over a line that loses frames is right, has gaps, or is refused; it never holds another value."""
    gear = SimulatedGear(short_address=5, bank1=bytes(range(3, 0x78)))
    try:
        read = read_bank_one(port_of(gear, LineFaults(lose_frames=frozenset(lost))), 5)
    except GearkeepError as problem:
        assert problem.kind == "bank-not-read"
        return
    whole = bank_one_fields(decode_bank_one([gear.banks.banks[1][at] for at in range(0x78)]))
    assert read is None or bank_one_fields(read).items() <= whole.items()
