"""Presence proved by search: random addresses, COMPARE and WITHDRAW (IEC 62386-102), on lines with faults."""

from __future__ import annotations

import pytest
from dali.address import GearShort
from dali.gear import general
from hypothesis import given, settings
from hypothesis import strategies as st
from simulated_faults import Answers, Faults, LineFaults
from simulated_gear import SimulatedGear
from simulated_line import Collisions, SimulatedLine, SimulatedPort

from vault.bus.presence import changed, device_types, levels_named, neighbours
from vault.bus.search import ALONE, UNADDRESSED, Search, at, count_at
from vault.errors import GearkeepError

NONE = 255
TERMINATE = bytes((0xA1, 0x00))  # IEC 62386-102
collisions = st.sampled_from(Collisions)


def gear_at(*addresses: int, first_seed: int = 1) -> list[SimulatedGear]:
    """One gear for each address, each with random addresses of its own."""
    return [SimulatedGear(short_address=address, seed=seed) for seed, address in enumerate(addresses, first_seed)]


@settings(max_examples=50)
@given(st.lists(st.sampled_from([0, 5, 63, NONE]), max_size=5), collisions, st.integers(0, 10**6))
def test_everybody_is_found(addresses: list[int], heard: Collisions, seed: int) -> None:
    """A search finds each gear, also where equal answers look like one; nobody's short address changes."""
    line = SimulatedLine(gear_at(*addresses, first_seed=seed), collisions=heard)
    with Search(SimulatedPort(line), ALONE) as search:
        found = search.census()
    assert sorted(NONE if one.short_address is None else one.short_address for one in found) == sorted(addresses)
    assert [gear.held["short_address"] for gear in line.gear] == addresses


@settings(max_examples=40)
@given(st.integers(0, 3), st.integers(0, 2), collisions, st.integers(0, 10**6))
def test_only_those_meant_take_part(at_five: int, without: int, heard: Collisions, seed: int) -> None:
    """INITIALISE reaches one address, or those without one; others keep their random addresses."""
    others = gear_at(7, first_seed=seed)
    line = SimulatedLine([*others, *gear_at(*[5] * at_five, *[NONE] * without, first_seed=seed + 1)], collisions=heard)
    before = others[0].kept()
    port = SimulatedPort(line)
    assert count_at(port, 5, most=64) == at_five
    with Search(port, UNADDRESSED) as search:
        assert len(search.census()) == without
    assert others[0].kept() == before


@pytest.mark.parametrize(("gear", "count"), [((), 0), ((5,), 1), ((5, 5), 2), ((5, 5, 5, 5), 2), ((4, 6, NONE), 0)])
@pytest.mark.parametrize("heard", Collisions)
def test_how_many_stand_at_an_address(gear: tuple[int, ...], count: int, heard: Collisions) -> None:
    """Counting stops where there are more than were asked about."""
    assert count_at(SimulatedPort(SimulatedLine(gear_at(*gear), collisions=heard)), 5) == count


def test_twins_that_always_draw_the_same() -> None:
    """Two gear with one random address are seen where their answers collide audibly: they count as two."""
    twins = [SimulatedGear(short_address=5, seed=1), SimulatedGear(short_address=5, seed=1)]
    assert count_at(SimulatedPort(SimulatedLine(twins, collisions=Collisions.GARBLED)), 5) == 2


@pytest.mark.parametrize("frame", range(1, 160, 7))
@pytest.mark.parametrize("addresses", [(5,), (5, 5), (6,)])
def test_one_lost_frame_misleads_nobody(frame: int, addresses: tuple[int, ...]) -> None:
    """Whichever single frame is lost, the count is right."""
    line = SimulatedLine(gear_at(*addresses), faults=LineFaults(lose_frames=frozenset({frame})))
    assert count_at(SimulatedPort(line), 5) == addresses.count(5)


