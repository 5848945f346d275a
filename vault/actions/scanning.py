"""Reading labels: pictures or text in, verified settings out."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from labels.errors import LabelError
from vault.actions.luminaire import View, full_gears, view
from vault.actions.origins import Taken, elsewhere, split_name, taken_of
from vault.actions.scan_codes import PlaceLabel, parse_code, said_by
from vault.actions.scan_sources import Progress, gather, quiet
from vault.db import queries, taken
from vault.db.session import Session, Vault
from vault.db.taken_mirror import mirror_of
from vault.domain.driver import DriverModel
from vault.domain.fit import Fit, fit_offline
from vault.domain.label_life import State
from vault.domain.record import Record, settings_differ
from vault.domain.settings import Gear
from vault.domain.tag import from_bytes, neighbours, shown
from vault.errors import GearkeepError, UsageProblem, VerificationError
from vault.trust.capsule import LabelText
from vault.trust.cose import digest as digest_of
from vault.trust.signers import day_of
from vault.trust.statements import Kind
from vault.trust.trustlist import TrustList, load
from vault.trust.verify import Statement, verify

MOST_TYPED = 60  # characters of a tag with a host behind it


@dataclass(frozen=True, slots=True, kw_only=True)
class Scanned:
    """One label. problem: (kind, what, hint) when it cannot be trusted; then record is None and no figure is shown.

    newest: whether it is the vault's newest version, None when no vault was asked. as_of: for a reader without a
    vault, up to where its list of signers reaches. notes: what else was seen beside it. taken: whose luminaire it is, None for
    the vault's own.
    """

    source: str
    tag: str | None
    record: Record | None
    statement: Statement | None
    newest: bool | None
    newest_version: int | None
    as_of: str | None
    seen: View | None
    problem: tuple[str, str, str] | None
    notes: tuple[str, ...] = ()
    taken: Taken | None = None

    @property
    def current(self) -> bool:
        """Whether its settings equal the vault's newest (True when no vault was asked: nothing says otherwise)."""
        if self.record is None or self.seen is None:
            return True
        return not settings_differ([self.record, self.seen.record])


def _trouble(source: str, tag: str | None, problem: GearkeepError | LabelError) -> Scanned:
    return Scanned(source=source, tag=tag, record=None, statement=None, newest=None, newest_version=None, as_of=None,
                   seen=None, problem=(problem.kind, problem.what, problem.hint))


def _in_vault(session: Session, source: str, label: LabelText, where: str | None) -> Scanned:
    found = _whose(session, label, where)
    host = session.genesis.host if found is None else found.log.host
    if label.host is not None and label.host.upper() != host.upper():
        named = "this vault" if found is None else found.log.site
        raise VerificationError(f"The label belongs to {label.host}, {named} is {host}.",
                                kind="other-vault", hint="Open the vault it belongs to.")
    if found is None:
        return _held_by(session, source, label)
    with mirror_of(session, found.log, [label.tag]) as mirror:
        one = _held_by(mirror, source, label)
    return replace(one, taken=found)


def _whose(session: Session, label: LabelText, where: str | None) -> Taken | None:
    """Whose luminaire a label is of, None for the vault's own: by the very statement that it carries, else by its host.

    where: what was typed behind an @. Raises UsageProblem (two-luminaires) where tag and host tell no vault from another.
    """
    if label.signed_bytes is not None:
        digest = digest_of(label.signed_bytes)
        if session.place_of(digest) is not None:
            return None
        place = taken.place_of(session, digest)
        if place is not None and label.tag in taken.tags_at(session, *place):
            return next((taken_of(session, log, label.tag) for log in taken.taken_logs(session) if log.log_id == place[0]), None)
    ids = taken.holders(session, label.tag)
    if not ids and where is None:
        return None
    is_own = bool(queries.versions_of(session, label.tag))
    if label.host is None:
        return elsewhere(session, label.tag, where, is_own=is_own)
    host = label.host.upper()
    logs = [log for log in taken.taken_logs(session) if log.log_id in ids and log.host.upper() == host]
    is_own = is_own and host == session.genesis.host
    if len(logs) + is_own > 1:
        return elsewhere(session, label.tag, None, is_own=is_own)
    return taken_of(session, logs[0], label.tag) if logs else None


def _held_by(session: Session, source: str, label: LabelText) -> Scanned:
    """A label judged by the vault that holds its luminaire."""
    if not queries.versions_of(session, label.tag):
        near = [tag for tag in queries.issued(session, neighbours(label.tag)) if tag != label.tag]
        raise GearkeepError(f"This vault has no luminaire {shown(label.tag)}.", kind="not-found",
                            hint="Did you mean " + " or ".join(map(shown, near)) + "?" if near else
                            "The label may belong to another vault.")
    seen = view(session, label.tag)
    if label.signed_bytes is None:
        return Scanned(source=source, tag=label.tag, record=seen.record, statement=seen.statement, newest=True,
                       newest_version=seen.record.version, as_of=None, seen=seen, problem=None)
    place = session.place_of(digest_of(label.signed_bytes))
    at = place[1] if place else session.size()
    statement = verify(label.signed_bytes, log_id=session.genesis.log_id, signers=session.signers, place=at)
    record = _record(statement, label)
    if place is None:
        raise VerificationError(
            f"The record on this label is well signed, but the vault does not hold it ({shown(label.tag)} version "
            f"{record.version}).", kind="not-in-vault",
            hint="The vault may have been rolled back: run gearkeep audit with a checkpoint from paper. (A vault made anew "
                 "from labels holds the newest of them alone.)")
    newest = statement.digest == seen.statement.digest
    return Scanned(source=source, tag=label.tag, record=record, statement=statement, newest=newest,
                   newest_version=seen.record.version, as_of=None, seen=seen, problem=None,
                   notes=_of_copies(seen, statement.digest[:8]))


