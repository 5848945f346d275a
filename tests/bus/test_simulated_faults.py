"""Every fault that can be planted does what it says, on the line, through the port and over TCP."""

from __future__ import annotations

import json
import socket
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from bus_talk import Talk, byte
from dali.address import GearShort
from dali.driver.daliserver import DaliServer
from dali.gear import general
from line_server import frame_clock, line_from, serving
from simulated_faults import Answers, Faults, LineFaults, PowerCut
from simulated_gear import SimulatedGear
from simulated_line import Garbled, Reply, SimulatedLine, SimulatedPort

from vault.bus.port import GARBLED, NOTHING, Answer, Heard
from vault.errors import GearkeepError

YES = byte(0xFF)
FIVE = GearShort(5)
SET_MAXIMUM = ("A3 C8", "0B 2A x2", "0B A1")  # frames 1 to 4: maximum level 200, asked for again


@pytest.mark.parametrize(("faults", "frames", "answer"), [
    (Faults(), SET_MAXIMUM, byte(200)),
    (Faults(lose_frames=frozenset({3})), SET_MAXIMUM, byte(254)),  # the second of two is lost
    (Faults(lose_frames=frozenset({4})), SET_MAXIMUM, None),  # the query is lost
    (Faults(lose_permille=1000), SET_MAXIMUM, None),
    (Faults(forgets=frozenset({"max_level"})), SET_MAXIMUM, byte(254)),
    (Faults(forgets=frozenset({"min_level"})), SET_MAXIMUM, byte(200)),
    (Faults(reports={"max_level": 199}), SET_MAXIMUM, byte(199)),
    (Faults(answers=Answers.NEVER), SET_MAXIMUM, None),
    (Faults(answers=Answers.LATE), SET_MAXIMUM, None),
    (Faults(ignores_send_twice=True), SET_MAXIMUM, byte(254)),
    (Faults(takes_once=True), ("A3 C8", "0B 2A", "0B A1"), byte(200)),
    (Faults(deaf_to=frozenset({0x2A})), SET_MAXIMUM, byte(254)),
    (Faults(forgets=frozenset({"short_address"})), ("A3 0D", "0B 80 x2", "0B 91"), YES),
    (Faults(forgets=frozenset({"bank1_09"})), ("0B 81 x2", "C3 01", "A3 02", "C7 55", "A3 09", "C7 41", "A3 09", "0B C5"), YES),
])
def test_faults_of_a_gear(faults: Faults, frames: tuple[str, ...], answer: Reply) -> None:
    """One fault at a time, seen by the answer to the last frame."""
    assert Talk(SimulatedLine([SimulatedGear(short_address=5, faults=faults)])).say(*frames) == answer


@pytest.mark.parametrize(("late_by_ms", "dtr0"), [(29, 0xAA), (31, 0)])
def test_a_late_answer_destroys_the_frame_that_it_meets(late_by_ms: int, dtr0: int) -> None:
    """The next frame starts 30 ms after the query here."""
    gear = SimulatedGear(short_address=5, faults=Faults(answers=Answers.LATE, late_by_ms=late_by_ms))
    Talk(SimulatedLine([gear])).say("0B 91", "A3 AA")
    assert gear.ram["dtr0"] == dtr0


@pytest.mark.parametrize(("faults", "answer"), [
    (LineFaults(), byte(200)),
    (LineFaults(lose_frames=frozenset({1})), byte(1)),  # DTR0 is 0: the maximum stops at the minimum, 1
    (LineFaults(lose_frames=frozenset({2})), byte(254)),
    (LineFaults(lose_permille=1000), None),
    (LineFaults(lose_answers=frozenset({1})), None),
    (LineFaults(garble_answers=frozenset({1})), Garbled.FRAME),
])
def test_faults_of_the_line(faults: LineFaults, answer: Reply) -> None:
    """One fault at a time; the log has every frame that was sent."""
    line = SimulatedLine([SimulatedGear(short_address=5)], faults=faults)
    assert Talk(line).say(*SET_MAXIMUM) == answer
    assert [each.frame.hex() for each in line.log] == ["a3c8", "0b2a", "0b2a", "0ba1"]


def test_a_share_of_frames_is_lost_the_same_way_for_the_same_seed() -> None:
    """Seeded: a test that fails can be run again."""
    lines = [SimulatedLine([SimulatedGear()], faults=LineFaults(lose_permille=300, seed=7)) for _ in range(2)]
    for line in lines:
        Talk(line).say("FF 91 x200")
    first, second = ([each.lost for each in line.log] for line in lines)
    assert first == second
    assert 20 < sum(first) < 120


def test_two_gear_at_one_address_take_the_same_command() -> None:
    """A second gear at the address is not seen by what is stored, only by a search."""
    line = SimulatedLine([SimulatedGear(short_address=5, seed=1), SimulatedGear(short_address=5, seed=2)])
    talk = Talk(line)
    assert talk.say(*SET_MAXIMUM) == byte(200)
    assert line.count_by_address() == {5: 2}
    talk.say("A5 0B x2", "A7 00 x2")
    assert len(talk.find_all()) == 2


