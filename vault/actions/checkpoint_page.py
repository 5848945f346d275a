"""Pages for the files: the signed checkpoint, and everybody who may sign, in words and as codes."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

from labels.pages import Block, Chapter, pages_pdf
from vault.actions.desk import Desk
from vault.actions.keeping import SignedCheckpoint, sign_checkpoints
from vault.db import queries
from vault.db.session import SIGNER_KINDS, Session, Vault
from vault.trust.grant_code import GrantCode, grant_text
from vault.trust.keys import fingerprint
from vault.trust.signer_words import in_words


def write_checkpoint_page(desk: Desk, path: Path) -> Path | None:
    """Sign checkpoints and write them with the signers' codes behind; None when no checkpoint key is at hand."""
    if desk.checkpoint_key() is None:
        return None
    signed = sign_checkpoints(desk)
    with desk.vault.reading() as session:
        pages_pdf(path, [_checkpoint_chapter(session, signed, desk.now_s()), signers_chapter(session)])
    return path


def write_signers_page(vault: Vault, path: Path) -> Path:
    """Write every statement about signers as codes, for `rebuild --from-labels`."""
    with vault.reading() as session:
        pages_pdf(path, [signers_chapter(session)])
    return path


def write_sheet_pages(desk: Desk, path: Path) -> Path:
    """The pages beside a file of labels: checkpoint and signers; without a checkpoint key the signers alone.

    The signers alone go beside `path` under a name that says so (…-signers.pdf). Returns the file written.
    """
    return write_checkpoint_page(desk, path) or write_signers_page(desk.vault, signers_file(path))


def signers_file(path: Path) -> Path:
    """LABELS-checkpoint.pdf -> LABELS-signers.pdf."""
    return path.with_name(f"{path.stem.removesuffix('-checkpoint')}-signers.pdf")


def _checkpoint_chapter(session: Session, signed: list[SignedCheckpoint], now_s: int) -> Chapter:
    day = datetime.fromtimestamp(now_s, UTC).strftime("%Y-%m-%d %H:%M UTC")
    return Chapter(
        title=f"Checkpoint of {session.genesis.site}",
        paragraphs=(
            f"Signed on {day}. Authority fingerprint: {fingerprint(session.genesis.authority_key)}",
            "Keep this page away from the computer that holds the vault. Whoever changes the vault later, takes entries away "
            "or restores an old copy cannot make it agree with this page again.",
            "To check: photograph the codes and run: gearkeep audit --checkpoint PHOTO",
            *(_root_words(one) for one in signed)),
        blocks=tuple(Block(text=one.note, words=(f"{one.log} journal",), link=False) for one in signed))


def _root_words(one: SignedCheckpoint) -> str:
    return (f"{one.log.capitalize()} journal: {one.size} {'entry' if one.size == 1 else 'entries'}, root "
            + _groups(one.root))


def _groups(data: bytes) -> str:
    digits = data.hex()
    return " ".join(digits[start : start + 4] for start in range(0, len(digits), 4))


def signers_chapter(session: Session) -> Chapter:
    """Everybody who may sign, or might, in words and as codes."""
    rows = queries.signed_of_kinds(session, SIGNER_KINDS)
    genesis = session.genesis
    codes: dict[bytes, str] = {}
    blocks = []
    for number, (place, signed) in enumerate(rows, 1):
        body = session.statement(place).body
        text = grant_text(GrantCode(host=genesis.host, place=place, number=number, count=len(rows), signed_bytes=signed))
        head = f"Code {number} of {len(rows)}, journal entry {place}, {datetime.fromtimestamp(body.time_s, UTC).date()}"
        blocks.append(Block(text=text, words=(head, *in_words(body, codes))))
    return Chapter(
        title=f"Who may sign in {genesis.site}",
        paragraphs=(
            f"{genesis.host}, log {_groups(genesis.log_id)}. Authority fingerprint: {fingerprint(genesis.authority_key)}; "
            f"public key: {_groups(genesis.authority_key)}",
            "With every code of these pages, photographs of the labels and the authority's key or fingerprint the last labelled "
            "settings of each luminaire can be had back when the vault is lost: gearkeep rebuild --from-labels FOLDER "
            "--authority FINGERPRINT --out NEW.db. "
            "The codes hold public keys alone.",
            "When the authority's key is lost, the recovery keys named at code 1 appoint another: gearkeep authority --help.",
            "Keep these pages with the checkpoints. Print them again whenever a signer came or left."),
        blocks=tuple(blocks))

