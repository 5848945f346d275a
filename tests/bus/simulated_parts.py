"""What a device type adds to a gear: commands E0h to FFh after ENABLE DEVICE TYPE."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Protocol

from simulated_colour import ColourPart
from simulated_emergency import EmergencyPart
from simulated_led import LedPart

if TYPE_CHECKING:
    from simulated_gear import SimulatedGear


class Part(Protocol):
    """One device type within a gear."""

    twice: frozenset[int]

    def defaults(self) -> dict[str, int]:
        """Values that the gear holds besides those of IEC 62386-102, as they leave the factory."""

    def do(self, opcode: int) -> int | None:
        """Do a command, or answer a query; nothing for an opcode that the part does not know."""

    def reset(self) -> None:
        """RESET was taken."""

    def power_cycle(self) -> None:
        """Power went and came back."""

    def stored(self, opcode: int) -> None:
        """A configuration command of IEC 62386-102 took effect."""

    def queried(self, opcode: int) -> None:
        """A query of IEC 62386-102 is about to be answered."""


PARTS: dict[int, Callable[[SimulatedGear], Part]] = {1: EmergencyPart, 6: LedPart, 8: ColourPart}
