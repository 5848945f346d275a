"""Walking a journal from its first entry: every signature, rule and tree hash checked anew."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from sqlalchemy import select

from vault.db import proofs, tables
from vault.db.engine import blob
from vault.db.past import MemoryPast
from vault.db.projections import Row, rows_of
from vault.db.session import SIGNER_KINDS, Session
from vault.db.tables import MAIN, STOCK
from vault.domain.record import Record
from vault.errors import GearkeepError, VerificationError
from vault.trust import merkle
from vault.trust.chain import check_place, check_record
from vault.trust.cose import digest as digest_of
from vault.trust.signers import Signers
from vault.trust.statements import Appointment, Genesis, Grant, Kind, Recovery, Role, Withdrawal
from vault.trust.verify import Statement, verify, verify_genesis, verify_movement


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """One thing wrong: what it concerns, where it stands, why it is wrong."""

    what: str
    where: str
    why: str


@dataclass(slots=True)
class Tree:
    """The journal's tree while it is walked: the last whole node of each level is all that is needed."""

    size: int = 0
    _last: dict[int, bytes] = field(default_factory=dict)

    def add(self, leaf: bytes) -> bytes:
        """Take the next leaf; returns the node hashes that it completes, joined."""
        nodes = merkle.nodes_for_append(self.size, leaf, lambda level, _index: self._last[level])
        self._last[0] = leaf
        for level in range(1, len(nodes) // 32 + 1):
            self._last[level] = nodes[(level - 1) * 32 : level * 32]
        self.size += 1
        return nodes

    def add_whole(self, node: bytes, level: int) -> bytes:
        """Take the 2^level leaves under a node at once, at a multiple of so many; returns the nodes above it, joined."""
        nodes = merkle.nodes_for_append(self.size >> level, node, lambda above, _index: self._last[level + above])
        self._last[level] = node
        for above in range(1, len(nodes) // 32 + 1):
            self._last[level + above] = nodes[(above - 1) * 32 : above * 32]
        self.size += 1 << level
        return nodes

    def root(self) -> bytes:
        """The root over the leaves so far."""
        return merkle.root(self.size, lambda level, _index: self._last[level])


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One walked entry. statement is None when it did not verify; faults say why.

    unaccepted: it is well signed, but only as a record from a label, and no recovery accepts it yet.
    """

    seq: int
    statement: Statement | None
    rows: tuple[Row, ...]
    faults: tuple[Fault, ...]
    unaccepted: bool


class Replay:
    """Walks both logs of a vault. After `walk`, `trees[log]` holds the tree and `roots` the roots asked for."""

    def __init__(self, session: Session, wanted_sizes: dict[int, set[int]] | None = None) -> None:
        self._session = session
        self._signers = Signers()
        self._past = MemoryPast(accepts=self._accepted_digests())
        self.genesis: Genesis | None = None
        self._main_size = 0
        # Places in the main log, entries that are gone counted: one fault stays one.
        self._main_holds = 0
        self._wanted = wanted_sizes or {}
        self.trees: dict[int, Tree] = {MAIN: Tree(), STOCK: Tree()}
        self.roots: dict[tuple[int, int], bytes] = {}

    def _verified(self, log: int, seq: int, signed: bytes) -> Statement:
        if log == MAIN and seq == 0:
            statement = verify_genesis(signed)
            self.genesis = statement.body
            return statement
        if self.genesis is None:
            raise VerificationError("There is no good genesis to hold it against.", kind="bad-chain")
        if log == STOCK:
            statement = verify_movement(signed, stock_log_id=self.genesis.stock_log_id, signers=self._signers,
                                        main_size=self._main_size, most=self._main_holds)
            self._main_size = statement.body.main_size
            return statement
        return verify(signed, log_id=self.genesis.log_id, signers=self._signers, place=seq)

    def _unaccepted(self, statement: Statement) -> str | None:
        """Check the rules of its place. Returns what is missing of a record that only a recovery could accept."""
        body = statement.body
        try:
            check_place(statement, self._past)
        except VerificationError as problem:
            if not isinstance(body, Record) or any(held.version != body.version for _, held in self._past.versions(body.tag)):
                raise
            check_record(body, self._past, accepted=True)
            return problem.what
        return None

    def _accepted_digests(self) -> frozenset[bytes]:
        """What the recoveries of the main log accept. A recovery stands behind its records, so they are read first."""
        j = tables.journal
        rows = self._session.connection.execute(
            select(j.c.seq, j.c.kind, j.c.signed).where(j.c.log == MAIN, j.c.kind.in_((*SIGNER_KINDS, int(Kind.RECOVERY))))
            .order_by(j.c.seq)).all()
        if not any(row.kind == Kind.RECOVERY for row in rows):
            return frozenset()
        signers, found = Signers(), set[bytes]()
        log_id: bytes | None = None
        for row in rows:
            try:
                if log_id is None:
                    statement = verify_genesis(blob(row.signed))
                    log_id = statement.body.log_id
                else:
                    statement = verify(blob(row.signed), log_id=log_id, signers=signers, place=row.seq)
            except GearkeepError:
                # The walk names this entry; here too it counts as the tables say, so that one fault stays one.
                stored = self._stored_rows(MAIN, row.seq)
                self._feed_stored_signer(signers, stored, row.seq)
                found.update(values["digest"] for table, values in stored if table is tables.recovered_record)
                continue
            signers.feed(statement.body, row.seq, by=statement.key_id)
            if isinstance(statement.body, Recovery):
                found.update(statement.body.digests[at : at + 32] for at in range(0, len(statement.body.digests), 32))
        return frozenset(found)

    def skip_main(self, tree: Tree) -> None:
        """Take the main log as walked: somebody found all of it good. tree: its tree."""
        self.genesis, self._signers, self.trees[MAIN] = self._session.genesis, self._session.signers, tree
        self._main_holds = tree.size
        for size in self._wanted.get(MAIN, set()):
            if size <= tree.size:
                self.roots[MAIN, size] = proofs.root(self._session, size)

    def walk(self, log: int) -> Iterator[Entry]:
        """Every entry of one log in order; the main log has to be walked before the stock log."""
        j = tables.journal
        expected = 0
        rows = self._session.connection.execute(
            select(j).where(j.c.log == log).order_by(j.c.seq), execution_options={"yield_per": 500})
        for row in rows:
            faults: list[Fault] = []
            unaccepted: str | None = None
            where = place_name(log, row.seq)
            if row.seq != expected:
                faults.append(Fault(what="journal", where=where, why=f"entry {expected} is missing before it"))
            expected = row.seq + 1
            if log == MAIN:
                self._main_holds = expected
            statement: Statement | None = None
            index_rows: tuple[Row, ...] = ()
            signed, stored_digest = blob(row.signed), blob(row.digest)
            try:
                verified = self._verified(log, row.seq, signed)
                if log == MAIN and row.seq:
                    unaccepted = self._unaccepted(verified)
                statement = verified
            except GearkeepError as problem:
                # Without a good genesis nothing can be verified; that one fault is named, not its consequences.
                if self.genesis is not None or (log, row.seq) == (MAIN, 0):
                    faults.append(Fault(what="journal", where=where, why=f"{problem.kind}: {problem.what}"))
            if statement is not None:
                index_rows = tuple(rows_of(row.seq, statement))
                stored = (row.kind, row.key_id, row.digest)
                if stored != (int(statement.kind), statement.key_id, statement.digest):
                    faults.append(Fault(what="journal", where=where, why="its index columns do not match its bytes"))
                if unaccepted is not None:
                    faults.append(Fault(what="journal", where=where,
                                        why=f"not-accepted: recovered record not accepted by the authority: {unaccepted}"))
                self._signers.feed(statement.body, row.seq, by=statement.key_id)
            else:
                index_rows = self._stored_rows(log, row.seq)
                self._feed_stored_signer(self._signers, index_rows, row.seq)
            for index_row in index_rows:
                self._past.feed(index_row)
            # Behind a damaged entry the walk goes on with what the tables say of it, so that one fault stays one.
            tree = self.trees[log]
            if tree.add(digest_of(signed) if statement else stored_digest) != blob(row.nodes):
                faults.append(Fault(what="journal", where=where, why="its tree hashes do not match the entries"))
            if tree.size in self._wanted.get(log, set()):
                self.roots[log, tree.size] = tree.root()
            yield Entry(seq=row.seq, statement=statement, rows=index_rows if statement else (), faults=tuple(faults),
                        unaccepted=unaccepted is not None)

    def _stored_rows(self, log: int, seq: int) -> tuple[Row, ...]:
        found: list[Row] = []
        for table, of_log in tables.PROJECTIONS.items():
            if of_log == log:
                found += [(table, dict(row._mapping)) for row in
                          self._session.connection.execute(select(table).where(table.c.seq == seq))]
        return tuple(found)

    @staticmethod
    def _feed_stored_signer(signers: Signers, rows: tuple[Row, ...], seq: int) -> None:
        for table, row in rows:
            if table is tables.signer and row["ends_others"] is not None:
                signers.feed(Appointment(public_key=row["public_key"], code=row["code"], number=1, time_s=0,
                                         ends_others=bool(row["ends_others"]), endorsements=()), seq)
            elif table is tables.signer:
                roles = frozenset(role for role in Role if row["roles"] >> role & 1)
                signers.feed(Grant(public_key=row["public_key"], roles=roles, code=row["code"], until_s=row["until_s"],
                                   time_s=0), seq)
            elif table is tables.signer_withdrawal:
                signers.feed(Withdrawal(key_id=row["key_id"], time_s=0, reason=row["reason"], trusted_until=row["trusted_until"],
                                        trusted_digest=row["trusted_digest"]), seq)


def place_name(log: int, seq: int) -> str:
    """How an entry is named to people."""
    return f"{'main' if log == MAIN else 'stock'} journal entry {seq}"
