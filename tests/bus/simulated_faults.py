"""Faults planted in simulated gear or on its line. Frames are counted from 1, as they are sent."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import Enum
from random import Random


class PowerCut(Exception):
    """The power of the whole line went: the frame was not sent. The line is up again when this is raised."""


class Answers(Enum):
    """When a gear answers."""

    IN_TIME = "in time"
    LATE = "late"  # after the 12.4 ms in which IEC 62386-101 still takes a backward frame: nothing is heard
    NEVER = "never"


@dataclass(frozen=True, slots=True, kw_only=True)
class Faults:
    """What is wrong with one gear. Names of values are the keys of SimulatedGear.held."""

    lose_frames: frozenset[int] = frozenset()  # it does not hear its n-th frame
    lose_permille: int = 0
    seed: int = 0
    forgets: frozenset[str] = frozenset()  # takes the command and stores nothing
    reports: Mapping[str, int] = field(default_factory=dict)  # answers this, whatever is stored
    answers: Answers = Answers.IN_TIME
    late_by_ms: int = 60  # a frame that starts within this time of a late answer's query is destroyed
    ignores_send_twice: bool = False
    takes_once: bool = False  # does at the first frame what needs two
    deaf_to: frozenset[int] = frozenset()  # opcodes of addressed commands that it does not know


@dataclass(frozen=True, slots=True, kw_only=True)
class LineFaults:
    """What is wrong with the line: a lost frame reaches no gear, and a lost answer reaches nobody."""

    lose_frames: frozenset[int] = frozenset()
    lose_permille: int = 0
    lose_answers: frozenset[int] = frozenset()  # counted over the answers
    garble_answers: frozenset[int] = frozenset()
    seed: int = 0
    power_cut_after: int | None = None


class Loss:
    """Decides frame by frame what is lost: always the same for the same seed."""

    def __init__(self, numbers: frozenset[int], permille: int, seed: int) -> None:
        self._numbers, self._permille, self._random = numbers, permille, Random(seed)
        self.count = 0

    def next_is_lost(self) -> bool:
        """True where the frame that comes now is lost."""
        self.count += 1
        drawn = self._random.randrange(1000) < self._permille
        return drawn or self.count in self._numbers