def _of_copies(seen: View, prefix: bytes) -> tuple[str, ...]:
    """What is known of the label that carries that record: that no copy of it counts any more."""
    copies = [copy for copy in seen.labels if copy.record_prefix == prefix]
    if not copies or any(copy.state in (State.ISSUED, State.PLACED) for copy in copies):
        return ()
    return ("Every label copy of this version was replaced or withdrawn, so this one should not hang here: take it off. "
            f"See: gearkeep labels {seen.tag}",)


def _record(statement: Statement, label: LabelText) -> Record:
    if statement.kind is not Kind.RECORD:
        raise VerificationError("The code carries no luminaire record.", kind="bad-payload")
    record: Record = statement.body
    if from_bytes(record.tag) != label.tag:
        raise VerificationError(
            f"The link names {shown(label.tag)}, the record inside is of {shown(from_bytes(record.tag))}.",
            kind="bad-tag", hint="Somebody put one label's settings under another's tag. Do not use it.")
    return record


def _offline(trust: TrustList, source: str, label: LabelText) -> Scanned:
    if label.signed_bytes is None:
        raise VerificationError("This code holds the tag alone, no settings.", kind="link-only",
                                hint="Scan the larger code where the label has one, or look the tag up in the vault.")
    if label.host is not None and label.host.upper() != trust.genesis.host:
        raise VerificationError(f"The label belongs to {label.host}, the list of signers to {trust.genesis.host}.",
                                kind="other-vault", hint="Get the list of signers of that vault.")
    statement = verify(label.signed_bytes, log_id=trust.genesis.log_id, signers=trust.signers, place=trust.size,
                       place_known=False)
    as_of = f"signer valid as of list {trust.size}, whose newest entry about signers is of {day_of(trust.time_s)}"
    if statement.signer is not None and statement.signer.until_s is not None:
        # Without the vault its place is not known: only the label itself says that it was signed in time.
        as_of += f", until {day_of(statement.signer.until_s)}; signed in time by the label's own word"
    return Scanned(source=source, tag=label.tag, record=_record(statement, label), statement=statement, newest=None,
                   newest_version=None, as_of=as_of, seen=None, problem=None)


def _no_trust(label: LabelText) -> GearkeepError:
    return VerificationError(f"{shown(label.tag)} was read, but there is nothing to verify its signer with.",
                             kind="unknown-signer",
                             hint="Give --vault FILE, or --trust FILE with the vault's list of signers.")


def judge_offline(one: Scanned, spare: DriverModel) -> list[tuple[Gear, Fit]]:
    """A spare against what the label itself carries of the rating; no vault is needed. Empty for an unverified label."""
    if one.record is None:
        return []
    return [(gear, fit_offline(gear, one.record.essentials, spare)) for gear in full_gears(one.record)]


def scan(sources: Sequence[str], *, text: str | None, vault: Vault | None, trust_text: str | None, camera: int | None = None,
         progress: Progress = quiet) -> list[Scanned]:
    """Read and verify labels. Every label gets a result; what cannot be trusted says why and shows no figure.

    sources: picture files, PDFs, films, folders of them. text: what a hand scanner read or somebody typed. camera: a
    camera's number. vault and trust_text (the list of signers): what to verify with.
    """
    if text is None and not sources and camera is None:
        raise UsageProblem("There is nothing to scan.", hint="Give pictures, or --text with what a scanner read.")
    trust = load(trust_text) if trust_text is not None else None
    results = [] if text is None else [_judge_text("text", text, vault, trust)]
    for found in gather(sources, camera=camera, progress=progress):
        if isinstance(found, tuple):
            results.append(_trouble(found[0], None, found[1]))
            continue
        said = said_by(found.readings, found.name, found.file, film=found.film)
        judged = [_judge(found.name, label, vault, trust) for label in said.labels]
        judged += [_untold(found.name, problem, vault) for problem in said.problems]
        results += [replace(one, notes=(*one.notes, *said.notes)) if number == 0 else one for number, one in enumerate(judged)]
    return results


def scan_lines(lines: Iterable[str], *, vault: Vault | None, trust_text: str | None) -> Iterator[Scanned]:
    """Judge what a hand scanner types, one line each, as it comes."""
    trust = load(trust_text) if trust_text is not None else None
    for number, line in enumerate(lines, 1):
        yield _judge_text(f"line {number}", line, vault, trust)


def _judge_text(source: str, text: str, vault: Vault | None, trust: TrustList | None) -> Scanned:
    # A tag typed with the vault that it is of behind it; no code holds such a sign.
    typed, where = split_name(text) if len(text) < MOST_TYPED else (text, None)
    try:
        label = parse_code(typed, "FILE")
    except GearkeepError as problem:
        return _untold(source, problem, vault)
    return _judge(source, label, vault, trust, where)


def _untold(source: str, problem: GearkeepError, vault: Vault | None) -> Scanned:
    """What is no luminaire's label; of a bin's, a spare's or a line's the vault knows more."""
    if isinstance(problem, PlaceLabel) and vault is not None:
        from vault.actions.place_labels import told

        try:
            with vault.reading() as session:
                problem = VerificationError(told(session, problem.read), kind=problem.kind)
        except GearkeepError as other:
            problem = other
    return _trouble(source, None, problem)


def _judge(source: str, label: LabelText, vault: Vault | None, trust: TrustList | None, where: str | None = None) -> Scanned:
    try:
        if trust is not None:
            return _offline(trust, source, label)
        if vault is None:
            raise _no_trust(label)
        with vault.reading() as session:
            return _in_vault(session, source, label, where)
    except GearkeepError as problem:
        return _trouble(source, label.tag, problem)
