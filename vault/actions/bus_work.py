"""A spare set over the bus and read back: the bus room's steps with what the vault knows of the luminaire."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from vault.actions.changes import gear_position
from vault.actions.desk import Desk
from vault.actions.fitting import Judged, candidates, judge
from vault.actions.luminaire import View, all_current, driver_models, find_tag, full_gears, require_settled, view
from vault.bus.asking import Questions
from vault.bus.bank_one import bank_one_fields, compare_bank_one, read_bank_one, wanted_bank_one, write_bank_one
from vault.bus.emergency_state import clear_inhibit, read_state, state_findings
from vault.bus.job import Job, dry_run, job_for
from vault.bus.port import Port
from vault.bus.progress_log import NotesInMemory, ProgressLog
from vault.bus.reading import EMERGENCY_TYPE, addresses_of, read_gear
from vault.bus.search import ALONE, UNADDRESSED, Where, count_at
from vault.bus.search import at as found_at
from vault.bus.setting import SetDone, set_gear
from vault.db.session import Vault
from vault.domain.driver import DriverModel
from vault.domain.fields import address_words
from vault.domain.findings import Finding
from vault.domain.frames import Frame
from vault.domain.readback import Comparison, compare
from vault.domain.settings import Gear
from vault.domain.site import Line
from vault.errors import GearkeepError, UsageProblem
from vault.exchange.kept_notes import held_notes
from vault.trust.statements import Kind

Tell = Callable[[str], None]
Progress = Callable[[int, int], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class BusDone:
    """What came of a bus. values: field of a readback -> what was answered. told: what was said on the way.

    findings: about the emergency gear's state and the memory of the driver. done: what was stored, None for a reading alone.
    """

    values: dict[str, object]
    findings: tuple[Finding, ...]
    told: tuple[str, ...] = ()
    done: SetDone | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class BusPlan:
    """A job over the bus before anything is sent."""

    seen: View
    gear: Gear
    judged: Judged
    job: Job


def plan_bus(desk: Desk, tag_text: str, *, spare: str, gear: str | None = None, allow_open: bool = False) -> BusPlan:
    """What is to be stored in one spare. Nothing is opened or sent.

    Raises UsageProblem (not-found) and GearkeepError: conflict, retired, frozen, does-not-fit unless allow_open,
    nothing-for-the-bus.
    """
    with desk.vault.reading() as session:
        seen = view(session, find_tag(session, tag_text))
        require_settled(seen)
        chosen = full_gears(seen.record)[gear_position(seen.record, gear)]
        judged = judge(session, seen, chosen, candidates(session, spare, False)[0])
    if judged.fit.verdict.value not in ("fits", "fits-with-care") and not allow_open:
        raise GearkeepError(f"{spare} {judged.fit.verdict.value.replace('-', ' ')}; nothing was sent.", kind="does-not-fit",
                            hint=f"See why: gearkeep fit {seen.tag} --spare {spare}. Choose another, or give --provisional.")
    return BusPlan(seen=seen, gear=chosen, judged=judged, job=job_for(chosen, judged.spare, seen.line))


def frames_of(plan: BusPlan, found: Where = UNADDRESSED) -> tuple[Frame, ...]:
    """Every frame of the job in bytes and words, with one example of the search."""
    return dry_run(plan.job, found)


def on_the_bus(said: int, line: Line | None) -> int:
    """An address as the site writes it, as it is on the bus. Raises UsageProblem (bad-address)."""
    first = line.addresses_from if line is not None else 0
    if not 0 <= said - first <= 63:
        raise UsageProblem(f"Address {said} does not exist{f' on line {line.name}' if line else ''}.", kind="bad-address",
                           hint=f"Addresses run from {first} to {63 + first}{'' if line else ', as on the bus'}.")
    return said - first


def where_of(at: int | None, alone: bool, line: Line | None) -> Where:
    """Where the spare is to be found. at: a used spare's address as the site writes it. Raises UsageProblem."""
    if alone and at is not None:
        raise UsageProblem("--at and --alone say two things.", hint="Give one: where the used spare is, or that it is alone.")
    return ALONE if alone else UNADDRESSED if at is None else found_at(on_the_bus(at, line))


@contextmanager
def _log(file: Path | None) -> Iterator[ProgressLog]:
    if file is None:
        yield ProgressLog(NotesInMemory())
        return
    with held_notes(file) as notes:
        yield ProgressLog(notes)


def set_and_read(port: Port, seen: View, gear: Gear, spare: DriverModel, *, log_file: Path | None, tell: Tell,
                 found: Where = UNADDRESSED, progress: Progress | None = None) -> BusDone:
    """Set one spare, write its memory where that is open, clear an inhibit, and read everything back.

    log_file: kept so that the same call takes the job up again after a break. Raises what set_gear and read_luminaire raise.
    """
    told: list[str] = []

    def say(sentence: str) -> None:
        told.append(sentence)
        tell(sentence)

    job = job_for(gear, spare, seen.line)
    with _log(log_file) as log:
        done = set_gear(port, job, log=log, found=found, tell=say)
    _write_memory(port, seen, job.addresses[0], say)
    addresses = addresses_of(gear)
    for address in _emergency_addresses(port, addresses.values()):
        if read_state(port, address).inhibited:
            clear_inhibit(port, address)
            say("An inhibit was active; it is cleared.")
    say("Reading everything back.")
    read = read_luminaire(port, seen, gear, addresses=addresses, proved=True, progress=progress)
    return BusDone(values=read.values, findings=read.findings, told=tuple(told), done=done)


