"""A gateway in use: python-dali's driver behind `Port`, one connection for all frames."""

from __future__ import annotations

import asyncio
import inspect
import socket
import sys
import threading
import time
from collections.abc import Coroutine, Iterator, Mapping
from contextlib import ExitStack, contextmanager, suppress
from typing import Any

from dali.address import GearBroadcast
from dali.exceptions import ResponseError
from dali.frame import BackwardFrame, BackwardFrameError
from dali.gear import general

from vault.bus.drivers import class_named, gateways, typed_settings
from vault.bus.port import GARBLED, NOTHING, Answer, Heard, Port
from vault.errors import GearkeepError

ANSWER_S = 5.0
CONNECT_S = 10.0
# IEC 62386-102: the new random address is there 100 ms after RANDOMISE.
RANDOMISE_S = 0.1
_KEEPS_OPEN = "multiple_frames_per_connection"


@contextmanager
def open_gateway(name: str, settings: Mapping[str, str]) -> Iterator[Port]:
    """Open a gateway by python-dali's name ("daliserver.DaliServer") and its settings, all as text.

    Asks once whether any gear answers at all, so that a line without power is not taken for an empty one. Raises
    UsageProblem for a wrong name or setting, GearkeepError: extra-missing, bus-lost, no-gear.
    """
    kind = class_named(name)
    wanted = typed_settings(name, kind, settings)
    if _KEEPS_OPEN in inspect.signature(kind).parameters:
        # A connection for each frame would take too long for the second of two within 100 ms.
        wanted = {_KEEPS_OPEN: True, **wanted}
    port: Port = _Waiting(name, kind, wanted) if inspect.iscoroutinefunction(kind.send) else _Direct(name, kind, wanted)
    try:
        present = general.QueryControlGearPresent(GearBroadcast())
        if not any(port.send(present).yes for _ in range(2)):
            raise GearkeepError(f"The gateway {name} is there, but no gear on its line answers.", kind="no-gear",
                                hint="Check that the line has its bus supply, that the gateway is on this line, and that "
                                     "the spare has its mains.")
        yield port
    finally:
        port.close()


def lost(name: str, problem: BaseException | str) -> GearkeepError:
    """The gateway failed: not the same as nobody answering."""
    said = str(problem) or type(problem).__name__
    return GearkeepError(f"The gateway {name} failed: {said}", kind="bus-lost",
                         hint="Check its cable, its settings and the bus supply, then start again. A setting that was begun "
                              "goes on with the same log or folder.")


def answer_of(command: Any, response: Any) -> Answer:
    """What a driver returned. It is an object of dali.command.Response, a bare frame, or a mark for no answer."""
    if command.response is None:
        return NOTHING
    frame = getattr(response, "raw_value", response)
    if isinstance(frame, BackwardFrameError) or (isinstance(frame, BackwardFrame) and frame.error):
        return GARBLED
    return Answer(heard=Heard.BYTE, value=frame.as_integer) if isinstance(frame, BackwardFrame) else NOTHING


def _settle(command: Any) -> None:
    if isinstance(command, general.Randomise):
        time.sleep(RANDOMISE_S)


class _Direct:
    """A driver whose send() returns the answer."""

    def __init__(self, name: str, kind: type[Any], settings: Mapping[str, Any]) -> None:
        self._name, self._stack = name, ExitStack()
        # Drivers of that kind that know nothing of send-twice get the command twice from here.
        self._twice_here = "sendtwice" not in inspect.getsource(sys.modules[kind.__module__])
        before = socket.getdefaulttimeout()
        socket.setdefaulttimeout(ANSWER_S)
        try:
            driver = kind(**settings)
            self._driver = self._stack.enter_context(driver) if hasattr(driver, "__enter__") else driver
        except Exception as problem:
            raise lost(name, problem) from problem
        finally:
            socket.setdefaulttimeout(before)

    def send(self, command: Any) -> Answer:
        """See `Port.send`."""
        try:
            response = self._driver.send(command)
            if self._twice_here and command.sendtwice:
                response = self._driver.send(command)
        except ResponseError:
            # A driver that logs an answer as text fails on one that is garbled.
            return GARBLED
        except Exception as problem:
            # Each driver has errors of its own, those of sockets, USB and serial lines among them.
            raise lost(self._name, problem) from problem
        _settle(command)
        return answer_of(command, response)

    def close(self) -> None:
        """See `Port.close`."""
        with suppress(Exception):
            self._stack.close()
        _let_go(self._driver)


class _Waiting:
    """A driver whose send() is awaited: it lives in a loop of its own, in a thread."""

    def __init__(self, name: str, kind: type[Any], settings: Mapping[str, Any]) -> None:
        self._name = name
        self._loop = asyncio.new_event_loop()
        self._thread = threading.Thread(target=self._loop.run_forever, daemon=True)
        self._thread.start()
        self._driver: Any = None
        try:
            self._run(self._connect(kind, settings), CONNECT_S)
        except BaseException:
            self.close()
            raise

    async def _connect(self, kind: type[Any], settings: Mapping[str, Any]) -> None:
        self._driver = kind(**settings)
        opened = self._driver.connect()
        if inspect.isawaitable(opened):
            opened = await opened
        if opened is False:
            raise OSError("it could not be opened")
        event = getattr(self._driver, "connected", None)
        if isinstance(event, asyncio.Event):
            await event.wait()

    def send(self, command: Any) -> Answer:
        """See `Port.send`."""
        try:
            response = self._run(self._driver.send(command), ANSWER_S)
        except ResponseError:
            return GARBLED
        _settle(command)
        return answer_of(command, response)

    def _run(self, work: Coroutine[Any, Any, Any], limit_s: float) -> Any:
        future = asyncio.run_coroutine_threadsafe(asyncio.wait_for(work, limit_s), self._loop)
        try:
            return future.result(limit_s + 1)
        except TimeoutError as problem:
            raise lost(self._name, f"nothing came within {limit_s:.0f} s") from problem
        except ResponseError:
            raise
        except Exception as problem:
            raise lost(self._name, problem) from problem

    def close(self) -> None:
        """See `Port.close`."""
        if self._driver is not None:
            with suppress(Exception):
                asyncio.run_coroutine_threadsafe(_end(self._driver), self._loop).result(ANSWER_S)
        self._loop.call_soon_threadsafe(self._loop.stop)
        self._thread.join(ANSWER_S)
        if not self._thread.is_alive():
            self._loop.close()


async def _end(driver: Any) -> None:
    end = getattr(driver, "disconnect", None) or getattr(driver, "close", None)
    if end is not None:
        ended = end()
        if inspect.isawaitable(ended):
            await ended


def _let_go(driver: Any) -> None:
    for thing in (driver, getattr(driver, "backend", None)):
        end = getattr(thing, "close", None)
        if end is not None:
            with suppress(Exception):
                end()


__all__ = ["answer_of", "gateways", "lost", "open_gateway"]
