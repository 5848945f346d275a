"""A swap on its way: the luminaire, what was answered and done so far, and how it is taken up again after a break."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import AbstractContextManager, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from vault.actions.changes import gear_position
from vault.actions.desk import Desk
from vault.actions.fitting import Judged, candidates, judge
from vault.actions.luminaire import View, find_tag, full_gears, require_settled, view
from vault.actions.questions import Asker, Question
from vault.actions.swap_teller import Teller
from vault.bus.port import Port
from vault.domain.record import Reason
from vault.domain.settings import Gear
from vault.domain.tag import shown
from vault.errors import GearkeepError, UsageProblem
from vault.exchange.kept_notes import KeptNotes, held_notes
from vault.trust.signers import require_role
from vault.trust.statements import Kind

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

NOTES_NAME = "swap.jsonl"


@dataclass(frozen=True, slots=True, kw_only=True)
class Tools:
    """What is at hand. bus: opens the gateway, None without one. second_key: the key of who may approve, None without.

    at, alone: where the bus finds the spare: at an address as the site writes it, or alone on the line; by default it is the
    one without an address. from_stock: the spare comes out of a store. allow_open: sign although stops stay open.
    even_reserved: take a spare that is kept for another luminaire.
    """

    bus: Callable[[], AbstractContextManager[Port]] | None = None
    at: int | None = None
    alone: bool = False
    second_key: Callable[[], Ed25519PrivateKey] | None = None
    from_stock: bool = True
    store: str | None = None
    bin_name: str | None = None
    allow_open: bool = False
    even_reserved: bool = False
    readback: Path | None = None


@dataclass(slots=True, kw_only=True)
class Course:
    """One swap. seen: the luminaire as it stood when the swap began. position: of the gear that died."""

    desk: Desk
    asker: Asker
    tell: Teller
    tools: Tools
    folder: Path
    notes: KeptNotes
    seen: View
    position: int = 0

    @property
    def gear(self) -> Gear:
        """The gear that died, with what its baseline says of settings that are left out."""
        return full_gears(self.seen.record)[self.position]

    def asked(self, question: Question) -> str:
        """The answer noted earlier, else the one given now, noted at once."""
        known = self.answered(question.key)
        if known is not None:
            return known
        said = self.asker.ask(question)
        self.notes.add("answer", key=question.key, said=said)
        return said

    def answered(self, key: str) -> str | None:
        """What was answered to that question, None when it was not asked yet or has to be asked again."""
        said = None
        for note in self.notes:
            if note["step"] == "answer" and note["key"] == key:
                said = str(note["said"])
            elif note["step"] == "forget" and key in note["keys"]:
                said = None
        return said

    def forget(self, keys: Iterable[str]) -> None:
        """Have these questions asked again."""
        self.notes.add("forget", keys=sorted(keys))

    def judged(self, model: str) -> Judged:
        """The spare against the gear as the vault stands now."""
        with self.desk.vault.reading() as session:
            return judge(session, self.seen, self.gear, candidates(session, model, False)[0])

    def choose_gear(self, duty: str) -> None:
        """The gear with that duty is the one that died."""
        self.position = gear_position(self.seen.record, duty)


@contextmanager
def course_of(desk: Desk, tag_text: str, folder: Path, asker: Asker, tell: Teller, tools: Tools) -> Iterator[Course]:
    """Begin a swap in a folder, or take up the one that it holds.

    Raises VerificationError: wrong-role, unknown-signer, withdrawn-signer; GearkeepError: frozen, conflict, retired,
    other-version; UsageProblem: other-swap, finished; and as held_notes.
    """
    with desk.vault.reading() as session:
        seen = view(session, find_tag(session, tag_text))
        log_id = session.genesis.log_id.hex()
        # Told now, not after an hour's work.
        require_role(session.signers.at(desk.key_id(), session.size()), Kind.RECORD)
    with held_notes(folder / NOTES_NAME) as notes:
        begun = notes.last("begun")
        if begun is not None and (begun["tag"], begun["log"]) != (seen.tag, log_id):
            raise UsageProblem(f"{folder} holds the swap of {shown(begun['tag'])}, not of {shown(seen.tag)}.",
                               kind="other-swap", hint="Name another folder with --folder.")
        if begun is None:
            require_settled(seen)
            notes.add("begun", tag=seen.tag, log=log_id, version=seen.record.version, digest=seen.statement.digest.hex(),
                      time_s=desk.now_s())
        else:
            _take_up(notes, begun, seen)
        yield Course(desk=desk, asker=asker, tell=tell, tools=tools, folder=folder, notes=notes, seen=seen)


def _take_up(notes: KeptNotes, begun: Mapping[str, Any], seen: View) -> None:
    signed = notes.last("signed")
    if signed is not None:
        if signed["version"] != seen.record.version:
            raise UsageProblem(f"The swap in {notes.path.parent} was signed as version {signed['version']}, and "
                               f"{shown(seen.tag)} is at version {seen.record.version} now.", kind="finished",
                               hint="Name another folder with --folder for another swap.")
        return
    if seen.statement.digest.hex() == begun["digest"]:
        require_settled(seen)
        return
    signing = notes.last("signing")
    if signing is not None and _is_ours(signing, seen):
        # The process was killed between the vault's commit and the note of it.
        notes.add("signed", version=seen.record.version, open_stops=sorted(seen.open_stops))
        return
    raise GearkeepError(
        f"This swap began at version {begun['version']} of {shown(seen.tag)}; the newest is version {seen.record.version} now.",
        kind="other-version", hint="Look at what was changed: gearkeep history TAG. Then begin anew with another --folder.")


def _is_ours(signing: Mapping[str, Any], seen: View) -> bool:
    record = seen.record
    if record.version != signing["version"] or record.reason is not Reason.DRIVER_SWAP:
        return False
    return any(gear.readback_digest is not None and gear.readback_digest.hex() == signing["readback_digest"]
               and gear.model == signing["spare"] and gear.serial == signing["serial"] for gear in record.gears)
