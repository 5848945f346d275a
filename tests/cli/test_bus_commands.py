"""gearkeep bus against a simulated line behind TCP: look, identify, set, read, gateways."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from click.testing import Result
from line_server import frame_clock, serving
from simulated_faults import Faults
from simulated_gear import SimulatedGear
from simulated_line import SimulatedLine
from small_vault import Cli

from vault.exchange.readback_file import read_readback

# CH-007 of the demo's schedule: address 6 on line D1, group 0, scenes 0:254 1:170, minimum 86, fade time 4.
CH_007 = {"groups": 1, "min_level": 86, "fade_time": 4, "scene_0": 254, "scene_1": 170}
# Its spare: a model that fits it, by bus.
SPARE = "GEN-50-1050"


@dataclass(slots=True, kw_only=True)
class Bus:
    """A line and how a command is given it."""

    line: SimulatedLine
    cli: Cli
    gateway: tuple[str, ...]

    def run(self, *words: str, key: str | None = None) -> Result:
        return self.cli("bus", *words, *self.gateway, key=key)

    def json(self, *words: str) -> tuple[int, dict[str, Any]]:
        result = self.run(*words, "--json")
        told: dict[str, Any] = json.loads(result.stdout)
        return result.exit_code, told


@pytest.fixture
def bus(cli: Cli) -> Iterator[Bus]:
    """A line with the gear of CH-007, a neighbour, and one driver without an address."""
    line = SimulatedLine([SimulatedGear(short_address=6, held=CH_007, serial=88213),
                          SimulatedGear(short_address=7, seed=1, held={"groups": 0b1001}), SimulatedGear(seed=2)])
    with serving(line, clock=frame_clock()) as port:
        yield Bus(line=line, cli=cli, gateway=("--gateway", "daliserver.DaliServer", "--gateway-set", "host=127.0.0.1",
                                               "--gateway-set", f"port={port}"))


def stored(line: SimulatedLine) -> list[dict[str, int]]:
    """What every gear holds, but for the random address: a search draws new ones."""
    return [gear.kept() | {"random_address": 0} for gear in line.gear]


def test_look_lists_who_answers(bus: Bus) -> None:
    """Each address with what is known of its gear, and how many have none."""
    code, told = bus.json("look")
    assert (code, told["unaddressed"], [(g["address"], g["device_types"], g["groups"], g["serial"]) for g in told["gear"]]) == (
        0, 1, [(6, [6], 1, 88213), (7, [6], 0b1001, 2)])


def test_look_says_it_in_words(bus: Bus) -> None:
    """The same as a table in the site's numbering, which begins at 1 on line D2; the cautions come first."""
    result = bus.run("look", "--line", "D2")
    rows = [line.split()[0] for line in result.stdout.splitlines()[1:3]]
    assert (rows, "numbered from 1" in result.stdout, result.stderr.startswith("caution: ")) == (["7", "8"], True, True)


@pytest.mark.parametrize("words", [(), ("--prove",)])
def test_look_tells_two_at_one_address(bus: Bus, words: tuple[str, ...]) -> None:
    """Two gear at one address are told, and the exit code is 1."""
    bus.line.gear.append(SimulatedGear(short_address=7, seed=9))
    code, told = bus.json("look", *words)
    assert (code, [(g["address"], g["several"]) for g in told["gear"]]) == (1, [(6, False), (7, True)])


def test_identify(bus: Bus) -> None:
    """The one gear shows itself, in the numbering of its line."""
    assert bus.run("identify", "7", "--line", "D2").exit_code == 0
    assert [gear.identified for gear in bus.line.gear] == [1, 0, 0]


@pytest.mark.parametrize(("words", "code", "kind"), [
    (("identify", "12"), 1, "no-answer"),
    (("identify", "64"), 2, "bad-address"),
    (("identify", "0", "--line", "D2"), 2, "bad-address"),
    (("look", "--line", "D9"), 2, "not-found"),
    (("read", "@CH-008"), 1, "two-at-address"),
    (("read", "@CH-001"), 1, "no-answer"),
    (("read", "@CH-007", "--gear", "emergency-converter"), 2, "no-gear"),
    (("set", "@CH-007", "--spare", SPARE), 2, "not-confirmed"),
    (("set", "@CH-007", "--spare", SPARE, "--yes"), 1, "address-taken"),
    (("set", "@CH-007", "--spare", SPARE, "--yes", "--at", "3", "--alone"), 2, None),
    (("set", "@CH-007", "--spare", "CV-24-60", "--yes"), 1, "does-not-fit"),
    (("set", "@CH-007", "--spare", "NONE", "--yes"), 2, "not-found"),
])
def test_refusals(bus: Bus, words: tuple[str, ...], code: int, kind: str | None) -> None:
    """Every refusal has its exit code and kind, and nothing is stored."""
    bus.line.gear.append(SimulatedGear(short_address=7, seed=9))
    before = stored(bus.line)
    result = bus.run(*words, "--json")
    assert (result.exit_code, kind) == (code, kind and json.loads(result.stdout)["error"]["kind"])
    assert stored(bus.line) == before


