"""A driver is replaced: the spare is judged, read back, and the next version signed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from vault.actions.changes import Changed, gear_position, next_version, refuse_stops, said_of, sign_version
from vault.actions.desk import Desk
from vault.actions.fitting import Judged, candidates, judge
from vault.actions.luminaire import View, carried_stops, find_tag, full_gears, require_settled, view
from vault.actions.stock import move_stock, shelf_with
from vault.domain.findings import Finding, Severity
from vault.domain.readback import Comparison, compare, form, full_match, readback_digest, readback_findings
from vault.domain.record import Basis, ChangeClass, Reason
from vault.domain.settings import Gear
from vault.domain.stock import Act, MovementLine
from vault.domain.tag import to_bytes


@dataclass(frozen=True, slots=True, kw_only=True)
class Prepared:
    """A swap before it is done: the luminaire, the gear that died, the spare and the empty readback form."""

    seen: View
    gear: Gear
    judged: Judged
    form: dict[str, object]


@dataclass(frozen=True, slots=True, kw_only=True)
class Swapped:
    """A swap that was signed. stock_left: pieces of the spare's model left in its store, None without stock."""

    changed: Changed
    judged: Judged
    comparisons: tuple[Comparison, ...]
    matched: bool
    change_class: ChangeClass
    store: str | None
    stock_left: int | None


def prepare(desk: Desk, tag_text: str, *, spare: str, gear: str | None = None) -> Prepared:
    """What has to be known before anybody climbs: nothing is signed."""
    with desk.vault.reading() as session:
        seen = view(session, find_tag(session, tag_text))
        require_settled(seen)
        chosen = full_gears(seen.record)[gear_position(seen.record, gear)]
        judged = judge(session, seen, chosen, candidates(session, spare, False)[0])
    return Prepared(seen=seen, gear=chosen, judged=judged, form=form(chosen, fixed_window=judged.spare.fixed_window))


def _class_of(gear: Gear, spare: str, said: ChangeClass | None) -> ChangeClass:
    if said is not None:
        return said
    return ChangeClass.LIKE_FOR_LIKE if gear.model == spare else ChangeClass.APPROVED_EQUIVALENT


def _read_note(compared: tuple[Comparison, ...]) -> str | None:
    """What was read instead of the settings, in the record itself: whoever approves it approves this."""
    said = "; ".join(f"read {item.field} {item.found}" for item in compared if item.result == "differs")
    return f"{said[:57].rstrip()}…" if len(said) > 60 else said or None


def _modification() -> Finding:
    return Finding(rule="modification", severity=Severity.STOP, found="modification",
                   allowed="like-for-like or approved-equivalent, or a named approver",
                   source="common practice, no source",
                   says="A modification makes whoever does it answer for the luminaire; a second signer has to approve it.")


def swap(desk: Desk, tag_text: str, *, spare: str, serial: str | None, readback: Mapping[str, Mapping[str, object]],
         gear: str | None = None, store: str | None = None, bin_name: str | None = None, from_stock: bool = True,
         change_class: ChangeClass | None = None, allow_open: bool = False) -> Swapped:
    """Sign the version with the new driver and take the spare from stock, in one transaction.

    A spare that does not fit is refused unless allow_open. A readback that differs makes the version provisional:
    the driver is in the ceiling by then, and the record has to say so until a second signer approves.
    """
    with desk.vault.writing() as session:
        seen = view(session, find_tag(session, tag_text))
        require_settled(seen)
        position = gear_position(seen.record, gear)
        old = seen.record.gears[position]
        said = said_of(readback, old, len(seen.record.gears))
        full = full_gears(seen.record)[position]
        judged = judge(session, seen, full, candidates(session, spare, False)[0])
        refuse_stops(judged.fit.findings, allow_open)
        shelf = shelf_with(session, spare, store, bin_name) if from_stock else None
        compared = compare(full, said, spare_tolerance_permille=judged.spare.tolerance_permille,
                           fixed_window=judged.spare.fixed_window)
        kind = _class_of(old, spare, change_class)
        extra = [*judged.fit.findings, *readback_findings(compared)]
        if kind is ChangeClass.MODIFICATION:
            extra.append(_modification())
        fresh = replace(old, model=spare, serial=serial, readback_digest=readback_digest(said))
        record = next_version(seen, desk, session, reason=Reason.DRIVER_SWAP, basis=Basis.READ)
        gears = (*record.gears[:position], fresh, *record.gears[position + 1 :])
        record = replace(record, gears=gears, change_class=kind, note=_read_note(compared))
        # The new driver's fit and readback stand in for those of the old one; another gear's stay open.
        carried = carried_stops(seen) if len(gears) > 1 else frozenset()
        changed = sign_version(session, desk, seen, record, tuple(extra), True, carried)
        left = None
        if shelf is not None:
            line = MovementLine(model=spare, quantity=1, bin=shelf.bin or None, serial=serial, tag=to_bytes(seen.tag))
            left = move_stock(session, desk, act=Act.ISSUE, store=shelf.store, lines=(line,)).pieces[spare]
    return Swapped(changed=changed, judged=judged, comparisons=compared, matched=full_match(compared),
                   change_class=kind, store=shelf.store if shelf else None, stock_left=left)
