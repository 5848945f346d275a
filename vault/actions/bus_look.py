"""Who is on a control line, and which of them hangs where."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass

from dali.gear import emergency, general

from vault.bus.asking import Questions
from vault.bus.bank_zero import BankZero, read_bank_zero
from vault.bus.port import Heard, Port
from vault.bus.reading import EMERGENCY_TYPE
from vault.bus.search import EVERYBODY, UNADDRESSED, Search, ask, count_at
from vault.domain.fields import address_words
from vault.domain.site import Line
from vault.errors import GearkeepError

# Answers to QUERY VERSION NUMBER below this are of editions without IDENTIFY DEVICE (IEC 62386-102:2009).
_EDITION_2 = 8
_FLASHES, _FLASH_S = 5, 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Answering:
    """Who answers at one short address (as on the bus). several: more than one gear does; then nothing else is known.

    groups: 16-bit mask. memory: what bank 0 tells of the driver.
    """

    address: int
    several: bool = False
    device_types: tuple[int, ...] | None = None
    groups: int | None = None
    memory: BankZero | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Looked:
    """A whole line. unaddressed: how many gear without a short address a search found."""

    there: tuple[Answering, ...]
    unaddressed: int

    @property
    def good(self) -> bool:
        """Somebody answers, and nobody shares an address."""
        return bool(self.there or self.unaddressed) and not any(one.several for one in self.there)


def look(port: Port, *, prove: bool = False, progress: Callable[[int, int], None]) -> Looked:
    """Ask every short address, and search for gear without one. Nothing but their random addresses is changed.

    prove: each address is searched, which takes seconds for each: without it two gear of which no answer differs pass as one.
    Raises GearkeepError: bus-lost, bus-unsteady.
    """
    there = []
    for address in range(EVERYBODY):
        one = _answering(port, address, prove)
        there += [] if one is None else [one]
        progress(address + 1, EVERYBODY + 1)
    with Search(port, UNADDRESSED) as search:
        unaddressed = len(search.census())
    progress(EVERYBODY + 1, EVERYBODY + 1)
    return Looked(there=tuple(there), unaddressed=unaddressed)


def _answering(port: Port, address: int, prove: bool) -> Answering | None:
    questions = Questions(port, address)
    present = ask(port, general.QueryControlGearPresent(questions.to))
    if not present.yes:
        return None
    if present.heard is Heard.GARBLED or (prove and count_at(port, address) > 1):
        return Answering(address=address, several=True)
    try:
        for query in (general.QueryRandomAddressH, general.QueryRandomAddressM, general.QueryRandomAddressL):
            questions.ask(query(questions.to))  # two gear answer differently
        low = questions.ask(general.QueryGroupsZeroToSeven(questions.to))
        high = questions.ask(general.QueryGroupsEightToFifteen(questions.to))
        return Answering(address=address, device_types=questions.device_types(), memory=_memory(port, address),
                         groups=None if low is None or high is None else high << 8 | low)
    except GearkeepError as problem:
        if problem.kind != "two-at-address":
            raise
        return Answering(address=address, several=True)


def _memory(port: Port, address: int) -> BankZero | None:
    try:
        return read_bank_zero(port, address)
    except GearkeepError as problem:
        if problem.kind != "bank-not-read":
            raise
        return None


def identify(port: Port, address: int, line: Line | None = None, wait: Callable[[float], None] = time.sleep) -> str:
    """Have one gear show itself for ten seconds; the sentence says how. Gear of the first edition flashes instead.

    Raises GearkeepError: no-answer, two-at-address, bus-lost.
    """
    questions, said = Questions(port, address), address_words(address, line)
    if questions.ask(general.QueryControlGearPresent(questions.to)) is None:
        raise GearkeepError(f"No gear answers at {said}.", kind="no-answer",
                            hint="Check its supply and its bus wires; gearkeep bus look lists who answers.")
    if (questions.ask(general.QueryVersionNumber(questions.to)) or 0) >= _EDITION_2:
        port.send(general.IdentifyDevice(questions.to))
        return f"The gear at {said} shows itself for 10 seconds."
    if EMERGENCY_TYPE in (questions.device_types() or ()):
        questions.order(emergency.StartIdentification(questions.to))
        return f"The emergency gear at {said} shows itself for 10 seconds."
    level = questions.ask(general.QueryActualLevel(questions.to))
    for _ in range(_FLASHES):
        for command in (general.RecallMaxLevel, general.RecallMinLevel):
            port.send(command(questions.to))
            wait(_FLASH_S)
    if level is not None:
        port.send(general.DAPC(questions.to, level))
    return f"The gear at {said} went from full to lowest and back {_FLASHES} times."
