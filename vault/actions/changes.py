"""Changes to one luminaire: new settings, a new place, the end of its life, an approval."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from vault.actions.desk import Desk
from vault.actions.handover_addresses import address_uses
from vault.actions.label_copies import HeldLabel
from vault.actions.luminaire import (
    View,
    all_current,
    carried_stops,
    find_tag,
    require_in_service,
    require_rating,
    require_settled,
    view,
)
from vault.db import queries
from vault.db.heads import heads_near
from vault.db.session import Session
from vault.domain.addresses import check_addresses
from vault.domain.findings import Finding, stops
from vault.domain.label_life import State
from vault.domain.limits import check_gears
from vault.domain.rating import essentials_of
from vault.domain.readback import compare, readback_digest, readback_findings
from vault.domain.record import Basis, ChangeClass, Reason, Record, TypeRef
from vault.domain.schema import words
from vault.domain.settings import Gear
from vault.domain.tag import from_bytes, shown, to_bytes
from vault.errors import GearkeepError, UsageProblem
from vault.exchange.assign import set_values
from vault.exchange.readback_file import ONLY_GEAR, Readback
from vault.trust.statements import Approval, Kind, LabelCopy, LabelPlaced, LabelWithdrawal


@dataclass(frozen=True, slots=True, kw_only=True)
class Changed:
    """A new version: its number, the findings about it, and what a second signer must still accept.

    accepted: what an approval accepts.
    """

    tag: str
    version: int
    findings: tuple[Finding, ...]
    open_stops: frozenset[str]
    accepted: frozenset[str] = frozenset()


def refuse_stops(findings: tuple[Finding, ...], allow_open: bool) -> None:
    """Raises GearkeepError (kind stop) naming the first stop, unless the signer asked for a provisional record."""
    serious = stops(findings)
    if serious and not allow_open:
        said = " ".join(finding.says for finding in serious)
        raise GearkeepError(f"Nothing was signed. {said}", kind="stop",
                            hint="Correct it, or sign it as provisional with --provisional and have it approved.")


def neighbours_findings(session: Session, record: Record) -> tuple[Finding, ...]:
    """Findings about the addresses of a record against everything else on its line and circuits."""
    uses = address_uses(shown_of(record), record.line, record.gears)
    others = []
    # Only those on the record's own line and circuits can stand in its way.
    circuits = {use.central_circuit for use in uses if use.central_circuit is not None}
    near = heads_near(session, lines=[record.line] if record.line else [], central_circuits=sorted(circuits)) if uses else []
    for row in near:
        if row.reason != Reason.RETIRED and to_bytes(row.tag) != record.tag:
            held: Record = queries.record_at(session, row).body
            others += address_uses(shown(row.tag), row.line, held.gears)
    return tuple(check_addresses(uses, others, lines=all_current(session, Kind.LINE),
                                 circuits=all_current(session, Kind.CIRCUIT)))


def shown_of(record: Record) -> str:
    """The record's tag as people read it."""
    return shown(from_bytes(record.tag))


def next_version(seen: View, desk: Desk, session: Session, *, reason: Reason, basis: Basis) -> Record:
    """The successor of every head, bound to the newest rating, with nothing changed yet.

    Raises GearkeepError (no-rating) when the vault lacks the type's rating.
    """
    require_rating(seen)
    digests = {row.revision: row.digest for row in queries.catalogue(session, Kind.RATING, seen.current_rating.code)}
    rating = seen.current_rating
    return replace(
        seen.record, version=1 + max(head.version for head in seen.heads),
        predecessors=b"".join(sorted(digest[:16] for digest in seen.head_digests)), reason=reason, basis=basis,
        time_s=desk.now_s(), open_stops=None, change_class=None, essentials=essentials_of(rating),
        fixture_type=TypeRef(code=rating.code, revision=rating.revision, digest=digests[rating.revision][:8]))


def sign_version(session: Session, desk: Desk, seen: View, record: Record, extra: tuple[Finding, ...],
                 allow_open: bool, carried: frozenset[str] | None = None) -> Changed:
    """Check a successor against its rating and its neighbours, and sign it.

    carried: stops of the version before that stay open (None: all that only an approval lifts).
    """
    line = all_current(session, Kind.LINE).get(record.line or "")
    circuit = all_current(session, Kind.CIRCUIT).get(record.circuit or "")
    findings = (*extra, *check_gears(record.gears, seen.current_rating, line=line, circuit=circuit),
                *neighbours_findings(session, record))
    refuse_stops(findings, allow_open)
    open_names = {finding.rule for finding in stops(findings)} | (carried_stops(seen) if carried is None else carried)
    session.append(Kind.RECORD, replace(record, open_stops=" ".join(sorted(open_names)) or None), desk.key())
    return Changed(tag=seen.tag, version=record.version, findings=findings, open_stops=frozenset(open_names))


def _with_changes(gears: tuple[Gear, ...], position: int, changes: Mapping[str, str]) -> tuple[Gear, ...]:
    gear = set_values(gears[position], list(changes.items()))
    return (*gears[:position], replace(gear, readback_digest=None), *gears[position + 1 :])


