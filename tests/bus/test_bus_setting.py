"""A gear set over a line and asked again: equal on a good line, and every fault told by its class."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from setting_bench import (
    ADDRESS,
    CONTROL,
    EMERGENCY,
    FREE,
    controls,
    job_with,
    neighbours_at,
    spare_on_line,
)
from simulated_faults import Answers, Faults, LineFaults
from simulated_gear import SimulatedGear
from simulated_line import Collisions, SimulatedLine, SimulatedPort

from vault.bus.job import Job
from vault.bus.progress_log import NotesInMemory, ProgressLog
from vault.bus.search import ALONE, UNADDRESSED, Where, at
from vault.bus.setting import SetDone, set_gear
from vault.domain.settings import ColourControl, Control, EmergencyMode
from vault.errors import GearkeepError


def run(line: SimulatedLine, job: Job, found: Where = UNADDRESSED) -> SetDone:
    """Set by way of a line, with a log that is thrown away."""
    return set_gear(SimulatedPort(line), job, log=ProgressLog(NotesInMemory()), found=found, tell=lambda _: None)


def refusal(line: SimulatedLine, job: Job, found: Where = UNADDRESSED) -> str:
    """The class of the refusal; nobody but the first gear stored anything. A random address is drawn by whoever is searched."""
    before = [gear.kept() | {"random_address": 0} for gear in line.gear[1:]]
    with pytest.raises(GearkeepError) as refused:
        run(line, job, found)
    assert [gear.kept() | {"random_address": 0} for gear in line.gear[1:]] == before
    assert refused.value.hint
    return refused.value.kind


@settings(max_examples=25)
@given(controls(), st.sampled_from(Collisions), st.sampled_from([0, 5, 63]))
def test_what_is_stored_is_answered(control: Control, heard: Collisions, address: int) -> None:
    """On a good line every answer agrees, nobody else is changed, and one gear stands at the address."""
    spare, others = spare_on_line(), neighbours_at(4, 7, 62)
    before = [gear.kept() for gear in others]
    done = run(SimulatedLine([spare, *others], collisions=heard), job_with(replace(control, short_address=address)))
    assert done.good
    assert done.again == ()
    assert spare.held["short_address"] == address
    assert spare.held["max_level"] == control.max_level
    assert spare.held["min_level"] == control.min_level
    assert [gear.kept() for gear in others] == before


def test_everything_at_once() -> None:
    """Levels, fades, groups, scenes, curve, colour and emergency are stored in the units of the standard's parts."""
    control = replace(CONTROL, colour=ColourControl(coolest_mirek=160, warmest_mirek=360, default_mirek=250))
    spare = spare_on_line()
    assert run(SimulatedLine([spare]), job_with(control, EMERGENCY)).good
    held = spare.held
    assert (held["min_level"], held["max_level"], held["power_on_level"], held["system_failure_level"]) == (85, 250, 200, 254)
    assert (held["fade_time"], held["fade_rate"], held["groups"], held["curve"]) == (4, 7, 0b1000000001, 1)
    assert (held["scene_0"], held["scene_1"], held["scene_2"], held["scene_3"]) == (254, 0, 127, 255)
    assert (held["coolest_mirek"], held["warmest_mirek"], held["power_on_mirek"]) == (160, 360, 250)
    # 50 % is level 229; 90 s are three times 30 s; 15 min are one quarter-hour (IEC 62386-102 and -202).
    assert (held["emergency_level"], held["prolong"], held["test_delay"]) == (229, 3, 1)
    assert (held["function_test_days"], held["duration_test_weeks"], held["test_timeout_days"]) == (14, 26, 3)


