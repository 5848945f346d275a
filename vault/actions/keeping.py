"""Keeping the vault: audit, rebuild, checkpoints, the list of signers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from vault.actions.desk import Desk
from vault.actions.witness import (
    Held,
    Verdict,
    disagreeing,
    evidence_of,
    hold,
    kept_in,
    post,
    read_kept,
    said_by,
    without_strangers,
)
from vault.db import queries
from vault.db.audit import AuditResult, Fault, Progress, origin, quiet, rebuild, run_audit
from vault.db.session import SIGNER_KINDS, Session, Vault, upgrade_schema
from vault.db.tables import MAIN, STOCK
from vault.errors import GearkeepError, UsageProblem, VerificationError
from vault.trust.keys import public_bytes
from vault.trust.merkle import consistency_proof, verify_consistency
from vault.trust.note import Checkpoint, checkpoint_text, sign_note, verifier_key
from vault.trust.trustlist import dump


@dataclass(frozen=True, slots=True, kw_only=True)
class Examined:
    """An audit with what checkpoints from outside say. evidence: file name -> text, empty when nothing disagrees."""

    result: AuditResult
    held: tuple[Held, ...]
    strangers: int
    evidence: dict[str, str]


def audit(vault: Vault, checkpoint_files: Sequence[Path] = (), progress: Progress = quiet) -> AuditResult:
    """Verify everything, and hold it against checkpoints kept outside (text files, photographs of the page, folders)."""
    return examine(vault, checkpoint_files, progress).result


def examine(vault: Vault, checkpoint_files: Sequence[Path] = (), progress: Progress = quiet) -> Examined:
    """The same, with each checkpoint's answer and the evidence of a disagreement."""
    kept = read_kept(checkpoint_files)
    with vault.reading() as session:
        try:
            all_held = hold(session, kept)
        except GearkeepError:
            # A damaged genesis or tree: the walk names it.
            return Examined(result=run_audit(session, kept, progress), held=(), strangers=0, evidence={})
        held = without_strangers(all_held, checkpoint_files)
        ours = [one.kept for one in held if one.verdict is not Verdict.OTHER_VAULT]
        result = run_audit(session, ours, progress)
        more = [Fault(what="checkpoint", where=one.kept.source, why=f"other-vault: {one.why}") for one in held
                if one.verdict is Verdict.OTHER_VAULT]
        more += [Fault(what="checkpoint", where=f"{one.kept.source} and {other.kept.source}",
                       why="fork: both are signed, of one journal and one size, and saw different entries")
                 for one, other in disagreeing(held)]
        return Examined(result=replace(result, faults=(*result.faults, *more)), held=tuple(held),
                        strangers=len(all_held) - len(held), evidence=evidence_of(session, held))


def is_checkpoint(text: str) -> bool:
    """Whether a text has the form of a signed checkpoint; the audit says whether it is a good one."""
    return said_by(text) is not None


def rebuild_index(vault: Vault, progress: Progress = quiet) -> int:
    """Make every index table anew from the journal; returns the rows written."""
    with vault.writing() as session:
        return rebuild(session, progress)


@dataclass(frozen=True, slots=True, kw_only=True)
class SignedCheckpoint:
    """A checkpoint of one log as a signed note. verifier_key: C2SP form, for other programs that check notes."""

    log: str
    size: int
    root: bytes
    note: str
    verifier_key: str


def sign_checkpoints(desk: Desk) -> list[SignedCheckpoint]:
    """Sign the size and root of each log that holds anything, and keep the notes in the vault."""
    key = desk.checkpoint_key()
    if key is None:
        raise UsageProblem("A checkpoint is signed by the vault's checkpoint key, and it was not given.", kind="no-key",
                           hint="Give --checkpoint-key FILE or GEARKEEP_CHECKPOINT_KEY.")
    with desk.vault.writing() as session:
        _refuse_other_key(session, key)
        return [_sign(session, log, key) for log in (MAIN, STOCK) if session.size(log)]


def refuse_wrong_checkpoint_key(desk: Desk) -> None:
    """For acts that sign checkpoints at their end: raises UsageProblem (bad-key) before the rest is done."""
    key = desk.checkpoint_key()
    if key is not None:
        with desk.vault.reading() as session:
            _refuse_other_key(session, key)


def _refuse_other_key(session: Session, key: Ed25519PrivateKey) -> None:
    if public_bytes(key) != session.genesis.checkpoint_key:
        raise UsageProblem("The key given is not this vault's checkpoint key.", kind="bad-key",
                           hint="It is the file checkpoint.key that gearkeep init wrote.")


