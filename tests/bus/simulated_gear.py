"""One simulated control gear (IEC 62386-102), fed with the bytes of forward frames."""

from __future__ import annotations

from collections.abc import Sequence
from random import Random

from simulated_addressing import SPECIAL_TWICE, Addressing
from simulated_banks import LOCK, Banks, bank_one, bank_zero
from simulated_faults import Answers, Faults, Loss
from simulated_levels import (
    LEVEL_COMMANDS,
    MASK,
    QUERIES,
    TWICE_COMMANDS,
    YES,
    go_to,
    reset_values,
    status_byte,
    store_scene_or_group,
)
from simulated_parts import PARTS, Part

TWICE_WITHIN_MS = 100
NO_DEVICE_TYPE = 254
# Commands that leave writing to memory enabled (IEC 62386-102 clause 9.10.5).
_KEEP_WRITING = frozenset({0x98, 0x9C, 0x9D})
_SPECIAL_KEEP_WRITING = frozenset({0xA3, 0xC3, 0xC5, 0xC7, 0xC9})


class SimulatedGear:
    """A gear with its stored values in `held`, what it forgets without power in `ram`, and its memory in `banks`.

    short_address: 0 to 63, 255 for none. seed: of its random addresses. device_types: 1, 6 and 8 are known (IEC
    62386-202, -207, -209). With several units in one housing each is a gear of its own with unit_index and units.
    """

    held: dict[str, int]
    ram: dict[str, int]
    banks: Banks

    def __init__(self, *, short_address: int = MASK, seed: int = 0, device_types: Sequence[int] = (6,),
                 physical_minimum: int = 1, held: dict[str, int] | None = None, faults: Faults | None = None,
                 gtin: int = 5901234123457, serial: int | None = None, units: int = 1, unit_index: int = 0,
                 bank1: bytes | None = b"", bank1_locked_for_good: bool = False) -> None:
        self.faults = faults or Faults()
        self.random = Random(seed)
        self.device_types = tuple(sorted(device_types))
        self.lamp_failure = False
        self.identified = 0  # how often IDENTIFY DEVICE took effect
        self.ram = {"dtr0": 0, "dtr1": 0, "dtr2": 0, "actual_level": 254, "last_active": 254, "limit_error": 0,
                    "power_failure": 0}
        self.held = {**reset_values(physical_minimum), "short_address": short_address, "operating_mode": 0, "version": 8,
                     "physical_minimum": physical_minimum, "light_source": 6}
        self.parts: dict[int, Part] = {kind: PARTS[kind](self) for kind in self.device_types if kind in PARTS}
        for part in self.parts.values():
            self.held |= part.defaults()
        self.held |= held or {}
        zero = bank_zero(gtin=gtin, serial=seed + 1 if serial is None else serial, units=units, index=unit_index)
        self.banks = Banks(self.ram, zero, None if bank1 is None else bank_one(bank1),
                           locked_for_good=bank1_locked_for_good, forgets=lambda name: name in self.faults.forgets)
        self.addressing = Addressing(self)
        self.now_ms = 0.0
        self._loss = Loss(self.faults.lose_frames, self.faults.lose_permille, self.faults.seed)
        self._waiting: tuple[bytes, float, int | None] | None = None
        self._enabled: int | None = None
        self._types_left: list[int] | None = None

    def store(self, name: str, value: int) -> None:
        """Keep a value, unless this gear forgets it."""
        if name not in self.faults.forgets:
            self.held[name] = value

    def read(self, name: str) -> int:
        """A value as this gear reports it."""
        stored = self.held[name] if name in self.held else self.ram[name]
        return self.faults.reports.get(name, stored)

    def kept(self) -> dict[str, int]:
        """A copy of everything that outlives a power cut, memory bank 1 as bank1_03 and so on: for before and after."""
        bank = self.banks.banks.get(1, {})
        return {**self.held, **{f"bank1_{at:02x}": byte for at, byte in bank.items() if at > LOCK}}

    def in_reset_state(self) -> bool:
        """True while every value that RESET touches is as RESET leaves it (the random address does not count here)."""
        wanted = reset_values(self.held["physical_minimum"]) | {"random_address": self.held["random_address"]}
        return all(self.held[name] == value for name, value in wanted.items())

    def reset(self) -> None:
        """RESET: every value but the short address."""
        for name, value in reset_values(self.held["physical_minimum"]).items():
            self.store(name, value)
        for part in self.parts.values():
            part.reset()
        go_to(self, 254)
        self.banks.writing = False

    def power_cycle(self) -> None:
        """Power away and back: what is not stored is lost, and the light goes to the power-on level (MASK: as before)."""
        level = self.held["power_on_level"]
        self.ram.update(dtr0=0, dtr1=0, dtr2=0, limit_error=0)
        go_to(self, self.ram["last_active"] if level == MASK else level)
        self.ram["power_failure"] = 1
        self._waiting = self._enabled = self._types_left = None
        self.addressing.power_cycle()
        self.banks.power_cycle()
        for part in self.parts.values():
            part.power_cycle()

    def receive(self, frame: bytes, at_ms: float) -> int | None:
        """One forward frame of two bytes that starts at a time; the answer, None for none."""
        if self._loss.next_is_lost():
            return None
        self.now_ms = at_ms
        answer = self._special(frame, at_ms) if _is_special(frame[0]) else self._addressed(frame, at_ms)
        return None if self.faults.answers is Answers.NEVER else answer

    def _called(self, address: int) -> bool:
        target, short = address >> 1, self.held["short_address"]
        if target < 64:
            return target == short
        if target < 0x50:
            return bool(self.held["groups"] >> (target & 0x0F) & 1)
        return target == 0x7F or (target == 0x7E and short == MASK)

    def _second(self, frame: bytes, at_ms: float, kind: int | None) -> tuple[bool, int | None]:
        """(it is the second of two, the device type that stood before the first)."""
        waiting, self._waiting = self._waiting, None
        if self.faults.ignores_send_twice:
            return False, None
        if self.faults.takes_once:
            return True, kind
        if waiting is not None and waiting[0] == frame and at_ms - waiting[1] <= TWICE_WITHIN_MS:
            return True, waiting[2]
        self._waiting = (frame, at_ms, kind)
        return False, None

    def _special(self, frame: bytes, at_ms: float) -> int | None:
        command, data = frame
        self._enabled = self._types_left = None
        if command in SPECIAL_TWICE:
            if not self._second(frame, at_ms, None)[0]:
                return None
        else:
            self._waiting = None
        if command not in _SPECIAL_KEEP_WRITING:
            self.banks.writing = False
        if command == 0xC1:
            self._enabled = data
            return None
        return self.addressing.special(command, data, at_ms)

    def _addressed(self, frame: bytes, at_ms: float) -> int | None:
        address, opcode = frame
        kind, self._enabled = self._enabled, None
        types_left, self._types_left = self._types_left, None
        if not self._called(address) or (address & 1 and opcode in self.faults.deaf_to):
            self._waiting = None
            return None
        if not address & 1:
            self._waiting = None
            self.banks.writing = False
            go_to(self, opcode)
            return None
        if opcode not in _KEEP_WRITING and opcode != 0x81:
            self.banks.writing = False
        if opcode >= 0xE0:
            return self._extended(frame, at_ms, kind)
        if opcode in TWICE_COMMANDS or 0x40 <= opcode < 0x80:
            if self._second(frame, at_ms, None)[0]:
                self._configure(opcode)
            return None
        self._waiting = None
        if opcode in LEVEL_COMMANDS:
            LEVEL_COMMANDS[opcode](self)
        elif 0x10 <= opcode < 0x20:
            go_to(self, self.held[f"scene_{opcode & 0x0F}"])
        return self._query(opcode, types_left)

    def _configure(self, opcode: int) -> None:
        if opcode in TWICE_COMMANDS:
            TWICE_COMMANDS[opcode](self)
        else:
            store_scene_or_group(self, opcode)
        for part in self.parts.values():
            part.stored(opcode)

    def _extended(self, frame: bytes, at_ms: float, kind: int | None) -> int | None:
        opcode = frame[1]
        waiting = self._waiting
        if kind is None and waiting is not None and waiting[0] == frame:
            kind = waiting[2]
        part = self.parts.get(kind) if kind is not None else None
        if part is None:
            self._waiting = None
            return None
        if opcode in part.twice:
            second, _ = self._second(frame, at_ms, kind)
            return part.do(opcode) if second else None
        self._waiting = None
        return part.do(opcode)

    def _query(self, opcode: int, types_left: list[int] | None) -> int | None:
        for part in self.parts.values():
            part.queried(opcode)
        if opcode in QUERIES:
            return self.read(QUERIES[opcode])
        match opcode:
            case 0x90:
                return self.faults.reports.get("status", status_byte(self))
            case 0x99:
                return self._device_type()
            case 0xA7:
                return self._next_device_type(types_left)
            case 0xA5:
                return self.read("fade_time") << 4 | self.read("fade_rate")
            case 0xC0 | 0xC1:
                return self.read("groups") >> (8 if opcode == 0xC1 else 0) & 0xFF
            case 0xC2 | 0xC3 | 0xC4:
                return self.read("random_address") >> {0xC2: 16, 0xC3: 8, 0xC4: 0}[opcode] & 0xFF
            case 0xC5:
                return self.banks.read()
        bit = {0x92: 1, 0x93: 2, 0x94: 3, 0x95: 5, 0x96: 6, 0x9B: 7}.get(opcode)
        said_yes = opcode == 0x91 or (bit is not None and status_byte(self) >> bit & 1)
        return YES if said_yes else None

    def _device_type(self) -> int:
        """QUERY DEVICE TYPE: MASK where there are several, which QUERY NEXT DEVICE TYPE then names in rising order."""
        if len(self.device_types) > 1:
            self._types_left = [*self.device_types, NO_DEVICE_TYPE]
            return MASK
        return self.device_types[0] if self.device_types else NO_DEVICE_TYPE

    def _next_device_type(self, left: list[int] | None) -> int | None:
        if not left:
            return None
        self._types_left = left[1:] or left
        return left[0]


def _is_special(first: int) -> bool:
    """101CCCC1 and 110CCCC1 are special commands; 7E and 7F as targets are broadcasts."""
    return bool(first & 1) and 0xA0 <= first <= 0xDF