@pytest.mark.parametrize(("faults", "kind"), [
    (Faults(forgets=frozenset({"short_address"})), "not-taken"), (Faults(forgets=frozenset({"min_level"})), "not-taken"),
    (Faults(forgets=frozenset({"scene_2"})), "not-taken"), (Faults(forgets=frozenset({"groups"})), "not-taken"),
    (Faults(forgets=frozenset({"curve"})), "not-taken"), (Faults(forgets=frozenset({"prolong"})), "not-taken"),
    (Faults(forgets=frozenset({"fade_time"})), "not-taken"), (Faults(reports={"max_level": 254}), "not-taken"),
    (Faults(reports={"power_on_level": 0}), "not-taken"), (Faults(answers=Answers.NEVER), "no-spare-found"),
    (Faults(answers=Answers.LATE), "no-spare-found"), (Faults(ignores_send_twice=True), "no-spare-found"),
    (Faults(deaf_to=frozenset({0x2A})), "not-taken"),  # STORE DTR AS MAX LEVEL, IEC 62386-102
    (Faults(deaf_to=frozenset({0xA1})), "not-taken"),  # QUERY MAX LEVEL
])
def test_a_spare_that_is_no_good(faults: Faults, kind: str) -> None:
    """Whatever it forgets, reports or does not hear is told by its class."""
    assert refusal(SimulatedLine([spare_on_line(faults=faults), *neighbours_at(4, 7)]), job_with(CONTROL, EMERGENCY)) == kind


@pytest.mark.parametrize(("gear", "found", "kind"), [
    ([spare_on_line(), *neighbours_at(ADDRESS)], UNADDRESSED, "address-taken"),
    ([spare_on_line(), *neighbours_at(ADDRESS, ADDRESS)], UNADDRESSED, "two-at-address"),
    ([spare_on_line(), *neighbours_at(FREE)], UNADDRESSED, "several-spares"),
    (neighbours_at(4), UNADDRESSED, "no-spare-found"),
    (neighbours_at(4), at(9), "no-spare-found"),
    (neighbours_at(4), at(ADDRESS), "no-spare-found"),
    ([spare_on_line(short_address=9), SimulatedGear(short_address=9, seed=3)], at(9), "several-spares"),
    ([spare_on_line(short_address=ADDRESS), SimulatedGear(short_address=ADDRESS, seed=3)], at(ADDRESS), "two-at-address"),
    ([], ALONE, "no-spare-found"),
    ([SimulatedGear(short_address=ADDRESS, faults=Faults(ignores_send_twice=True))], UNADDRESSED, "address-taken"),
])
@pytest.mark.parametrize("heard", Collisions)
def test_a_line_that_is_not_ready(gear: list[SimulatedGear], found: Where, kind: str, heard: Collisions) -> None:
    """Somebody at the address, several spares or none: nothing is stored in anybody."""
    before = [one.kept()["max_level"] for one in gear]
    assert refusal(SimulatedLine(gear, collisions=heard), job_with(), found) == kind
    assert [one.kept()["max_level"] for one in gear] == before


def test_alone_it_must_be_alone() -> None:
    """With another gear on the line nobody is addressed."""
    line = SimulatedLine([spare_on_line(), *neighbours_at(4)])
    with pytest.raises(GearkeepError) as refused:
        run(line, job_with(), ALONE)
    assert refused.value.kind == "several-spares"
    assert sorted(line.count_by_address()) == [4, FREE]


@pytest.mark.parametrize(("brought", "found"), [(FREE, ALONE), (9, ALONE), (ADDRESS, ALONE), (9, at(9)), (ADDRESS, at(ADDRESS))])
def test_a_used_spare(brought: int, found: Where) -> None:
    """It is found at the address that it brought, or alone, whatever it brought."""
    spare = spare_on_line(short_address=brought, held={"min_level": 200, "scene_5": 17, "groups": 0xFFFF})
    assert run(SimulatedLine([spare]), job_with(), found).good
    assert (spare.held["short_address"], spare.held["min_level"], spare.held["scene_5"]) == (ADDRESS, 85, 255)


@given(st.integers(1, 900))
@settings(max_examples=25)
def test_a_lost_frame(frame: int) -> None:
    """Whichever frame is lost, the spare ends as recorded and nobody else is touched."""
    spare, others = spare_on_line(), neighbours_at(7)
    before = others[0].kept()
    line = SimulatedLine([spare, *others], faults=LineFaults(lose_frames=frozenset({frame})))
    assert run(line, job_with()).good
    assert (spare.held["max_level"], spare.held["scene_2"], spare.held["groups"]) == (250, 127, 0b1000000001)
    assert others[0].kept() == before


