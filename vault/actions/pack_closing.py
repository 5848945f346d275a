"""The last parts of the pack's paper: cautions, how long to keep what, who may sign, and the checkpoint as a code."""

from __future__ import annotations

from collections.abc import Sequence

from labels.pages import Block, symbol_of
from vault.actions.checkpoint_page import signers_chapter
from vault.actions.keeping import SignedCheckpoint
from vault.db.session import Session
from vault.domain.cautions import CAUTIONS
from vault.domain.schema import words
from vault.exchange.pack_layout import MAIN_CHECKPOINT, PAGE
from vault.exchange.pack_paper import PaperCode, PaperSection, PaperTable
from vault.exchange.pack_retention import Retention
from vault.trust.keys import fingerprint
from vault.trust.signers import day_of


def cautions() -> PaperSection:
    """What has to be said before anybody touches a luminaire."""
    return PaperSection(
        key="cautions", title="Cautions", paragraphs=("Common practice of the trade, without one source; local rules and "
                                                      "competent, authorised persons decide.",),
        tables=(PaperTable(headings=("No.", "Caution"), widths=(30, 500),
                           rows=[(str(caution.number), caution.text) for caution in CAUTIONS]),))


def retention(kept: Retention) -> PaperSection:
    """How long to keep what."""
    return PaperSection(
        key="retention", title="How long to keep it", paragraphs=(kept.source,),
        tables=(PaperTable(headings=("What", "How long"), widths=(270, 260), rows=kept.terms),))


def signers(session: Session) -> PaperSection:
    """Everybody who may sign or might, by code and role, then as codes."""
    rows = []
    for one in session.signers.everyone():
        ended = "" if one.withdrawn_at is None else f"entry {one.withdrawn_at}"
        until = f" until {day_of(one.until_s)}" if one.until_s is not None else ""
        rows.append((one.code, " and ".join(sorted(words(role) for role in one.roles)) + until, one.key_id.hex(),
                     f"entry {one.granted_at}", ended or "–"))
    chapter = signers_chapter(session)
    return PaperSection(
        key="signers", title="Who signed, and who may sign", paragraphs=chapter.paragraphs,
        tables=(PaperTable(headings=("Code", "May sign as", "Key", "Since", "Ended"), widths=(50, 220, 110, 70, 80), rows=rows),),
        codes=tuple(_code(block) for block in chapter.blocks))


def _code(block: Block) -> PaperCode:
    return PaperCode(matrix=tuple(tuple(map(bool, row)) for row in symbol_of(block).matrix), lines=block.words)


def groups(digits: str) -> str:
    """Hexadecimal digits in groups of four, to be compared by eye."""
    return " ".join(digits[start : start + 4] for start in range(0, len(digits), 4))


def root_words(one: SignedCheckpoint) -> str:
    """Size and root of a journal in words."""
    return (f"{one.log.capitalize()} journal: {one.size} {'entry' if one.size == 1 else 'entries'}, root "
            f"{groups(one.root.hex())}")


def as_noted(one: SignedCheckpoint) -> str:
    """A journal's root as its signed note writes it, in base64."""
    return one.note.split("\n")[2]


def checkpoint(session: Session, signed: Sequence[SignedCheckpoint]) -> PaperSection:
    """The checkpoint in words and as codes, so that the paper alone is a witness."""
    return PaperSection(
        key="checkpoint", title="The checkpoint",
        paragraphs=(
            *(f"{root_words(one)}; in the note, in base64: {as_noted(one)}" for one in signed),
            f"Authority fingerprint: {fingerprint(session.genesis.authority_key)}.",
            f"{PAGE} of the pack verifies that all its records together give the root in {MAIN_CHECKPOINT}, and shows that note "
            "under About this pack. Hold size and root printed here against it: when they are equal, no entry was changed, added "
            "or taken away since this paper was made.",
            "Keep this paper away from the files. To hold it against the vault itself: photograph the codes and run: gearkeep "
            "audit --checkpoint PHOTO"),
        codes=tuple(_code(Block(text=one.note, words=(f"Checkpoint of the {one.log} journal: a signed note (C2SP "
                                                      "tlog-checkpoint)",), link=False)) for one in signed))