@pytest.mark.parametrize(("gateway", "code", "kind"), [
    ((), 2, "no-gateway"),
    (("--gateway", "daliserver.DaliServer", "--gateway-set", "host"), 2, "bad-gateway-setting"),
    (("--gateway", "daliserver.DaliServer", "--gateway-set", "port=1"), 1, "bus-lost"),
])
def test_wrong_gateways(cli: Cli, gateway: tuple[str, ...], code: int, kind: str) -> None:
    """A gateway that is not named, not understood or not there."""
    result = cli("bus", "look", *gateway, "--json")
    assert (result.exit_code, json.loads(result.stdout)["error"]["kind"]) == (code, kind)


def test_gateways_are_listed(cli: Cli) -> None:
    """The names and settings that --gateway and --gateway-set take."""
    told = {one["name"]: one for one in json.loads(cli("bus", "gateways", "--json").stdout)["gateways"]}
    assert {"host", "port"} <= set(told["daliserver.DaliServer"]["settings"])


def test_dry_run_opens_nothing(cli: Cli) -> None:
    """Every frame in bytes and words behind the cautions, without any gateway."""
    result = cli("bus", "set", "@CH-007", "--spare", SPARE, "--dry-run")
    first, *_ = [line for line in result.stdout.splitlines() if "store it as the minimum level" in line]
    # SET MIN LEVEL at short address 6: 0D 2B (IEC 62386-102).
    assert (result.exit_code, result.stdout.startswith("Cautions"), first.split()[1:4]) == (0, True, ["0D", "2B", "twice"])


def test_read_agrees(bus: Bus, tmp_path: Path) -> None:
    """A gear that is set as the record says: exit code 0, and a readback file that names luminaire and version."""
    out = tmp_path / "read.json"
    code, told = bus.json("read", "@CH-007", "--out", str(out))
    kept = read_readback(out)
    assert (code, told["good"], told["differs"], kept.version, kept.gears["general"]["control.min_level"]) == (0, True, [], 1, 86)
    assert "channels.1.current_ma" in told["not_read"]


def test_read_differs(bus: Bus) -> None:
    """A setting that is not as the record says is shown field by field, and the exit code is 1."""
    bus.line.gear[0].held["fade_time"] = 5
    result = bus.run("read", "@CH-007")
    row, *_ = [line for line in result.stdout.splitlines() if line.startswith("Fade time")]
    assert (result.exit_code, row.split()[-1], result.stderr.startswith("caution: ")) == (1, "DIFFERS", True)


def test_read_elsewhere(bus: Bus) -> None:
    """A gear that stands at another address than on record is read there, and the address differs."""
    code, told = bus.json("read", "@CH-001", "--at", "6")
    assert (code, "control.short_address" in told["differs"]) == (1, True)


def test_set_and_read_back(bus: Bus, tmp_path: Path) -> None:
    """The old driver is gone: the one without an address takes everything, memory included, and reads as the record says."""
    bus.line.gear.pop(0)
    out, log = tmp_path / "read.json", tmp_path / "log.jsonl"
    code, told = bus.json("set", "@CH-007", "--spare", SPARE, "--yes", "--log", str(log), "--out", str(out))
    spare = bus.line.gear[1]
    assert (code, told["differs"], told["findings"]) == (0, [], [])
    assert {name: spare.held[name] for name in ("short_address", *CH_007)} == {"short_address": 6} | CH_007
    assert told["gears"]["general"]["bank1.identification"].split()[1] == "T1"
    assert read_readback(out).tag == told["tag"] and log.is_file()


def test_a_spare_that_forgets_is_told(bus: Bus) -> None:
    """A value that does not take is refused by its kind."""
    bus.line.gear[:] = [bus.line.gear[1], SimulatedGear(seed=2, faults=Faults(forgets=frozenset({"fade_time"})))]
    code, told = bus.json("set", "@CH-007", "--spare", SPARE, "--yes")
    assert (code, told["error"]["kind"]) == (1, "not-taken")
