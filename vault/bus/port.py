"""The door to a bus: one command of python-dali goes in, what came back comes out."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from typing import Any, Protocol


class Heard(Enum):
    """What came back within the time that IEC 62386-101 allows for a backward frame."""

    NOTHING = "nothing"
    BYTE = "byte"
    GARBLED = "garbled"  # several gear answered at once, differently


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """One answer. value: the byte, None for nothing and for a garbled frame."""

    heard: Heard
    value: int | None = None

    @property
    def yes(self) -> bool:
        """Any answer at all to a query that only YES answers: a garbled one is several YES (IEC 62386-102)."""
        return self.heard is not Heard.NOTHING


NOTHING = Answer(heard=Heard.NOTHING)
GARBLED = Answer(heard=Heard.GARBLED)


class Port(Protocol):
    """A gateway in use."""

    def send(self, command: Any) -> Answer:
        """Send one command (a dali.command.Command), twice within 100 ms where its class says so, and wait for the answer.

        NOTHING for a command that asks nothing. Raises GearkeepError (bus-lost) when the gateway fails.
        """

    def close(self) -> None:
        """Let the gateway go."""
