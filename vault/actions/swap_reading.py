"""The middle part of a guided swap: set by hand, set and read over the bus, what is left typed in."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from functools import partial
from pathlib import Path

from vault.actions.bus_work import BusDone, set_and_read, where_of
from vault.actions.changes import gears_read, said_of
from vault.actions.fitting import Judged
from vault.actions.questions import Question
from vault.actions.swap_course import Course
from vault.domain.findings import Severity, stops
from vault.domain.means import HAND_WAYS, Holds, Way
from vault.domain.pictures import Picture
from vault.domain.readback import Comparison, compare, readback_findings
from vault.domain.readback_evidence import EVIDENCE, METER, PARAMETER_SHEET, PHOTOGRAPH, evidence_fields, photograph_field
from vault.domain.readback_form import asked_of
from vault.domain.schema import words
from vault.domain.settings import Protocol
from vault.domain.tag import shown
from vault.errors import GearkeepError
from vault.exchange.asked import Choice
from vault.exchange.readback_file import Readback, read_readback, typed_value, write_readback
from vault.exchange.setting_drawing import write_setting

_FOOT = "This page draws what can be drawn; the numbered steps say all that is to be done."
READBACK_NAME, DRAWING_NAME, BUS_LOG_NAME = "readback.json", "setting.pdf", "bus.jsonl"

HANDS = Question(key="hands-done", text="Is everything set by hand, the spare fitted, every cover closed?",
                 choices=(Choice(word="yes", says="go on"), Choice(word="no", says="stop here; everything is kept")))
OVER_BUS = Question(key="set-over-bus", text="Supply on: set the spare over the bus now?",
                    choices=(Choice(word="yes", says="set it and read it back"), Choice(word="no", says="type in what it reads")))
DIFFERS = Question(key="differs", text="What was read differs from the record. What now?",
                   choices=(Choice(word="again", says="set it again, then read it again"),
                            Choice(word="sign", says="go on: the version stays provisional until a second signer accepts it"),
                            Choice(word="stop", says="stop here; everything is kept")))


def set_by_hand(course: Course, judged: Judged) -> None:
    """Cautions, what the spare cannot hold, steps, and their drawing. Raises GearkeepError: not-set."""
    course.tell.heading("Set the spare")
    course.tell.plan(course.gear, judged, course.seen.line, _draw(course, judged))
    if course.tools.bus is not None and judged.plan.frames:
        course.tell.note("What goes over the bus this program sends itself, in a moment, when the rest is done by hand.")
    if course.answered(HANDS.key) != "yes":
        if course.asker.ask(HANDS) != "yes":
            raise GearkeepError("The spare is not set yet; nothing was signed.", kind="not-set",
                                hint="Run swap again to go on from here.")
        course.notes.add("answer", key=HANDS.key, said="yes")


def _draw(course: Course, judged: Judged) -> list[Path]:
    """One page where everything finds room, else a page for each picture; none where it cannot be drawn: the steps stand."""
    pictures = judged.plan.pictures
    if not pictures:
        return []
    whole, _ = _drawn(course, judged, DRAWING_NAME, pictures)
    if whole is not None:
        return [whole]
    single = [_drawn(course, judged, f"setting-{number}.pdf", [picture]) for number, picture in enumerate(pictures, 1)]
    course.tell.note(*(f"Not drawn: {why}" for path, why in single if path is None))
    return [path for path, _ in single if path is not None]


def _drawn(course: Course, judged: Judged, name: str, pictures: Sequence[Picture]) -> tuple[Path | None, str]:
    """The file, or None and why these pictures cannot be drawn on one page."""
    path = course.folder / name
    try:
        write_setting(path, pictures, heading=f"{shown(course.seen.tag)}  {course.seen.record.place}  {judged.fit.model}",
                      cautions=judged.plan.cautions, foot=f"version {course.seen.record.version}. {_FOOT}")
    except GearkeepError as problem:
        if problem.kind not in ("drawing-too-large", "not-drawable"):
            raise
        return None, problem.what
    return path, ""


def over_bus(course: Course, judged: Judged) -> BusDone | None:
    """Set the spare over the bus and read it back; None where there is no bus at hand or nothing goes over it."""
    if course.tools.bus is None or not judged.plan.frames:
        return None
    course.tell.heading("Over the bus")
    if course.notes.last("bus") is not None:
        course.tell.note("It was set over the bus before this break. Setting it again does no harm, and proves it again.")
    if course.asker.ask(OVER_BUS) != "yes":
        return None
    found = where_of(course.tools.at, course.tools.alone, course.seen.line)
    with course.tools.bus() as port:
        done = set_and_read(port, course.seen, course.gear, judged.spare, log_file=course.folder / BUS_LOG_NAME, found=found,
                            tell=course.tell.note)
    course.tell.findings(done.findings)
    course.notes.add("bus", readback=done.values, said=list(done.told))
    return done


def read_back(course: Course, judged: Judged, bus: BusDone | None) -> dict[str, object]:
    """Everything that was read of the spare: from a file, else from the bus, the rest typed in and kept at once."""
    if course.tools.readback is not None:
        return _from_file(course, course.tools.readback)
    values: dict[str, object] = dict(bus.values) if bus is not None else {}
    control = course.gear.settings.control
    if bus is not None and control is not None and control.protocol is Protocol.DALI:
        # It answered.
        values["control.protocol"] = words(Protocol.DALI)
    left = [one for one in asked_of(course.gear, fixed_window=judged.spare.fixed_window) if one.field not in values]
    if left:
        course.tell.heading("Type in what the new driver reads")
        course.tell.note("Nothing typed means: not read.")
    for one in left:
        said = course.asked(Question(key=one.field, text=f"{one.says}:", default="", allowed=one.allowed,
                                     check=partial(typed_value, one.field)))
        if said:
            values[one.field] = typed_value(one.field, said)
    able = _able_evidence(judged)
    for field, says in evidence_fields(values):
        values[field] = course.asked(Question(key=field, text=f"{says} is known by", choices=tuple(
            Choice(word=word, says=meaning) for word, meaning in EVIDENCE.items() if word in able)))
        if values[field] == PHOTOGRAPH:
            _keep_digest(course, values, photograph_field(field))
    return values


def _able_evidence(judged: Judged) -> frozenset[str]:
    """What can prove a current or voltage of this spare: a photograph shows what is set by hand, a sheet what is written."""
    ways = {means.way for means in judged.spare.means if means.holds & {Holds.CURRENT, Holds.VOLTAGE}}
    return frozenset({METER, *({PHOTOGRAPH} if ways - {Way.NFC, Way.BUS} or not ways else ()),
                      *({PARAMETER_SHEET} if ways - set(HAND_WAYS) or not ways else ())})


def _keep_digest(course: Course, values: dict[str, object], field: str) -> None:
    said = course.asked(Question(key=field, text="File of the photograph (nothing: it is kept elsewhere):", default="",
                                 allowed="the name of a file", check=photograph_digest))
    if said:
        values[field] = photograph_digest(said)


def photograph_digest(said: str) -> str:
    """SHA-256 of a photograph's file in hexadecimal. Raises GearkeepError (bad-answer)."""
    try:
        return hashlib.sha256(Path(said).read_bytes()).hexdigest()
    except OSError as problem:
        raise GearkeepError(f"{said} cannot be read: {problem.strerror}.", kind="bad-answer",
                            hint="Give the name of the picture's file, or nothing.") from problem


