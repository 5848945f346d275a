"""The last part of a guided swap: the tests, what the change amounts to, the old driver, the signatures."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from vault.actions.changes import approve
from vault.actions.desk import Desk
from vault.actions.fitting import Judged
from vault.actions.questions import Question
from vault.actions.swap import Swapped, retest_findings, swap
from vault.actions.swap_course import Course
from vault.domain.cautions import retests_for
from vault.domain.findings import Finding, Severity
from vault.domain.readback import readback_digest
from vault.domain.record import ChangeClass
from vault.domain.schema import from_words, words
from vault.errors import GearkeepError
from vault.exchange.asked import Choice

TESTED = Question(
    key="tests", text="Were all of these tests done, and passed?",
    choices=(Choice(word="all", says="all of them were done and passed"),
             Choice(word="some", says="some failed, or are still to be done")))
OLD_DRIVER = Question(
    key="old-driver", text="What becomes of the old driver?",
    choices=(Choice(word="scrapped", says="to the waste for electrical equipment, its battery apart"),
             Choice(word="kept-for-inspection", says="for somebody who looks for the cause"),
             Choice(word="returned-to-store", says="marked as faulty, never among the spares"),
             Choice(word="sent-to-maker", says="sent back to its maker"),
             Choice(word="damaged", says="broken from outside, by water, a blow or the mains; to the waste"),
             Choice(word="not-faulty", says="it worked; to the store, where it needs a reset")))
SIGN = Question(key="sign", text="Sign this version?",
                choices=(Choice(word="yes", says="sign it"), Choice(word="no", says="stop here; everything is kept")))
CLASSES = Question(
    key="change-class", text="What does the change amount to?",
    choices=(Choice(word="like-for-like", says="the same model as before"),
             Choice(word="approved-equivalent", says="the luminaire's maker or your own rules approve this model"),
             Choice(word="modification", says="anything else: a second signer has to answer for it")))


OTHER_MODEL = replace(CLASSES, choices=CLASSES.choices[1:])


@dataclass(frozen=True, slots=True, kw_only=True)
class Tests:
    """Which of the tests failed and which are still to be done; the others passed."""

    failed: tuple[str, ...]
    to_do: tuple[str, ...]

    def facts(self, every: Sequence[str]) -> dict[str, object]:
        """For the readback that is signed for: `tests.1` = "passed"."""
        return {f"tests.{number}": "failed" if test in self.failed else "to-do" if test in self.to_do else "passed"
                for number, test in enumerate(every, 1)}


def _numbers(said: str, count: int) -> tuple[int, ...]:
    """ "2 5" or "2, 5"; nothing for none. Raises GearkeepError (bad-answer)."""
    found = tuple(said.replace(",", " ").split())
    wrong = [one for one in found if not (one.isdecimal() and 1 <= int(one) <= count)]
    if wrong:
        raise GearkeepError(f"{' '.join(wrong)} is no number of a test.", kind="bad-answer",
                            hint=f"Allowed: numbers from 1 to {count}, or nothing.")
    return tuple(map(int, found))


def tests(course: Course) -> Tests:
    """What the tests afterwards came to."""
    every = retests_for(course.gear, course.seen.rating)
    course.tell.heading("Test again")
    course.tell.note(*(f"{number:2}. {test}" for number, test in enumerate(every, 1)))
    if course.asked(TESTED) == "all":
        return Tests(failed=(), to_do=())
    bad, open_ = (tuple(every[number - 1] for number in _numbers(course.asked(Question(
        key=key, text=text, default="", allowed=f"numbers from 1 to {len(every)}, or nothing",
        check=lambda said: _numbers(said, len(every)))), len(every)))
        for key, text in (("tests-failed", "Numbers of those that failed:"),
                          ("tests-to-do", "Numbers of those still to be done:")))
    return Tests(failed=bad, to_do=tuple(test for test in open_ if test not in bad))


def kind_of_change(course: Course, judged: Judged) -> ChangeClass:
    """Like for like by itself where the model is the same; otherwise somebody has to say."""
    if course.gear.model == judged.fit.model:
        return ChangeClass.LIKE_FOR_LIKE
    course.tell.heading("What the change amounts to")
    course.tell.note(f"{judged.fit.model} replaces {course.gear.model or 'a driver whose model is not on record'}.")
    said = from_words(ChangeClass, course.asked(CLASSES if course.gear.model is None else OTHER_MODEL))
    assert isinstance(said, ChangeClass)  # the question lets only these through
    return said


def old_driver(course: Course) -> str:
    """What becomes of the old driver."""
    course.tell.heading("The old driver")
    return course.asked(OLD_DRIVER).replace("-", " ")


def sign(course: Course, judged: Judged, *, serial: str | None, said: Mapping[str, object], tested: Tests,
         read: Sequence[Finding], change_class: ChangeClass, fate: str) -> Swapped:
    """Show once more what is wrong with what was read and tested; sign the version, and take the spare from stock.

    One transaction. Raises GearkeepError: not-signed, and as swap.
    """
    duty, model = words(course.gear.duty), judged.fit.model
    course.tell.heading("Signature")
    course.tell.note(
        f"Version {course.seen.record.version + 1}: {model}{f', serial {serial}' if serial else ''}, as {words(change_class)}; "
        f"the old driver: {fate}.")
    course.tell.findings((*(one for one in read if one.severity is not Severity.NOTE),
                          *retest_findings(tested.failed, tested.to_do)))
    if course.asker.ask(SIGN) != "yes":
        raise GearkeepError("Nothing was signed.", kind="not-signed",
                            hint=f"Everything is kept in {course.folder}; run swap again to sign it.")
    course.notes.add("signing", version=1 + max(head.version for head in course.seen.heads), spare=model, serial=serial,
                     readback_digest=readback_digest(said).hex())
    done = swap(course.desk, course.seen.tag, spare=model, serial=serial, readback={duty: said}, gear=duty,
                store=course.tools.store, bin_name=course.tools.bin_name, from_stock=course.tools.from_stock,
                change_class=change_class, allow_open=course.tools.allow_open, failed_tests=tested.failed,
                tests_to_do=tested.to_do, old_driver=fate, began_at=course.seen.statement.digest,
                even_reserved=course.tools.even_reserved)
    course.notes.add("signed", version=done.changed.version, open_stops=sorted(done.changed.open_stops))
    course.tell.note(*([done.left_words] if done.left_words else []), *(f"note: {note}" for note in done.stock_notes))
    return done


def second_signer(course: Course, change_class: ChangeClass, open_stops: frozenset[str]) -> frozenset[str]:
    """Have the second signer accept what is open, where their key is at hand; returns what stays open."""
    if not open_stops or course.tools.second_key is None:
        return open_stops
    course.tell.heading("The second signer")
    course.tell.note(f"Open: {', '.join(sorted(open_stops))}.")
    because = course.asked(Question(key="approve-because", text="Why does the second signer accept this? (nothing: not now)",
                                    default="", allowed="up to 120 characters", check=_because))
    if not because:
        return open_stops
    other = Desk(vault=course.desk.vault, key_source=course.tools.second_key, now_s=course.desk.now_s)
    done = approve(other, course.seen.tag, accepts=open_stops, change_class=change_class, because=because)
    course.notes.add("approved", left=sorted(done.open_stops))
    return done.open_stops


def _because(said: str) -> None:
    if len(said) > 120:
        raise GearkeepError(f"The reason has {len(said)} characters.", kind="bad-answer", hint="Allowed: up to 120.")
