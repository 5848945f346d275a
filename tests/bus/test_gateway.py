"""Gateways: names and settings of python-dali, answers of every kind, a gateway that fails."""

from __future__ import annotations

import asyncio
from types import ModuleType
from typing import Any

import pytest
from dali.address import GearShort
from dali.command import Response
from dali.frame import BackwardFrame, BackwardFrameError
from dali.gear import general
from line_server import serving
from simulated_gear import SimulatedGear
from simulated_line import Collisions, SimulatedLine

from vault.bus import gateway
from vault.bus.drivers import gateways
from vault.bus.gateway import open_gateway
from vault.bus.port import GARBLED, NOTHING, Answer, Heard
from vault.errors import GearkeepError, UsageProblem

PRESENT = general.QueryControlGearPresent(GearShort(5))
YES = Answer(heard=Heard.BYTE, value=255)


class AnsweringDriver:
    """A driver that answers at once. sendtwice is left to the caller: the word stands in this file."""

    def __init__(self, raw: Any = None) -> None:
        self.raw = raw

    def send(self, command: Any) -> Any:
        """Answer with the frame that was given; a text stands for an error of the driver's own."""
        if isinstance(self.raw, str):
            raise RuntimeError(self.raw)
        return command.response(self.raw) if command.response else None


class AwaitedDriver(AnsweringDriver):
    """A driver that is awaited, and knows when it is connected."""

    def __init__(self, raw: Any = None, opens: bool = True) -> None:
        super().__init__(raw)
        self.opens, self.ended, self.connected = opens, False, asyncio.Event()

    def connect(self) -> bool:
        """Open at once, or say that it cannot."""
        self.connected.set()
        return self.opens

    async def send(self, command: Any) -> Any:  # type: ignore[override]
        """Answer after a turn of the loop."""
        await asyncio.sleep(0)
        return super().send(command)


def fake(monkeypatch: pytest.MonkeyPatch, kind: type[Any], **given: Any) -> None:
    """Have every name mean this class with these arguments."""
    monkeypatch.setattr(gateway, "class_named", lambda *_: kind)
    monkeypatch.setattr(gateway, "typed_settings", lambda *_: given)


@pytest.mark.parametrize("kind", [AnsweringDriver, AwaitedDriver])
@pytest.mark.parametrize(("raw", "heard"), [
    (BackwardFrame(255), YES), (BackwardFrameError(255), GARBLED), (BackwardFrame(0), Answer(heard=Heard.BYTE, value=0)),
])
def test_what_comes_back(monkeypatch: pytest.MonkeyPatch, kind: type[Any], raw: Any, heard: Answer) -> None:
    """A byte, or a frame with errors, by either kind of driver."""
    fake(monkeypatch, kind, raw=raw)
    with open_gateway("any.Driver", {}) as port:
        assert port.send(PRESENT) == heard
        assert port.send(general.DTR0(5)) == NOTHING


@pytest.mark.parametrize(("kind", "given", "failure"), [
    (AnsweringDriver, {"raw": "unplugged"}, "bus-lost"), (AwaitedDriver, {"raw": "unplugged"}, "bus-lost"),
    (AwaitedDriver, {"opens": False}, "bus-lost"), (AnsweringDriver, {}, "no-gear"), (AwaitedDriver, {}, "no-gear"),
])
def test_a_gateway_that_fails(monkeypatch: pytest.MonkeyPatch, kind: type[Any], given: dict[str, Any], failure: str) -> None:
    """A gateway that fails is another thing than a line on which nobody answers."""
    fake(monkeypatch, kind, **given)
    with pytest.raises(GearkeepError) as refused, open_gateway("any.Driver", {}):
        pytest.fail("it was opened")
    assert refused.value.kind == failure


@pytest.mark.parametrize(("name", "settings", "words"), [
    ("daliserver.Nobody", {}, "daliserver.DaliServer"),
    ("nowhere.DaliServer", {}, "daliserver.DaliServer"),
    ("daliserver.DaliServer", {"hots": "127.0.0.1"}, "host (else localhost)"),
    ("daliserver.DaliServer", {"port": "many"}, "a whole number"),
    ("daliserver.DaliServer", {"multiple_frames_per_connection": "perhaps"}, "yes or no"),
    ("hid.hid", {}, "daliserver.DaliServer"),
])
def test_a_wrong_name_or_setting(name: str, settings: dict[str, str], words: str) -> None:
    """What is wrong is said with what is allowed."""
    with pytest.raises(UsageProblem) as refused, open_gateway(name, settings):
        pytest.fail("it was opened")
    assert words in refused.value.hint


def test_a_package_that_is_not_there(monkeypatch: pytest.MonkeyPatch) -> None:
    """A driver whose package is missing names it and the extra."""

    def missing(name: str) -> ModuleType:
        raise ImportError(name, name="a-package")

    monkeypatch.setattr("vault.bus.drivers.importlib.import_module", missing)
    with pytest.raises(GearkeepError, match="a-package") as refused, open_gateway("daliserver.DaliServer", {}):
        pytest.fail("it was opened")
    assert "gearkeep[bus]" in refused.value.hint


def test_the_names_there_are() -> None:
    """The server of frames over TCP is among them, with its settings and their defaults (python-dali 0.16)."""
    listed = {one.name: one.settings for one in gateways()}
    assert listed["daliserver.DaliServer"]["port"] == "55825"


def test_over_tcp() -> None:
    """One connection carries queries, send-twice commands and answers that collide."""
    gear = [SimulatedGear(short_address=5), SimulatedGear(short_address=6), SimulatedGear(short_address=6)]
    with serving(SimulatedLine(gear, collisions=Collisions.GARBLED)) as number, \
            open_gateway("daliserver.DaliServer", {"host": "127.0.0.1", "port": str(number)}) as port:
        port.send(general.DTR0(200))
        port.send(general.SetMaxLevel(GearShort(5)))
        assert port.send(general.QueryMaxLevel(GearShort(5))) == Answer(heard=Heard.BYTE, value=200)
        assert port.send(general.QueryMaxLevel(GearShort(6))) == GARBLED
        assert port.send(general.QueryMaxLevel(GearShort(7))) == NOTHING


def test_nobody_listens() -> None:
    """A server that is gone is told as a lost bus."""
    with serving(SimulatedLine([SimulatedGear(short_address=5)])) as number:
        settings = {"host": "127.0.0.1", "port": str(number)}
    with pytest.raises(GearkeepError) as refused, open_gateway("daliserver.DaliServer", settings):
        pytest.fail("it was opened")
    assert refused.value.kind == "bus-lost"


def test_a_bare_answer() -> None:
    """Some drivers give the frame itself, or an object of their own for no answer."""
    assert gateway.answer_of(PRESENT, BackwardFrame(255)) == YES
    assert gateway.answer_of(PRESENT, object()) == NOTHING
    assert gateway.answer_of(PRESENT, Response(None)) == NOTHING