def test_a_power_cut_is_raised_once_and_loses_what_is_not_stored() -> None:
    """After three frames power goes: the fourth is not sent, DTR0 is lost, the stored level is kept."""
    line = SimulatedLine([SimulatedGear(short_address=5)], faults=LineFaults(power_cut_after=3))
    talk = Talk(line)
    with pytest.raises(PowerCut):
        talk.say(*SET_MAXIMUM)
    assert len(line.log) == 3
    assert (talk.say("0B A1"), talk.say("0B 98")) == (byte(200), byte(0))


@pytest.mark.parametrize(("command", "answer", "frames"), [
    (general.QueryMaxLevel(FIVE), Answer(heard=Heard.BYTE, value=254), 1),
    (general.QueryMaxLevel(GearShort(6)), NOTHING, 1),
    (general.QueryMaxLevel(GearShort(7)), GARBLED, 1),
    (general.DTR0(1), NOTHING, 1),
    (general.IdentifyDevice(FIVE), NOTHING, 2),
])
def test_the_port_sends_the_bytes_of_a_command(command: Any, answer: Answer, frames: int) -> None:
    """Twice where its class says so; two gear with different answers stand at address 7."""
    line = SimulatedLine([SimulatedGear(short_address=5), SimulatedGear(short_address=7),
                          SimulatedGear(short_address=7, held={"max_level": 9})])
    assert SimulatedPort(line).send(command) == answer
    assert len(line.log) == frames


@pytest.mark.parametrize(("apart_ms", "identified"), [(30, 1), (100, 1), (101, 0)])
def test_a_slow_gateway_sends_twice_too_late(apart_ms: int, identified: int) -> None:
    """IEC 62386-101: within 100 ms."""
    gear = SimulatedGear(short_address=5)
    SimulatedPort(SimulatedLine([gear]), twice_apart_ms=apart_ms).send(general.IdentifyDevice(FIVE))
    assert gear.identified == identified


@pytest.mark.parametrize("lost_after", [0, 1, 2])
def test_a_lost_gateway_says_so(lost_after: int) -> None:
    """The port's own error, and not silence; nothing is sent from then on."""
    line = SimulatedLine([SimulatedGear(short_address=5)])
    port = SimulatedPort(line, lost_after=lost_after)
    with pytest.raises(GearkeepError) as raised:
        port.send(general.IdentifyDevice(FIVE)), port.send(general.IdentifyDevice(FIVE))
    assert (raised.value.kind, len(line.log)) == ("bus-lost", lost_after)


@pytest.mark.parametrize("many", [False, True])
def test_a_line_over_tcp(many: bool) -> None:
    """Seen through the client that the wire form belongs to: a byte, nothing, garbled, and a command sent twice."""
    gear = [SimulatedGear(short_address=5), SimulatedGear(short_address=7), SimulatedGear(short_address=7, held={"max_level": 9})]
    with (serving(SimulatedLine(gear), clock=frame_clock()) as port_number,
          DaliServer("127.0.0.1", port_number, multiple_frames_per_connection=many) as gateway):
        gateway.send(general.DTR0(200))
        gateway.send(general.SetMaxLevel(FIVE))
        assert gateway.send(general.QueryMaxLevel(FIVE)).raw_value.as_integer == 200
        assert gateway.send(general.QueryMaxLevel(GearShort(6))).raw_value is None
        assert gateway.send(general.QueryMaxLevel(GearShort(7))).raw_value.error


def test_a_power_cut_breaks_the_connection_off() -> None:
    """The client reads an end and no answer; the next connection is served."""
    line = SimulatedLine([SimulatedGear()], faults=LineFaults(power_cut_after=0))
    with serving(line) as port_number:
        heard = []
        for _ in range(2):
            with socket.create_connection(("127.0.0.1", port_number)) as client:
                client.sendall(bytes.fromhex("0200FF91"))
                heard.append(client.recv(4).hex())
    assert heard == ["", "0201ff00"]


def test_a_line_is_made_from_json() -> None:
    """Names are those of SimulatedGear, Faults and LineFaults."""
    line = line_from({"gear": [{"short_address": 5, "device_types": [1, 6], "held": {"max_level": 200}, "bank1": "41",
                                "faults": {"forgets": ["min_level"], "answers": "never"}}],
                      "collisions": "garbled", "faults": {"lose_frames": [3]}})
    [gear] = line.gear
    assert (gear.kept()["max_level"], gear.kept()["bank1_03"], gear.faults.answers) == (200, 0x41, Answers.NEVER)


def test_the_server_as_a_process(tmp_path: Path) -> None:
    """It prints its port, serves, and writes what the gear hold when it is told to end."""
    spec, dump = tmp_path / "line.json", tmp_path / "after.json"
    spec.write_text(json.dumps({"gear": [{"short_address": 5}], "clock": "frames"}))
    script = Path(__file__).parent / "line_server.py"
    with subprocess.Popen([sys.executable, script, "--spec", spec, "--dump", dump], stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        gateway = DaliServer("127.0.0.1", int(process.stdout.readline()))
        gateway.send(general.DTR0(200))
        gateway.send(general.SetMaxLevel(FIVE))
        process.terminate()
    assert json.loads(dump.read_text())[0]["max_level"] == 200