@given(st.integers(0, 10**6), st.integers(1, 20))
@settings(max_examples=20)
def test_a_bad_line_ends_good_or_is_told(seed: int, permille: int) -> None:
    """With a frame in fifty lost the job ends as recorded or in a refusal; never two at one address without a word."""
    spare, others = spare_on_line(), neighbours_at(7)
    before = others[0].kept()
    line = SimulatedLine([spare, *others], faults=LineFaults(lose_permille=permille, seed=seed))
    try:
        assert run(line, job_with()).good
        assert (spare.held["max_level"], spare.held["scene_2"], spare.held["groups"]) == (250, 127, 0b1000000001)
    except GearkeepError as refused:
        assert refused.kind in ("bus-unsteady", "not-taken", "no-spare-found", "neighbour-changed")
    assert max(line.count_by_address().values()) == 1
    assert others[0].kept() == before


def test_a_store_that_needed_a_second_go_is_told() -> None:
    """A value that took only when stored again is named."""
    spare = spare_on_line()
    port = Deaf(SimulatedLine([spare]), 2)
    done = set_gear(port, job_with(), log=ProgressLog(NotesInMemory()), tell=lambda _: None)
    assert done.again == ("power-on level",)
    assert spare.held["power_on_level"] == 200


class Deaf(SimulatedPort):
    """A line on which the first so many SET POWER ON LEVEL (2D, IEC 62386-102) are lost."""

    def __init__(self, line: SimulatedLine, times: int) -> None:
        super().__init__(line)
        self.times = times

    def send(self, command: Any) -> Any:
        """Swallow the command while there are times left."""
        if bytes(command.frame.as_byte_sequence) == bytes((ADDRESS << 1 | 1, 0x2D)) and self.times:
            self.times -= 1
            return None
        return super().send(command)


class Meddling(SimulatedPort):
    """Somebody else changes a neighbour, or connects the old driver again, while the job runs."""

    def __init__(self, line: SimulatedLine, gear: SimulatedGear, name: str, value: int) -> None:
        super().__init__(line)
        self.change = (gear, name, value)

    def send(self, command: Any) -> Any:
        """Meddle with SET MIN LEVEL (2B, IEC 62386-102)."""
        if command.frame.as_byte_sequence[1] == 0x2B:
            gear, name, value = self.change
            gear.held[name] = value
        return super().send(command)


@pytest.mark.parametrize(("name", "value", "kind"), [
    ("max_level", 100, "neighbour-changed"), ("scene_7", 1, "neighbour-changed"), ("groups", 2, "neighbour-changed"),
    ("short_address", 8, "neighbour-changed"), ("short_address", ADDRESS, "two-at-address"),
])
@pytest.mark.parametrize("heard", Collisions)
def test_somebody_meddles(name: str, value: int, kind: str, heard: Collisions) -> None:
    """A neighbour that is not as before, and a second gear at the address, are told at the end."""
    (other,) = neighbours_at(7)
    port = Meddling(SimulatedLine([spare_on_line(), other], collisions=heard), other, name, value)
    with pytest.raises(GearkeepError) as refused:
        set_gear(port, job_with(), log=ProgressLog(NotesInMemory()), tell=lambda _: None)
    assert refused.value.kind == kind


def test_a_gateway_that_fails() -> None:
    """The error of the gateway comes through as it is."""
    with pytest.raises(GearkeepError) as refused:
        set_gear(SimulatedPort(SimulatedLine([spare_on_line()]), lost_after=300), job_with(),
                 log=ProgressLog(NotesInMemory()), tell=lambda _: None)
    assert refused.value.kind == "bus-lost"


def test_what_frames_cannot_store_is_told() -> None:
    """A mode and a rated duration other than the record's, and an inhibit, do not pass as good."""
    wanted = replace(EMERGENCY, mode=EmergencyMode.SWITCHED_MAINTAINED, rated_duration_min=60)
    done = run(SimulatedLine([spare_on_line()]), job_with(CONTROL, wanted))
    assert not done.good
    # Rated duration in units of 2 min, features bits 1 and 2 (IEC 62386-202).
    assert done.differs == ("rated duration: 30 wanted, 90 answered", "emergency mode: 4 wanted in the bits 00000100, 0 answered")
