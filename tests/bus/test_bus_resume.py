"""A setting that was killed, lost its gateway or its power at any frame, and is taken up again with its log."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from setting_bench import ADDRESS, CONTROL, FREE, LINE, SPARE, gear_with, job_with, neighbours_at, spare_on_line
from simulated_faults import LineFaults, PowerCut
from simulated_gear import SimulatedGear
from simulated_line import Collisions, SimulatedLine, SimulatedPort

from vault.bus.job import Job, job_for
from vault.bus.progress_log import Notes, NotesInMemory, ProgressLog
from vault.bus.search import ALONE, UNADDRESSED, Where, at
from vault.bus.setting import SetDone, set_gear
from vault.errors import GearkeepError
from vault.exchange.kept_notes import held_notes

# A whole job with one neighbour takes about this many frames; more than that, and it ends before the break.
FRAMES = 1300
TWO = (replace(CONTROL, max_level=201), replace(CONTROL, short_address=6, max_level=202))


def run(line: SimulatedLine, job: Job, notes: Notes, found: Where, lost_after: int | None = None) -> SetDone:
    """One run with a gateway of its own."""
    return set_gear(SimulatedPort(line, lost_after=lost_after), job, log=ProgressLog(notes), found=found, tell=lambda _: None)


def broken_off(line: SimulatedLine, job: Job, notes: Notes, found: Where, lost_after: int | None = None) -> None:
    """A run that may come to its end before it breaks off."""
    try:
        run(line, job, notes, found, lost_after)
    except (PowerCut, GearkeepError):
        assert max((count for at, count in line.count_by_address().items() if at != FREE), default=1) == 1


def is_as_recorded(spare: SimulatedGear) -> bool:
    """The values of the job stand in the spare."""
    return (spare.held["short_address"], spare.held["max_level"], spare.held["scene_2"]) == (ADDRESS, 250, 127)


@given(st.integers(0, FRAMES), st.sampled_from(Collisions), st.sampled_from([(FREE, UNADDRESSED), (9, at(9)), (ADDRESS, ALONE)]))
@settings(max_examples=30)
def test_the_gateway_is_lost_at_any_frame(frame: int, heard: Collisions, spare_found: tuple[int, Where]) -> None:
    """The second run ends good, nobody else is changed, and one gear stands at the address."""
    brought, found = spare_found
    spare, others = spare_on_line(short_address=brought), neighbours_at(*[7] * (found is not ALONE))
    before = [gear.kept() for gear in others]
    line, notes = SimulatedLine([spare, *others], collisions=heard), NotesInMemory()
    broken_off(line, job_with(), notes, found, lost_after=frame)
    assert run(line, job_with(), notes, found).good
    assert is_as_recorded(spare)
    assert [gear.kept() for gear in others] == before
    assert line.count_by_address()[ADDRESS] == 1


@given(st.lists(st.integers(0, FRAMES), min_size=1, max_size=4))
@settings(max_examples=15)
def test_broken_off_again_and_again(frames: list[int]) -> None:
    """However often it breaks off, the last run ends good, or says that it cannot tell whose the address is."""
    spare, (other,) = spare_on_line(), neighbours_at(7)
    before = other.kept()
    line, notes = SimulatedLine([spare, other]), NotesInMemory()
    for frame in frames:
        broken_off(line, job_with(), notes, UNADDRESSED, lost_after=frame)
    assert run(line, job_with(), notes, UNADDRESSED).good
    assert is_as_recorded(spare)
    assert other.kept() == before


@given(st.integers(0, FRAMES))
@settings(max_examples=15)
def test_the_power_goes_at_any_frame(frame: int) -> None:
    """Gear forget their DTRs and the addressing state, and keep what they stored; the next run ends good."""
    spare, (other,) = spare_on_line(), neighbours_at(7)
    before = other.kept()
    line = SimulatedLine([spare, other], faults=LineFaults(power_cut_after=frame))
    notes = NotesInMemory()
    # The first run may end before the cut; then it comes in the second.
    broken_off(line, job_with(), notes, UNADDRESSED)
    broken_off(line, job_with(), notes, UNADDRESSED)
    assert run(line, job_with(), notes, UNADDRESSED).good
    assert is_as_recorded(spare)
    assert other.kept() == before


@given(st.integers(0, FRAMES), st.integers(0, 99))
@settings(max_examples=15)
def test_two_channels_broken_off(frame: int, seed: int) -> None:
    """Each channel has its own address in the end, or the doubt is told; never are two at one address."""
    units = [spare_on_line(seed=seed * 2 + unit, units=2, unit_index=unit) for unit in (0, 1)]
    job, notes = job_for(gear_with(CONTROL, None, *TWO), SPARE, LINE), NotesInMemory()
    line = SimulatedLine(units)
    broken_off(line, job, notes, UNADDRESSED, lost_after=frame)
    assert run(line, job, notes, UNADDRESSED).good
    assert [(unit.held["short_address"], unit.held["max_level"]) for unit in units] == [(5, 201), (6, 202)]


@pytest.mark.parametrize("frame", range(120, 700, 40))
def test_the_old_driver_comes_back_meanwhile(frame: int) -> None:
    """A second gear at the address, connected between two runs, is told and not taken for the spare."""
    spare, old = spare_on_line(), SimulatedGear(short_address=FREE, seed=5)
    line, notes = SimulatedLine([spare]), NotesInMemory()
    broken_off(line, job_with(), notes, UNADDRESSED, lost_after=frame)
    old.held["short_address"] = ADDRESS
    line.gear.append(old)
    before = old.kept()["max_level"]
    with pytest.raises(GearkeepError) as refused:
        run(line, job_with(), notes, UNADDRESSED)
    assert refused.value.kind in ("address-taken", "two-at-address")
    assert old.kept()["max_level"] == before


# The address is stored by frame 445, known to be stored from frame 490 on, and values are stored until frame 610.
@pytest.mark.parametrize(("frame", "kind"), [(430, "address-taken"), (470, "address-taken"), (495, "spare-exchanged"),
                                             (560, "spare-exchanged"), (900, "spare-exchanged")])
def test_another_gear_stands_there_meanwhile(frame: int, kind: str) -> None:
    """A gear with another serial number, put at the address between two runs, is refused before anything is stored in it."""
    other, notes = SimulatedGear(short_address=ADDRESS, seed=5), NotesInMemory()
    broken_off(SimulatedLine([spare_on_line()]), job_with(), notes, UNADDRESSED, lost_after=frame)
    before = other.kept() | {"random_address": 0}
    with pytest.raises(GearkeepError) as refused:
        run(SimulatedLine([other]), job_with(), notes, UNADDRESSED)
    assert refused.value.kind == kind
    assert other.kept() | {"random_address": 0} == before


def test_another_gear_after_the_end() -> None:
    """A whole job that is run once more refuses another gear by both serial numbers, and takes the one that it set."""
    spare, notes = spare_on_line(serial=880412), NotesInMemory()
    run(SimulatedLine([spare]), job_with(), notes, UNADDRESSED)
    with pytest.raises(GearkeepError, match="serial number 880412, and the one with serial number 4711 answers") as refused:
        run(SimulatedLine([spare_on_line(short_address=ADDRESS, serial=4711)]), job_with(), notes, UNADDRESSED)
    assert refused.value.kind == "spare-exchanged"
    assert run(SimulatedLine([spare]), job_with(), notes, UNADDRESSED).good


def test_another_spare_is_found_anew() -> None:
    """Where nobody stands at the address any more, a second spare without one is searched, set whole and known from then on."""
    first, second, notes = spare_on_line(serial=1), spare_on_line(seed=5, serial=2), NotesInMemory()
    broken_off(SimulatedLine([first]), job_with(), notes, UNADDRESSED, lost_after=900)
    assert run(SimulatedLine([second]), job_with(), notes, UNADDRESSED).good
    assert is_as_recorded(second)
    assert run(SimulatedLine([second]), job_with(), notes, UNADDRESSED).good


def test_a_gear_without_a_serial_number_goes_on() -> None:
    """Where the memory tells no number there is nothing to compare, and the run is taken up."""
    spare, notes = spare_on_line(), NotesInMemory()
    del spare.banks.banks[0]
    broken_off(SimulatedLine([spare]), job_with(), notes, UNADDRESSED, lost_after=900)
    assert run(SimulatedLine([spare]), job_with(), notes, UNADDRESSED).good


def test_what_was_written_before_is_said() -> None:
    """The second run says what the first one stored, and where it broke off."""
    line, notes, told = SimulatedLine([spare_on_line()]), NotesInMemory(), list[str]()
    broken_off(line, job_with(), notes, UNADDRESSED, lost_after=520)
    set_gear(SimulatedPort(line), job_with(), log=ProgressLog(notes), tell=told.append)
    assert told[0] == "An earlier run of this job is taken up."
    assert told[1] == "Given before: address 6 (numbered from 1; 5 on the bus)."
    assert told[2].startswith("Written before: dimming curve at address 6")
    assert told[3].startswith("Begun, and perhaps not written: ")


def test_a_log_of_another_job(tmp_path: Path) -> None:
    """Notes of other settings are refused before anything is sent; notes of other work among them do no harm."""
    line = SimulatedLine([spare_on_line()])
    with held_notes(tmp_path / "log") as notes:
        notes.add("other", words="of somebody else")
        assert not run(line, job_with(), notes, UNADDRESSED).resumed
    with held_notes(tmp_path / "log") as notes:
        assert run(line, job_with(), notes, UNADDRESSED).resumed
        sent = len(line.log)
        with pytest.raises(GearkeepError) as refused:
            run(line, job_with(replace(CONTROL, max_level=100)), notes, UNADDRESSED)
    assert refused.value.kind == "other-job"
    assert len(line.log) == sent


def test_neighbours_are_held_against_the_first_run(tmp_path: Path) -> None:
    """What changed between two runs is seen: the first snapshot is kept on the disk."""
    spare, (other,) = spare_on_line(), neighbours_at(7)
    line = SimulatedLine([spare, other])
    with held_notes(tmp_path / "log") as notes:
        broken_off(line, job_with(), notes, UNADDRESSED, lost_after=500)
    other.held["max_level"] = 111
    with held_notes(tmp_path / "log") as notes, pytest.raises(GearkeepError) as refused:
        run(line, job_with(), notes, UNADDRESSED)
    assert refused.value.kind == "neighbour-changed"