def _sign(session: Session, log: int, key: Ed25519PrivateKey) -> SignedCheckpoint:
    size, root, name = session.size(log), session.root(log), origin(session.genesis, log)
    kept = queries.checkpoints(session, log)
    if kept:
        # Never sign what the last checkpoint contradicts: that would lend a forked journal the vault's own name.
        before, before_root, _ = kept[-1]
        if before > size:
            raise VerificationError(f"The last checkpoint saw {before} entries, the journal holds {size}.", kind="rollback",
                                    hint="Entries were taken away. Run: gearkeep audit.")
        verify_consistency(before, size, before_root, root, consistency_proof(before, size, session.read_node(log)))
    note = sign_note(checkpoint_text(Checkpoint(origin=name, size=size, root=root)), name, key)
    queries.keep_checkpoint(session, log, size, root, note)
    return SignedCheckpoint(log="main" if log == MAIN else "stock", size=size, root=root, note=note,
                            verifier_key=verifier_key(name, public_bytes(key)))


@dataclass(frozen=True, slots=True, kw_only=True)
class Posted:
    """Checkpoints signed and the files that hold them; nothing of both when a folder's checkpoints disagree (evidence)."""

    signed: list[SignedCheckpoint]
    files: list[Path]
    disagreeing: list[Held]
    evidence: dict[str, str]


def post_checkpoints(desk: Desk, folders: Sequence[Path]) -> Posted:
    """Sign checkpoints and put each into every folder, once the journal agrees with all that those folders hold.

    Nothing is signed when it does not: that would lend a forked or rolled-back journal the vault's own name.
    """
    for folder in folders:
        if not folder.is_dir():
            raise UsageProblem(f"The folder {folder} does not exist.", kind="cannot-open", hint="Make it first, or mount it.")
    kept = [one for folder in folders for one in kept_in(folder)]
    with desk.vault.reading() as session:
        held = hold(session, kept)
        evidence = evidence_of(session, held)
        log_id = session.genesis.log_id
    if evidence:
        bad = [one for one in held if one.verdict in (Verdict.ROLLBACK, Verdict.FORK)]
        return Posted(signed=[], files=[], disagreeing=bad or [one for pair in disagreeing(held) for one in pair],
                      evidence=evidence)
    signed = sign_checkpoints(desk)
    files = [post(folder, log_id, one.log, one.note) for folder in folders for one in signed]
    return Posted(signed=signed, files=files, disagreeing=[], evidence={})


@dataclass(frozen=True, slots=True, kw_only=True)
class Freshness:
    """How much of the main journal the vault's newest checkpoint saw. time_s: of the last statement that it saw and that bears
    one, None where none near its end does.
    """

    size: int
    entries: int
    time_s: int | None


# So many entries are looked at for one that bears a time; parts of the catalogue bear none.
_ENTRIES_WITH_A_TIME = 20


def freshness(vault: Vault) -> Freshness | None:
    """How far the newest checkpoint reaches, None where none was signed. A note bears no date of its own."""
    with vault.reading() as session:
        kept, entries = queries.checkpoints(session, MAIN), session.size()
        if not kept:
            return None
        size = min(kept[-1][0], entries)
        try:
            times = (getattr(session.statement(place).body, "time_s", None)
                     for place in range(size - 1, max(size - 1 - _ENTRIES_WITH_A_TIME, -1), -1))
            return Freshness(size=kept[-1][0], entries=entries, time_s=next((at for at in times if at is not None), None))
        except GearkeepError:
            # The audit names what is wrong there.
            return Freshness(size=kept[-1][0], entries=entries, time_s=None)


def latest_checkpoint(vault: Vault) -> str | None:
    """The newest signed note of the main log, or None."""
    with vault.reading() as session:
        kept = queries.checkpoints(session, MAIN)
    return kept[-1][2] if kept else None


def signer_list(vault: Vault) -> str:
    """The list of signers as text for readers without the vault (see vault/trust/trustlist.py)."""
    with vault.reading() as session:
        statements = queries.signed_of_kinds(session, SIGNER_KINDS)
        kept = queries.checkpoints(session, MAIN)
        size = session.size()
    newest = kept[-1][2] if kept else None
    fresh = newest is not None and kept[-1][0] == size
    return dump(statements, size, newest if fresh else None)



def upgrade_vault(address: str) -> tuple[str | None, str]:
    """Bring the schema up to date and rebuild the index, in one transaction. Returns the revision before and after."""
    return upgrade_schema(address, rebuild)
