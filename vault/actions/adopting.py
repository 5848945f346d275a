"""Adoption: luminaires that were taken over become ours, each by a version 1 of our own under a new tag."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace

from vault.actions.desk import Desk
from vault.actions.handover_addresses import AddressBook, address_uses
from vault.actions.handover_site import Site
from vault.actions.held_rating import missing_line
from vault.actions.looking import locate
from vault.actions.luminaire import View, view
from vault.actions.origins import Taken, taken_of
from vault.db import queries, taken
from vault.db.bulk import append_many
from vault.db.heads import heads_near
from vault.db.session import Session
from vault.db.taken import TakenLog
from vault.db.taken_mirror import mirror_of
from vault.domain.findings import Finding, Severity, stops
from vault.domain.limits import check_gears
from vault.domain.rating import Rating
from vault.domain.record import Reason, Record, TakenFrom
from vault.domain.schema import flatten
from vault.domain.settings import Gear
from vault.domain.tag import TAG_BYTES, shown, tag_from_bits, to_bytes
from vault.errors import GearkeepError, UsageProblem
from vault.trust.statements import Kind

Progress = Callable[[int, int], None]
MOST_TRIES = 1000


@dataclass(frozen=True, slots=True, kw_only=True)
class Adopted:
    """One luminaire that is ours now. tag: the new one. findings: what differs here, worth knowing."""

    taken: Taken
    tag: str
    place: str
    provisional: bool
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Left:
    """One that was not adopted. kind: adopted-before, retired, conflict, frozen, no-rating, stops, or a failure class."""

    taken: Taken
    kind: str
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class AdoptionResult:
    """What became of the luminaires asked for, in order of log and tag."""

    adopted: tuple[Adopted, ...]
    skipped: tuple[Left, ...]
    refused: tuple[Left, ...]


def adopt(desk: Desk, texts: Sequence[str], *, everything: bool = False, progress: Progress = lambda _done, _total: None,
          ) -> AdoptionResult:
    """Sign a version 1 for each luminaire named (TAG@LOG), or for all that were taken over; one transaction.

    One that was adopted before is skipped; one that is retired, in conflict, frozen, or that our rating of its type stops is
    refused, each with its reason, and the others are adopted all the same. Raises GearkeepError: not-found, taken names that
    mean nothing; UsageProblem (nothing-taken) where nothing was ever imported.
    """
    key = desk.key()
    with desk.vault.writing() as session:
        asked = _asked(session, texts, everything)
        run = _Pass(desk=desk, session=session, site=Site(session))
        for _ in append_many(session, Kind.RECORD, run.records(asked, progress), key):
            pass
    return AdoptionResult(adopted=tuple(run.adopted), skipped=tuple(run.skipped), refused=tuple(run.refused))


def _asked(session: Session, texts: Sequence[str], everything: bool) -> list[tuple[TakenLog, list[str]]]:
    logs = taken.taken_logs(session)
    if not logs:
        raise UsageProblem("Nothing was taken over here.", kind="nothing-taken", hint="Import a pack first: gearkeep import PACK")
    if everything:
        return [(log, taken.tags_of(session, log.log_id)) for log in logs]
    wanted: dict[bytes, list[str]] = {}
    for text in texts:
        tag, found = locate(session, text)
        if found is None:
            raise UsageProblem(f"{shown(tag)} is this vault's own.", kind="own-luminaire",
                               hint="Name one of another vault, as the list of find shows it: TAG@LOG.")
        tags = wanted.setdefault(found.log.log_id, [])
        if tag not in tags:
            tags.append(tag)
    return [(log, wanted[log.log_id]) for log in logs if log.log_id in wanted]


@dataclass(slots=True, kw_only=True)
class _Pass:
    desk: Desk
    session: Session
    site: Site
    adopted: list[Adopted] = field(default_factory=list)
    skipped: list[Left] = field(default_factory=list)
    refused: list[Left] = field(default_factory=list)
    _drawn: set[str] = field(default_factory=set)

    def records(self, asked: Sequence[tuple[TakenLog, list[str]]], progress: Progress) -> Iterator[Record]:
        """What has to be signed; the rest is noted as skipped or refused on the way."""
        total, done = sum(len(tags) for _, tags in asked), 0
        for log, tags in asked:
            with mirror_of(self.session, log, tags) as mirror:
                book = self._book(mirror, tags)
                for tag in tags:
                    record = self._take(mirror, taken_of(self.session, log, tag), book)
                    if record is not None:
                        yield record
                    done += 1
                    progress(done, total)

    def _book(self, mirror: Session, tags: Sequence[str]) -> AddressBook:
        """Addresses of our own luminaires on the lines and circuits that the taken ones name."""
        rows = [row for tag in tags for row in queries.versions_of(mirror, tag)]
        centrals = {c for row in rows for c in _central_circuits(queries.record_at(mirror, row).body)}
        book = AddressBook(self.site.lines, self.site.circuits)
        for row in heads_near(self.session, lines=sorted({row.line for row in rows if row.line}),
                              central_circuits=sorted(centrals)):
            if row.reason != Reason.RETIRED:
                record: Record = queries.record_at(self.session, row).body
                book.remember(address_uses(shown(row.tag), row.line, record.gears))
        return book

    def _take(self, mirror: Session, of: Taken, book: AddressBook) -> Record | None:
        if of.adopted_as:
            self.skipped.append(Left(taken=of, kind="adopted-before", why=f"It was {of.adoption_words} before."))
            return None
        try:
            seen = view(mirror, of.tag)
        except GearkeepError as problem:
            self._refuse(of, problem.kind, problem.what)
            return None
        for is_so, kind, why in ((seen.retired, "retired", "It is out of service for good."),
                                 (seen.conflict, "conflict", "Two newest versions differ; its own vault has to settle that."),
                                 (bool(seen.frozen), "frozen", " ".join(finding.says for finding in seen.frozen))):
            if is_so:
                self._refuse(of, kind, why)
                return None
        if seen.record.fixture_type.code not in self.site.ratings:
            self._refuse(of, "no-rating", f"The rating of {seen.record.fixture_type.code} is not in this vault; load it with: "
                         "gearkeep type load FILE.")
            return None
        return self._judged(seen, of, book)

    def _judged(self, seen: View, of: Taken, book: AddressBook) -> Record | None:
        record = seen.record
        rating = self.site.ratings[record.fixture_type.code]
        line = self.site.lines.get(record.line) if record.line else None
        circuit = self.site.circuits.get(record.circuit) if record.circuit else None
        uses = address_uses(of.name, record.line, record.gears)
        findings = [*check_gears(record.gears, rating, line=line, circuit=circuit), *book.findings(uses)]
        # What is stopped there and was left open or accepted there is no surprise here: it stays open for our own approver.
        known = seen.open_stops | {name for approved in seen.approvals for name in approved.accepts}
        new = [finding for finding in stops(findings) if finding.rule not in known]
        if new:
            self._refuse(of, "stops", " ".join(finding.says for finding in new))
            return None
        if record.line and line is None:
            findings.append(missing_line(record))
        findings += list(_differences(seen.rating, rating))
        book.remember(uses)
        fixture_type, essentials = self.site.type_of(rating)
        open_names = seen.open_stops | {finding.rule for finding in stops(findings)}
        tag = self._new_tag()
        self.adopted.append(Adopted(taken=of, tag=tag, place=record.place, provisional=bool(open_names), findings=tuple(
            finding for finding in findings if finding.severity is not Severity.NOTE)))
        return replace(
            record, tag=to_bytes(tag), version=1, predecessors=None, fixture_type=fixture_type, essentials=essentials,
            time_s=self.desk.now_s(), reason=Reason.HANDOVER, open_stops=" ".join(sorted(open_names)) or None,
            taken_from=TakenFrom(log_id=of.log.log_id, tag=to_bytes(of.tag), version=record.version,
                                 digest=seen.statement.digest[:16]))

    def _refuse(self, of: Taken, kind: str, why: str) -> None:
        self.refused.append(Left(taken=of, kind=kind, why=why))

    def _new_tag(self) -> str:
        """A tag that nobody bears: neither ours nor one of those taken over, so that no label can be taken for another."""
        for _ in range(MOST_TRIES):
            tag = tag_from_bits(self.desk.random_bits(8 * TAG_BYTES))
            if tag is None or tag in self._drawn or queries.issued(self.session, [tag]) or taken.used_tags(self.session, [tag]):
                continue
            self._drawn.add(tag)
            return tag
        raise GearkeepError(f"No free tag was found in {MOST_TRIES} tries.", hint="Try again.", kind="no-tag")


def _central_circuits(record: Record) -> Iterator[str]:
    for gear in record.gears:
        yield from (name for name in _circuits_of(gear) if name is not None)


def _circuits_of(gear: Gear) -> list[str | None]:
    controls = [gear.settings.control, *(channel.control for channel in gear.settings.channels)]
    return [control.central_circuit for control in controls if control is not None]


def _differences(theirs: Rating, ours: Rating) -> Iterator[Finding]:
    """Where the two vaults' ratings of one type differ; their revisions are counted by each for itself."""
    was, now = flatten(replace(theirs, revision=1)), flatten(replace(ours, revision=1))
    for name in dict.fromkeys([*was, *now]):
        if was.get(name) != now.get(name):
            found, allowed = str(was.get(name, "nothing")), str(now.get(name, "nothing"))
            yield Finding(rule="rating-differs", severity=Severity.CARE, found=found, allowed=allowed,
                          source="the two vaults' ratings", says=f"The other vault's rating of {ours.code} says otherwise of "
                          f"{name.replace('_', ' ')}. Here ours counts.")


__all__ = ["Adopted", "AdoptionResult", "Left", "adopt"]
