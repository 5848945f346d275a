"""Setting one gear over a bus: the spare alone gets the address and the values, and every value is asked for.

1. Who else is on the line, and what they have stored, is written down. 2. The spare is found by search and given its
address (vault/bus/placing.py). 3. Every value is stored. 4. Every value is asked for; what did not take is stored again.
5. A search proves that one gear stands at the address. 6. The others are asked again: nothing of theirs may differ.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from vault.bus.job import Job, Target, field_words
from vault.bus.placing import place, two_at
from vault.bus.port import Answer, Heard, Port
from vault.bus.presence import Snapshot, asked_again, changed, neighbours
from vault.bus.progress_log import ProgressLog
from vault.bus.search import EVERYBODY, UNADDRESSED, Tell, Where, Whom, count_at
from vault.domain.frames import Frame
from vault.errors import GearkeepError

STORE_AGAIN = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Miss:
    """A query that was not answered as the record asks."""

    target: Target
    frame: Frame
    heard: Answer

    @property
    def said(self) -> str:
        """ "minimum level: 85 wanted, 1 answered"."""
        wanted, mask = self.frame.answer or 0, self.frame.answer_mask
        answered = {Heard.NOTHING: "no answer", Heard.GARBLED: "several answers at once"}.get(
            self.heard.heard, f"{(self.heard.value or 0) & mask} answered")
        masked = f" in the bits {mask:08b}" if mask != 0xFF else ""
        return f"{field_words(self.frame.field)}: {wanted} wanted{masked}, {answered}"


@dataclass(frozen=True, slots=True, kw_only=True)
class SetDone:
    """What was done. addresses: as on the bus. values: how many answers were compared and agreed.

    again: what had to be stored again before it took. differs: what frames cannot store and what is not as recorded
    (rated duration, mode, inhibit of emergency gear). neighbours: how many other gear were compared. resumed: an
    earlier run was taken up.
    """

    addresses: tuple[int, ...]
    values: int
    again: tuple[str, ...]
    differs: tuple[str, ...]
    neighbours: int
    resumed: bool

    @property
    def good(self) -> bool:
        """Whether everything asked for is as the record says."""
        return not self.differs


def set_gear(port: Port, job: Job, *, log: ProgressLog, found: Where = UNADDRESSED, tell: Tell) -> SetDone:
    """Set one gear and prove it. Safe to call again with the same log after a kill at any point.

    Raises GearkeepError: bus-lost, bus-unsteady, address-taken, no-spare-found, several-spares, spare-exchanged,
    two-at-address, not-taken, neighbour-changed, bank-not-read, other-job. No frame that stores is ever broadcast.
    """
    resumed = log.begin(job)
    if resumed:
        tell("An earlier run of this job is taken up.")
        for sentence in log.written_before(job):
            tell(sentence)
    before = log.snapshot()
    if before is None:
        if found.whom is not Whom.ALONE:
            tell("Asking every other address what it has stored.")
        before = neighbours(port, _others(job, found), tell)
        log.keep(before)
    place(port, job, log=log, found=found, tell=tell)
    misses: list[Miss] = []
    again: list[str] = []
    for target in job.targets:
        missed = _store_and_ask(port, job, target, log, again, tell)
        misses.extend(missed)
    for target in job.targets:
        tell(f"Searching {job.said(target.address)} once more: one gear must stand there.")
        _one_there(port, job, target)
    _unchanged(port, job, before, tell)
    differs = _judged(job, misses)
    asked = sum(frame.answer is not None for target in job.targets for frame in target.asks)
    log.note("done", differs=list(differs))
    return SetDone(addresses=job.addresses, values=asked - len(differs), again=tuple(again), differs=differs,
                   neighbours=len(before.there), resumed=resumed)


def _others(job: Job, found: Where) -> list[int]:
    """Addresses of everybody else; none where the spare is alone, which the search proves."""
    if found.whom is Whom.ALONE:
        return []
    return [address for address in range(EVERYBODY) if address not in job.addresses and address != found.address]


def _store_and_ask(port: Port, job: Job, target: Target, log: ProgressLog, again: list[str], tell: Tell) -> list[Miss]:
    tell(f"Storing {sum(frame.send_twice for frame in target.stores)} values at {job.said(target.address)}.")
    _store(port, target, log)
    misses = _ask(port, target)
    stored = {frame.field for frame in target.stores}
    for _ in range(STORE_AGAIN):
        # A colour is stored with a level and a level is held within others: all are written again, in order.
        retry = [field_words(miss.frame.field) for miss in misses if _was_stored(miss.frame.field, stored)]
        if not retry:
            break
        again.extend(one for one in dict.fromkeys(retry) if one not in again)
        tell(f"Did not take, stored again: {', '.join(dict.fromkeys(retry))}.")
        _store(port, target, log)
        misses = _ask(port, target)
    log.note("stored", address=target.address)
    return misses


def _was_stored(field: str, stored: set[str]) -> bool:
    """Whether frames store the field; a scene's colour goes with its level."""
    return field in stored or "scene_mirek" in field


