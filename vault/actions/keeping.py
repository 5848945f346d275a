"""Keeping the vault: audit, rebuild, checkpoints, the list of signers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from vault.actions.desk import Desk
from vault.db import queries
from vault.db.audit import AuditResult, Kept, Progress, origin, quiet, rebuild, run_audit
from vault.db.session import SIGNER_KINDS, Session, Vault, upgrade_schema
from vault.db.tables import MAIN, STOCK
from vault.errors import GearkeepError, UsageProblem, VerificationError
from vault.trust.keys import public_bytes
from vault.trust.merkle import consistency_proof, verify_consistency
from vault.trust.note import Checkpoint, checkpoint_text, parse_checkpoint, sign_note, verifier_key
from vault.trust.trustlist import dump


def audit(vault: Vault, checkpoint_files: Sequence[Path] = (), progress: Progress = quiet) -> AuditResult:
    """Verify everything, and hold it against checkpoints kept outside (text files or photographs of the page)."""
    kept = [Kept(source=str(path), note=note) for path in checkpoint_files for note in _read(path)]
    with vault.reading() as session:
        return run_audit(session, kept, progress)


_HINT = "Give a file made by gearkeep checkpoint --out FILE, or a photograph of its page."


def _read(path: Path) -> list[str]:
    """The notes in a file: one in a text file, one for each code in a photograph or a PDF of a checkpoint page."""
    try:
        # A PDF may well consist of plain letters alone.
        texts = _texts_in_picture(path) if path.suffix.lower() == ".pdf" else [path.read_text(encoding="utf-8")]
    except UnicodeDecodeError:
        texts = _texts_in_picture(path)
    except OSError as problem:
        raise UsageProblem(f"{path} cannot be read: {problem.strerror or problem}.", kind="bad-note", hint=_HINT) from problem
    notes = [text for text in texts if is_checkpoint(text)]
    if not notes:
        raise UsageProblem(f"{path} holds no checkpoint.", kind="bad-note", hint=_HINT)
    return notes


def _texts_in_picture(path: Path) -> list[str]:
    from labels.errors import LabelError
    from labels.reading import read_picture

    try:
        return [code.text for code in read_picture(path)]
    except LabelError as problem:
        raise UsageProblem(problem.what, kind="bad-note", hint=problem.hint) from problem


def is_checkpoint(text: str) -> bool:
    """Whether a text has the form of a signed checkpoint; the audit says whether it is a good one."""
    body, blank, signatures = text.rpartition("\n\n")
    try:
        parse_checkpoint(body + "\n")
    except GearkeepError:
        return False
    return bool(blank and signatures)


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
        if public_bytes(key) != session.genesis.checkpoint_key:
            raise UsageProblem("The key given is not this vault's checkpoint key.", kind="bad-key",
                               hint="It is the file checkpoint.key that gearkeep init wrote.")
        return [_sign(session, log, key) for log in (MAIN, STOCK) if session.size(log)]


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
