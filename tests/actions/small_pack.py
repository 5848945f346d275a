"""A second vault, and packs of the small vault to be taken over into it."""

from __future__ import annotations

import functools
import random
import shutil
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from small_vault import CATALOGUE, DEMO, NOW_S, PASSPHRASE, SmallVault
from sqlalchemy import select

from vault.actions.adopting import AdoptionResult, adopt
from vault.actions.setup import add_signer, found_vault, load_catalogue
from vault.actions.taking_over import Imported, import_pack
from vault.db import tables
from vault.db.replay import Tree
from vault.exchange import pack_layout
from vault.exchange.pack_reading import expecting
from vault.trust.cose import digest
from vault.trust.keys import fingerprint, public_bytes, read_key_file, write_key_file
from vault.trust.note import Checkpoint, checkpoint_text, sign_note
from vault.trust.statements import Role
from vault.trust.takeover import origin_of
from vault.trust.verify import verify_genesis

OUR_HOST, OUR_SITE = "our.example.org", "Town Hall"


def quiet(_done: int, _total: int) -> None:
    """No progress is shown."""


@functools.cache
def build_ours(folder: Path) -> SmallVault:
    """A vault of other people: the demo's catalogue, an installer, a technician, an approver, no luminaire."""
    folder.mkdir()
    phrase = PASSPHRASE.encode()
    founded = found_vault(str(folder / "vault.db"), host=OUR_HOST, site=OUR_SITE, keys_folder=folder / "keys", passphrase=phrase,
                          recovery_needed=1, recovery_count=1, now_s=NOW_S)
    founded.vault.close()
    chance = random.Random(815)
    roles = {"I01": Role.INSTALLER, "T01": Role.TECHNICIAN, "P01": Role.APPROVER}
    keys = {code: Ed25519PrivateKey.from_private_bytes(chance.randbytes(32)) for code in roles}
    for code, key in keys.items():
        write_key_file(folder / "keys" / f"{code}.key", key, phrase)
    keys |= {"authority": read_key_file(founded.authority_file, phrase),
             "checkpoint": read_key_file(founded.checkpoint_file, phrase)}
    ours = SmallVault(folder=folder, keys_folder=folder / "keys", keys=keys, tags={})
    for code, role in roles.items():
        add_signer(ours.desk("authority"), code=code, roles=frozenset({role}), public_key=public_bytes(keys[code]), name=None)
    for kind, name in CATALOGUE:
        load_catalogue(ours.desk("authority"), kind, DEMO / f"{name}.toml")
    ours.close()
    return replace(ours, opened=[])


def copy_of_ours(built: SmallVault, folder: Path) -> SmallVault:
    """The same vault in a folder of its own."""
    folder.mkdir()
    shutil.copy(built.path, folder / "vault.db")
    return replace(built, folder=folder, opened=[])


def journal_of(small: SmallVault) -> list[bytes]:
    """Signed bytes of the main journal, in order."""
    j = tables.journal.c
    with small.open().reading() as session:
        query = select(j.signed).where(j.log == tables.MAIN).order_by(j.seq)
        return [bytes(one) for one in session.connection.execute(query).scalars()]


def pack_files_of(small: SmallVault, entries: Sequence[bytes]) -> dict[str, bytes]:
    """The files of a pack of some entries, the signed list left out."""
    genesis = verify_genesis(entries[0]).body
    origin, tree = origin_of(genesis.host, genesis.log_id), Tree()
    for one in entries:
        tree.add(digest(one))
    said = checkpoint_text(Checkpoint(origin=origin, size=tree.size, root=tree.root()))
    return {pack_layout.MAIN_JOURNAL: b"".join(entries), pack_layout.FORMAT: b"# The bytes\n", pack_layout.PAGE: b"<p>search</p>",
            pack_layout.MAIN_CHECKPOINT: sign_note(said, origin, small.keys["checkpoint"]).encode()}


def write_pack(small: SmallVault, folder: Path, *, upto: int | None = None, entries: Sequence[bytes] | None = None,
               changed: Mapping[str, bytes] | None = None, key: Ed25519PrivateKey | None = None) -> Path:
    """A pack in a folder. upto: of the first so many entries. changed: files put there that the list says nothing of.

    key: what signs the list instead of the vault's checkpoint key.
    """
    held = list(entries) if entries is not None else journal_of(small)[:upto]
    files = pack_files_of(small, held)
    genesis = verify_genesis(held[0]).body
    origin = origin_of(genesis.host, genesis.log_id)
    files[pack_layout.LIST] = sign_note(pack_layout.list_text(origin, files), origin, key or small.keys["checkpoint"]).encode()
    folder.mkdir()
    for name, data in {**files, **(changed or {})}.items():
        (folder / name).write_bytes(data)
    return folder


def authority_of(small: SmallVault) -> str:
    """The fingerprint that stands on the other vault's papers."""
    return fingerprint(public_bytes(small.keys["authority"]))


def import_into(ours: SmallVault, pack: Path, small: SmallVault, code: str = "authority") -> Imported:
    """Import a pack of the small vault."""
    return import_pack(ours.desk(code), pack, expecting(authority_of(small)), reading=quiet, writing=quiet)


def adopt_in(ours: SmallVault, *texts: str, code: str = "I01") -> AdoptionResult:
    """Adopt luminaires by name, or all."""
    return adopt(ours.desk(code), texts, everything=not texts)
