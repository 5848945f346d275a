"""The first part of a guided swap: the right luminaire, the cautions, the gear that died, the spare."""

from __future__ import annotations

from vault.actions.finding_luminaires import neighbours_of
from vault.actions.fitting import FitResult, Judged, fit
from vault.actions.labels_life import sight_label
from vault.actions.questions import Question
from vault.actions.stock import shelf_with
from vault.actions.stock_told import where_words
from vault.actions.swap_course import Course
from vault.domain.cautions import cautions_for
from vault.domain.driver import Way
from vault.domain.findings import Verdict
from vault.domain.schema import words
from vault.domain.settings import Duty, EmergencySupply
from vault.domain.tag import shown
from vault.errors import GearkeepError
from vault.exchange.asked import Choice

USABLE = (Verdict.FITS, Verdict.FITS_WITH_CARE)
_PLACE_LENGTH = 40

RIGHT = Question(
    key="right-luminaire", text="Is this the luminaire in front of you?",
    choices=(Choice(word="yes", says="place, type and neighbours agree"),
             Choice(word="place", says="the label hangs at another place"),
             Choice(word="type", says="the housing is of another type"),
             Choice(word="unsure", says="it cannot be told")))
SEEN_PLACE = Question(key="seen-place", text="Where does the label hang? (as the plans name it)",
                      allowed=f"1 to {_PLACE_LENGTH} characters", check=lambda said: _short(said))
CAUTIONS = Question(
    key="cautions", text="Read, understood and kept, by a competent and authorised person?",
    choices=(Choice(word="yes", says="go on"), Choice(word="no", says="stop here")))
SEEN_TYPE = Question(key="seen-type", text="Of which type is the housing? (the code on its rating plate or in the plans)",
                     allowed="a type code of up to 12 characters", check=lambda said: _code(said))


def _short(said: str) -> None:
    if not 1 <= len(said) <= _PLACE_LENGTH:
        raise GearkeepError(f"The place has {len(said)} characters.", kind="bad-answer",
                            hint=f"Allowed: 1 to {_PLACE_LENGTH} characters.")


def _code(said: str) -> None:
    if not 1 <= len(said) <= 12:
        raise GearkeepError(f"The type code has {len(said)} characters.", kind="bad-answer", hint="Allowed: 1 to 12 characters.")


def right_luminaire(course: Course) -> None:
    """Confirm the luminaire by place, type and neighbours. A contradiction is signed, and freezes it.

    Raises GearkeepError: contradiction, not-identified. Either is asked again when the swap is taken up.
    """
    if course.answered(RIGHT.key) == "yes":
        course.tell.heading("The swap goes on")
        course.tell.luminaire(course.seen, ())
        return
    with course.desk.vault.reading() as session:
        beside = neighbours_of(session, course.seen)
    course.tell.heading("Is it the right luminaire?")
    course.tell.luminaire(course.seen, beside)
    said = course.asker.ask(RIGHT)
    if said == "yes":
        course.notes.add("answer", key=RIGHT.key, said=said)
    elif said == "unsure":
        raise GearkeepError(
            "Nothing is done to a luminaire that is not known.", kind="not-identified",
            hint="Compare the neighbours: gearkeep find --near TAG. On a bus, let it show itself: gearkeep bus identify "
                 "ADDRESS. Look for the address that does not answer: gearkeep bus look.")
    else:
        _contradicted(course, said)


def _contradicted(course: Course, said: str) -> None:
    place = course.asker.ask(SEEN_PLACE) if said == "place" else course.seen.record.place
    type_code = course.asker.ask(SEEN_TYPE) if said == "type" else None
    course.notes.add("contradiction", place=place, type_code=type_code)
    sight_label(course.desk, course.seen.tag, place, None, type_code)
    told = f"the label hangs at {place}" if said == "place" else f"its housing is of type {type_code}"
    raise GearkeepError(
        f"{shown(course.seen.tag)} belongs at {course.seen.record.place}, type {course.seen.rating.code}, but {told}. That is "
        "signed now, and swaps and labels of this luminaire are frozen.", kind="contradiction",
        hint="Settle it: gearkeep move when the luminaire was moved; gearkeep withdraw-label when the label hangs on the wrong "
             "housing; gearkeep placed TAG when the label was right after all. Then run swap again.")


