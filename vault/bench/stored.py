"""Reading and adding, one luminaire at a time, in a vault of many."""

from __future__ import annotations

import random
import sqlite3
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import nacl.bindings
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from vault.bench.big_vault import BigVault
from vault.bench.measure import Figure, alternate, seconds
from vault.bench.raw import STATEMENT_BYTES, fsync_seconds
from vault.db.proofs import inclusion_proof
from vault.db.queries import verified_heads
from vault.db.session import Vault
from vault.domain.record import Reason, Record
from vault.trust import cose
from vault.trust.statements import FORMAT_VERSION, Kind

_HEAD_SQL = """SELECT j.signed FROM record AS r JOIN journal AS j ON j.log = 0 AND j.seq = r.seq WHERE r.tag = ?
    AND NOT EXISTS (SELECT 1 FROM record_predecessor AS p WHERE p.prefix = r.prefix)"""


class _Signed:
    """What libsodium needs of each luminaire's newest statement, made ready beforehand."""

    def __init__(self, path: Path, log_id: bytes, public: bytes, tags: Sequence[str]) -> None:
        self.raw, self.public = sqlite3.connect(path), public
        aad = cose.external_aad(FORMAT_VERSION, log_id)
        self.messages = {tag: self._message(tag, aad) for tag in tags}

    def _message(self, tag: str, aad: bytes) -> bytes:
        envelope = cose.open_envelope(self.raw.execute(_HEAD_SQL, (tag,)).fetchone()[0])
        return envelope.signature + cose.sig_structure(envelope.protected_bytes, aad, envelope.payload)

    def look_up_and_verify(self, tags: Sequence[str]) -> None:
        """The bare driver and the bare library."""
        for tag in tags:
            self.raw.execute(_HEAD_SQL, (tag,)).fetchone()
            nacl.bindings.crypto_sign_open(self.messages[tag], self.public)


def _look_up(vault: Vault, tags: Sequence[str]) -> None:
    with vault.reading() as session:
        for tag in tags:
            verified_heads(session, tag)


def lookup_figure(big: BigVault, count: int, turns: int) -> Figure:
    """A luminaire by its tag, its newest version verified."""
    tags = random.Random(2).sample(big.tags, min(count, len(big.tags)))
    vault = Vault(big.address)
    with vault.reading() as session:
        log_id = session.genesis.log_id
    bare = _Signed(Path(big.address), log_id, big.installer_public, tags)
    bare.look_up_and_verify(tags)
    _look_up(vault, tags)
    work, limit, ratio = alternate(lambda: seconds(lambda: _look_up(vault, tags)),
                                   lambda: seconds(lambda: bare.look_up_and_verify(tags)), turns)
    vault.close()
    return Figure(name="lookup", value=work / len(tags) * 1e6, unit="us", limit=limit / len(tags) * 1e6,
                  beside="bare sqlite3 and libsodium", ratio=ratio, target=1.3, sense="at most")


def next_versions(vault: Vault, tags: Sequence[str]) -> list[Record]:
    """The next version of each luminaire, moved to another place, ready to be signed."""
    bodies = []
    with vault.reading() as session:
        for tag in tags:
            head = verified_heads(session, tag)[-1].statement
            bodies.append(replace(head.body, version=head.body.version + 1, predecessors=head.digest[:16], reason=Reason.MOVED,
                                  place="elsewhere"))
    return bodies


def append_all(vault: Vault, bodies: Sequence[Record], key: Ed25519PrivateKey) -> None:
    """Each in a transaction of its own, as a technician's swaps come in."""
    for body in bodies:
        with vault.writing() as session:
            session.append(Kind.RECORD, body, key)


def _append_turn(vault: Vault, big: BigVault, count: int, chance: random.Random) -> float:
    bodies = next_versions(vault, chance.sample(big.tags, count))
    return seconds(lambda: append_all(vault, bodies, big.installer)) / count


def append_figure(big: BigVault, count: int, turns: int) -> Figure:
    """One version signed, checked and durable."""
    vault, chance = Vault(big.address), random.Random(3)
    message = bytes(STATEMENT_BYTES)

    def limit() -> float:
        return fsync_seconds(Path(big.address).parent, count) + seconds(
            lambda: [big.installer.sign(message) for _ in range(count)]) / count

    _append_turn(vault, big, 5, chance)
    work, beside, ratio = alternate(lambda: _append_turn(vault, big, count, chance), limit, turns)
    vault.close()
    return Figure(name="append", value=work * 1e6, unit="us", limit=beside * 1e6, beside="one fsync and one signature",
                  ratio=ratio, target=5, sense="at most")


def growth_figure(big: BigVault, small: BigVault, count: int, turns: int) -> Figure:
    """An append and a lookup in the large vault against the same in the small one."""
    chance = random.Random(4)
    vaults = {one.address: Vault(one.address) for one in (big, small)}

    def turn(one: BigVault) -> float:
        vault, tags = vaults[one.address], chance.sample(one.tags, count)
        return _append_turn(vault, one, count, chance) + seconds(lambda: _look_up(vault, tags)) / count

    for one in (big, small):
        turn(one)
    work, limit, ratio = alternate(lambda: turn(big), lambda: turn(small), turns)
    for vault in vaults.values():
        vault.close()
    return Figure(name="growth", value=work * 1e6, unit="us", limit=limit * 1e6,
                  beside=f"the same in a vault of {small.statements} statements", ratio=ratio, target=1.3, sense="at most")


def proof_figure(big: BigVault, count: int, turns: int) -> Figure:
    """A proof that a statement stands in the journal."""
    vault, chance = Vault(big.address), random.Random(5)
    with vault.reading() as session:
        size = session.size()

        def turn() -> float:
            places = [chance.randrange(size) for _ in range(count)]
            return seconds(lambda: [inclusion_proof(session, place, size) for place in places]) / count

        turn()
        work = sorted(turn() for _ in range(turns))[turns // 2]
    vault.close()
    return Figure(name="proof", value=work * 1000, unit="ms", limit=None, beside=f"{size} entries", ratio=None, target=0.3,
                  sense="at most")