def gear_position(record: Record, duty: str | None) -> int:
    """Index of the gear with that duty (None: the first). Raises UsageProblem naming the duties there are."""
    if duty is None:
        return 0
    for number, gear in enumerate(record.gears):
        if words(gear.duty) == duty:
            return number
    there = ", ".join(words(gear.duty) for gear in record.gears)
    raise UsageProblem(f"The luminaire has no {duty} gear.", hint=f"It has: {there}.", kind="no-gear")


def revise(desk: Desk, tag_text: str, *, changes: Mapping[str, str], gear: str | None = None,
           readback: Readback | Mapping[str, Mapping[str, object]] | None = None, resolve: bool = False, note: str | None = None,
           allow_open: bool = False) -> Changed:
    """Sign the next version with changed settings; with resolve, the version that settles two heads by a readback."""
    with desk.vault.writing() as session:
        seen = view(session, find_tag(session, tag_text))
        if resolve:
            said = gears_read(readback, seen) if readback is not None else None
            return _resolve(desk, session, seen, changes, gear, said, allow_open)
        require_settled(seen)
        if not changes:
            raise UsageProblem("Nothing to change was named.", hint="Give --set channels.1.current_ma=650 or the like.")
        position = gear_position(seen.record, gear)
        record = next_version(seen, desk, session, reason=Reason.SETTINGS_CHANGED, basis=Basis.STATED)
        record = replace(record, gears=_with_changes(record.gears, position, changes), note=note)
        if record.gears == seen.record.gears:
            raise UsageProblem("That is what it is set to already.", kind="unchanged")
        return sign_version(session, desk, seen, record, (), allow_open)


def gears_read(readback: Readback | Mapping[str, Mapping[str, object]], seen: View) -> Mapping[str, Mapping[str, object]]:
    """What a readback says of each gear. Raises GearkeepError: other-luminaire, other-version, for one of something else."""
    if not isinstance(readback, Readback):
        return readback
    if readback.tag is not None and readback.tag != seen.tag:
        raise GearkeepError(f"The readback was read from {shown(readback.tag)}, not from {shown(seen.tag)}. Nothing was signed.",
                            kind="other-luminaire", hint="Give the readback of this luminaire.")
    newest = sorted({head.version for head in seen.heads})
    if readback.version is not None and readback.version not in newest:
        raise GearkeepError(
            f"The readback was read against version {readback.version} of {shown(seen.tag)}; the newest is version {newest[-1]}. "
            "Nothing was signed.", kind="other-version",
            hint="Look at what was changed: gearkeep history TAG. Then read the driver again.")
    return readback.gears


def said_of(readback: Mapping[str, Mapping[str, object]], gear: Gear, gear_count: int) -> Mapping[str, object]:
    """What a readback says of one gear. Raises UsageProblem when it speaks of others only.

    A file that names no gear counts where the luminaire has one.
    """
    duty = words(gear.duty)
    if gear_count == 1 and ONLY_GEAR in readback:
        return readback[ONLY_GEAR]
    if duty not in readback:
        named = ", ".join(sorted(name for name in readback if name)) or "no gear by name"
        raise UsageProblem(f"The readback says nothing of the {duty} gear.", kind="no-readback",
                           hint=f"It speaks of {named}. Name the gear in the file, as in the form that swap --form writes.")
    return readback[duty]


# Found anew whenever every gear is read back.
_READBACK_RULES = frozenset({"readback-differs", "readback-not-read"})


def _resolve(desk: Desk, session: Session, seen: View, changes: Mapping[str, str], gear: str | None,
             readback: Mapping[str, Mapping[str, object]] | None, allow_open: bool) -> Changed:
    if len(seen.heads) < 2:
        raise UsageProblem(f"{shown(seen.tag)} has one newest version; there is nothing to settle.", kind="no-conflict")
    if not readback:
        raise UsageProblem("Two versions are settled by what the driver says, so a readback is needed.",
                           kind="no-readback", hint="Read the driver and give --readback FILE.")
    position = gear_position(seen.record, gear)
    record = next_version(seen, desk, session, reason=Reason.CONFLICT_RESOLVED, basis=Basis.READ)
    gears = _with_changes(record.gears, position, changes)
    extra: list[Finding] = []
    checked = []
    for item in gears:
        said = said_of(readback, item, len(gears))
        compared = compare(item, said, spare_tolerance_permille=None)
        extra += readback_findings(compared)
        checked.append(replace(item, readback_digest=readback_digest(said)))
    record = replace(record, gears=tuple(checked))
    return sign_version(session, desk, seen, record, tuple(extra), allow_open, carried_stops(seen) - _READBACK_RULES)


