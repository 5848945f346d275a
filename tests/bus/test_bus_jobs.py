"""Jobs of every kind: several channels, an address set by hand, none at all; what is printed of them."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from setting_bench import ADDRESS, CONTROL, FREE, LINE, SPARE, controls, gear_with, job_with, neighbours_at, spare_on_line
from simulated_line import SimulatedLine, SimulatedPort

from vault.bus.job import Job, dry_run, job_for
from vault.bus.progress_log import NotesInMemory, ProgressLog
from vault.bus.search import ALONE, UNADDRESSED, Where
from vault.bus.setting import SetDone, set_gear
from vault.domain.driver import Holds, Means, Way
from vault.domain.settings import Control
from vault.errors import GearkeepError


def run(line: SimulatedLine, job: Job, found: Where = UNADDRESSED) -> SetDone:
    """Set by way of a line, with a log that is thrown away."""
    return set_gear(SimulatedPort(line), job, log=ProgressLog(NotesInMemory()), found=found, tell=lambda _: None)


def channels() -> tuple[Control, Control]:
    """Two channels at addresses 5 and 6, told apart by their maximum level."""
    return replace(CONTROL, max_level=201), replace(CONTROL, short_address=6, max_level=202)


@pytest.mark.parametrize(("brought", "found"), [
    ((FREE, FREE), UNADDRESSED), ((FREE, FREE), ALONE), ((6, 5), ALONE), ((5, 9), ALONE)])
@pytest.mark.parametrize("seed", range(4))
def test_two_channels(brought: tuple[int, int], found: Where, seed: int) -> None:
    """Each channel gets its own address by the number of its unit in memory bank 0, whichever is found first."""
    units = [spare_on_line(short_address=address, seed=seed * 10 + unit, units=2, unit_index=unit)
             for unit, address in enumerate(brought)]
    job = job_for(gear_with(CONTROL, None, *channels()), SPARE, LINE)
    assert run(SimulatedLine(units), job, found).good
    assert [(unit.held["short_address"], unit.held["max_level"]) for unit in units] == [(5, 201), (6, 202)]


def test_channels_that_cannot_be_told_apart() -> None:
    """Two units of one number: nobody keeps an address that may be wrong."""
    units = [spare_on_line(seed=seed) for seed in (1, 2)]
    with pytest.raises(GearkeepError) as refused:
        run(SimulatedLine(units), job_for(gear_with(CONTROL, None, *channels()), SPARE, LINE))
    assert refused.value.kind == "several-spares"
    assert units[1].held["short_address"] == FREE or units[0].held["short_address"] == FREE


def test_an_address_that_is_set_by_hand() -> None:
    """Where a rotary switch gives the address nobody is searched for it; the gear there must be one."""
    means = (Means(way=Way.ROTARY, holds=frozenset({Holds.ADDRESS})), Means(way=Way.BUS, holds=frozenset({Holds.LEVELS})))
    job = job_for(gear_with(), replace(SPARE, means=means), LINE)
    spare = spare_on_line(short_address=ADDRESS)
    assert run(SimulatedLine([spare]), job).good
    with pytest.raises(GearkeepError) as refused:
        run(SimulatedLine([spare_on_line()]), job)
    assert refused.value.kind == "no-spare-found"


def test_a_job_without_frames() -> None:
    """A spare without bus means, and one address for two channels, make no job."""
    with pytest.raises(GearkeepError) as refused:
        job_for(gear_with(), replace(SPARE, means=()), LINE)
    assert refused.value.kind == "nothing-for-the-bus"
    with pytest.raises(GearkeepError) as refused:
        job_for(gear_with(CONTROL, None, CONTROL, CONTROL), SPARE, LINE)
    assert refused.value.kind == "two-at-address"


@settings(max_examples=40)
@given(controls())
def test_no_broadcast_stores(control: Control) -> None:
    """Of the frames printed none but the search and DTR loads speaks to anybody else."""
    firsts = {frame.bytes_hex[:2] for frame in dry_run(job_with(control))}
    # Special commands A1 to BD, DTR1 and DTR2 and ENABLE DEVICE TYPE of IEC 62386-102.
    assert firsts <= {"0B", *(f"{byte:02X}" for byte in range(0xA1, 0xBE, 2)), "C1", "C3", "C5"}


def test_addresses_as_the_site_writes_them() -> None:
    """A line numbered from 1 says address 6 where the bus says 5."""
    with pytest.raises(GearkeepError, match="address 6 \\(numbered from 1; 5 on the bus\\)"):
        run(SimulatedLine([spare_on_line(), *neighbours_at(ADDRESS)]), job_with())
