"""Planned addresses signed into the vault, all in one transaction. The drivers are not touched by it."""

from __future__ import annotations

from dataclasses import dataclass, replace

from vault.actions.addressing import Asked, Planned, plan_in
from vault.actions.changes import next_version
from vault.actions.desk import Desk
from vault.actions.luminaire import View, all_current, carried_stops, require_rating, require_settled, view
from vault.db.audit import Progress, quiet
from vault.db.session import Session
from vault.domain.address_items import PLANNED, Fate, Kind, Placed, Track
from vault.domain.findings import stops
from vault.domain.limits import check_gears
from vault.domain.record import Basis, Reason
from vault.domain.settings import Gear
from vault.errors import GearkeepError, UsageProblem
from vault.exchange.assign import set_values
from vault.trust.statements import Kind as Said

PROVISIONAL = "it is provisional; have its open stops approved first"


@dataclass(frozen=True, slots=True, kw_only=True)
class Signed:
    """What was signed: (tag, version) of every luminaire whose addresses are new, and the plan that they are from. left: (key,
    why) of luminaires that would have got another address and keep what they have.
    """

    planned: Planned
    versions: tuple[tuple[str, int], ...]
    left: tuple[tuple[str, str], ...]


def sign_plan(desk: Desk, asked: Asked, *, move_set: bool = False, progress: Progress = quiet) -> Signed:
    """Plan the vault's luminaires and sign a new version of each whose address is new: settings changed, as stated.

    Luminaires that are frozen, provisional or in conflict, or that break their rating, keep what they have, and the others are
    planned around them. move_set: addresses that are on record already may be signed over. Raises UsageProblem (planned-file) for
    a file, GearkeepError (stop) where an address would stand twice, and (would-move) without move_set.
    """
    if asked.file is not None:
        raise UsageProblem("A schedule file is not signed by its plan.", kind="planned-file",
                           hint="Write it with --out FILE, and hand that file over: gearkeep handover FILE.")
    desk.key()
    with desk.vault.writing() as session:
        planned, views, left = _settled_plan(session, asked, progress)
        changed = _changes(planned)
        _refuse_clashes(changed)
        _refuse_moves(changed, move_set)
        versions = []
        for done, (tag, pairs) in enumerate(changed.items(), 1):
            versions.append((tag, _sign(session, desk, views[tag], pairs)))
            progress(done, len(changed))
        return Signed(planned=planned, versions=tuple(versions), left=tuple(left.items()))


def _changes(planned: Planned) -> dict[str, list[tuple[Track, Placed]]]:
    """Tag -> its gear whose address, or line, is to be another."""
    found: dict[str, list[tuple[Track, Placed]]] = {}
    for track, one in planned.placed:
        tag = planned.tag_of(one.item)
        if tag is not None and one.fate is not Fate.KEPT:
            found.setdefault(tag, []).append((track, one))
    return found


def _settled_plan(session: Session, asked: Asked, progress: Progress) -> tuple[Planned, dict[str, View], dict[str, str]]:
    """(plan, what is known of the luminaires that it changes, why others stay).

    Nothing is changed that may not be signed: what may not stays, and the rest is planned again around it.
    """
    stays: dict[str, str] = {}
    views: dict[str, View] = {}
    while True:
        planned = plan_in(session, asked, stays=stays, progress=progress)
        before = len(stays)
        for tag, pairs in _changes(planned).items():
            if tag not in views:
                views[tag] = view(session, tag)
            why = _why_not(views[tag], pairs)
            if why:
                track, one = pairs[0]
                stays[one.item.key if track.kind is Kind.LINE else one.item.key.rpartition(" ")[0]] = why
        if len(stays) == before:
            return planned, views, stays


def _why_not(seen: View, pairs: list[tuple[Track, Placed]]) -> str:
    try:
        require_settled(seen)
        require_rating(seen)
    except GearkeepError as problem:
        return problem.what.rstrip(".")
    if seen.provisional or carried_stops(seen):
        return PROVISIONAL
    serious = stops(check_gears(_changed(seen, pairs), seen.current_rating, line=seen.line, circuit=seen.circuit))
    return serious[0].says.rstrip(".") if serious else ""


def _changed(seen: View, pairs: list[tuple[Track, Placed]]) -> tuple[Gear, ...]:
    gears = list(seen.record.gears)
    for track, one in pairs:
        name = "short_address" if track.kind is Kind.LINE else "central_address"
        changed = set_values(gears[one.slot.gear], [(f"{one.slot.path}.{name}", str(one.address))])
        gears[one.slot.gear] = replace(changed, readback_digest=None)
    return tuple(gears)


def _refuse_moves(changed: dict[str, list[tuple[Track, Placed]]], move_set: bool) -> None:
    moved = [one for pairs in changed.values() for _, one in pairs if one.fate is Fate.MOVED]
    if moved and not move_set:
        raise GearkeepError(
            f"Nothing was signed. {len(moved)} gear have an address on record already, {moved[0].item.shown} the first of them, "
            "and would get another: their drivers, labels and the control system's list would all be wrong.", kind="would-move",
            hint="Leave --renumber out to keep what is set. If the line really is to be addressed anew, give --move-set as well, "
            "then set every driver, and print the labels again.")


def _refuse_clashes(changed: dict[str, list[tuple[Track, Placed]]]) -> None:
    clashing = [one for pairs in changed.values() for _, one in pairs if one.conflict]
    if clashing:
        raise GearkeepError(f"Nothing was signed. The address planned for {clashing[0].item.shown} stands twice or is set on "
                            "another line.", kind="stop", hint="See the plan without --sign.")


def _sign(session: Session, desk: Desk, seen: View, pairs: list[tuple[Track, Placed]]) -> int:
    line = next((track.name for track, _ in pairs if track.kind is Kind.LINE), seen.record.line)
    record = next_version(seen, desk, session, reason=Reason.SETTINGS_CHANGED, basis=Basis.STATED)
    record = replace(record, gears=_changed(seen, pairs), line=line, note=PLANNED)
    held = all_current(session, Said.LINE).get(line or "") if line != seen.record.line else seen.line
    findings = stops(check_gears(record.gears, seen.current_rating, line=held, circuit=seen.circuit))
    if findings:
        raise GearkeepError(f"Nothing was signed. {findings[0].says}", kind="stop", hint="See the plan without --sign.")
    session.append(Said.RECORD, record, desk.key())
    return record.version


__all__ = ["Signed", "sign_plan"]
