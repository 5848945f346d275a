"""Finding gear by their random addresses (IEC 62386-102), so that presence is proved and not merely answered for.

Equal answers of two gear can look like one, and two gear may draw one random address. So everybody is found one by
one, withdrawn and searched again with new random addresses; a "no" that decides is asked twice, for a frame may be lost.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import Enum
from types import TracebackType
from typing import TypeAlias

from dali.address import GearShort
from dali.gear import general

from vault.bus.port import NOTHING, Answer, Heard, Port
from vault.domain.frames_find import TOP, search_bytes
from vault.domain.levels import MASK
from vault.errors import GearkeepError

TRIES = 3
EVERYBODY = 64
Tell: TypeAlias = Callable[[str], None]


class Whom(Enum):
    """Who takes part in a search."""

    UNADDRESSED = "unaddressed"
    AT = "at"
    ALONE = "alone"


@dataclass(frozen=True, slots=True, kw_only=True)
class Where:
    """Where the spare is to be found: without an address, at the one it brought along, or alone on the line."""

    whom: Whom
    address: int | None = None

    @property
    def initialise(self) -> general.Initialise:
        """INITIALISE for those who are meant and nobody else."""
        if self.whom is Whom.AT:
            return general.Initialise(address=self.address)
        return general.Initialise(broadcast=self.whom is Whom.ALONE)


UNADDRESSED = Where(whom=Whom.UNADDRESSED)
ALONE = Where(whom=Whom.ALONE)


def at(address: int) -> Where:
    """The gear at one short address, 0 to 63 as on the bus."""
    return Where(whom=Whom.AT, address=address)


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """One gear that a search found. short_address: None where it has none."""

    random_address: int
    short_address: int | None


class _Clash(Exception):
    """Two gear stand at one random address."""


def ask(port: Port, command: object) -> Answer:
    """A query; asked again where nobody answers, since a frame may be lost."""
    answer = port.send(command)
    return port.send(command) if answer.heard is Heard.NOTHING else answer


class Search:
    """Gear that take part in addressing, from INITIALISE to TERMINATE. TERMINATE is sent whatever happens."""

    def __init__(self, port: Port, where: Where) -> None:
        self._port = port
        self._where = where
        self._sent: tuple[int, ...] = ()

    def __enter__(self) -> Search:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None) -> None:
        try:
            self._port.send(general.Terminate())
            self._port.send(general.Terminate())
        except Exception:
            # The first error is the one to tell.
            if error is None:
                raise

    def census(self, most: int = EVERYBODY) -> tuple[Found, ...]:
        """Everybody who takes part, after two rounds that agree, each with new random addresses.

        Stops early where more than `most` are found. The random addresses are those of the last round.
        Raises GearkeepError (bus-unsteady) when the rounds do not agree.
        """
        counts: list[int] = []
        for _ in range(TRIES + 1):
            try:
                found = self._round(most)
            except _Clash:
                continue
            counts.append(len(found))
            if len(found) > most or (len(counts) > 1 and len(found) == max(counts) == sorted(counts)[-2]):
                return found
        if not counts:
            raise GearkeepError("Two gear answer as one in every search: they draw the same random address each time.",
                                hint="Disconnect one of them and address them one by one.", kind="two-at-address")
        raise GearkeepError(f"The search found {', then '.join(map(str, counts))} gear: answers are being lost.",
                            hint="Look after the bus wiring and its supply, then start again: nothing was stored.",
                            kind="bus-unsteady")

    def _round(self, most: int) -> tuple[Found, ...]:
        # TERMINATE first: gear left in the addressing state by an interrupted run, or withdrawn, starts afresh.
        # The other two are sent as two pairs: were one lost, nobody would take part, or all would keep one random address.
        for command in (general.Terminate(), *[self._where.initialise] * 2, *[general.Randomise()] * 2):
            self._port.send(command)
        found: list[Found] = []
        while len(found) <= most and (one := self._next()) is not None:
            found.append(one)
        return tuple(found)

    def _next(self) -> Found | None:
        for _ in range(TRIES):
            if not self._anybody(TOP, fresh=True).yes:
                return None
            found = self._settled(self._lowest())
            if found is not None:
                self._withdraw(found.random_address)
                return found
        raise GearkeepError("The search for gear on the bus does not settle: answers are being lost.",
                            hint="Look after the bus wiring and its supply, then start again.", kind="bus-unsteady")

    def _lowest(self) -> int:
        low, high = 0, TOP
        while low < high:
            middle = (low + high) // 2
            low, high = (low, middle) if self._anybody(middle).yes else (middle + 1, high)
        return high

    def _settled(self, lowest: int) -> Found | None:
        """The gear at the random address, None where a lost frame led the search astray."""
        if lowest and self._anybody(lowest - 1, fresh=True).yes:
            return None
        here = self._anybody(lowest, fresh=True)
        if not here.yes:
            return None
        said = ask(self._port, general.QueryShortAddress())
        if Heard.GARBLED in (here.heard, said.heard):
            raise _Clash
        if said.value is None:
            return None
        return Found(random_address=lowest, short_address=None if said.value == MASK else said.value >> 1)

    def _withdraw(self, random_address: int) -> None:
        for _ in range(TRIES):
            self._search(random_address, fresh=True)
            self._port.send(general.Withdraw())
            if not self._anybody(random_address).yes:
                return
        raise GearkeepError("A gear goes on answering the search after it was told to withdraw.",
                            hint="Disconnect the spare and try another one.", kind="bus-unsteady")

    def _search(self, value: int, *, fresh: bool) -> None:
        commands, wanted = search_bytes(value), (value >> 16, value >> 8 & 0xFF, value & 0xFF)
        for number, command in enumerate(commands):
            if fresh or not self._sent or self._sent[number] != wanted[number]:
                self._port.send(command)
        self._sent = wanted

    def _anybody(self, value: int, *, fresh: bool = False) -> Answer:
        """COMPARE: is any random address at or below the value? A "no" is asked again, all three bytes sent anew."""
        self._search(value, fresh=fresh)
        answer = self._port.send(general.Compare())
        if answer.yes:
            return answer
        self._search(value, fresh=True)
        return self._port.send(general.Compare())

    def program(self, found: Found, address: int | None) -> None:
        """Give one gear, selected by its random address alone, a short address; None takes it away.

        Raises GearkeepError (not-taken) when it does not answer for the address afterwards.
        """
        before = MASK if found.short_address is None else found.short_address << 1 | 1
        wanted = MASK if address is None else address << 1 | 1
        for _ in range(TRIES):
            self._search(found.random_address, fresh=True)
            now = ask(self._port, general.QueryShortAddress())
            if now.value not in (before, wanted):
                # A lost byte of the search address: nobody is selected, or somebody else is.
                continue
            self._port.send(general.ProgramShortAddress("MASK" if address is None else address))
            self._search(found.random_address, fresh=True)
            told = ask(self._port, general.QueryShortAddress())
            verified = ask(self._port, general.VerifyShortAddress(address)) if address is not None else NOTHING
            if told.value == wanted and (address is None or verified.yes):
                return
        raise GearkeepError("The spare does not take its short address.",
                            hint="Disconnect the spare and try another one.", kind="not-taken")


def count_at(port: Port, address: int, *, most: int = 1) -> int:
    """How many gear stand at a short address, proved by search: 0 to most, or more than most. They keep the address."""
    with Search(port, at(address)) as search:
        try:
            count = len(search.census(most))
        except GearkeepError as error:
            if error.kind == "two-at-address":
                return 2
            raise
    if not count and ask(port, general.QueryControlGearPresent(GearShort(address))).yes:
        # It does not take part in a search, and yet it is there.
        return 1
    return count
