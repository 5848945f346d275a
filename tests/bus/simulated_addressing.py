"""Special commands of control gear (IEC 62386-102 clause 11.7): DTRs, memory, and finding a gear by its random address."""

from __future__ import annotations

from enum import Enum
from typing import TYPE_CHECKING

from simulated_levels import MASK, YES

if TYPE_CHECKING:
    from simulated_gear import SimulatedGear

INITIALISE, RANDOMISE = 0xA5, 0xA7
SPECIAL_TWICE = frozenset({INITIALISE, RANDOMISE})
QUARTER_HOUR_MS = 15 * 60 * 1000


class Finding(Enum):
    """The initialisation state."""

    OFF = "off"
    ON = "on"
    WITHDRAWN = "withdrawn"


class Addressing:
    """One gear's part in a search. It ends by itself fifteen minutes after the last INITIALISE."""

    def __init__(self, gear: SimulatedGear) -> None:
        self._gear = gear
        self._state, self._until_ms, self.search = Finding.OFF, 0.0, 0xFFFFFF

    def power_cycle(self) -> None:
        """The state and the search address are not kept without power."""
        self._state, self.search = Finding.OFF, 0xFFFFFF

    def state(self, at_ms: float) -> Finding:
        """OFF once the time has run out."""
        if at_ms > self._until_ms:
            self._state = Finding.OFF
        return self._state

    def special(self, command: int, data: int, at_ms: float) -> int | None:
        """Do one special command; the answer, or None."""
        gear, state = self._gear, self.state(at_ms)
        selected = state is not Finding.OFF and gear.held["random_address"] == self.search
        match command:
            case 0xA1:
                self._state = Finding.OFF
            case 0xA5:
                self._initialise(data, at_ms)
            case 0xA7 if state is not Finding.OFF:
                gear.store("random_address", gear.random.randrange(1 << 24))
            case 0xA9 if state is Finding.ON and gear.held["random_address"] <= self.search:
                return YES
            case 0xAB if state is Finding.ON and selected:
                self._state = Finding.WITHDRAWN
            case 0xB1 | 0xB3 | 0xB5 if state is not Finding.OFF:
                shift = {0xB1: 16, 0xB3: 8, 0xB5: 0}[command]
                self.search = self.search & ~(0xFF << shift) | data << shift
            case 0xB7 if selected and (data == MASK or data & 0x81 == 0x01):
                gear.store("short_address", MASK if data == MASK else data >> 1)
            case 0xB9 if state is not Finding.OFF and data & 0x81 == 0x01 and gear.read("short_address") == data >> 1:
                return YES
            case 0xBB if selected:
                address = gear.read("short_address")
                return MASK if address == MASK else address << 1 | 1
            case 0xC3:
                gear.ram["dtr1"] = data
            case 0xC5:
                gear.ram["dtr2"] = data
            case 0xA3:
                gear.ram["dtr0"] = data
            case 0xC7:
                return gear.banks.write(data)
            case 0xC9:
                gear.banks.write(data)
        return None

    def _initialise(self, data: int, at_ms: float) -> None:
        """00 speaks to all, FF to gear without a short address, 0AAAAAA1 to one address; anything else to nobody."""
        address = self._gear.held["short_address"]
        called = data == 0 or (data == 0xFF and address == MASK) or (data & 0x81 == 0x01 and address == data >> 1)
        if called:
            if self._state is Finding.OFF:
                self._state = Finding.ON
            self._until_ms = at_ms + QUARTER_HOUR_MS
