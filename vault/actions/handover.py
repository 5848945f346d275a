"""Handover: a schedule is checked row by row and one record signed for each good luminaire."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TypeAlias

from vault.actions.desk import Desk
from vault.actions.luminaire import all_current, carried_stops, view
from vault.db import queries
from vault.db.audit import Progress, quiet
from vault.db.session import Session
from vault.domain.addresses import AddressUse, check_addresses
from vault.domain.findings import Finding, Severity, stops
from vault.domain.limits import check_gears, place_of
from vault.domain.rating import Rating, essentials_of
from vault.domain.record import Baseline, Basis, Reason, Record, TypeRef
from vault.domain.schema import flatten, words
from vault.domain.settings import Gear
from vault.domain.site import Circuit, Line
from vault.domain.tag import shown, tag_from_bits, to_bytes
from vault.errors import GearkeepError
from vault.exchange.schedule import Rejected, Schedule, ScheduledLuminaire, read_schedule
from vault.trust.statements import Kind


@dataclass(frozen=True, slots=True, kw_only=True)
class Accepted:
    """One luminaire of the schedule that was signed, or would be. change: new, revised or unchanged.

    changes: (field, before, after) of a revised one.
    """

    reference: str
    tag: str
    version: int
    change: str
    provisional: bool
    changes: tuple[tuple[str, object, object], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class HandoverResult:
    """What became of a schedule. findings: (reference, finding) of accepted luminaires, worth knowing."""

    accepted: tuple[Accepted, ...]
    rejected: tuple[Rejected, ...]
    findings: tuple[tuple[str, Finding], ...]
    schedule: Schedule


# Addresses in use, by the line or the central circuit on which they have to be unique.
Uses: TypeAlias = dict[tuple[str, str], list[AddressUse]]


def places_of(use: AddressUse) -> list[tuple[str, str]]:
    """The line and the central circuit on which an address has to be unique."""
    found = [("line", use.where)] if use.short_address is not None else []
    return found + ([("circuit", use.central_circuit or "")] if use.central_address is not None else [])


def remember(uses: Uses, new: Iterable[AddressUse]) -> None:
    """Add addresses to those in use."""
    for use in new:
        for place in places_of(use):
            uses.setdefault(place, []).append(use)


@dataclass(slots=True)
class _Site:
    """The newest ratings, lines and circuits, with the digests that records name."""

    ratings: Mapping[str, Rating]
    lines: Mapping[str, Line]
    circuits: Mapping[str, Circuit]
    digests: Mapping[str, bytes]
    uses: Uses = field(default_factory=dict)


def _site(session: Session) -> _Site:
    digests = {row.name: row.digest for row in queries.catalogue(session, Kind.RATING)}
    return _Site(ratings=all_current(session, Kind.RATING), lines=all_current(session, Kind.LINE),
                 circuits=all_current(session, Kind.CIRCUIT), digests=digests)


def new_tag(session: Session, random_bits: Callable[[int], int], taken: set[str]) -> str:
    """A tag that this vault has never issued and whose check character is one that a label may show."""
    for _ in range(1000):
        tag = tag_from_bits(random_bits(40))
        if tag is not None and tag not in taken and not queries.versions_of(session, tag):
            return tag
    raise GearkeepError("No free tag was found in 1000 tries.", hint="Try again.", kind="no-tag")


def address_uses(reference: str, line: str | None, gears: Iterable[Gear]) -> list[AddressUse]:
    """Every bus or central address that the gear of a luminaire occupies."""
    found = []
    for gear in gears:
        controls = [c.control for c in gear.settings.channels] + [gear.settings.control]
        for control in controls:
            if control is None:
                continue
            short = control.short_address if isinstance(control.short_address, int) else None
            central = control.central_address if isinstance(control.central_address, int) else None
            if short is not None or central is not None:
                found.append(AddressUse(tag_shown=reference, where=line or "", short_address=short,
                                        central_circuit=control.central_circuit, central_address=central))
    return found


# The schedule's column that a rule speaks of; a rule that speaks of several names itself.
_COLUMN = {
    "current-permitted": "current_ma", "current-tolerance": "current_ma", "voltage-window": "voltage_max_v",
    "constant-voltage": "voltage_v", "power": "power_w", "protocol": "control", "duty": "gear", "levels": "min_level",
    "address": "address", "central-address": "central_address", "emergency-mode": "emergency_mode",
    "emergency-supply": "emergency_supply", "emergency-duration": "duration_min",
    "emergency-current": "emergency_current_ma", "emergency-power": "emergency_power_w",
}


def _reject(item: ScheduledLuminaire, findings: Iterable[Finding]) -> list[Rejected]:
    rejected = []
    for finding in findings:
        of = [row for row, gear in zip(item.rows, item.gears, strict=False) if finding.where.startswith(place_of(gear))]
        rejected.append(Rejected(
            row=(of or list(item.rows))[0], column=_COLUMN.get(finding.rule, finding.rule), value=finding.found,
            problem=finding.says, allowed=f"{finding.allowed} {finding.unit}".strip()))
    return rejected


def _existing_uses(session: Session, replaced: set[str]) -> Uses:
    """Addresses in use by luminaires that the schedule does not speak of."""
    uses: Uses = {}
    for row in queries.head_rows(session):
        if row.reason == Reason.RETIRED or (row.reference or "") in replaced:
            continue
        record: Record = session.statement(row.seq).body
        remember(uses, address_uses(shown(row.tag), row.line, record.gears))
    return uses


def _last_handed_over(session: Session, tag: str) -> Record | None:
    rows = [row for row in queries.versions_of(session, tag) if row.reason in (Reason.HANDOVER, Reason.CORRECTION)]
    if not rows:
        return None
    body: Record = session.statement(rows[-1].seq).body
    return body


def _content(place: str, line: str | None, circuit: str | None, type_code: str, gears: Iterable[Gear]) -> dict[str, object]:
    flat: dict[str, object] = {"place": place, "line": line, "circuit": circuit, "type": type_code}
    for gear in gears:
        flat |= {f"{words(gear.duty)}.{name.removeprefix('settings.')}": value
                 for name, value in flatten(gear).items() if name != "readback_digest"}
    return flat


def _differences(record: Record | None, item: ScheduledLuminaire) -> tuple[tuple[str, object, object], ...]:
    """(field, before, after) of a row against what was handed over; nothing for a new luminaire."""
    if record is None:
        return ()
    was = _content(record.place, record.line, record.circuit, record.fixture_type.code, record.gears)
    now = _content(item.place, item.line, item.circuit, item.type_code, item.gears)
    return tuple((name, was.get(name), now.get(name)) for name in dict.fromkeys([*was, *now]) if was.get(name) != now.get(name))


@dataclass(slots=True)
class _Pass:
    """One pass over a schedule inside one transaction."""

    desk: Desk
    session: Session
    site: _Site
    allow_open: bool
    sign: bool
    accepted: list[Accepted] = field(default_factory=list)
    rejected: list[Rejected] = field(default_factory=list)
    findings: list[tuple[str, Finding]] = field(default_factory=list)
    tags: set[str] = field(default_factory=set)

    def take(self, item: ScheduledLuminaire) -> None:
        rating = self.site.ratings[item.type_code]
        line = self.site.lines.get(item.line or "")
        circuit = self.site.circuits.get(item.circuit or "")
        findings = list(check_gears(item.gears, rating, line=line, circuit=circuit))
        uses = address_uses(item.reference, item.line, item.gears)
        others = [u for use in uses for key in places_of(use) for u in self.site.uses.get(key, [])]
        findings += check_addresses(uses, others, lines=self.site.lines, circuits=self.site.circuits)
        serious = stops(findings)
        if serious and not self.allow_open:
            self.rejected += _reject(item, serious)
            return
        tags = queries.tags_for_reference(self.session, item.reference)
        if len(tags) > 1:
            self.rejected.append(Rejected(
                row=item.rows[0], column="reference", value=item.reference,
                problem="Two luminaires in the vault bear this reference: " + " and ".join(map(shown, tags)) + ".",
                allowed="one luminaire for each reference; revise them by tag"))
            return
        remember(self.site.uses, uses)
        self.findings += [(item.reference, f) for f in findings if f.severity is not Severity.NOTE]
        self._record(item, rating, tags[0] if tags else None, {f.rule for f in serious})

    def _record(self, item: ScheduledLuminaire, rating: Rating, tag: str | None, stop_names: set[str]) -> None:
        last = _last_handed_over(self.session, tag) if tag else None
        if tag and last and not _differences(last, item):
            version = queries.versions_of(self.session, tag)[-1].version
            self._note(item, tag, version, "unchanged", False)
            return
        rows = queries.head_rows(self.session, tag=tag) if tag else []
        if any(row.reason == Reason.RETIRED for row in rows) or len(rows) > 1:
            self.rejected.append(Rejected(row=item.rows[0], column="reference", value=item.reference,
                                          problem=f"{shown(tag or '')} is retired or has two newest versions.",
                                          allowed="a luminaire in service; give a new one a new reference"))
            return
        if tag and rows and last is None:
            head: Record = self.session.statement(rows[0].seq).body
            if not _differences(head, item):
                self._note(item, tag, head.version, "unchanged", False)
                return
            self.rejected.append(Rejected(
                row=item.rows[0], column="reference", value=item.reference,
                problem=f"The row differs from version {head.version} of {shown(tag)}, and the version that was handed over is "
                        "not in this vault; signing the row could undo a signed change.",
                allowed="the luminaire as it stands; make this change with gearkeep revise or move"))
            return
        if last and rows and rows[0].version != last.version:
            self.rejected.append(Rejected(
                row=item.rows[0], column="reference", value=item.reference,
                problem=f"The row differs from what was handed over, and {shown(tag or '')} was changed since (version "
                        f"{rows[0].version}, {words(Reason(rows[0].reason))}); signing the row would undo that.",
                allowed="the row as it was handed over; make this change with gearkeep revise or move"))
            return
        version = rows[0].version + 1 if rows else 1
        used = tag or new_tag(self.session, self.desk.random_bits, self.tags)
        self.tags.add(used)
        names = stop_names | (carried_stops(view(self.session, used)) if rows else set())
        open_names = " ".join(sorted(names)) or None
        if self.sign:
            body = Record(
                tag=to_bytes(used), version=version, predecessors=rows[0].digest[:16] if rows else None,
                fixture_type=TypeRef(code=rating.code, revision=rating.revision,
                                     digest=self.site.digests[rating.code][:8]),
                essentials=essentials_of(rating), time_s=self.desk.now_s(),
                reason=Reason.CORRECTION if rows else Reason.HANDOVER, basis=Basis.STATED,
                baseline=Baseline.NOT_RECORDED, place=item.place, line=item.line, circuit=item.circuit,
                reference=item.reference, gears=item.gears, open_stops=open_names)
            self.session.append(Kind.RECORD, body, self.desk.key())
        self._note(item, used, version, "revised" if rows else "new", open_names is not None, _differences(last, item))

    def _note(self, item: ScheduledLuminaire, tag: str, version: int, change: str, provisional: bool,
              changes: tuple[tuple[str, object, object], ...] = ()) -> None:
        self.accepted.append(Accepted(reference=item.reference, tag=tag, version=version, change=change,
                                      provisional=provisional, changes=changes))


def hand_over(desk: Desk, path: Path, *, mapping: Mapping[str, str] | None = None, preview: bool = False,
              allow_open: bool = False, progress: Progress = quiet) -> HandoverResult:
    """Check a schedule and sign its good luminaires in one transaction.

    preview signs nothing. allow_open signs rows with open stops as provisional. The same file twice adds nothing;
    a corrected row revises its luminaire (found by its drawing reference).
    """
    if not preview:
        desk.key()
    with desk.vault.reading() if preview else desk.vault.writing() as session:
        site = _site(session)
        schedule = read_schedule(path, ratings=site.ratings, lines=site.lines, circuits=site.circuits, mapping=mapping)
        site.uses = _existing_uses(session, {item.reference for item in schedule.luminaires})
        run = _Pass(desk, session, site, allow_open, sign=not preview)
        for number, item in enumerate(schedule.luminaires, 1):
            run.take(item)
            progress(number, len(schedule.luminaires))
    rejected = sorted([*schedule.rejected, *run.rejected], key=lambda r: (r.row, r.column))
    return HandoverResult(accepted=tuple(run.accepted), rejected=tuple(rejected), findings=tuple(run.findings),
                          schedule=schedule)


