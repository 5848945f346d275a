"""Co-signing checkpoints with a key of another kind than all others."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from vault.db.audit import origin
from vault.db.session import Vault
from vault.db.tables import MAIN, STOCK
from vault.errors import UsageProblem, VerificationError
from vault.exchange.files import write_whole
from vault.trust.cosign import cosign, missing, new_cosign_key, open_cosigned, parse_verifiers, verifier_text
from vault.trust.keys import read_private_key, write_key_file
from vault.trust.note import MAX_NOTE_CHARACTERS, Checkpoint, open_note, parse_checkpoint

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.mldsa import MLDSA65PrivateKey


def make_cosign_key(vault: Vault, path: Path, passphrase: bytes) -> Path:
    """Write a co-signing key, and its public half for both logs beside it. Returns the public file (PATH.pub)."""
    public_path = path.with_name(path.name + ".pub")
    if public_path.exists():
        raise UsageProblem(f"{public_path} is there already.", kind="exists", hint="Name another file.")
    key = new_cosign_key()
    with vault.reading() as session:
        names = [origin(session.genesis, log) for log in (MAIN, STOCK)]
    write_key_file(path, key, passphrase)
    public = key.public_key().public_bytes_raw()
    write_whole(public_path, "".join(verifier_text(name, public) + "\n" for name in names).encode())
    return public_path


def read_cosign_key(path: Path, passphrase: bytes) -> MLDSA65PrivateKey:
    """The co-signing key in a file. Raises GearkeepError: bad-key, cannot-check."""
    try:
        from cryptography.hazmat.primitives.asymmetric.mldsa import MLDSA65PrivateKey
    except ImportError as problem:
        raise missing() from problem
    key = read_private_key(path, passphrase)
    if not isinstance(key, MLDSA65PrivateKey):
        raise UsageProblem(f"{path} holds another kind of key; checkpoints are co-signed with ML-DSA-65.", kind="bad-key",
                           hint="Make one with: gearkeep cosign key FILE.")
    return key


def cosign_file(vault: Vault, path: Path, out: Path, key: Callable[[], MLDSA65PrivateKey]) -> Checkpoint:
    """Co-sign the checkpoint in a file, once it agrees with the vault; the result is written to `out`.

    Raises VerificationError: bad-note, unknown-signer, bad-signature, rollback, fork, other-vault.
    """
    note = _note(path)
    said = parse_checkpoint(note.rpartition("\n\n")[0] + "\n")
    with vault.reading() as session:
        logs = {origin(session.genesis, log): log for log in (MAIN, STOCK)}
        if said.origin not in logs:
            raise VerificationError(f"The checkpoint is of {said.origin}, not of this vault.", kind="other-vault",
                                    hint="Open the vault that it is of.")
        open_note(note, said.origin, session.genesis.checkpoint_key)
        log = logs[said.origin]
        if said.size > session.size(log):
            raise VerificationError(f"The checkpoint saw {said.size} entries, the vault holds {session.size(log)}.",
                                    kind="rollback", hint="Run: gearkeep audit --checkpoint FILE.")
        if session.root(log, said.size) != said.root:
            raise VerificationError("The vault's entries are not those that the checkpoint saw.", kind="fork",
                                    hint="Run: gearkeep audit --checkpoint FILE.")
    write_whole(out, cosign(note, key()).encode())
    return said


def check_cosigned(path: Path, public_path: Path) -> Checkpoint:
    """Verify the co-signature of the checkpoint in a text file. Raises VerificationError."""
    return open_cosigned(_note(path), parse_verifiers(_text(public_path, "bad-key", "Give the co-signer's .pub file.")))


def _note(path: Path) -> str:
    return _text(path, "bad-note", "Give a text file made by gearkeep checkpoint --out FILE.txt.")


def _text(path: Path, kind: str, hint: str) -> str:
    try:
        with path.open(encoding="utf-8") as file:
            return file.read(MAX_NOTE_CHARACTERS + 1)
    except (OSError, UnicodeDecodeError) as problem:
        raise UsageProblem(f"{path} cannot be read as text.", kind=kind, hint=hint) from problem
