"""The swap as one guided act, from the right luminaire to the last signature. It may be killed anywhere and goes on."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from vault.actions.desk import Desk
from vault.actions.fitting import Judged
from vault.actions.luminaire import view
from vault.actions.questions import Asker, Question
from vault.actions.stock import shelf_with
from vault.actions.swap import refuse_known_serial
from vault.actions.swap_begin import cautions, right_luminaire, the_gear, the_spare
from vault.actions.swap_course import Course, Tools, course_of
from vault.actions.swap_finish import kind_of_change, old_driver, second_signer, sign, tests
from vault.actions.swap_reading import (
    DIFFERS,
    READBACK_NAME,
    asked_again,
    compared,
    keep_readback,
    over_bus,
    read_back,
    set_by_hand,
)
from vault.actions.swap_teller import Teller
from vault.domain.cautions import retests_for
from vault.domain.readback import Comparison, full_match, readback_findings
from vault.domain.record import ChangeClass
from vault.domain.schema import from_words, words
from vault.errors import GearkeepError, UsageProblem

SERIAL_LENGTH = 24


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """A swap that is signed. open_stops: what a second signer must still accept. readback: the file to keep."""

    tag: str
    version: int
    spare: str
    serial: str | None
    change_class: str
    matched: bool
    open_stops: frozenset[str]
    folder: Path
    readback: Path


def guided_swap(desk: Desk, tag_text: str, folder: Path, *, asker: Asker, tell: Teller, tools: Tools) -> Outcome:
    """Lead through the swap of one driver and sign it. Everything answered and done is kept in the folder at once.

    Raises GearkeepError where the work has to stop: not-identified, contradiction, not-acknowledged, no-spare, does-not-fit,
    not-set, differs, not-signed, other-version, what the bus says, and what signing says. The same call goes on later.
    """
    with course_of(desk, tag_text, folder, asker, tell, tools) as course:
        if course.notes.last("signed") is None:
            _work(course)
        else:
            tell.note(f"The swap in {folder} is signed; nothing more is done to the driver. For another swap of this luminaire "
                      "name another --folder.")
        return _end(course)


def _work(course: Course) -> None:
    right_luminaire(course)
    the_gear(course)
    cautions(course)
    judged = the_spare(course)
    set_by_hand(course, judged)
    values, rows = _agreed(course, judged)
    serial = _serial(course, values, judged.fit.model)
    tested = tests(course)
    change_class = kind_of_change(course, judged)
    fate = old_driver(course)
    old = course.gear
    values |= tested.facts(retests_for(old, course.seen.rating))
    values |= {"old_driver.fate": fate, **({"old_driver.model": old.model} if old.model else {}),
               **({"old_driver.serial": old.serial} if old.serial else {})}
    keep_readback(course, values)
    course.notes.add("class", said=words(change_class))
    sign(course, judged, serial=serial, said=values, tested=tested, read=readback_findings(rows), change_class=change_class,
         fate=fate)


def _agreed(course: Course, judged: Judged) -> tuple[dict[str, object], tuple[Comparison, ...]]:
    """What the new driver reads, beside the record; where it differs, set and read again as often as somebody wants."""
    kept = course.notes.last("agreed")
    if kept is not None:
        course.tell.note("The new driver was read before this break.")
        return dict(kept["values"]), compared(course, judged, kept["values"])
    before: dict[str, object] | None = None
    while True:
        values = read_back(course, judged, over_bus(course, judged))
        rows = compared(course, judged, values)
        said = "sign" if full_match(rows) else course.asker.ask(DIFFERS)
        if said == "sign":
            course.notes.add("agreed", values=values, matched=full_match(rows))
            return values, rows
        course.notes.add("differs", said=said)
        course.forget(asked_again(course))
        if said == "stop" or values == before:
            raise GearkeepError("What the new driver reads differs from the record; nothing was signed.", kind="differs",
                                hint="Set it again and run swap again; what was typed is asked again.")
        before = values


def _serial(course: Course, values: dict[str, object], model: str) -> str | None:
    read = values.get("bank0.serial")
    said = course.asked(Question(key="serial", text="Serial number of the new driver (none: it bears none)",
                                 default=str(read) if read else None, allowed=f"up to {SERIAL_LENGTH} characters, or none",
                                 check=lambda said: _can_be(course, model, said)))
    try:
        _can_be(course, model, said)  # what the bus read, and what was noted before a break
    except GearkeepError:
        course.forget(["serial"])
        raise
    return None if said.casefold() == "none" else said


def _can_be(course: Course, model: str, said: str) -> None:
    """Raises GearkeepError for a number that is on record elsewhere, or whose piece may not be taken from where it lies."""
    _short(said)
    if said.casefold() == "none":
        return
    with course.desk.vault.reading() as session:
        refuse_known_serial(session, said, course.seen)
        if course.tools.from_stock:
            shelf_with(session, model, course.tools.store, course.tools.bin_name, course.seen.tag, said)


def _short(said: str) -> None:
    if not 1 <= len(said) <= SERIAL_LENGTH:
        raise UsageProblem(f"The serial number has {len(said)} characters.", kind="bad-answer",
                           hint=f"Allowed: 1 to {SERIAL_LENGTH}, or none.")
    if said.casefold() in ("yes", "no", "y", "n"):
        raise UsageProblem(f"{said} is no serial number.", kind="bad-answer", hint="Type it from the driver, or none.")


def _end(course: Course) -> Outcome:
    signed = course.notes.last("signed")
    signing = course.notes.last("signing")
    agreed, chosen = course.notes.last("agreed"), course.notes.last("class")
    assert signed is not None and signing is not None and agreed is not None and chosen is not None  # noted in that order
    with course.desk.vault.reading() as session:
        # Somebody may have approved meanwhile.
        still_open = view(session, course.seen.tag).open_stops
    change_class = from_words(ChangeClass, chosen["said"])
    if still_open and isinstance(change_class, ChangeClass):
        still_open = second_signer(course, change_class, still_open)
    return Outcome(tag=course.seen.tag, version=signed["version"], spare=signing["spare"], serial=signing["serial"],
                   change_class=chosen["said"], matched=agreed["matched"], open_stops=still_open, folder=course.folder,
                   readback=course.folder / READBACK_NAME)
