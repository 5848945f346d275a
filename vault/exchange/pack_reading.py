"""Another vault's handover pack, read and verified whole: its files against its signed list, its history entry by entry."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from vault.db import tables
from vault.db.address import Address
from vault.db.bulk_rows import write_tuples
from vault.db.engine import make_engine
from vault.db.replay import Fault, Replay, Tree
from vault.db.session import Session
from vault.db.tables import MAIN
from vault.errors import UsageProblem, VerificationError
from vault.exchange.pack_files import MOST_BYTES, MOST_LIST_BYTES, PackFiles, bad_pack, hold_against, pack_files, read_whole
from vault.exchange.pack_layout import LIST, MAIN_CHECKPOINT, MAIN_JOURNAL, NEEDED, read_list
from vault.trust import cbor
from vault.trust.cose import digest as digest_of
from vault.trust.cose import open_envelope
from vault.trust.keys import fingerprint
from vault.trust.note import MAX_NOTE_CHARACTERS, open_note, parse_checkpoint
from vault.trust.statements import Genesis
from vault.trust.takeover import origin_of
from vault.trust.verify import verify_genesis

Progress = Callable[[int, int], None]
# Raises where the pack is not of the authority that somebody trusts; called before anything else is believed.
Confirm = Callable[[Genesis], None]
_CLASS = re.compile(r"([a-z][a-z0-9-]*): (.*)", re.DOTALL)


@dataclass(frozen=True, slots=True, kw_only=True)
class Pack:
    """A verified pack. entries: the signed bytes of its main log, in order. note: its checkpoint over exactly those."""

    genesis: Genesis
    entries: tuple[bytes, ...]
    note: str
    size: int
    root: bytes

    @property
    def authority(self) -> str:
        """The fingerprint that the other vault is known by."""
        return fingerprint(self.genesis.authority_key)

    def tree(self) -> Tree:
        """The tree over its entries."""
        made = Tree()
        for signed in self.entries:
            made.add(digest_of(signed))
        return made


def expecting(authority: str) -> Confirm:
    """Confirms one authority: its public key (64 hexadecimal digits) or fingerprint (32). Raises UsageProblem (bad-key)."""
    digits = re.sub(r"[\s:-]", "", authority).lower()
    if len(digits) not in (32, 64) or not re.fullmatch("[0-9a-f]*", digits):
        raise UsageProblem(f"{authority[:80]!r} is neither the authority's public key nor its fingerprint.", kind="bad-key",
                           hint="Give the 64 hexadecimal digits of the key, or the 32 of the fingerprint as printed.")

    def confirm(genesis: Genesis) -> None:
        known = (genesis.authority_key.hex(), fingerprint(genesis.authority_key).replace(" ", ""))
        if digits not in known:
            # The pack's own fingerprint is not told: whoever copies it from here has compared nothing.
            raise VerificationError("The pack is not of the authority that was named.", kind="other-authority",
                                    hint="Look the fingerprint up again on a paper of the other vault that you trust. If it was "
                                         "typed rightly, the pack is somebody else's. Nothing was imported.")

    return confirm


def read_pack(path: Path, confirm: Confirm, progress: Progress = lambda _done, _total: None) -> Pack:
    """Read and verify a pack, a folder or a ZIP file. Nothing of it is believed before `confirm` was asked.

    Raises UsageProblem (no-pack); FileProblem; VerificationError: bad-pack, bad-note, unknown-signer, what `confirm` raises,
    and the failure class of the first entry that is not good.
    """
    with pack_files(path) as files:
        journal = read_whole(files, MAIN_JOURNAL, MOST_BYTES)
        entries = tuple(statements_in(journal))
        if not entries:
            raise bad_pack(f"{MAIN_JOURNAL} in the pack is empty.")
        genesis: Genesis = verify_genesis(entries[0]).body
        confirm(genesis)
        note = _checked_files(files, genesis)
    pack = _checked_state(genesis, entries, note)
    _replay(entries, progress)
    return pack


def statements_in(journal: bytes) -> Iterator[bytes]:
    """The statements of a CBOR sequence (RFC 8742), nothing between them. Raises VerificationError."""
    at = 0
    while at < len(journal):
        end = _end_of_statement(journal, at)
        if end - at > cbor.MAX_BYTES:
            raise VerificationError(f"The statement at byte {at} of {MAIN_JOURNAL} has {end - at} bytes.", kind="too-large")
        yield open_envelope(journal[at:end]).signed_bytes
        at = end


def _end_of_statement(data: bytes, start: int) -> int:
    """Where the COSE_Sign1 that begins at `start` ends: an array of byte string, empty map, byte string, byte string."""
    at = start
    for part in (b"\x84", None, b"\xa0", None, None):
        if part is not None:
            if data[at : at + 1] != part:
                raise VerificationError(f"At byte {start} of {MAIN_JOURNAL} begins no statement.", kind="not-a-statement")
            at += 1
        else:
            at = _end_of_bytes(data, at)
    return at


def _end_of_bytes(data: bytes, at: int) -> int:
    first = data[at] if at < len(data) else 0
    length, width = first & 0x1F, 0
    if first >> 5 == 2 and length in (24, 25, 26):
        width = 1 << length - 24
        length = int.from_bytes(data[at + 1 : at + 1 + width], "big")
    elif first >> 5 != 2 or length > 23:
        raise VerificationError(f"At byte {at} of {MAIN_JOURNAL} stands no part of a statement.", kind="not-a-statement")
    end = at + 1 + width + length
    if end > len(data):
        raise VerificationError(f"{MAIN_JOURNAL} ends at byte {len(data)}, inside a statement.", kind="truncated")
    return end


def _checked_files(files: PackFiles, genesis: Genesis) -> str:
    """The checkpoint's text, once every file is what the signed list says."""
    origin = origin_of(genesis.host, genesis.log_id)
    text = _text(read_whole(files, LIST, MOST_LIST_BYTES), LIST)
    try:
        named, listed = read_list(open_note(text, origin, genesis.checkpoint_key))
    except VerificationError as problem:
        hint = "The list has to be signed by the checkpoint key of the vault that the pack is of."
        raise VerificationError(f"{LIST} of the pack: {problem.what}", kind=problem.kind, hint=hint) from problem
    if named != origin:
        raise bad_pack(f"{LIST} is the list of a pack of {named}, the journal is {origin}.")
    missing = [name for name in NEEDED if name not in listed and name != LIST]
    if missing:
        raise bad_pack(f"The pack's list does not name {' and '.join(missing)}, which every pack holds.")
    hold_against(files, listed)
    return _text(read_whole(files, MAIN_CHECKPOINT, MAX_NOTE_CHARACTERS), MAIN_CHECKPOINT)


