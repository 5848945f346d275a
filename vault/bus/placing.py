"""Giving the spare its short address: to the one found by search, never to anybody else, never where gear stands."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from dali.address import GearShort
from dali.gear import general

from vault.bus.bank_zero import read_serial
from vault.bus.job import Job, Target
from vault.bus.port import Heard, Port
from vault.bus.progress_log import ProgressLog
from vault.bus.search import Found, Search, Tell, Where, Whom, ask, at, count_at
from vault.errors import GearkeepError

_UNIT_INDEX = 0x1A  # IEC 62386-102, memory bank 0: index number of this logical control gear unit
_RANDOM = (general.QueryRandomAddressH, general.QueryRandomAddressM, general.QueryRandomAddressL)


def place(port: Port, job: Job, *, log: ProgressLog, found: Where, tell: Tell) -> None:
    """See to it that exactly one gear, the spare, stands at each address of the job.

    Raises GearkeepError: address-taken, no-spare-found, several-spares, spare-exchanged, two-at-address, not-taken,
    bus-unsteady, bank-not-read.
    """
    waiting = [target for target in job.targets if not _stands(port, job, target, log, found, tell)]
    if not waiting:
        return
    tell(_looking(job, found))
    with Search(port, found) as search:
        spares = search.census(len(job.targets))
        _count(job, waiting, spares, found)
        if len(job.targets) == 1:
            _program(port, search, spares[0], waiting[0], log)
        else:
            for spare in _without_address(job, waiting, search, spares):
                _give(port, job, search, spare, waiting, log)
    for target in waiting:
        tell(f"The spare has {job.said(target.address)}.")


def _stands(port: Port, job: Job, target: Target, log: ProgressLog, found: Where, tell: Tell) -> bool:
    """Whether the spare is at its address already. Anybody else there stops the job."""
    said = job.said(target.address)
    proved = _proved(port, target, log)
    tell(f"Searching {said} for gear that stands there.")
    count = count_at(port, target.address)
    if count > 1:
        if proved:
            raise two_at(job, target.address)
        raise GearkeepError(f"Two gear or more stand at {said}.", kind="two-at-address",
                            hint="Disconnect all of them, or give them other addresses: nobody may stand there before the "
                                 "spare does.")
    itself = found.whom is Whom.AT and found.address == target.address
    if count and proved:
        _same_piece(port, job, target, log)
    if count and (proved or itself or not target.given):
        tell(f"The spare stands at {said} already.")
        return True
    if not target.given or (itself and not count):
        raise GearkeepError(f"No gear answers at {said}, where the spare should be.", kind="no-spare-found",
                            hint="Check that the spare is on the bus and has its supply, and how its address is set.")
    if count:
        if found.whom is Whom.ALONE:
            # A used spare alone on the line may have brought this very address; the search over all counts it.
            return False
        raise GearkeepError(f"A driver still answers at {said}.", kind="address-taken",
                            hint="Disconnect the old driver from the bus. If this is the used spare itself, give "
                                 "--at with this address.")
    return False


def _noted(log: ProgressLog, step: str, target: Target) -> list[Any]:
    """The random addresses that a step was noted with at this address."""
    return [note.get("random") for note in log.of(step) if note["address"] == target.address]


def _proved(port: Port, target: Target, log: ProgressLog) -> bool:
    """Whether an earlier run of this job put the gear at this address, by its log and its random address.

    A channel that was there only to be asked its number loses the address again.
    """
    if _noted(log, "programmed", target):
        return True
    begun, tried = _noted(log, "programming", target), _noted(log, "trying", target)
    if not begun and not tried:
        return False
    to = GearShort(target.address)
    drawn = [ask(port, query(to)) for query in _RANDOM]
    if any(one.heard is not Heard.BYTE for one in drawn):
        return False
    high, middle, low = (one.value or 0 for one in drawn)
    random = high << 16 | middle << 8 | low
    if random in begun:
        _programmed(port, target, log)
        return True
    if random in tried:
        with Search(port, at(target.address)) as search:
            there = search.census(1)
            if len(there) == 1:
                search.program(there[0], None)
    return False


def _count(job: Job, waiting: Sequence[Target], spares: Sequence[Found], found: Where) -> None:
    wanted = len(job.targets) if found.whom is Whom.ALONE else len(waiting)
    where = {Whom.UNADDRESSED: "without an address", Whom.ALONE: "on the line",
             Whom.AT: f"at {job.said(found.address or 0)}"}[found.whom]
    if not spares:
        raise GearkeepError(f"No gear {where} answers the search.", kind="no-spare-found", hint=(
            "Check that the spare is on the bus and has its supply. A used spare has an address: give --at with it, or "
            "connect the spare alone and give --alone."))
    if len(spares) < wanted:
        raise GearkeepError(f"{len(spares)} gear {where} answers the search; this job needs {wanted}, one for each address.",
                            kind="no-spare-found", hint="Check that the spare has as many addressed channels as the record.")
    if len(spares) > wanted:
        many = str(len(spares)) if len(spares) <= len(job.targets) else f"{len(spares)} or more"
        raise GearkeepError(f"{many} gear {where} answer the search; {wanted} may.", kind="several-spares", hint=(
            "Disconnect the others, or give them their addresses first: no gear but the spare is touched."))


def _without_address(job: Job, waiting: Sequence[Target], search: Search, spares: Sequence[Found]) -> list[Found]:
    """Those that still need an address. One that brought an address of this job loses it: another may need it first."""
    placed = set(job.addresses) - {target.address for target in waiting}
    left: list[Found] = []
    for spare in spares:
        if spare.short_address in placed:
            continue
        if spare.short_address in job.addresses:
            search.program(spare, None)
            spare = replace(spare, short_address=None)
        left.append(spare)
    return left


def _give(port: Port, job: Job, search: Search, spare: Found, waiting: Sequence[Target], log: ProgressLog) -> None:
    """Give one of several channels its address. Which one it is can be asked only at an address, so it gets a free one."""
    free = [target for target in waiting if not _noted(log, "programmed", target)]
    first = free[0].address
    log.note("trying", address=first, random=spare.random_address)
    search.program(spare, first)
    here = replace(spare, short_address=first)
    index = _unit_index(port, first)
    right = job.targets[index] if index is not None and index < len(job.targets) else None
    if right is None or right not in free:
        search.program(here, spare.short_address)
        raise GearkeepError("It cannot be told which channel of the spare this is: the gear does not give the number of its "
                            "unit, or gives one twice.", kind="several-spares",
                            hint="Connect one channel at a time, or address the channels with the commissioning tool.")
    _program(port, search, here, right, log)


def _program(port: Port, search: Search, spare: Found, target: Target, log: ProgressLog) -> None:
    log.note("programming", address=target.address, random=spare.random_address)
    search.program(spare, target.address)
    _programmed(port, target, log)


def _programmed(port: Port, target: Target, log: ProgressLog) -> None:
    """Note which piece stands at the address now: it may be exchanged for another before the next run."""
    try:
        serial = read_serial(port, target.address)
    except GearkeepError as problem:
        if problem.kind != "bank-not-read":
            raise
        serial = None
    log.note("programmed", address=target.address, serial=serial)


def _same_piece(port: Port, job: Job, target: Target, log: ProgressLog) -> None:
    """Refuse another gear at the address than the one that was put there, as far as serial numbers tell."""
    noted = [note.get("serial") for note in log.of("programmed") if note["address"] == target.address][-1]
    if noted is None:
        return
    serial = read_serial(port, target.address)
    # Bytes may be lost from a bank, and then it has no number.
    serial = read_serial(port, target.address) if serial is None else serial
    if serial != noted:
        here = "one without a serial number" if serial is None else f"the one with serial number {serial}"
        raise GearkeepError(f"The gear at {job.said(target.address)} is not the spare that an earlier run put there: that "
                            f"one has serial number {noted}, and {here} answers.", kind="spare-exchanged",
                            hint="Connect the spare of that run again. For another spare take this gear off the bus, or begin "
                                 "afresh with a new log (in a guided swap: with another --folder).")


def _unit_index(port: Port, address: int) -> int | None:
    port.send(general.DTR1(0))
    port.send(general.DTR0(_UNIT_INDEX))
    return port.send(general.ReadMemoryLocation(GearShort(address))).value


def _looking(job: Job, found: Where) -> str:
    return {Whom.UNADDRESSED: "Searching for gear without an address.", Whom.ALONE: "Searching the whole line for the spare.",
            Whom.AT: f"Searching for the spare at {job.said(found.address or 0)}."}[found.whom]


def two_at(job: Job, address: int) -> GearkeepError:
    """The refusal that nobody may overlook."""
    return GearkeepError(f"Two gear or more stand at {job.said(address)}.", kind="two-at-address",
                         hint="Disconnect all but one of them and start again; until then nothing said at this address "
                              "can be trusted.")
