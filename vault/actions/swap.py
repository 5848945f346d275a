"""A driver is replaced: the spare is judged, read back, and the next version signed."""

from __future__ import annotations

import re
import shlex
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from vault.actions.changes import Changed, gear_position, gears_read, next_version, refuse_stops, said_of, sign_version
from vault.actions.desk import Desk
from vault.actions.fitting import Judged, candidates, judge
from vault.actions.luminaire import READS, View, carried_stops, find_tag, full_gears, require_settled, view
from vault.actions.old_drivers import NOT_FAULTY, TO_STORE
from vault.actions.stock import Said, move_stock, shelf_with
from vault.db import queries, stock_rows
from vault.db.session import Session
from vault.domain.counting import be
from vault.domain.fields import label_of, value_words
from vault.domain.findings import Finding, Severity
from vault.domain.limits import check_gears
from vault.domain.readback import Comparison, compare, form, full_match, readback_digest, readback_findings
from vault.domain.readback_evidence import EVIDENCE_RULE
from vault.domain.record import Basis, ChangeClass, Reason
from vault.domain.settings import Gear
from vault.domain.site import Line
from vault.domain.stock import Act, MovementLine
from vault.domain.tag import shown, to_bytes
from vault.errors import GearkeepError, UsageProblem
from vault.exchange.assign import set_values
from vault.exchange.readback_file import Readback
from vault.spares.stock_walk import state_of


@dataclass(frozen=True, slots=True, kw_only=True)
class Prepared:
    """A swap before it is done: the luminaire, the gear that died, the spare and the empty readback form."""

    seen: View
    gear: Gear
    judged: Judged
    form: dict[str, object]


@dataclass(frozen=True, slots=True, kw_only=True)
class Swapped:
    """A swap that was signed. stock_left: pieces of the spare's model left in its store, None without stock.

    line: the luminaire's, which numbers its addresses. stock_notes: what the store should hear. bin: it came from, "" for none.
    """

    changed: Changed
    judged: Judged
    comparisons: tuple[Comparison, ...]
    matched: bool
    change_class: ChangeClass
    store: str | None
    stock_left: int | None
    line: Line | None
    stock_notes: tuple[str, ...] = ()
    bin: str = ""

    @property
    def left_words(self) -> str:
        """Where the piece came from, and what its store holds now; empty without stock."""
        if self.store is None or self.stock_left is None:
            return ""
        return (f"One piece left {f'bin {self.bin} of' if self.bin else 'the store'} {self.store}; {self.stock_left} of "
                f"{self.judged.fit.model} {'remains' if self.stock_left == 1 else 'remain'} in {self.store}.")


def prepare(desk: Desk, tag_text: str, *, spare: str, gear: str | None = None) -> Prepared:
    """What has to be known before anybody climbs: nothing is signed."""
    with desk.vault.reading() as session:
        seen = view(session, find_tag(session, tag_text))
        require_settled(seen)
        chosen = full_gears(seen.record)[gear_position(seen.record, gear)]
        judged = judge(session, seen, chosen, candidates(session, spare, False)[0])
    return Prepared(seen=seen, gear=chosen, judged=judged, form=form(chosen, fixed_window=judged.spare.fixed_window))


def _class_of(gear: Gear, spare: str, said: ChangeClass | None) -> ChangeClass:
    if said is ChangeClass.LIKE_FOR_LIKE and gear.model not in (None, spare):
        raise UsageProblem(f"{spare} is another model than {gear.model}: that is not like for like.", kind="not-like-for-like",
                           hint="Give approved-equivalent when the luminaire's maker or your own rules approve it, else "
                                "modification.")
    if said is not None:
        return said
    if gear.model == spare:
        return ChangeClass.LIKE_FOR_LIKE
    raise UsageProblem(f"{spare} is another model than {gear.model or 'the one before'}: say what the change amounts to.",
                       kind="no-class", hint="Give --as approved-equivalent when the luminaire's maker or your own rules "
                       "approve it, else --as modification, which a second signer has to approve.")


def refuse_known_serial(session: Session, serial: str | None, seen: View) -> None:
    """One driver hangs in one luminaire; a serial number that is on record already is a mistake."""
    for row in queries.heads_with_serial(session, serial) if serial else []:
        where = "in this luminaire already" if row.tag == seen.tag else f"in {shown(row.tag)}, {row.place}"
        raise UsageProblem(f"The driver with serial {serial} is {where}.", kind="serial-in-use",
                           hint="Read the serial number again; if that record is wrong, correct it first.")


