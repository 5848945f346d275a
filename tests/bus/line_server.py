"""A simulated line behind TCP on 127.0.0.1, for tests of whole processes.

It speaks the protocol of daliserver: a request of four bytes 2, 0, address byte, command byte; an answer of four bytes
2, status, value, 0 with status 0 for nothing, 1 for a byte, 255 for a garbled frame.

As a script it reads the line from a JSON file, prints its port, and serves until SIGTERM, or until the
process that started it is gone; --dump writes what every gear then holds.
    python tests/bus/line_server.py --spec line.json --dump after.json
    {"gear": [{"short_address": 5, "device_types": [1, 6], "held": {"max_level": 200}, "faults": {"takes_once": true}}],
     "collisions": "garbled", "faults": {"lose_frames": [3]}, "clock": "frames"}
"""

from __future__ import annotations

import argparse
import json
import os
import signal
import socketserver
import sys
import threading
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from itertools import count
from pathlib import Path
from typing import Any

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from simulated_faults import Answers, Faults, LineFaults, PowerCut
from simulated_gear import SimulatedGear
from simulated_line import FRAME_MS, Collisions, Garbled, Reply, SimulatedLine

REQUEST_BYTES = 4
Clock = Callable[[], float]


def real_clock() -> float:
    """Milliseconds by the machine's clock."""
    return time.monotonic() * 1000


def frame_clock() -> Clock:
    """A clock that moves by the length of a frame for every frame, however busy the machine is."""
    frames = count()
    return lambda: float(next(frames) * FRAME_MS)


class _Server(socketserver.ThreadingTCPServer):
    daemon_threads = True
    allow_reuse_address = True

    def __init__(self, line: SimulatedLine, clock: Clock) -> None:
        super().__init__(("127.0.0.1", 0), _Handler)
        self.line, self.clock, self.one_frame = line, clock, threading.Lock()


class _Handler(socketserver.StreamRequestHandler):
    server: _Server
    disable_nagle_algorithm = True

    def handle(self) -> None:
        """Serve one connection until it closes, or until the power of the line is cut: then it breaks off."""
        while len(request := self.rfile.read(REQUEST_BYTES)) == REQUEST_BYTES:
            try:
                with self.server.one_frame:
                    reply = self.server.line.forward(request[2:], self.server.clock())
            except PowerCut:
                return
            self.wfile.write(_answer(reply))


def _answer(reply: Reply) -> bytes:
    if reply is None:
        return bytes((2, 0, 0, 0))
    return bytes((2, 255, 0, 0)) if isinstance(reply, Garbled) else bytes((2, 1, reply[0], 0))


@contextmanager
def serving(line: SimulatedLine, *, clock: Clock = real_clock) -> Iterator[int]:
    """Serve a line in a thread of this process; gives the port number."""
    with _Server(line, clock) as server:
        thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.02}, daemon=True)
        thread.start()
        try:
            yield server.server_address[1]
        finally:
            server.shutdown()
            thread.join()


def _sets(given: Mapping[str, Any]) -> dict[str, Any]:
    """Lists of JSON as the sets that faults are made of."""
    return {name: frozenset(value) if isinstance(value, list) else value for name, value in given.items()}


def _gear(given: Mapping[str, Any]) -> SimulatedGear:
    values = dict(given)
    faults = _sets(values.pop("faults", {}))
    if "answers" in faults:
        faults["answers"] = Answers(faults["answers"])
    if isinstance(values.get("bank1"), str):
        values["bank1"] = bytes.fromhex(values["bank1"])
    return SimulatedGear(**values, faults=Faults(**faults))


def line_from(spec: Mapping[str, Any]) -> SimulatedLine:
    """The line that a JSON object tells of: the arguments of SimulatedGear, Faults and LineFaults by name, bank1 in hex."""
    return SimulatedLine([_gear(each) for each in spec["gear"]], collisions=Collisions(spec.get("collisions", "overlaid")),
                         faults=LineFaults(**_sets(spec.get("faults", {}))))


def main() -> None:
    """Serve until told to end."""
    asked = argparse.ArgumentParser(description="A simulated DALI line on 127.0.0.1")
    asked.add_argument("--spec", type=Path, required=True)
    asked.add_argument("--dump", type=Path)
    given = asked.parse_args()
    spec = json.loads(given.spec.read_text())
    line = line_from(spec)
    ended = threading.Event()
    signal.signal(signal.SIGTERM, lambda *_: ended.set())
    parent = os.getppid()
    with serving(line, clock=frame_clock() if spec.get("clock") == "frames" else real_clock) as port:
        print(port, flush=True)
        while os.getppid() == parent and not ended.wait(0.1):
            pass
    if given.dump is not None:
        given.dump.write_text(json.dumps([gear.kept() for gear in line.gear]))


if __name__ == "__main__":
    main()
