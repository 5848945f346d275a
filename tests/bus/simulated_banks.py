"""Memory banks of control gear (IEC 62386-102 clause 9.10): bank 0 read only, bank 1 with luminaire data (DALI Part 251)."""

from __future__ import annotations

from collections.abc import Callable, Mapping

BANK_ONE_LAST = 0x77
LOCK, UNLOCKED = 0x02, 0x55


def bank_zero(*, gtin: int, serial: int, firmware: int = 0x0102, hardware: int = 0x0100, units: int = 1,
              index: int = 0) -> dict[int, int]:
    """Bytes of bank 0 by location: 03h GTIN, 09h firmware, 0Bh serial, 13h hardware, 15h versions, 18h to 1Ah units."""
    laid = {0x00: 0x1A, 0x02: 1, 0x15: 0x08, 0x16: 0x08, 0x17: 0xFF, 0x18: 0, 0x19: units, 0x1A: index}
    for start, size, value in ((0x03, 6, gtin), (0x09, 2, firmware), (0x0B, 8, serial), (0x13, 2, hardware)):
        laid |= {start + at: byte for at, byte in enumerate(value.to_bytes(size, "big"))}
    return laid


def bank_one(data: bytes = b"") -> dict[int, int]:
    """Bytes of bank 1: 00h last location, 01h of the maker, 02h the lock; luminaire data from 03h, FFh where none is given."""
    filled = data.ljust(BANK_ONE_LAST - 2, b"\xFF")
    return {0x00: BANK_ONE_LAST, 0x01: 0, LOCK: 0xFF, **{3 + at: byte for at, byte in enumerate(filled)}}


class Banks:
    """The banks of one gear. ram holds dtr0 and dtr1 of the gear: location and bank."""

    def __init__(self, ram: dict[str, int], zero: Mapping[int, int], one: Mapping[int, int] | None, *,
                 locked_for_good: bool, forgets: Callable[[str], bool]) -> None:
        self._ram, self._locked_for_good, self._forgets = ram, locked_for_good, forgets
        self.banks: dict[int, dict[int, int]] = {0: dict(zero)}
        if one is None:
            self.banks[0][0x02] = 0
        else:
            self.banks[1] = dict(one)
        self.writing = False

    def power_cycle(self) -> None:
        """Writing is off, and the lock byte is back at FFh."""
        self.writing = False
        if 1 in self.banks:
            self.banks[1][LOCK] = 0xFF

    def enable_writing(self) -> None:
        """ENABLE WRITE MEMORY."""
        self.writing = True

    def read(self) -> int | None:
        """READ MEMORY LOCATION. DTR0 moves on by one in a bank that exists, also where nothing lies at the location."""
        bank = self.banks.get(self._ram["dtr1"])
        if bank is None:
            return None
        found = bank.get(self._ram["dtr0"])
        self._next()
        return found

    def write(self, byte: int) -> int | None:
        """WRITE MEMORY LOCATION: the byte comes back where it was written; a locked or fixed location is silent."""
        bank = self.banks.get(self._ram["dtr1"])
        if not self.writing or bank is None:
            return None
        at, done = self._ram["dtr0"], self._writable()
        if done and not self._forgets(f"bank1_{at:02x}"):
            bank[at] = byte
        self._next()
        return byte if done else None

    def reset(self, number: int) -> None:
        """RESET MEMORY BANK: 0 means all banks; a locked one stays as it is."""
        if number in (0, 1) and 1 in self.banks and self.banks[1][LOCK] == UNLOCKED:
            self.banks[1] = bank_one()

    def _writable(self) -> bool:
        if self._ram["dtr1"] != 1:
            return False
        at, bank = self._ram["dtr0"], self.banks[1]
        if at == LOCK:
            return not self._locked_for_good
        return at > LOCK and at in bank and bank[LOCK] == UNLOCKED

    def _next(self) -> None:
        self._ram["dtr0"] = min(self._ram["dtr0"] + 1, 0xFF)