def move(desk: Desk, tag_text: str, *, place: str, line: str | None, circuit: str | None, address: str | None,
         allow_open: bool = False) -> Changed:
    """The luminaire hangs elsewhere now; line, circuit and address change only where given."""
    with desk.vault.writing() as session:
        seen = view(session, find_tag(session, tag_text))
        require_in_service(seen)
        for kind, name in ((Kind.LINE, line), (Kind.CIRCUIT, circuit)):
            known = all_current(session, kind)
            if name is not None and name not in known:
                raise UsageProblem(f"The vault does not know the {kind.name.lower()} {name}.", kind="not-found",
                                   hint=f"It knows {', '.join(known) or 'none'}; load others first.")
        record = next_version(seen, desk, session, reason=Reason.MOVED, basis=Basis.STATED)
        gears = record.gears
        if address is not None:
            gears = _with_changes(gears, 0, {"control.short_address": _as_on_bus(session, line or record.line, address)})
        record = replace(record, place=place, line=line or record.line, circuit=circuit or record.circuit, gears=gears)
        return sign_version(session, desk, seen, record, (), allow_open)


def _as_on_bus(session: Session, line: str | None, address: str) -> str:
    known = all_current(session, Kind.LINE).get(line or "")
    if known is None:
        raise UsageProblem(f"The vault does not know the line {line!r}.", kind="not-found",
                           hint="Load it first with: gearkeep line load FILE.")
    if not address.isdecimal():
        raise UsageProblem(f"{address!r} is no address.", hint="Give a whole number as the site writes it.")
    return str(int(address) - known.addresses_from)


def retire(desk: Desk, tag_text: str, *, because: str) -> Changed:
    """The luminaire is gone for good; its labels are withdrawn in the same step."""
    with desk.vault.writing() as session:
        seen = view(session, find_tag(session, tag_text))
        require_in_service(seen)
        record = replace(next_version(seen, desk, session, reason=Reason.RETIRED, basis=Basis.STATED), note=because)
        session.append(Kind.RECORD, record, desk.key())
        standing = [label.copy for label in seen.labels if not label.withdrawn]
        if standing:
            copies = tuple(LabelCopy(tag=to_bytes(seen.tag), copy=copy) for copy in standing)
            session.append(Kind.LABEL_WITHDRAWAL,
                           LabelWithdrawal(time_s=desk.now_s(), reason="luminaire retired", labels=copies), desk.key())
        return Changed(tag=seen.tag, version=record.version, findings=(), open_stops=frozenset())


def placed(desk: Desk, tag_text: str, copy: int | None = None) -> int:
    """Somebody saw a label on the housing (None: the newest copy); returns the copy's number.

    Raises UsageProblem: no-label when that copy was never printed, not-current when it counts no more.
    """
    with desk.vault.writing() as session:
        seen = view(session, find_tag(session, tag_text))
        label = _label_to_place(seen, copy)
        if not label.placed or label.elsewhere or label.life.perhaps_at:
            body = LabelPlaced(time_s=desk.now_s(), labels=(LabelCopy(tag=to_bytes(seen.tag), copy=label.copy),))
            session.append(Kind.LABEL_PLACED, body, desk.key())
        return label.copy


def _label_to_place(seen: View, copy: int | None) -> HeldLabel:
    standing = [label for label in seen.labels if label.state in (State.ISSUED, State.PLACED)]
    if not standing:
        raise UsageProblem(f"{shown(seen.tag)} has no label that counts." if seen.labels else
                           f"No label was ever printed for {shown(seen.tag)}.", kind="no-label",
                           hint="Print one with: gearkeep label TAG --out FILE.")
    if copy is None:
        return standing[-1]
    found = next((label for label in seen.labels if label.copy == copy), None)
    numbers = ", ".join(str(label.copy) for label in standing)
    if found is None:
        raise UsageProblem(f"{shown(seen.tag)} has no label copy {copy}.", kind="no-label", hint=f"It has: {numbers}.")
    if found not in standing:
        raise UsageProblem(f"Label copy {copy} of {shown(seen.tag)} was {found.state.value} and counts no more.",
                           kind="not-current", hint=f"Take it off. What counts: copy {numbers}.")
    return found


def approve(desk: Desk, tag_text: str, *, accepts: frozenset[str] | None, change_class: ChangeClass,
            because: str) -> Changed:
    """A second signer accepts open stops of the newest version (None: all of them)."""
    with desk.vault.writing() as session:
        seen = view(session, find_tag(session, tag_text))
        if not seen.open_stops:
            raise UsageProblem(f"{shown(seen.tag)} has nothing open to approve.", kind="nothing-open")
        wanted = accepts or seen.open_stops
        unknown = wanted - seen.open_stops
        if unknown:
            raise UsageProblem(f"{', '.join(sorted(unknown))} is not open on {shown(seen.tag)}.", kind="not-open",
                               hint=f"Open are: {', '.join(sorted(seen.open_stops))}.")
        body = Approval(record_digest=seen.statement.digest, accepts=" ".join(sorted(wanted)),
                        change_class=change_class, because=because, time_s=desk.now_s())
        session.append(Kind.APPROVAL, body, desk.key())
        return Changed(tag=seen.tag, version=seen.record.version, findings=seen.findings,
                       open_stops=seen.open_stops - wanted, accepted=frozenset(wanted))
