"""Many statements of one signer appended in one transaction, by the rules of `Session.append`."""

from __future__ import annotations

import time
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from typing import Any

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from sqlalchemy import select

from vault.db import tables
from vault.db.bulk_past import LotPast
from vault.db.bulk_payload import Payloads, Unusual
from vault.db.bulk_rows import roomy, write_rows, write_tuples
from vault.db.bulk_signing import Lot, Order, signed_lots
from vault.db.heads import lots
from vault.db.projections import Row, rows_of
from vault.db.session import Session
from vault.db.tables import MAIN
from vault.db.trusted import SIGNER_KINDS
from vault.domain.record import Record
from vault.trust import cose, merkle
from vault.trust.chain import check_place
from vault.trust.signers import require_unexpired
from vault.trust.statements import FORMAT_VERSION, STOCK_KINDS, Kind
from vault.trust.verify import Statement, sign, verify

LOT = 500  # statements signed, checked and written together

_J = tables.journal.c


@dataclass(slots=True)
class Frontier:
    """A journal's tree while leaves are added: the last whole node of each level, read from the tables at first."""

    size: int
    read_node: merkle.ReadNode
    _last: dict[int, tuple[int, bytes]] = field(default_factory=dict)

    def _read(self, level: int, index: int) -> bytes:
        held = self._last.get(level)
        return held[1] if held is not None and held[0] == index else self.read_node(level, index)

    def add(self, leaf: bytes) -> bytes:
        """Take the next leaf; returns the node hashes that it completes, joined."""
        self.size += 1
        if self.size & 1:
            self._last[0] = self.size - 1, leaf
            return b""  # a left leaf completes nothing
        nodes = merkle.nodes_for_append(self.size - 1, leaf, self._read)
        for level in range(1, len(nodes) // merkle.HASH_BYTES + 1):
            node = nodes[(level - 1) * merkle.HASH_BYTES : level * merkle.HASH_BYTES]
            self._last[level] = (self.size >> level) - 1, node
        return nodes


class _Writer:
    """Takes signed lots in order, holds each statement to the rules of its place, writes lot after lot."""

    def __init__(self, session: Session, kind: Kind) -> None:
        self._session, self._kind = session, kind
        self._tree = Frontier(session.size(MAIN), session.read_node(MAIN))
        self._past = LotPast(session.connection)

    def write(self, bodies: list[Any], signed: list[bytes]) -> list[Statement]:
        """The statements of a lot as they stand in the journal."""
        digests = [cose.digest(one) for one in signed]
        # One of each lot goes the whole way through the one door; it also says that the signer may sign at this place.
        through = verify(signed[0], log_id=self._session.genesis.log_id, signers=self._session.signers, place=self._tree.size,
                         now_s=int(time.time()))
        self._past.begin({body.tag for body in bodies if isinstance(body, Record)})
        held = self._held(bodies, digests)
        done: list[Statement] = []
        journal: list[tuple[Any, ...]] = []
        index: list[Row] = []
        for body, one, digest in zip(bodies, signed, digests, strict=True):
            if digest in held:
                done.append(held[digest])
                continue
            if through.signer is not None and through.signer.until_s is not None:
                require_unexpired(through.signer, getattr(body, "time_s", 0), "the statement is of")
            statement = Statement(kind=self._kind, key_id=through.key_id, signer=through.signer, body=body, signed_bytes=one,
                                  digest=digest)
            check_place(statement, self._past)
            seq = self._tree.size
            for row in rows_of(seq, statement):
                self._past.feed(row)
                index.append(row)
            journal.append((MAIN, seq, int(self._kind), through.key_id, digest, one, self._tree.add(digest)))
            held[digest] = statement
            done.append(statement)
        write_tuples(self._session.connection, tables.journal, journal)
        write_rows(self._session.connection, index)
        if journal:
            self._session.appended = journal[-1][4]
        return done

    def _held(self, bodies: list[Any], digests: list[bytes]) -> dict[bytes, Statement]:
        """Statements that the journal holds already: the same bytes twice change nothing."""
        if self._kind is Kind.RECORD:
            # A record that is held is one of its tag's versions, and those have been read.
            digests = [digest for body, digest in zip(bodies, digests, strict=True)
                       if any(digest == held for held, _ in self._past.versions(body.tag))]
        if not digests:
            return {}
        rows = self._session.connection.execute(select(_J.log, _J.seq, _J.digest).where(_J.digest.in_(digests))).all()
        return {bytes(row.digest): self._session.statement(row.seq, row.log) for row in rows}


def append_many(session: Session, kind: Kind, bodies: Iterable[Any], key: Ed25519PrivateKey, *,
                workers: int | None = None) -> Iterator[Statement]:
    """Sign bodies of one kind and append them in order; gives each as it stands in the journal. Walk it to its end: a lot
    is written when its first statement is asked for, and bodies are taken some lots ahead.

    Every body is checked, every signature verified, every statement held to the chain's rules against what stands before
    it, bodies of the same call among that. workers: processes that sign; None for what suits the machine, 0 for none.
    Raises what `Session.append` raises; the transaction then has to be given up. Raises ValueError for kinds that change
    who may sign and for the stock journal.
    """
    if int(kind) in SIGNER_KINDS or kind in STOCK_KINDS:
        raise ValueError(f"a {kind.name.lower()} is appended by itself")
    order = Order(seed=key.private_bytes_raw(), kind=int(kind),
                  external_aad=cose.external_aad(FORMAT_VERSION, session.genesis.log_id))
    writer: _Writer | None = None
    with roomy(session.connection):
        for some, signed in signed_lots(order, _checked(session, kind, bodies, key), workers):
            writer = writer or _Writer(session, kind)
            yield from writer.write(some, signed)


def _checked(session: Session, kind: Kind, bodies: Iterable[Any], key: Ed25519PrivateKey) -> Iterator[Lot[Any]]:
    """Lots of bodies with their payloads. The first body is tried whole, before anything else is signed."""
    payloads, log_id, first = Payloads(), session.genesis.log_id, True
    for some in lots(bodies, LOT):
        if first:
            signed = sign(kind, some[0], key, log_id=log_id)
            if session.place_of(cose.digest(signed)) is None:
                session.checked(signed, session.size(MAIN), MAIN)
            first = False
        made = []
        for body in some:
            try:
                made.append(payloads.plain_case(body))
            except Unusual:
                made.append(cose.open_envelope(sign(kind, body, key, log_id=log_id)).payload)
        yield some, made


__all__ = ["Frontier", "append_many"]
