"""Who is on a line, and a gear that shows itself."""

from __future__ import annotations

import pytest
from simulated_faults import Faults
from simulated_gear import SimulatedGear
from simulated_line import Collisions, SimulatedLine, SimulatedPort

from vault.actions.bus_look import Looked, identify, look
from vault.errors import GearkeepError


def port_of(*gear: SimulatedGear, collisions: Collisions = Collisions.OVERLAID) -> SimulatedPort:
    return SimulatedPort(SimulatedLine(gear, collisions=collisions))


def looked(port: SimulatedPort, prove: bool = False) -> Looked:
    return look(port, prove=prove, progress=lambda _done, _total: None)


def test_an_empty_line_is_not_good() -> None:
    """Nobody there is no good answer."""
    assert not looked(port_of()).good


@pytest.mark.parametrize("unaddressed", [0, 1, 3])
def test_counts_gear_without_an_address(unaddressed: int) -> None:
    """Gear without an address is counted by search, and keeps none."""
    port = port_of(SimulatedGear(short_address=63), *(SimulatedGear(seed=seed) for seed in range(1, unaddressed + 1)))
    found = looked(port)
    assert (found.unaddressed, [one.address for one in found.there], found.good) == (unaddressed, [63], True)
    assert port.line.count_by_address()[255] == unaddressed


@pytest.mark.parametrize("collisions", list(Collisions))
def test_two_at_one_address(collisions: Collisions) -> None:
    """Two drivers with different serial numbers at one address are told without any search."""
    found = looked(port_of(SimulatedGear(short_address=5), SimulatedGear(short_address=5, seed=1), collisions=collisions))
    assert ([(one.address, one.several) for one in found.there], found.good) == ([(5, True)], False)


@pytest.mark.parametrize(("prove", "several"), [(False, False), (True, True)])
def test_twins_are_told_by_search_alone(prove: bool, several: bool) -> None:
    """Two gear whose every answer is the same look like one until the address is searched."""
    found = looked(port_of(SimulatedGear(short_address=5, serial=7), SimulatedGear(short_address=5, seed=1, serial=7)), prove)
    assert [one.several for one in found.there] == [several]


def test_identify_of_a_gear_of_the_second_edition() -> None:
    """IDENTIFY DEVICE is for one gear, in the site's numbering where there is a line."""
    gear, other = SimulatedGear(short_address=5), SimulatedGear(short_address=6, seed=1)
    assert (identify(port_of(gear, other), 5), gear.identified, other.identified) == (
        "The gear at address 5 (numbered from 0, as on the bus) shows itself for 10 seconds.", 1, 0)


def test_identify_of_a_gear_of_the_first_edition() -> None:
    """Without IDENTIFY DEVICE it flashes between its levels and goes back to where it was."""
    gear, waits = SimulatedGear(short_address=5, held={"version": 1}), []
    gear.ram["actual_level"] = 120
    identify(port_of(gear), 5, wait=waits.append)
    assert (gear.identified, gear.ram["actual_level"], sum(waits)) == (0, 120, 10)


def test_identify_of_emergency_gear_of_the_first_edition() -> None:
    """An emergency gear has a command of its own (IEC 62386-202)."""
    gear = SimulatedGear(short_address=5, device_types=(1,), held={"version": 1})
    assert (identify(port_of(gear), 5), gear.identified) == (
        "The emergency gear at address 5 (numbered from 0, as on the bus) shows itself for 10 seconds.", 1)


def test_nobody_shows_itself() -> None:
    """A silent address is told."""
    with pytest.raises(GearkeepError) as refused:
        identify(port_of(SimulatedGear(short_address=6)), 5)
    assert refused.value.kind == "no-answer"


def test_a_lost_bus_is_no_empty_line() -> None:
    """A gateway that fails on the way ends the look."""
    with pytest.raises(GearkeepError) as refused:
        looked(SimulatedPort(SimulatedLine([SimulatedGear(short_address=5, faults=Faults())]), lost_after=40))
    assert refused.value.kind == "bus-lost"
