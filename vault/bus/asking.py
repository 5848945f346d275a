"""Questions to one gear, asked so that a lost frame is never taken for an answer (IEC 62386-102)."""

from __future__ import annotations

from typing import Any

from dali.address import GearShort
from dali.gear import general

from vault.bus.port import Heard, Port
from vault.errors import GearkeepError

# A frame may be lost on a good line; three in a row are not.
TRIES = 3
# Answers to QUERY DEVICE TYPE and QUERY NEXT DEVICE TYPE.
NO_MORE_TYPES, SEVERAL_TYPES = 254, 255


class Questions:
    """Asks the gear at one short address (0 to 63, as on the bus)."""

    def __init__(self, port: Port, address: int) -> None:
        self.port, self.address, self.to = port, address, GearShort(address)
        self.said = f"the gear at address {address} (as on the bus, from 0)"

    def order(self, command: Any) -> int | None:
        """Send one command after the frame that names its device type; what it answers, None for nothing."""
        if command.devicetype:
            self.port.send(general.EnableDeviceType(command.devicetype))
        answer = self.port.send(command)
        if answer.heard is Heard.GARBLED:
            raise GearkeepError(
                f"More than one gear answers at address {self.address} (as on the bus, from 0).", kind="two-at-address",
                hint="Take one of them off the line, or give it another address; nothing read there can be trusted before that.")
        return answer.value

    def ask(self, command: Any) -> int | None:
        """The byte that is answered, None where nothing is: asked again before that is believed.

        command: a query of python-dali to this address. Raises GearkeepError: two-at-address for a garbled answer, bus-lost.
        """
        for _ in range(TRIES):
            value = self.order(command)
            if value is not None:
                return value
        return None

    def load(self, value: int) -> bool:
        """Whether DTR0 of this gear holds the value now: a selector that was lost would answer another question."""
        for _ in range(TRIES):
            self.order(general.DTR0(value))
            if self.order(general.QueryContentDTR0(self.to)) == value:
                return True
        return False

    def ask_about(self, command: Any, selector: int) -> int | None:
        """A query whose meaning hangs on DTR0."""
        for _ in range(TRIES):
            if not self.load(selector):
                return None
            value = self.order(command)
            if value is not None:
                return value
        return None

    def ask_word(self, command: Any, selector: int) -> int | None:
        """A query that answers the high byte and leaves the low byte in DTR0 (IEC 62386-209, QUERY COLOUR VALUE)."""
        high = self.ask_about(command, selector)
        low = self.ask(general.QueryContentDTR0(self.to)) if high is not None else None
        return None if high is None or low is None else high << 8 | low

    def device_types(self) -> tuple[int, ...] | None:
        """Every device type of the gear; None when it does not say."""
        for _ in range(TRIES):
            first = self.ask(general.QueryDeviceType(self.to))
            if first != SEVERAL_TYPES:
                return None if first is None else () if first == NO_MORE_TYPES else (first,)
            found, value = [], self.order(general.QueryNextDeviceType(self.to))
            # Each answer moves the gear on to its next type: after a lost one it is begun anew.
            while value is not None and value < NO_MORE_TYPES and value not in found:
                found.append(value)
                value = self.order(general.QueryNextDeviceType(self.to))
            if value == NO_MORE_TYPES:
                return tuple(found)
        return None


def bits_words(value: int, names: tuple[str, ...]) -> str:
    """The names of the bits that are set, "none" where none is."""
    return ", ".join(name for bit, name in enumerate(names) if value >> bit & 1) or "none"