def cautions(course: Course) -> None:
    """Every caution that may apply, acknowledged before anything is said of the work. Raises GearkeepError: not-acknowledged."""
    settings, duty = course.gear.settings, course.gear.duty
    supply = settings.emergency.supply if settings.emergency is not None else None
    if supply is None and duty is not Duty.GENERAL:
        supply = EmergencySupply.SELF_CONTAINED
    course.tell.heading("Cautions")
    course.tell.cautions(cautions_for(settings, set(Way), supply))
    # After a break the supply may be on again: they are asked for in every run.
    if course.asker.ask(CAUTIONS) != "yes":
        raise GearkeepError("The cautions were not acknowledged; nothing was done.", kind="not-acknowledged",
                            hint="Have a competent and authorised person do the work.")
    course.notes.add("answer", key=CAUTIONS.key, said="yes")


def the_gear(course: Course) -> None:
    """Which gear died, where there are several."""
    duties = [words(gear.duty) for gear in course.seen.record.gears]
    if len(duties) > 1:
        course.choose_gear(course.asked(Question(
            key="gear", text="Which driver died?", choices=tuple(Choice(word=duty, says=f"{duty} gear") for duty in duties))))


def the_spare(course: Course) -> Judged:
    """The spare that goes in, chosen among those that fit, the best in stock first. Raises GearkeepError: no-spare."""
    known = course.answered("spare")
    if known is not None:
        course.tell.note(f"The spare is {known}.")
        return _taken_from(course, _usable(course, course.judged(known)))
    result = fit(course.desk, course.seen.tag, gear=words(course.gear.duty))
    course.tell.heading("Which spare?")
    course.tell.spares(result)
    return _taken_from(course, _usable(course, course.judged(course.asked(_spare_question(course, result)))))


def _taken_from(course: Course, judged: Judged) -> Judged:
    """Tell which bin the spare is taken from. Raises GearkeepError (stock-short) now, not after an hour's work."""
    if not course.tools.from_stock or course.notes.last("agreed") is not None:
        return judged
    with course.desk.vault.reading() as session:
        shelf = shelf_with(session, judged.fit.model, course.tools.store, course.tools.bin_name, course.seen.tag)
    others = len(judged.places) > 1
    course.tell.note(f"Take it from {where_words(shelf.store, shelf.bin)}, which holds {shelf.pieces}." + (
        f" There are {', '.join(judged.places)}: where it comes from another place, stop and run swap again with --store and "
        "--bin. A serial number that the store knows finds its place by itself." if others else ""))
    return judged


def _usable(course: Course, judged: Judged) -> Judged:
    if judged.fit.verdict not in USABLE and not course.tools.allow_open:
        course.tell.findings(judged.fit.findings)
        raise GearkeepError(f"{judged.fit.model}: {words(judged.fit.verdict).replace('-', ' ')}.", kind="does-not-fit",
                            hint="Choose another spare in a new --folder. --provisional signs in spite of stops; a second "
                                 "signer then has to accept them.")
    return judged


def _spare_question(course: Course, result: FitResult) -> Question:
    offered = [one for one in result.spares if one.fit.verdict in USABLE or course.tools.allow_open]
    if course.tools.from_stock:
        offered = [one for one in offered if one.in_stock > 0]
    if not offered:
        raise GearkeepError("No spare fits" + (" that lies in a store." if course.tools.from_stock else "."), kind="no-spare",
                            hint="Ask for one that fits; --no-stock takes a driver that came from elsewhere.")
    left = {one.fit.model: f"{one.fit.model} fits, but none lies in a store. --no-stock takes one that came from elsewhere."
            if one.fit.verdict in USABLE else f"{one.fit.model}: {words(one.fit.verdict).replace('-', ' ')}."
            for one in result.spares if one not in offered}
    return Question(
        key="spare", text="Which spare goes in?", default=offered[0].fit.model, refused=left,
        choices=tuple(Choice(word=one.fit.model, says=f"{words(one.fit.verdict).replace('-', ' ')}, {one.stock_words}"
                             + (f": {', '.join(one.places)}" if one.places else ""))
                      for one in offered))