def _store(port: Port, target: Target, log: ProgressLog) -> None:
    before = ""
    for frame in target.stores:
        if frame.field != before:
            log.note("storing", address=target.address, field=frame.field)
            before = frame.field
        port.send(frame.command)


def _ask(port: Port, target: Target) -> list[Miss]:
    """Every answer that is not as the record asks. A query that misses is asked once more, with what goes before it."""
    misses: list[Miss] = []
    for begin, end in _questions(target.asks):
        for _ in range(2):
            missed = _missed(port, target, target.asks[begin:end])
            if not missed:
                break
        misses.extend(missed)
    return misses


def _questions(asks: Sequence[Frame]) -> list[tuple[int, int]]:
    """Runs of frames for one field: loads, the device type, the query and a second byte belong together."""
    starts = [number for number, frame in enumerate(asks) if number == 0 or frame.field != asks[number - 1].field]
    return list(zip(starts, [*starts[1:], len(asks)], strict=True))


def _missed(port: Port, target: Target, frames: Sequence[Frame]) -> list[Miss]:
    found: list[Miss] = []
    for frame in frames:
        heard = port.send(frame.command)
        if frame.answer is None:
            continue
        if heard.value is None or (heard.value ^ frame.answer) & frame.answer_mask:
            found.append(Miss(target=target, frame=frame, heard=heard))
    return found


def _one_there(port: Port, job: Job, target: Target) -> None:
    count = count_at(port, target.address)
    if count > 1:
        raise two_at(job, target.address)
    if count == 0:
        raise GearkeepError(f"No gear stands at {job.said(target.address)} any more.", kind="no-spare-found",
                            hint="Check the spare's supply and its bus wires, then start again: the run is taken up.")


def _unchanged(port: Port, job: Job, before: Snapshot, tell: Tell) -> None:
    if not before.there and not before.asked:
        return
    tell(f"Asking the other {len(before.there)} gear again: nothing of theirs may differ.")
    after = asked_again(port, before, neighbours(port, before.asked, tell))
    differences = changed(before, after)
    if differences:
        said = "; ".join(f"{job.said(address)}: {', '.join(what)}" for address, what in differences.items())
        raise GearkeepError(f"Other gear on the line is not as it was before: {said}.", kind="neighbour-changed",
                            hint="Nothing was stored there by this job. Look after these gear before you leave: somebody "
                                 "else may be working on the line.")


def _judged(job: Job, misses: Sequence[Miss]) -> tuple[str, ...]:
    """What differs without having been stored; what was stored and did not take is refused."""
    failed = [miss for miss in misses
              if _was_stored(miss.frame.field, {frame.field for frame in miss.target.stores})
              or miss.frame.field.endswith("short_address")]
    if any(miss.heard.heard is Heard.GARBLED for miss in misses):
        raise two_at(job, next(miss.target.address for miss in misses if miss.heard.heard is Heard.GARBLED))
    if failed:
        said = "; ".join(f"{miss.said} ({job.said(miss.target.address)})" for miss in failed)
        raise GearkeepError(f"The spare did not take {len(failed)} of the values: {said}.", kind="not-taken",
                            hint="Try once more; if it stays so, use another spare: this one cannot hold the settings.")
    return tuple(miss.said for miss in misses)
