"""Memory banks of one gear, read and written byte by byte (IEC 62386-102, 9.10)."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeAlias

from dali.gear import general
from dali.memory.location import FlagValue, MemoryLocationNotImplemented

from vault.bus.asking import TRIES, Questions
from vault.bus.port import Port
from vault.errors import GearkeepError

LOCK_BYTE, OPEN = 2, 0x55
# One entry a location; None for a location that does not answer.
Contents: TypeAlias = list[int | None]
Progress: TypeAlias = Callable[[int, int], None]


def read_bank(port: Port, address: int, bank: int, last: int, progress: Progress | None = None) -> Contents | None:
    """Locations 0 to the bank's last one, `last` at most; None when the gear has no such bank.

    A reading counts when DTR0 and DTR1 stand afterwards where they must: they belong to all gear, and whoever else
    speaks on the line may move them. Raises GearkeepError: bank-not-read, two-at-address, bus-lost.
    """
    questions = Questions(port, address)
    for _ in range(TRIES):
        end = _read_run(questions, bank, 0, 1, None)
        if end is None:
            continue
        if end[0] is None:
            return None
        held = _read_run(questions, bank, 0, min(end[0], last) + 1, progress)
        if held is not None:
            return held
    raise GearkeepError(f"Memory bank {bank} of {questions.said} cannot be read: "
                        "another device on the line keeps moving the pointer.", kind="bank-not-read",
                        hint="Disconnect control panels and sensors from the line, then try again.")


def _read_run(questions: Questions, bank: int, start: int, stop: int, progress: Progress | None) -> Contents | None:
    """Locations start to stop - 1; None when the pointer did not stand where it must: what was read is of other locations."""
    questions.order(general.DTR1(bank))
    if not questions.load(start):
        return None
    held: Contents = []
    for location in range(start, stop):
        value = questions.order(general.ReadMemoryLocation(questions.to))
        if value is None:
            # Not implemented, or lost: asked once more. The pointer moves on in the one case alone.
            stands = questions.ask(general.QueryContentDTR0(questions.to))
            if stands not in (location, location + 1) or not questions.load(location):
                return None
            value = questions.order(general.ReadMemoryLocation(questions.to))
            if value is None and not questions.load(location + 1):
                return None
        held.append(value)
        if progress is not None:
            progress(location - start + 1, stop - start)
    here = questions.ask(general.QueryContentDTR0(questions.to)), questions.ask(general.QueryContentDTR1(questions.to))
    return held if here == (stop, bank) else None


def decoded(kind: Any, contents: Contents) -> Any:
    """One value of python-dali's tables out of a bank; None where it is not there, unknown, or outside its range."""
    try:
        value = kind.from_list(contents)
    except MemoryLocationNotImplemented:
        return None
    return None if isinstance(value, FlagValue) else value


def _put(questions: Questions, location: int, value: int) -> bool:
    """Whether the byte was taken. Where a pointer was lost nothing is written: it would be written elsewhere."""
    return questions.load(location) and questions.order(general.WriteMemoryLocation(value)) == value


def write_bank(port: Port, address: int, bank: int, parts: dict[int, bytes]) -> None:
    """Write `parts` (first location -> bytes) behind the bank's lock byte, each byte verified, and close the lock again.

    Only the gear at this address is told to take the bytes. Raises GearkeepError: bank-locked before anything was
    written, bank-not-written naming the location; two-at-address, bus-lost.
    """
    questions = Questions(port, address)
    before = _lock_of(questions, bank)
    _enable(questions, bank)
    try:
        _put(questions, LOCK_BYTE, OPEN)
        if _lock_of(questions, bank) != OPEN:
            raise GearkeepError(f"Memory bank {bank} of {questions.said} is locked.", kind="bank-locked",
                                hint="Its maker has locked it; nothing depends on what it holds.")
        for start, data in parts.items():
            _enable(questions, bank)
            for location, value in enumerate(data, start):
                _write_byte(questions, bank, location, value)
    finally:
        _enable(questions, bank)
        _put(questions, LOCK_BYTE, before)
        questions.order(general.Terminate())


def _lock_of(questions: Questions, bank: int) -> int:
    held = None
    for _ in range(TRIES):
        held = _read_run(questions, bank, LOCK_BYTE, LOCK_BYTE + 1, None)
        if held is not None and held[0] is not None:
            return held[0]
    raise GearkeepError(f"Memory bank {bank} of {questions.said} has no lock byte.", kind="bank-locked",
                        hint="It cannot be written; nothing depends on what it holds.")


def _enable(questions: Questions, bank: int) -> None:
    """Let this gear alone take bytes: any other command ends that state in whoever was left in it (IEC 62386-102, 9.10.5)."""
    for _ in range(TRIES):
        questions.order(general.Terminate())
        questions.order(general.DTR1(bank))
        questions.order(general.EnableWriteMemory(questions.to))
        if questions.order(general.QueryContentDTR1(questions.to)) == bank:
            return
    raise GearkeepError(f"{questions.said.capitalize()} does not take the number of a memory bank.", kind="bank-not-written",
                        hint="Read the bank again; nothing else depends on what it holds.")


def _write_byte(questions: Questions, bank: int, location: int, value: int) -> None:
    for _ in range(TRIES):
        if _put(questions, location, value):
            return
        _enable(questions, bank)
    raise GearkeepError(f"Location {location} of memory bank {bank} of {questions.said} does not take {value}.",
                        kind="bank-not-written", hint="Read the bank again; nothing else depends on what it holds.")
