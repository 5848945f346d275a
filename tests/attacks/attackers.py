"""What attackers do: to the tables behind the program's back, with keys of their own, with bytes of their own making."""

from __future__ import annotations

from typing import Any

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from small_vault import NOW_S, SmallVault
from sqlalchemy import select, text
from stored import behind

from vault.actions.desk import Desk
from vault.actions.keeping import sign_checkpoints
from vault.db import tables
from vault.db.audit import Kept, run_audit
from vault.db.projections import rows_of
from vault.db.replay import Tree
from vault.db.session import Vault
from vault.db.tables import MAIN, PROJECTIONS
from vault.errors import GearkeepError
from vault.trust import cbor, cose
from vault.trust.statements import Kind
from vault.trust.verify import sign

STRANGER = Ed25519PrivateKey.from_private_bytes(b"7" * 32)


def words_of_audit(small: SmallVault, *kept: str) -> set[str]:
    """The failure classes that an audit names, first words of its reasons; `kept` are checkpoints from outside."""
    vault = Vault(small.address)
    with vault.reading() as session:
        faults = run_audit(session, [Kept(source=f"kept {number}", note=note) for number, note in enumerate(kept)]).faults
    vault.close()
    return {fault.why.split(":")[0] for fault in faults} | {f"{fault.what} {fault.where}" for fault in faults}


def checkpoint_of(small: SmallVault, log: int = MAIN) -> str:
    """A checkpoint of a journal that somebody keeps outside."""
    desk = Desk(vault=small.open(), checkpoint_key_source=lambda: small.keys["checkpoint"], now_s=lambda: NOW_S)
    note = sign_checkpoints(desk)[log].note
    small.close()
    return note


def refusal(act: Any) -> GearkeepError:
    """The error with which something is refused; fails where it is not."""
    try:
        act()
    except GearkeepError as problem:
        return problem
    raise AssertionError("it was not refused")


def refused(act: Any) -> str:
    """The failure class with which something is refused; fails where it is not."""
    return refusal(act).kind


def resigned(small: SmallVault, kind: Kind, body: Any, key: Ed25519PrivateKey, log: int = MAIN) -> bytes:
    """A statement for one of this vault's journals signed with any key."""
    with small.open().reading() as session:
        return sign(kind, body, key, log_id=session.log_id(log))


def packed(small: SmallVault, payload: bytes, key: Ed25519PrivateKey, *, kind: Kind = Kind.RECORD) -> bytes:
    """A statement of this vault over any payload bytes."""
    with small.open().reading() as session:
        aad = cose.external_aad(1, session.genesis.log_id)
    return cose.sign_statement(int(kind), payload, key, aad)


def journal_of(small: SmallVault, log: int = MAIN) -> list[bytes]:
    """Signed bytes of a journal, in order."""
    j = tables.journal.c
    with small.open().reading() as session:
        found = [bytes(row) for row in session.connection.execute(
            select(j.signed).where(j.log == log).order_by(j.seq)).scalars()]
    small.close()
    return found


def write_journal(small: SmallVault, statements: list[bytes], log: int = MAIN) -> None:
    """Put a journal of the attacker's in the place of the vault's, with tree hashes that fit and index rows where they can
    be made. Checkpoints inside the vault go too.
    """
    small.close()
    with behind(small.address) as connection:
        for table in (table for table, of in PROJECTIONS.items() if of == log):
            connection.execute(text(f"DELETE FROM {table.name}"))
        connection.execute(text("DELETE FROM journal WHERE log = :log"), {"log": log})
        connection.execute(text("DELETE FROM checkpoint"))
        tree = Tree()
        for seq, signed in enumerate(statements):
            envelope = cose.open_envelope(signed)
            digest = cose.digest(signed)
            connection.execute(tables.journal.insert(), {
                "log": log, "seq": seq, "kind": envelope.kind, "key_id": envelope.key_id, "digest": digest,
                "signed": signed, "nodes": tree.add(digest)})
            for table, row in rows_of(seq, _claimed(envelope, digest)):
                connection.execute(table.insert(), row)
        if connection.dialect.name == "postgresql":
            connection.execute(text("UPDATE log_state SET size = :size WHERE log = :log"), {"size": len(statements), "log": log})


def _claimed(envelope: cose.Envelope, digest: bytes) -> Any:
    from vault.trust.mapping import from_plain_cbor
    from vault.trust.statements import BODY
    from vault.trust.verify import Statement

    body = from_plain_cbor(BODY[Kind(envelope.kind)], cbor.decode(envelope.payload))
    return Statement(kind=Kind(envelope.kind), key_id=envelope.key_id, signer=None, body=body,
                     signed_bytes=envelope.signed_bytes, digest=digest)
