"""Everything the vault can say of one luminaire, verified."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from vault.actions.dating import dated_back
from vault.actions.doubt_findings import doubt_findings
from vault.actions.held_rating import held_rating, missing_line
from vault.actions.label_copies import HeldLabel, held_labels
from vault.actions.origins import elsewhere, not_yours, split_name
from vault.db import queries
from vault.db.doubts import doubt_of
from vault.db.queries import RecordRow
from vault.db.session import Session
from vault.domain.driver import DriverModel
from vault.domain.findings import Finding, Severity, stops
from vault.domain.label_freeze import FREEZING, ways_out
from vault.domain.levels import filled_in
from vault.domain.limits import check_against_two, check_gears
from vault.domain.rating import Rating
from vault.domain.record import ChangeClass, Reason, Record, settings_differ
from vault.domain.schema import words
from vault.domain.settings import Gear
from vault.domain.site import Circuit, Line
from vault.domain.tag import neighbours, parse_tag, shown
from vault.errors import GearkeepError
from vault.trust.statements import Approval, Kind
from vault.trust.verify import Statement


@dataclass(frozen=True, slots=True, kw_only=True)
class Approved:
    """One approval of a record: who accepted which findings as what."""

    signer: str
    accepts: frozenset[str]
    change_class: ChangeClass
    because: str


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """One luminaire as it stands. conflict: heads that disagree; open_stops: what a second signer must still accept.

    rating_held: False when the vault lacks its type's rating; rating and current_rating then are what the record carries.
    """

    tag: str
    row: RecordRow
    statement: Statement
    record: Record
    heads: tuple[Record, ...]
    head_digests: tuple[bytes, ...]
    rating: Rating
    current_rating: Rating
    rating_finding: Finding | None
    rating_held: bool
    line: Line | None
    circuit: Circuit | None
    findings: tuple[Finding, ...]
    approvals: tuple[Approved, ...]
    open_stops: frozenset[str]
    labels: tuple[HeldLabel, ...]

    @property
    def conflict(self) -> bool:
        """Two heads or more that disagree: labels and swaps are frozen."""
        return len(self.heads) > 1 and settings_differ(self.heads)

    @property
    def retired(self) -> bool:
        """The luminaire is out of service for good."""
        return self.record.reason is Reason.RETIRED

    @property
    def frozen(self) -> tuple[Finding, ...]:
        """Why nobody may swap its driver or print for it: somebody saw a label where it contradicts the records."""
        return tuple(finding for finding in self.findings if finding.rule in FREEZING)

    @property
    def provisional(self) -> bool:
        """A stop is still open."""
        return bool(self.open_stops)

    @property
    def signer_code(self) -> str:
        """The short code of whoever signed it."""
        return self.statement.signer.code if self.statement.signer else "AUTH"


def typed_tag(session: Session, text: str) -> str:
    """The tag that a text means. Raises GearkeepError (bad-tag), offering issued tags one mistake away."""
    try:
        return parse_tag(text)
    except GearkeepError as problem:
        near = queries.issued(session, neighbours(text))
        if near:
            offered = " or ".join(shown(tag) for tag in near)
            raise GearkeepError(problem.what, hint=f"Did you mean {offered}? Compare it with the label.",
                                kind=problem.kind) from problem
        raise GearkeepError(problem.what, kind=problem.kind,
                            hint="Read it from the label; or look for a place or a drawing reference: gearkeep find TEXT",
                            ) from problem


def find_tag(session: Session, text: str) -> str:
    """The tag of one of this vault's own luminaires that a text means. Raises GearkeepError, offering issued tags one mistake
    away; taken-over for one of another vault; UsageProblem (two-luminaires) where two vaults have it and none was named.
    """
    typed, where = split_name(text)
    tag = typed_tag(session, typed)
    is_own = bool(queries.versions_of(session, tag))
    other = elsewhere(session, tag, where, is_own=is_own)
    if other is not None:
        raise not_yours(other)
    if not is_own:
        near = [one for one in queries.issued(session, neighbours(tag)) if one != tag]
        hint = f"Did you mean {' or '.join(shown(t) for t in near)}?" if near else \
            "It may belong to another vault; check the host on the label."
        raise GearkeepError(f"This vault has no luminaire {shown(tag)}.", hint=hint, kind="not-found")
    return tag


def current(session: Session, kind: Kind, name: str) -> Any | None:
    """The newest revision of a rating, driver model, circuit or line, or None."""
    rows = queries.catalogue(session, kind, name)
    return queries.catalogue_body(session, kind, rows[-1]) if rows else None


def all_current(session: Session, kind: Kind) -> dict[str, Any]:
    """name -> newest revision."""
    newest = {row.name: row for row in queries.catalogue(session, kind)}
    return {name: queries.catalogue_body(session, kind, row) for name, row in newest.items()}


def driver_models(session: Session) -> dict[str, DriverModel]:
    """Every driver model's newest revision."""
    return all_current(session, Kind.DRIVER_MODEL)


def approvals_of(session: Session, digest: bytes) -> tuple[Approved, ...]:
    """Approvals of one record, verified; those of a key that was in wrong hands accept nothing."""
    found = []
    for row in queries.approvals(session, digest):
        statement = session.statement(row.seq)
        if not isinstance(statement.body, Approval) or statement.body.record_digest != digest:
            raise queries.bad_index(f"it calls entry {row.seq} an approval of {digest[:8].hex()}, and it is not")
        if doubt_of(session, statement.key_id, row.seq) is not None:
            continue
        found.append(Approved(signer=statement.signer.code if statement.signer else "AUTH",
                              accepts=frozenset(statement.body.accepts.split()),
                              change_class=statement.body.change_class, because=statement.body.because))
    return tuple(found)