@pytest.mark.parametrize("answer", range(1, 40, 3))
def test_one_lost_or_spoiled_answer_misleads_nobody(answer: int) -> None:
    """Neither an answer that is lost nor one that arrives broken changes the count."""
    for faults in (LineFaults(lose_answers=frozenset({answer})), LineFaults(garble_answers=frozenset({answer}))):
        assert count_at(SimulatedPort(SimulatedLine(gear_at(5), faults=faults)), 5) == 1


@settings(max_examples=60)
@given(st.integers(0, 10**6), st.integers(1, 25))
def test_a_bad_line_is_told(seed: int, permille: int) -> None:
    """With a frame in forty lost the count of two is never taken for one at most: two, or a refusal."""
    line = SimulatedLine(gear_at(5, 5, first_seed=seed), faults=LineFaults(lose_permille=permille, seed=seed))
    try:
        assert count_at(SimulatedPort(line), 5) > 1
    except GearkeepError as refused:
        assert refused.kind == "bus-unsteady"


@pytest.mark.parametrize("answers", [Answers.NEVER, Answers.LATE])
def test_a_gear_that_does_not_answer(answers: Answers) -> None:
    """It cannot be found."""
    dumb = SimulatedGear(short_address=NONE, faults=Faults(answers=answers))
    with Search(SimulatedPort(SimulatedLine([dumb])), UNADDRESSED) as search:
        assert search.census() == ()


def test_addressing_is_ended_whatever_happens() -> None:
    """TERMINATE is the last frame, after an error too."""
    line = SimulatedLine(gear_at(NONE))
    with pytest.raises(ZeroDivisionError), Search(SimulatedPort(line), UNADDRESSED) as search:
        search.census()
        raise ZeroDivisionError
    assert line.log[-1].frame == TERMINATE


@settings(max_examples=25)
@given(st.integers(0, 10**6), st.sampled_from([0, 5, 63, None]), st.integers(0, 3))
def test_only_the_one_selected_is_programmed(seed: int, address: int | None, which: int) -> None:
    """A short address goes to one of four by its random address."""
    line = SimulatedLine(gear_at(NONE, NONE, NONE, 9, first_seed=seed))
    with Search(SimulatedPort(line), ALONE) as search:
        found = search.census()
        search.program(found[which], address)
    wanted = [9 if one.short_address == 9 else NONE for one in found]
    wanted[which] = NONE if address is None else address
    assert sorted(gear.held["short_address"] for gear in line.gear) == sorted(wanted)


def test_a_gear_that_forgets_its_address() -> None:
    """What does not take is refused."""
    line = SimulatedLine([SimulatedGear(faults=Faults(forgets=frozenset({"short_address"})))])
    with Search(SimulatedPort(line), UNADDRESSED) as search, pytest.raises(GearkeepError) as refused:
        search.program(search.census()[0], 5)
    assert refused.value.kind == "not-taken"


def test_a_snapshot_and_what_changed() -> None:
    """A changed level, another group and a gear that is gone are each named."""
    line = SimulatedLine(gear_at(1, 2, 3))
    port = SimulatedPort(line)
    before = neighbours(port, range(64))
    line.gear[0].held["max_level"] = 200
    line.gear[1].held["short_address"] = NONE
    found = changed(before, neighbours(port, range(64)))
    assert sorted(before.there) == [1, 2, 3]
    assert levels_named(before.there[1])["maximum level"] == 254  # the reset value of IEC 62386-102
    assert found == {1: ("maximum level 254 before, now 200",), 2: ("does not answer any more",)}


def test_several_device_types() -> None:
    """QUERY DEVICE TYPE answers 255 for several, QUERY NEXT DEVICE TYPE names them (IEC 62386-102)."""
    port = SimulatedPort(SimulatedLine([SimulatedGear(short_address=5, device_types=(1, 6, 8))]))
    assert device_types(port, 5) == (1, 6, 8)
    assert not port.send(general.QueryControlGearPresent(GearShort(6))).yes


def test_where_is_said() -> None:
    """INITIALISE for all is 0, for those without an address 255, for address 5 it is 0B (IEC 62386-102)."""
    assert [where.initialise.frame.as_byte_sequence[1] for where in (ALONE, UNADDRESSED, at(5))] == [0, 255, 0x0B]
