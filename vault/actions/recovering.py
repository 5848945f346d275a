"""A lost vault made anew from photographs of its labels: a new journal of the last labelled record of each luminaire."""

from __future__ import annotations

from collections import defaultdict, deque
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from vault.actions.desk import Desk
from vault.actions.label_folder import Failure, Gathered, Progress, failure, files_in, gather
from vault.actions.recovered_trust import Placed, Trust, establish, verify_record
from vault.actions.recovery_gaps import gaps_of
from vault.db.audit import quiet
from vault.db.replay import Replay
from vault.db.session import Session, create
from vault.db.tables import MAIN
from vault.domain.record import Record
from vault.domain.tag import from_bytes, shown
from vault.errors import GearkeepError, UsageProblem, VerificationError
from vault.trust.capsule import LabelText
from vault.trust.keys import fingerprint
from vault.trust.statements import Kind, Recovery

DIGESTS_A_STATEMENT = 500


@dataclass(frozen=True, slots=True, kw_only=True)
class RecoveredTag:
    """One record that came back. sources: the pictures that show it. withdrawn: its signer lost the role later.

    doubtful: its signer's key was in wrong hands at some time.
    """

    tag: str
    record: Record
    digest: bytes
    signer: str
    sources: tuple[str, ...]
    withdrawn: bool
    doubtful: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Recovered:
    """What came back. path: the new vault, None when nothing came back and none was made.

    tags: by tag; two of one tag are a conflict. findings: what the authority should look at before it accepts.
    missing: what no label carries. accepted: whether the authority signed for the records.
    """

    path: Path | None
    authority: str
    files: int
    signers: int
    tags: tuple[RecoveredTag, ...]
    failures: tuple[Failure, ...]
    findings: tuple[str, ...]
    missing: tuple[str, ...]
    accepted: bool


def recover(folder: Path, *, authority: str, signer_files: Sequence[Path], out: Path,
            key: Callable[[], Ed25519PrivateKey] | None, now_s: Callable[[], int], reading: Progress = quiet,
            writing: Progress = quiet) -> Recovered:
    """Make a new vault at `out` from the pictures of a folder. Nothing is left behind when a step fails.

    authority: its public key or fingerprint in hexadecimal. key: the authority's private key; without it an audit names
    the records until `accept_recovered`. Raises GearkeepError as `establish` does; UsageProblem when `out` exists.
    """
    if out.exists():
        raise UsageProblem(f"{out} exists already.", kind="exists",
                           hint="A vault is recovered into a new file; an old one is never overwritten.")
    inside = files_in(folder)
    named = {path.resolve() for path in inside}
    found = gather([*inside, *(path for path in signer_files if path.resolve() not in named)], reading)
    trust = establish(found, authority)
    records, failures = _verified(found, trust)
    newest = _newest(records)
    failures = [*found.failures, *trust.failures, *failures, *_without_settings(found, {tag for tag, _ in newest})]
    placed = [records[digest] for _, digests in newest for digest in digests]
    if placed:
        _write(out, trust, [one.placed for one in placed], key, now_s, writing)
    tags = tuple(_told(one) for one in placed)
    return Recovered(
        path=out if placed else None, authority=fingerprint(trust.genesis.authority_key), files=found.files,
        signers=len(trust.signers.everyone()), tags=tags, failures=tuple(failures), findings=_findings(tags),
        missing=gaps_of([one.record for one in tags]) if tags else (), accepted=bool(placed) and key is not None)


@dataclass(slots=True, kw_only=True)
class _Found:
    placed: Placed
    sources: list[str]


def _verified(found: Gathered, trust: Trust) -> tuple[dict[bytes, _Found], list[Failure]]:
    records: dict[bytes, _Found] = {}
    failures = []
    for source, label in found.labels:
        if label.signed_bytes is None:
            continue
        try:
            placed = _placed(trust, label, label.signed_bytes)
        except GearkeepError as problem:
            failures.append(failure(f"{source} ({shown(label.tag)})", problem))
            continue
        held = records.setdefault(placed.statement.digest, _Found(placed=placed, sources=[]))
        if source not in held.sources:
            held.sources.append(source)
    return records, failures


def _placed(trust: Trust, label: LabelText, signed_bytes: bytes) -> Placed:
    if label.host is not None and label.host != trust.genesis.host:
        raise VerificationError(f"The label belongs to {label.host}, the vault was {trust.genesis.host}.", kind="other-vault")
    placed = verify_record(trust, signed_bytes)
    tag = from_bytes(placed.statement.body.tag)
    if tag != label.tag:
        raise VerificationError(f"The link names {shown(label.tag)}, the record inside is of {shown(tag)}.", kind="bad-tag",
                                hint="Somebody put one label's settings under another's tag.")
    return placed


def _newest(records: dict[bytes, _Found]) -> list[tuple[str, list[bytes]]]:
    """Of each tag the digests with the highest version; more than one is a conflict, and all are kept."""
    by_tag: dict[str, dict[int, list[bytes]]] = defaultdict(lambda: defaultdict(list))
    for digest, one in records.items():
        record: Record = one.placed.statement.body
        by_tag[from_bytes(record.tag)][record.version].append(digest)
    return [(tag, sorted(versions[max(versions)])) for tag, versions in sorted(by_tag.items())]