def open_after(names: Iterable[str], approvals: Iterable[Approved]) -> frozenset[str]:
    """Names of stops that no approval accepts."""
    accepted = {name for approval in approvals for name in approval.accepts}
    return frozenset(names) - accepted


# What is judged against other luminaires is judged anew at every version.
_ADDRESS_RULES = frozenset({"address", "address-line", "central-address", "line-gear", "circuit-luminaires"})


def carried_stops(seen: View) -> frozenset[str]:
    """Open stops that no check of the settings would find again: of a spare's fit, of a readback, of a modification.

    Only an approval lifts them, so a later version takes them along.
    """
    return seen.open_stops - {f.rule for f in stops(seen.findings)} - _ADDRESS_RULES


def full_gears(record: Record) -> tuple[Gear, ...]:
    """The record's gear with what its baseline says of settings that are left out."""
    return tuple(filled_in(gear, record.baseline) for gear in record.gears)


# A record's note begins so when the driver read otherwise than it was to be set.
READS = "read "


def _driver_reads(record: Record) -> Finding:
    return Finding(
        rule="driver-reads", severity=Severity.CARE, found=(record.note or "").removeprefix(READS),
        allowed="the settings of the record", source="the readback at the swap",
        says=f"The driver did not take the settings: it {record.note}. The settings here are what it shall be set to.")


def _conflict_finding(heads: tuple[Record, ...]) -> Finding:
    differ = settings_differ(heads)
    return Finding(
        rule="two-heads", severity=Severity.STOP if differ else Severity.NOTE,
        found=", ".join(f"version {head.version}" for head in heads), allowed="one newest version",
        source="gearkeep, vault/FORMAT.md, section Chain",
        says="Two versions were signed side by side and they differ. Read the driver and sign a version that "
             "settles it." if differ else "Two versions were signed side by side with equal settings.")


def view(session: Session, tag: str) -> View:
    """The newest version of a luminaire with its findings. Raises VerificationError when it does not verify."""
    found = queries.verified_heads(session, tag)
    newest = max((head.row for head in found), key=lambda row: (row.version, row.seq))
    bodies = {head.row.seq: head.statement for head in found}
    statement = bodies[newest.seq]
    record: Record = statement.body
    line = current(session, Kind.LINE, record.line) if record.line else None
    circuit = current(session, Kind.CIRCUIT, record.circuit) if record.circuit else None
    held = held_rating(session, record)
    rating, now = held.named, held.current
    heads = tuple(body.body for body in bodies.values())
    findings = list(check_against_two(record.gears, rating, now, line=line, circuit=circuit))
    if not held.held:
        # What the record does not carry is all one unknown; what it carries can only stop.
        findings = [finding for finding in findings if finding.severity is Severity.STOP]
    if held.finding is not None:
        findings.insert(0, held.finding)
    if record.line and line is None:
        findings.append(missing_line(record))
    named_findings = findings.copy()
    if now.revision != rating.revision:
        named_findings = list(check_gears(record.gears, rating, line=line, circuit=circuit))
    findings += dated_back(record, queries.latest_time_before(session, newest))
    if record.note and record.note.startswith(READS):
        findings.insert(0, _driver_reads(record))
    if len(heads) > 1:
        findings.insert(0, _conflict_finding(heads))
    doubts = doubt_findings(session, tag, record)
    findings = [*doubts, *findings]
    approvals = approvals_of(session, statement.digest)
    labels = held_labels(session, tag, statement)
    findings += labels.findings
    must = record.open_stop_names | {f.rule for f in stops([*named_findings, *doubts])}
    return View(
        tag=tag, row=newest, statement=statement, record=record, heads=heads,
        head_digests=tuple(body.digest for body in bodies.values()), rating=rating, current_rating=now,
        rating_finding=held.finding, rating_held=held.held, line=line, circuit=circuit,
        findings=tuple(findings), approvals=approvals,
        open_stops=open_after(must, approvals), labels=labels.copies,
    )


def require_in_service(seen: View) -> None:
    """Raises GearkeepError when the luminaire is retired or its heads disagree."""
    if seen.conflict:
        raise GearkeepError(f"{shown(seen.tag)} has two newest versions that differ; labels and swaps are frozen.",
                            hint="Read the driver, then settle it with: gearkeep revise --resolve --readback FILE.",
                            kind="conflict")
    if seen.retired:
        raise GearkeepError(f"{shown(seen.tag)} is retired.", kind="retired",
                            hint="A retired luminaire stays retired; a new one gets a new tag.")


def require_settled(seen: View) -> None:
    """Raises GearkeepError: what `require_in_service` raises; frozen, where a label was seen on a wrong housing."""
    require_in_service(seen)
    if seen.frozen:
        raise GearkeepError(f"{shown(seen.tag)} is frozen. {' '.join(finding.says for finding in seen.frozen)}", kind="frozen",
                            hint=ways_out(seen.frozen, shown(seen.tag)))


def require_rating(seen: View) -> None:
    """Raises GearkeepError when the vault lacks the type's rating, which every new version is bound to."""
    if not seen.rating_held:
        raise GearkeepError(f"Nothing was signed. The rating of {seen.rating.code} is not in this vault, and a new version of "
                            f"{shown(seen.tag)} has to name it.", kind="no-rating",
                            hint="Have the authority load it with: gearkeep type load FILE.")


def change_class_words(change: ChangeClass | None) -> str | None:
    """like-for-like, approved-equivalent or modification."""
    return words(change) if change is not None else None
