"""Reading labels: pictures or text in, verified settings out."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from labels.errors import LabelError
from labels.reading import read_picture
from vault.actions.luminaire import View, full_gears, view
from vault.db import queries
from vault.db.session import Session, Vault
from vault.domain.driver import DriverModel
from vault.domain.fit import Fit, fit_offline
from vault.domain.record import Record, settings_differ
from vault.domain.settings import Gear
from vault.domain.tag import from_bytes, one_mistake_away, shown
from vault.errors import GearkeepError, UsageProblem, VerificationError
from vault.trust.capsule import LabelText, parse_text
from vault.trust.cose import digest as digest_of
from vault.trust.statements import Kind
from vault.trust.trustlist import TrustList, load
from vault.trust.verify import Statement, verify


@dataclass(frozen=True, slots=True, kw_only=True)
class Scanned:
    """One label. problem: (kind, what, hint) when it cannot be trusted; then record is None and no figure is shown.

    newest: whether it is the vault's newest version, None when no vault was asked. as_of: for a reader without a
    vault, how old the list of signers is.
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

    @property
    def current(self) -> bool:
        """Whether its settings equal the vault's newest (True when no vault was asked: nothing says otherwise)."""
        if self.record is None or self.seen is None:
            return True
        return not settings_differ([self.record, self.seen.record])


def _trouble(source: str, tag: str | None, problem: GearkeepError | LabelError) -> Scanned:
    return Scanned(source=source, tag=tag, record=None, statement=None, newest=None, newest_version=None, as_of=None,
                   seen=None, problem=(problem.kind, problem.what, problem.hint))


def _in_vault(session: Session, source: str, label: LabelText) -> Scanned:
    rows = queries.versions_of(session, label.tag)
    if label.host is not None and label.host.upper() != session.genesis.host:
        raise VerificationError(f"The label belongs to {label.host}, this vault is {session.genesis.host}.",
                                kind="other-vault", hint="Open the vault it belongs to.")
    if not rows:
        near = [tag for tag in one_mistake_away(label.tag, queries.tags(session)) if tag != label.tag]
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
                   newest_version=seen.record.version, as_of=None, seen=seen, problem=None)


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
                                hint="Scan the larger code, or look the tag up in the vault.")
    if label.host is not None and label.host.upper() != trust.genesis.host:
        raise VerificationError(f"The label belongs to {label.host}, the list of signers to {trust.genesis.host}.",
                                kind="other-vault", hint="Get the list of signers of that vault.")
    statement = verify(label.signed_bytes, log_id=trust.genesis.log_id, signers=trust.signers, place=trust.size)
    day = datetime.fromtimestamp(trust.time_s, UTC).date().isoformat()
    return Scanned(source=source, tag=label.tag, record=_record(statement, label), statement=statement, newest=None,
                   newest_version=None, as_of=f"signer valid as of list {trust.size} of {day}", seen=None, problem=None)


def _no_trust(label: LabelText) -> GearkeepError:
    return VerificationError(f"{shown(label.tag)} was read, but there is nothing to verify its signer with.",
                             kind="unknown-signer",
                             hint="Give --vault FILE, or --trust FILE with the vault's list of signers.")


def _texts_of(source: str) -> list[str]:
    return [code.text for code in read_picture(Path(source))]


def _fullest(texts: Iterable[str]) -> list[LabelText | GearkeepError]:
    """One reading for each tag: the one with settings where both codes of a label were read."""
    best: dict[str, LabelText] = {}
    bad: list[LabelText | GearkeepError] = []
    for text in texts:
        try:
            label = parse_text(text)
        except GearkeepError as problem:
            bad.append(problem)
            continue
        if label.tag not in best or label.signed_bytes is not None:
            best[label.tag] = label
    return [*best.values(), *bad]


def judge_offline(one: Scanned, spare: DriverModel) -> list[tuple[Gear, Fit]]:
    """A spare against what the label itself carries of the rating; no vault is needed. Empty for an unverified label."""
    if one.record is None:
        return []
    return [(gear, fit_offline(gear, one.record.essentials, spare)) for gear in full_gears(one.record)]


def scan(sources: Sequence[str], *, text: str | None, vault: Vault | None, trust_text: str | None) -> list[Scanned]:
    """Read and verify labels. Every label gets a result; what cannot be trusted says why and shows no figure."""
    if text is None and not sources:
        raise UsageProblem("There is nothing to scan.", hint="Give pictures, or --text with what a scanner read.")
    trust = load(trust_text) if trust_text is not None else None
    results: list[Scanned] = []
    session_texts = [("text", [text])] if text is not None else []
    for source in sources:
        try:
            session_texts.append((source, _texts_of(source)))
        except LabelError as problem:
            results.append(_trouble(source, None, problem))
    for source, texts in session_texts:
        for label in _fullest(t for t in texts if t is not None):
            results.append(_judge(source, label, vault, trust))
    return results


def _judge(source: str, label: LabelText | GearkeepError, vault: Vault | None, trust: TrustList | None) -> Scanned:
    if isinstance(label, GearkeepError):
        return _trouble(source, None, label)
    try:
        if trust is not None:
            return _offline(trust, source, label)
        if vault is None:
            raise _no_trust(label)
        with vault.reading() as session:
            return _in_vault(session, source, label)
    except GearkeepError as problem:
        return _trouble(source, label.tag, problem)