def _without_settings(found: Gathered, recovered: set[str]) -> list[Failure]:
    links: dict[str, list[str]] = defaultdict(list)
    for source, label in found.labels:
        if label.signed_bytes is None and label.tag not in recovered and source not in links[label.tag]:
            links[label.tag].append(source)
    full = {(source, label.tag) for source, label in found.labels if label.signed_bytes is not None}
    by_sources: dict[str, list[str]] = defaultdict(list)
    for tag, sources in sorted(links.items()):
        if not any((source, tag) in full for source in sources):
            by_sources[", ".join(sources)].append(shown(tag))
    return [Failure(source=f"{sources} ({', '.join(tags)})", kind="link-only",
                    why="The code that was read holds the tag alone, no settings.",
                    hint="Photograph the larger code of the label; a label without one has to be recorded anew.")
            for sources, tags in by_sources.items()]


def _told(one: _Found) -> RecoveredTag:
    statement = one.placed.statement
    return RecoveredTag(tag=from_bytes(statement.body.tag), record=statement.body, digest=statement.digest,
                        signer=statement.signer.code if statement.signer else "AUTH", sources=tuple(one.sources),
                        withdrawn=one.placed.before is not None, doubtful=one.placed.doubtful)


def _findings(tags: Sequence[RecoveredTag]) -> tuple[str, ...]:
    said = []
    count: dict[str, int] = defaultdict(int)
    for one in tags:
        count[one.tag] += 1
        if one.doubtful:
            said.append(f"{shown(one.tag)} version {one.record.version} is signed by {one.signer}, whose key was in wrong hands. "
                        "It stays in doubt until its driver was read or another signer approved it (doubtful-signer).")
        elif one.withdrawn:
            day = datetime.fromtimestamp(one.record.time_s, UTC).date().isoformat()
            said.append(f"{shown(one.tag)} version {one.record.version} is signed by a signer withdrawn later: {one.signer}, on "
                        f"{day} by the record's own time. Make sure that it is from before.")
    said += [f"{shown(tag)} has {number} different records of its newest version; read the driver and settle it with: "
             "gearkeep revise --resolve --readback FILE." for tag, number in count.items() if number > 1]
    return tuple(said)


def _write(out: Path, trust: Trust, records: Sequence[Placed], key: Callable[[], Ed25519PrivateKey] | None,
           now_s: Callable[[], int], progress: Progress) -> None:
    partial = out.with_name(f".{out.name}.partial")
    if partial.exists():
        raise UsageProblem(f"{partial} is there already.", kind="exists",
                           hint="Another recovery is at work or was broken off; when none is at work, remove that file.")
    try:
        vault = create(str(partial), trust.statements[0].signed_bytes)
        try:
            with vault.writing() as session:
                _fill(session, trust, records, progress)
                if key is not None:
                    _accept(session, [one.statement.digest for one in records], key(), now_s())
        finally:
            vault.close()
        partial.replace(out)
    except OSError as problem:
        raise GearkeepError(f"{out} cannot be written: {problem.strerror or problem}.", kind="cannot-write",
                            hint="Check the folder, its rights and the room on the disk.") from problem
    finally:
        for ending in ("", "-wal", "-shm"):
            with suppress(OSError):
                partial.with_name(partial.name + ending).unlink()


def _fill(session: Session, trust: Trust, records: Sequence[Placed], progress: Progress) -> None:
    """Statements about signers in their order, each record before whatever ended its signer's role."""
    last = len(trust.statements)

    def end(one: Placed) -> int:
        return last if one.before is None else one.before

    waiting = deque(sorted(records, key=end))
    for number in range(1, last + 1):
        while waiting and end(waiting[0]) == number:
            session.append_recovered(waiting.popleft().statement.signed_bytes)
            progress(len(records) - len(waiting), len(records))
        if number < last:
            session.append_recovered(trust.statements[number].signed_bytes)


def _accept(session: Session, digests: Sequence[bytes], key: Ed25519PrivateKey, time_s: int) -> None:
    for start in range(0, len(digests), DIGESTS_A_STATEMENT):
        body = Recovery(time_s=time_s, digests=b"".join(digests[start : start + DIGESTS_A_STATEMENT]))
        session.append(Kind.RECOVERY, body, key)


def accept_recovered(desk: Desk) -> int:
    """The authority answers for every record that came back from a label and is not accepted yet; returns how many.

    Raises GearkeepError (bad-journal) when anything else is wrong with the journal: that would be accepted with it.
    """
    with desk.vault.writing() as session:
        waiting = []
        for entry in Replay(session).walk(MAIN):
            if entry.unaccepted and entry.statement is not None:
                waiting.append(entry.statement.digest)
            elif entry.faults:
                raise GearkeepError(f"{entry.faults[0].where.capitalize()}: {entry.faults[0].why}.", kind="bad-journal",
                                    hint="Nothing was signed. Run: gearkeep audit.")
        if waiting:
            _accept(session, waiting, desk.key(), desk.now_s())
    return len(waiting)


__all__ = ["Recovered", "RecoveredTag", "accept_recovered", "recover"]