def asked_again(course: Course) -> list[str]:
    """Everything that was typed in as read, for whoever reads the driver once more."""
    return [note["key"] for note in course.notes.of("answer") if "." in note["key"]]


def _from_file(course: Course, path: Path) -> dict[str, object]:
    held = gears_read(read_readback(path), course.seen)
    return dict(said_of(held, course.gear, len(course.seen.record.gears)))


def compared(course: Course, judged: Judged, values: Mapping[str, object]) -> tuple[Comparison, ...]:
    """Field by field beside the record, told with everything that asks for care or stops."""
    rows = compare(course.gear, values, spare_tolerance_permille=judged.spare.tolerance_permille,
                   fixed_window=judged.spare.fixed_window)
    course.tell.heading("What was read")
    course.tell.compared(rows, course.seen.line)
    worst = [found for found in readback_findings(rows) if found.severity is not Severity.NOTE]
    course.tell.findings(worst)
    if stops(worst):
        course.tell.note("Until this is settled leave the luminaire without supply, unless a competent person decides otherwise.")
    return rows


def keep_readback(course: Course, values: Mapping[str, object]) -> Path:
    """The readback as a file that stays with the papers: the record bears its digest."""
    path = course.folder / READBACK_NAME
    write_readback(path, Readback(tag=course.seen.tag, version=course.seen.record.version,
                                  gears={words(course.gear.duty): dict(values)}))
    return path
