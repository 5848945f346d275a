"""Handover: a schedule is checked row by row and one record signed for each good luminaire."""

from __future__ import annotations

import gc
from collections.abc import Iterable, Iterator, Set
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

from vault.actions.desk import Desk
from vault.actions.handover_addresses import AddressBook, address_uses, remember_others
from vault.actions.handover_reading import look
from vault.actions.handover_result import Accepted, Changes, HandoverResult
from vault.actions.handover_site import Known, Site
from vault.db.audit import Progress, quiet
from vault.db.bulk import append_many
from vault.db.heads import lots
from vault.db.queries import RecordRow
from vault.domain.findings import Finding, Severity, stops
from vault.domain.grouped_checks import GroupedChecks
from vault.domain.limits import place_of
from vault.domain.rating import Rating
from vault.domain.record import Baseline, Basis, Reason, Record
from vault.domain.schema import flatten, words
from vault.domain.settings import Gear
from vault.domain.tag import shown, to_bytes
from vault.errors import UsageProblem
from vault.exchange.schedule import OpenSchedule, Rejected, ScheduledLuminaire
from vault.exchange.schedule_mapping import ScheduleMapping
from vault.exchange.schedule_translation import Translation
from vault.trust.statements import Kind

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
    for finding in sorted(findings, key=lambda one: one.severity is not Severity.STOP):
        of = [row for row, gear in zip(item.rows, item.gears, strict=False) if finding.where.startswith(place_of(gear))]
        rejected.append(Rejected(
            row=(of or list(item.rows))[0], column=_COLUMN.get(finding.rule, finding.rule), value=finding.found,
            problem=finding.says, allowed=f"{finding.allowed} {finding.unit}".strip()))
    return rejected


def _content(place: str, line: str | None, circuit: str | None, type_code: str, gears: Iterable[Gear]) -> dict[str, object]:
    flat: dict[str, object] = {"place": place, "line": line, "circuit": circuit, "type": type_code}
    for gear in gears:
        flat |= {f"{words(gear.duty)}.{name.removeprefix('settings.')}": value
                 for name, value in flatten(gear).items() if name != "readback_digest"}
    return flat


def _differences(record: Record, item: ScheduledLuminaire) -> Changes:
    """(field, before, after) of a row against what was handed over."""
    was = _content(record.place, record.line, record.circuit, record.fixture_type.code, record.gears)
    now = _content(item.place, item.line, item.circuit, item.type_code, item.gears)
    return tuple((name, was.get(name), now.get(name)) for name in dict.fromkeys([*was, *now]) if was.get(name) != now.get(name))