def _write_memory(port: Port, seen: View, address: int, tell: Tell) -> None:
    """Nothing depends on the memory: a driver without one, or with a locked one, is told of and used."""
    wanted = wanted_bank_one(seen.tag, seen.current_rating)
    try:
        held = read_bank_one(port, address)
        if held is not None and compare_bank_one(held, wanted):
            write_bank_one(port, address, wanted)
            tell("The driver's memory names this luminaire now.")
    except GearkeepError as problem:
        if problem.kind not in ("bank-locked", "bank-not-written", "bank-not-read"):
            raise
        tell(f"The driver's memory was left as it is: {problem.what}")


def _emergency_addresses(port: Port, addresses: Iterable[int]) -> list[int]:
    return [address for address in dict.fromkeys(addresses) if EMERGENCY_TYPE in (Questions(port, address).device_types() or ())]


def read_luminaire(port: Port, seen: View, gear: Gear, *, addresses: dict[str, int] | None = None, proved: bool = False,
                   progress: Progress | None = None) -> BusDone:
    """Everything that one gear of a luminaire answers, with findings about its state and its memory.

    addresses: where its control data are (`addresses_of`), the record's by default. proved: a search has shown already that one
    gear alone stands at each. Raises GearkeepError: no-address, no-answer, two-at-address, bus-lost, bus-unsteady.
    """
    placed = addresses_of(gear) if addresses is None else addresses
    if not placed:
        raise GearkeepError("The record names no short address for this gear.", kind="no-address",
                            hint="Say where it is with --at ADDRESS; gearkeep bus look lists who answers.")
    for address in dict.fromkeys(placed.values()) if not proved else ():
        _prove_one(port, seen, address)
    values = read_gear(port, gear, placed) if progress is None else read_gear(port, gear, placed, progress)
    if not values:
        raise _no_answer(seen, next(iter(placed.values())))
    first = next(iter(placed.values()))
    memory = read_bank_one(port, first, progress)
    findings = list(compare_bank_one(memory, wanted_bank_one(seen.tag, seen.current_rating),
                                     seen.current_rating.power_max_mw))
    for address in _emergency_addresses(port, placed.values()):
        findings = [*state_findings(read_state(port, address)), *findings]
    return BusDone(values=values | (bank_one_fields(memory) if memory is not None else {}), findings=tuple(findings))


def _prove_one(port: Port, seen: View, address: int) -> None:
    count = count_at(port, address)
    if count == 0:
        raise _no_answer(seen, address)
    if count > 1:
        raise GearkeepError(f"More than one gear stands at {address_words(address, seen.line)}.", kind="two-at-address",
                            hint="Take one of them off the line, or give it another address; nothing read there can be trusted.")


def _no_answer(seen: View, address: int) -> GearkeepError:
    return GearkeepError(f"No gear answers at {address_words(address, seen.line)}.", kind="no-answer",
                         hint="Check its supply and its bus wires; gearkeep bus look lists who answers.")


def line_named(vault: Vault, name: str) -> Line:
    """A control line of the vault. Raises UsageProblem (not-found)."""
    with vault.reading() as session:
        lines: dict[str, Line] = all_current(session, Kind.LINE)
    if name not in lines:
        raise UsageProblem(f"The vault does not know the line {name}.", kind="not-found",
                           hint=f"It knows: {', '.join(sorted(lines)) or 'none'}. Load it with: gearkeep line load.")
    return lines[name]


@dataclass(frozen=True, slots=True, kw_only=True)
class BusRead:
    """A gear read over the bus beside its record. comparisons: of everything that was answered."""

    seen: View
    gear: Gear
    read: BusDone
    comparisons: tuple[Comparison, ...]


def chosen_gear(desk: Desk, tag_text: str, gear: str | None = None) -> tuple[View, Gear]:
    """A luminaire and one of its gear, by default the first that has a short address."""
    with desk.vault.reading() as session:
        seen = view(session, find_tag(session, tag_text))
        gears = full_gears(seen.record)
        if gear is not None:
            return seen, gears[gear_position(seen.record, gear)]
    return seen, next((one for one in gears if addresses_of(one)), gears[0])


def read_tag(desk: Desk, port: Port, seen: View, gear: Gear, *, at: int | None = None, clear: bool = False,
             progress: Progress | None = None) -> BusRead:
    """Read one gear and hold it against the newest record. at: the short address where it is now, if not the record's.

    clear: an inhibit of emergency gear is cleared first. Raises what read_luminaire and clear_inhibit raise.
    """
    placed = addresses_of(gear)
    if at is not None:
        if len(placed) > 1:
            raise UsageProblem("This gear has several addresses; one --at cannot stand for them.", kind="several-addresses",
                               hint="Leave --at out: the record says where each channel is.")
        placed = {next(iter(placed), "control"): at}
    for address in _emergency_addresses(port, placed.values()) if clear else ():
        clear_inhibit(port, address)
    read = read_luminaire(port, seen, gear, addresses=placed, progress=progress)
    with desk.vault.reading() as session:
        model = driver_models(session).get(gear.model or "")
    compared = compare(gear, read.values, spare_tolerance_permille=model.tolerance_permille if model else None,
                       fixed_window=model.fixed_window if model else False)
    return BusRead(seen=seen, gear=gear, read=read, comparisons=compared)
