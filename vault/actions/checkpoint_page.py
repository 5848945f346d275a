"""A page for the files: the signed checkpoint in words and as a code."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

from labels.sheet import sheet_pdf
from vault.actions.desk import Desk
from vault.actions.keeping import SignedCheckpoint, sign_checkpoints
from vault.trust.keys import fingerprint


def write_checkpoint_page(desk: Desk, path: Path) -> Path | None:
    """Sign checkpoints and write them as an A4 page; None when no checkpoint key is at hand."""
    if desk.checkpoint_key() is None:
        return None
    signed = sign_checkpoints(desk)
    with desk.vault.reading() as session:
        site, authority = session.genesis.site, fingerprint(session.genesis.authority_key)
    day = datetime.fromtimestamp(desk.now_s(), UTC).strftime("%Y-%m-%d %H:%M UTC")
    paragraphs = [
        f"Signed on {day}. Authority fingerprint: {authority}",
        "Keep this page away from the computer that holds the vault. Whoever changes the vault later, takes entries away "
        "or restores an old copy cannot make it agree with this page again.",
        "To check: photograph the codes and run: gearkeep audit --checkpoint PHOTO",
        *(_words(one) for one in signed)]
    sheet_pdf(path, f"Checkpoint of {site}", paragraphs, [(f"{one.log} journal", one.note) for one in signed])
    return path


def _words(one: SignedCheckpoint) -> str:
    digits = one.root.hex()
    return (f"{one.log.capitalize()} journal: {one.size} {'entry' if one.size == 1 else 'entries'}, root "
            + " ".join(digits[i : i + 4] for i in range(0, 64, 4)))