@dataclass(slots=True)
class _Pass:
    """One pass over a schedule inside one transaction."""

    desk: Desk
    site: Site
    known: Known
    book: AddressBook
    allow_open: bool
    accepted: list[Accepted] = field(default_factory=list)
    rejected: list[Rejected] = field(default_factory=list)
    findings: list[tuple[str, Finding]] = field(default_factory=list)
    checks: GroupedChecks = field(default_factory=GroupedChecks)

    def records(self, schedule: OpenSchedule, progress: Progress) -> Iterator[Record]:
        """What has to be signed, in the schedule's order; the rest is noted as accepted or rejected on the way."""
        done = 0
        for some in lots(schedule.luminaires()):
            self.known.look_ahead([item.reference for item in some if item is not None], left=len(schedule) - done)
            for item in some:
                record = self._take(item) if item is not None else None
                if record is not None:
                    yield record
                done += 1
                progress(done, len(schedule))

    def _take(self, item: ScheduledLuminaire) -> Record | None:
        rating = self.site.ratings[item.type_code]
        line = self.site.lines.get(item.line) if item.line else None
        circuit = self.site.circuits.get(item.circuit) if item.circuit else None
        uses = address_uses(item.reference, item.line, item.gears)
        findings = (*self.checks.findings(item.gears, rating, line=line, circuit=circuit), *self.book.findings(uses))
        serious = stops(findings) if findings else ()
        if serious and not self.allow_open:
            self.rejected += _reject(item, serious)
            return None
        tags = self.known.tags(item.reference)
        if len(tags) > 1:
            self._refuse(item, "Two luminaires in the vault bear this reference: " + " and ".join(map(shown, tags)) + ".",
                         "one luminaire for each reference; revise them by tag")
            return None
        self.book.remember(uses)
        if findings:
            self.findings += [(item.reference, f) for f in findings if f.severity is not Severity.NOTE]
        names = {f.rule for f in serious}
        if tags:
            return self._revised(item, rating, tags[0], names)
        return self._record(item, rating, *self.known.new_tag(), None, names, ())

    def _revised(self, item: ScheduledLuminaire, rating: Rating, tag: str, stop_names: Set[str]) -> Record | None:
        """The next version of a luminaire that the vault knows, if there is one to be signed."""
        rows, versions = self.known.heads(tag), self.known.versions(tag)
        last = self.known.last_handed_over(tag)
        if last and not _differences(last, item):
            self._note(item, tag, versions[-1].version, "unchanged", False)
            return None
        if any(row.reason == Reason.RETIRED for row in rows) or len(rows) > 1:
            self._refuse(item, f"{shown(tag)} is retired or has two newest versions.",
                         "a luminaire in service; give a new one a new reference")
            return None
        head = rows[0]
        if (last is None or head.version != last.version) and not _differences(self.known.body(head), item):
            # A list of what hangs there now, such as our own as-built table.
            self._note(item, tag, head.version, "unchanged", False)
            return None
        if last is None:
            self._refuse(
                item, f"The row differs from version {head.version} of {shown(tag)}, and the version that was handed over is "
                "not in this vault; signing the row could undo a signed change.",
                "the luminaire as it stands; make this change with gearkeep revise or move")
            return None
        if head.version != last.version:
            self._refuse(
                item, f"The row differs from what was handed over, and {shown(tag)} was changed since (version "
                f"{head.version}, {words(Reason(head.reason))}); signing the row would undo that.",
                "the row as it was handed over; make this change with gearkeep revise or move")
            return None
        return self._record(item, rating, tag, to_bytes(tag), head, stop_names | self.known.carried_stops(tag),
                            _differences(last, item))

    def _record(self, item: ScheduledLuminaire, rating: Rating, tag: str, tag_bytes: bytes, head: RecordRow | None,
                stop_names: Set[str], changes: Changes) -> Record:
        open_names = " ".join(sorted(stop_names)) or None
        fixture_type, essentials = self.site.type_of(rating)
        version = head.version + 1 if head else 1
        self._note(item, tag, version, "revised" if head else "new", open_names is not None, changes)
        return Record(
            tag=tag_bytes, version=version, predecessors=head.digest[:16] if head else None, fixture_type=fixture_type,
            essentials=essentials, time_s=self.desk.now_s(), reason=Reason.CORRECTION if head else Reason.HANDOVER,
            basis=Basis.STATED, baseline=Baseline.NOT_RECORDED, place=item.place, line=item.line, circuit=item.circuit,
            reference=item.reference, gears=item.gears, open_stops=open_names)

    def _refuse(self, item: ScheduledLuminaire, problem: str, allowed: str) -> None:
        self.rejected.append(Rejected(row=item.rows[0], column="reference", value=item.reference, problem=problem,
                                      allowed=allowed))

    def _note(self, item: ScheduledLuminaire, tag: str, version: int, change: str, provisional: bool,
              changes: Changes = ()) -> None:
        self.accepted.append(Accepted(reference=item.reference, tag=tag, version=version, change=change,
                                      provisional=provisional, changes=changes))


@contextmanager
def uncollected() -> Iterator[None]:
    """Without the collector of cyclic garbage, which would walk over every row that is held, again and again."""
    was = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was:
            gc.enable()


def hand_over(desk: Desk, source: Path | Translation, *, mapping: ScheduleMapping | None = None,
              preview: bool = False, allow_open: bool = False, progress: Progress = quiet) -> HandoverResult:
    """Check a schedule and sign its good luminaires in one transaction.

    source: a file, or what `handover_reading.look` made of it. mapping: for a file.
    preview signs nothing; nor is anything signed while the file leaves a question open. allow_open signs rows with open
    stops as provisional. The same file twice adds nothing; a corrected row revises its luminaire (found by its reference).
    """
    if not preview:
        desk.key()
    if isinstance(source, Path):
        source = look(desk, source, mapping=mapping)
        if source.questions and not preview:
            many = len(source.questions)
            raise UsageProblem(f"{source.path.name} leaves {many} {'question' if many == 1 else 'questions'} open; "
                               "nothing was signed.",
                               hint="; ".join(question.says for question in source.questions), kind="open-questions")
    blocked = bool(source.questions)
    with uncollected(), desk.vault.reading() if preview or blocked else desk.vault.writing() as session:
        site = Site(session)
        opened = source.opened(ratings=site.ratings, lines=site.lines, circuits=site.circuits)
        run = _Pass(desk=desk, site=site, known=Known(session, opened.references, desk.random_bits),
                    book=AddressBook(site.lines, site.circuits), allow_open=allow_open)
        remember_others(session, opened, run.book)
        records = run.records(opened, progress) if preview or not blocked else iter(())
        for _ in records if preview or blocked else append_many(session, Kind.RECORD, records, desk.key()):
            pass
    schedule = opened.closed()
    rejected = source.retold([*schedule.rejected, *run.rejected])
    findings = [*run.findings, *source.findings_of(one.reference for one in run.accepted)]
    return HandoverResult(accepted=tuple(run.accepted), rejected=tuple(sorted(rejected, key=lambda r: (r.row, r.column))),
                          findings=tuple(findings), schedule=schedule, translation=source, kin=source.kin_of(schedule))


__all__ = ["address_uses", "hand_over"]