def _text(data: bytes, name: str) -> str:
    try:
        return data.decode()
    except UnicodeDecodeError as problem:
        raise bad_pack(f"{name} in the pack is no text in UTF-8.") from problem


def _checked_state(genesis: Genesis, entries: Sequence[bytes], note: str) -> Pack:
    origin = origin_of(genesis.host, genesis.log_id)
    said = parse_checkpoint(open_note(note, origin, genesis.checkpoint_key))
    if said.origin != origin:
        raise VerificationError(f"{MAIN_CHECKPOINT} is of {said.origin}, the journal is {origin}.", kind="other-vault")
    pack = Pack(genesis=genesis, entries=tuple(entries), note=note, size=len(entries), root=said.root)
    if said.size != len(entries):
        raise VerificationError(f"The pack's checkpoint saw {said.size} entries, {MAIN_JOURNAL} holds {len(entries)}.",
                                kind="rollback" if said.size > len(entries) else "bad-pack",
                                hint="Ask the sender for the whole pack again.")
    if pack.tree().root() != said.root:
        raise VerificationError(f"The entries in {MAIN_JOURNAL} are not those that the pack's checkpoint saw.", kind="fork",
                                hint="Do not use this pack. Ask the other vault's authority which history is theirs.")
    return pack


def _replay(entries: Sequence[bytes], progress: Progress) -> None:
    """Every signature and every rule of every entry's place, by the walk that an audit takes. Raises VerificationError."""
    if len({digest_of(one) for one in entries}) != len(entries):
        raise VerificationError(f"A statement stands in {MAIN_JOURNAL} more than once.", kind="replayed")
    with TemporaryDirectory(prefix="gearkeep-import-") as folder:
        path = Path(folder, "journal.db")
        engine = make_engine(Address(url=f"sqlite:///{path}", path=path))
        try:
            with engine.connect().execution_options(writing=True) as connection:
                connection.connection.driver_connection.execute("PRAGMA synchronous=OFF")  # type: ignore[union-attr]
                with connection.begin():
                    tables.metadata.create_all(connection)
                    write_tuples(connection, tables.journal, list(_rows(entries)))
                    for entry in Replay(Session(connection)).walk(MAIN):
                        if entry.faults:
                            raise _refused(entry.faults[0])
                        progress(entry.seq + 1, len(entries))
        finally:
            engine.dispose()


def _rows(entries: Sequence[bytes]) -> Iterator[tuple[Any, ...]]:
    tree = Tree()
    for seq, signed in enumerate(entries):
        envelope, digest = open_envelope(signed), digest_of(signed)
        yield MAIN, seq, envelope.kind, envelope.key_id, digest, signed, tree.add(digest)


def _refused(fault: Fault) -> VerificationError:
    found = _CLASS.fullmatch(fault.why)
    kind, why = (found[1], found[2]) if found else ("bad-journal", fault.why)
    return VerificationError(f"The pack's {fault.where} is not good: {why}", kind=kind,
                             hint="Nothing was imported. Ask the other vault's authority for a pack of a vault whose audit is "
                                  "good.")


__all__ = ["Confirm", "Pack", "expecting", "read_pack", "statements_in"]