def _refuse_unreadable(compared: tuple[Comparison, ...]) -> None:
    wrong = [f"{item.field} is {item.found!r}" for item in compared if item.wrong_type]
    if wrong:
        raise UsageProblem(f"The readback cannot be used: {'; '.join(wrong)}.", kind="bad-readback",
                           hint="Write whole numbers without quotes in the unit of the field's name, then try again.")


def _as_read(gear: Gear, compared: tuple[Comparison, ...]) -> Gear:
    """The gear as the driver is set now, as far as what was read can stand in a record."""
    for item in compared:
        if item.result == "differs" and "measured_" not in item.field and isinstance(item.found, int | str):
            try:
                gear = set_values(gear, [(item.field, str(item.found))])
            except GearkeepError:
                continue
    return gear


def _read_findings(gears: tuple[Gear, ...], position: int, compared: tuple[Comparison, ...],
                   seen: View) -> list[Finding]:
    """What the rating says of the driver as it reads, beyond what it says of the record."""
    now = (*gears[:position], _as_read(gears[position], compared), *gears[position + 1 :])
    known = check_gears(gears, seen.current_rating, line=seen.line, circuit=seen.circuit)
    return [replace(f, says=f"As the driver reads now: {f.says}")
            for f in check_gears(now, seen.current_rating, line=seen.line, circuit=seen.circuit) if f not in known]


_NOTE_LENGTH = 60


def _read_note(compared: tuple[Comparison, ...]) -> str | None:
    """What was read instead of the settings, in the record itself: whoever approves it approves this."""
    said = [f"{label_of(item.field)} {value_words(item.field.rpartition('.')[2], item.unit, item.found)}"
            for item in compared if item.result == "differs"]
    for count in range(len(said), 0, -1):
        more = f" and {len(said) - count} more" if count < len(said) else ""
        note = READS + "; ".join(said[:count]) + more
        if len(note) <= _NOTE_LENGTH:
            return note
    if not said:
        return None
    more = f"… and {len(said) - 1} more" if len(said) > 1 else "…"
    return (READS + said[0])[: _NOTE_LENGTH - len(more)].rstrip() + more


def _modification() -> Finding:
    return Finding(rule="modification", severity=Severity.STOP, found="modification",
                   allowed="like-for-like or approved-equivalent, or a named approver",
                   source="common practice, no source",
                   says="A modification makes whoever does it answer for the luminaire; a second signer has to approve it.")


def retest_findings(failed: Iterable[str], to_do: Iterable[str]) -> tuple[Finding, ...]:
    """A stop for each test that failed, until a second signer answers for it; care for each that is still to be done."""
    return (*(Finding(rule="retest-failed", severity=Severity.STOP, found="failed", allowed="passed",
                      source="common practice, no source", says=f"This test failed: {test}") for test in failed),
            *(Finding(rule="retest-to-do", severity=Severity.CARE, found="not done yet", allowed="passed",
                      source="common practice, no source", says=f"This test is still to be done: {test}") for test in to_do))


def _test_name(test: str) -> str:
    """ "insulation resistance" of the whole sentence."""
    name = re.split("[:,.(]", test, maxsplit=1)[0]
    return name[:1].lower() + name[1:]


def _note(compared: tuple[Comparison, ...], failed: Sequence[str], to_do: Sequence[str], old_driver: str | None) -> str | None:
    """A wrong readback stands before a failed test, that before one to be done, and the old driver's fate comes last."""
    tests = [f"{word} {', '.join(map(_test_name, said))}" for word, said in (("failed:", failed), ("to do:", to_do)) if said]
    parts = [*tests, *([f"old driver: {old_driver}"] if old_driver else [])]
    note = _read_note(compared)
    for part in [] if note else parts:
        longer = f"{note}; {part}" if note else part
        if len(longer) > _NOTE_LENGTH:
            return note or f"{part[: _NOTE_LENGTH - 1].rstrip()}…"
        note = longer
    return note


