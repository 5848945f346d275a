"""A simulated DALI line: the bytes of forward frames go in, what a gateway would hear comes out.

It is written from IEC 62386-101 and -102 on bytes, and shares no code with the library that makes the frames.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum
from typing import Any

from simulated_faults import Answers, LineFaults, Loss, PowerCut
from simulated_gear import SimulatedGear

from vault.bus.port import GARBLED, NOTHING, Answer, Heard
from vault.errors import GearkeepError

MOST_GEAR = 64
# A forward frame of 16 bits and the settling time before the next (IEC 62386-101: 15.8 ms + 13.5 ms), in whole ms;
# with a backward frame 10 ms and its own settling more.
FRAME_MS = 30
QUERY_MS = 45


class Garbled(Enum):
    """Several gear answered at once, differently."""

    FRAME = "garbled"


class Collisions(Enum):
    """How equal answers given at the same time are heard: the bits lie over each other, or the edges do not meet."""

    OVERLAID = "overlaid"
    GARBLED = "garbled"


Reply = bytes | None | Garbled


@dataclass(frozen=True, slots=True, kw_only=True)
class Logged:
    """One forward frame and what came back. lost: no gear heard it."""

    at_ms: float
    frame: bytes
    reply: Reply
    lost: bool = False


class SimulatedLine:
    """Up to 64 gear on one line. log: every frame that was sent."""

    def __init__(self, gear: Sequence[SimulatedGear], *, collisions: Collisions = Collisions.OVERLAID,
                 faults: LineFaults | None = None) -> None:
        if len(gear) > MOST_GEAR:
            raise ValueError(f"{len(gear)} gear on one line; {MOST_GEAR} are allowed (IEC 62386-101)")
        self.gear = list(gear)
        self.log: list[Logged] = []
        self._collisions, self._faults = collisions, faults or LineFaults()
        self._loss = Loss(self._faults.lose_frames, self._faults.lose_permille, self._faults.seed)
        self._answers = 0
        self._disturbed_until_ms = -1.0
        self._cut_done = False

    def forward(self, frame: bytes, at_ms: float) -> Reply:
        """Send one forward frame of 16 bits that starts at a time; raises PowerCut instead where one is planted."""
        if len(frame) != 2:
            raise ValueError(f"a forward frame of {len(frame)} bytes; control gear takes 2 (IEC 62386-102)")
        if not self._cut_done and self._loss.count == self._faults.power_cut_after:
            self._cut_done = True
            self.power_cycle()
            raise PowerCut(f"power was cut after {self._loss.count} frames")
        lost = self._loss.next_is_lost() or at_ms < self._disturbed_until_ms
        reply = None if lost else self._deliver(frame, at_ms)
        self.log.append(Logged(at_ms=at_ms, frame=frame, reply=reply, lost=lost))
        return reply

    def power_cycle(self) -> None:
        """Power away from every gear, and back."""
        for gear in self.gear:
            gear.power_cycle()

    def count_by_address(self) -> Counter[int]:
        """How many gear stand at each short address, 255 for none: the truth, for tests."""
        return Counter(gear.held["short_address"] for gear in self.gear)

    def _deliver(self, frame: bytes, at_ms: float) -> Reply:
        heard: list[int] = []
        for gear in self.gear:
            answer = gear.receive(frame, at_ms)
            if answer is None:
                continue
            if gear.faults.answers is Answers.LATE:
                self._disturbed_until_ms = at_ms + gear.faults.late_by_ms
            else:
                heard.append(answer)
        return self._reply(heard)

    def _reply(self, heard: list[int]) -> Reply:
        if not heard:
            return None
        self._answers += 1
        if self._answers in self._faults.lose_answers:
            return None
        if len(set(heard)) > 1 or self._answers in self._faults.garble_answers:
            return Garbled.FRAME
        if len(heard) > 1 and self._collisions is Collisions.GARBLED:
            return Garbled.FRAME
        return bytes(heard[:1])


class SimulatedPort:
    """A gateway on a simulated line, as vault.bus.port.Port. Its clock moves by the length of each frame; it never sleeps.

    lost_after: the gateway itself fails after so many frames, with the error of the port (bus-lost); the gear keep
    their power. twice_apart_ms: time between the two frames of a command that is sent twice.
    """

    def __init__(self, line: SimulatedLine, *, at_ms: float = 0.0, lost_after: int | None = None,
                 twice_apart_ms: float = FRAME_MS) -> None:
        self.line, self.at_ms = line, at_ms
        self.sent, self.closed = 0, False
        self._lost_after, self._twice_apart_ms = lost_after, twice_apart_ms

    def send(self, command: Any) -> Answer:
        """Send the bytes of one command, twice where its class says so."""
        frame = bytes(command.frame.as_byte_sequence)
        reply = self._forward(frame)
        if command.sendtwice:
            self.at_ms += self._twice_apart_ms - FRAME_MS
            reply = self._forward(frame)
        if command.response is None:
            return NOTHING
        self.at_ms += QUERY_MS - FRAME_MS
        if reply is None:
            return NOTHING
        return GARBLED if isinstance(reply, Garbled) else Answer(heard=Heard.BYTE, value=reply[0])

    def close(self) -> None:
        """Nothing more is sent."""
        self.closed = True

    def wait(self, ms: float) -> None:
        """Let time pass on the line."""
        self.at_ms += ms

    def _forward(self, frame: bytes) -> Reply:
        if self.closed or self.sent == self._lost_after:
            raise GearkeepError("The gateway no longer answers.", hint="Check its cable, then run the same command again.",
                                kind="bus-lost")
        self.sent += 1
        reply = self.line.forward(frame, self.at_ms)
        self.at_ms += FRAME_MS
        return reply
