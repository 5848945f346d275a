"""What is to be done in the store today, as data: topics, tasks, what was looked at."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import IntEnum


class Topic(IntEnum):
    """What a task is about, the gravest first."""

    BELOW = 0
    NO_SPARE = 1
    REPAIR = 2
    END_OF_LIFE = 3
    OVERDUE = 4
    BATTERY = 5
    RESET = 6
    TO_ORDER = 7
    COUNT = 8


TOPIC_WORDS = {
    Topic.BELOW: "Vital to order", Topic.NO_SPARE: "No spare", Topic.REPAIR: "Waiting repair",
    Topic.END_OF_LIFE: "End of life", Topic.OVERDUE: "Order overdue", Topic.BATTERY: "Battery", Topic.RESET: "Needs reset",
    Topic.TO_ORDER: "To order", Topic.COUNT: "Count due",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """One thing to do. what: in a few words, without its topic. pieces: how many, None where that is not known.

    unit: what the pieces are, in the plural. command: what does it, as typed after "gearkeep"; capital words are to be filled
    in. vital: it cannot wait. unknown: a figure is missing, so that nobody can say whether all is well.
    """

    topic: Topic
    what: str
    pieces: int | None
    unit: str
    command: str
    vital: bool = False
    unknown: bool = False
    model: str | None = None
    tag: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Today:
    """Everything to be done, by topic, vital first, as much as there is. looked: what was looked at, in words, by topic."""

    site: str
    day: str
    tasks: tuple[Task, ...]
    looked: tuple[str, ...]

    @property
    def vital(self) -> int:
        """How many tasks cannot wait."""
        return sum(task.vital for task in self.tasks)

    def of(self, topic: Topic) -> tuple[Task, ...]:
        """The tasks of one topic."""
        return tuple(task for task in self.tasks if task.topic is topic)


def in_order(tasks: Iterable[Task]) -> tuple[Task, ...]:
    """By topic; within one vital before others, known before unknown; else as they came."""
    return tuple(sorted(tasks, key=lambda task: (task.topic, not task.vital, task.unknown)))