def swap(desk: Desk, tag_text: str, *, spare: str, serial: str | None, readback: Readback | Mapping[str, Mapping[str, object]],
         gear: str | None = None, store: str | None = None, bin_name: str | None = None, from_stock: bool = True,
         change_class: ChangeClass | None = None, allow_open: bool = False, failed_tests: Sequence[str] = (),
         tests_to_do: Sequence[str] = (), old_driver: str | None = None, began_at: bytes | None = None,
         even_reserved: bool = False) -> Swapped:
    """Sign the version with the new driver and take the spare from stock, in one transaction.

    A spare that does not fit is refused unless allow_open. A readback that differs, and a test that failed, make the
    version provisional: the driver is in the ceiling by then, and the record has to say so until a second signer approves.
    old_driver: what becomes of it. began_at: digest of the version that the work began with; raises GearkeepError
    (other-version) when another is the newest by now. even_reserved: take a spare that is kept for another luminaire.
    """
    with desk.vault.writing() as session:
        seen = view(session, find_tag(session, tag_text))
        require_settled(seen)
        if began_at is not None and seen.statement.digest != began_at:
            raise GearkeepError(f"Version {seen.record.version} of {shown(seen.tag)} was signed meanwhile.", kind="other-version",
                                hint="Nothing was signed. Look at what was changed: gearkeep history TAG.")
        position = gear_position(seen.record, gear)
        old = seen.record.gears[position]
        said = said_of(gears_read(readback, seen), old, len(seen.record.gears))
        full = full_gears(seen.record)[position]
        judged = judge(session, seen, full, candidates(session, spare, False)[0])
        refuse_stops(judged.fit.findings, allow_open)
        shelf = shelf_with(session, spare, store, bin_name, seen.tag, serial) if from_stock else None
        compared = compare(full, said, spare_tolerance_permille=judged.spare.tolerance_permille,
                           fixed_window=judged.spare.fixed_window)
        _refuse_unreadable(compared)
        refuse_known_serial(session, serial, seen)
        kind = _class_of(old, spare, change_class)
        differing = readback_findings(compared)
        tested = retest_findings(failed_tests, tests_to_do)
        extra = [*judged.fit.findings, *differing, *tested, *_read_findings(full_gears(seen.record), position, compared, seen)]
        if kind is ChangeClass.MODIFICATION:
            extra.append(_modification())
        fresh = replace(old, model=spare, serial=serial, readback_digest=readback_digest(said))
        record = next_version(seen, desk, session, reason=Reason.DRIVER_SWAP, basis=Basis.READ)
        gears = (*record.gears[:position], fresh, *record.gears[position + 1 :])
        record = replace(record, gears=gears, change_class=kind, note=_note(compared, failed_tests, tests_to_do, old_driver))
        # The new driver's fit and readback stand in for those of the old one; another gear's stay open.
        carried = carried_stops(seen) if len(gears) > 1 else frozenset()
        # Any difference is for a second signer to accept, also one that would be care anywhere else.
        carried |= {f.rule for f in differing if f.severity is not Severity.NOTE and f.rule != EVIDENCE_RULE}
        changed = sign_version(session, desk, seen, record, tuple(extra), True, carried)
        left: int | None = None
        notes: tuple[str, ...] = ()
        if shelf is not None:
            line = MovementLine(model=spare, quantity=1, bin=shelf.bin or None, serial=serial, tag=to_bytes(seen.tag))
            moved = move_stock(session, desk, act=Act.ISSUE, store=shelf.store, lines=(line,), even_reserved=even_reserved,
                               in_hand=True, said=Said(reason=f"old driver: {old_driver}" if old_driver else None))
            left = moved.pieces[spare]
            notes = (*moved.notes, *_left_over(session, seen, spare))
        if old_driver in TO_STORE:
            notes = (*notes, back_words(old, old_driver))
    return Swapped(changed=changed, judged=judged, comparisons=compared, matched=full_match(compared),
                   change_class=kind, store=shelf.store if shelf else None, stock_left=left,
                   line=seen.line, stock_notes=notes, bin=shelf.bin if shelf else "")


def back_words(old: Gear, fate: str) -> str:
    """How the old driver comes onto the books of a store."""
    if old.model is None:
        return ("The old driver is on no store's books, and its model is not on record: read it off, then put it there with "
                "gearkeep stock return.")
    piece = shlex.join(["stock", "return", old.model, "1"]) + " --bin BIN" + (
        f" --serial {shlex.quote(old.serial)}" if old.serial else "")
    faulty = " It failed: mark it, and scrap it from there or have it tested; until then it needs a reset and is never issued." \
        if fate != NOT_FAULTY else " It needs a reset there until it is checked."
    return f"The old driver is on no store's books yet. Put it there: gearkeep --key KEY {piece}.{faulty}"


def _left_over(session: Session, seen: View, spare: str) -> list[str]:
    """Pieces of the spare's model that stay kept for a luminaire of a single gear, whose swap is done."""
    if len(seen.record.gears) > 1:
        return []
    kept = [one for one in state_of(stock_rows.each_movement(session, spare), {}, today_day=0).kept if one.tag == seen.tag]
    return [f"{one.pieces} of {spare} {be(one.pieces)} still kept for {shown(seen.tag)} in {one.store}, and its swap is done. "
            f"Release what is not needed: gearkeep --key KEY stock release {shlex.quote(spare)} {one.pieces} --for {seen.tag} "
            f"--store {shlex.quote(one.store)}." for one in kept]
