"""Entries taken over, held against the take-overs that vouch for them; their index, checked and made anew."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from sqlalchemy import select

from vault.db import tables
from vault.db.bulk_rows import write_rows
from vault.db.engine import blob
from vault.db.replay import Fault, Tree
from vault.db.session import Session
from vault.db.tables import MAIN
from vault.db.taken import index_row, kept_logs, rows_in_order
from vault.errors import GearkeepError
from vault.trust.cose import digest as digest_of
from vault.trust.cose import open_envelope
from vault.trust.note import open_note
from vault.trust.statements import Genesis, Kind
from vault.trust.takeover import TakeOver, origin_of
from vault.trust.verify import verify_genesis


def log_name(log_id: bytes) -> str:
    """How a log is named to people."""
    return f"taken log {log_id.hex()[:8]}"


@dataclass(frozen=True, slots=True, kw_only=True)
class _Vouched:
    """What one take-over in the journal vouches for, as it is signed."""

    body: TakeOver
    size: int
    root: bytes


def _vouchers(session: Session) -> Iterator[_Vouched | None]:
    """What the journal's take-overs say, in their order; None for one that does not verify."""
    j = tables.journal.c
    query = select(j.seq).where(j.log == MAIN, j.kind == int(Kind.TAKE_OVER)).order_by(j.seq)
    for seq in session.connection.execute(query).scalars().all():
        try:
            body = session.statement(seq).body
        except GearkeepError:
            # The walk of the journal names it.
            body = None
        yield _Vouched(body=body, size=body.said.size, root=body.said.root) if isinstance(body, TakeOver) else None


def taken_faults(session: Session) -> Iterator[Fault]:
    """What is wrong with the entries taken over or with their index, held against the journal's take-overs."""
    vouched: dict[bytes, list[_Vouched]] = defaultdict(list)
    all_good = True
    for one in _vouchers(session):
        if one is None:
            all_good = False
        else:
            vouched[one.body.log_id].append(one)
    for log_id in sorted({*vouched, *kept_logs(session)}):
        if log_id not in vouched and all_good:
            yield Fault(what="taken", where=log_name(log_id), why="no take-over in the journal vouches for its rows")
        yield from _log_faults(session, log_id, vouched.get(log_id, []), all_good)


def _log_faults(session: Session, log_id: bytes, vouched: list[_Vouched], all_good: bool) -> Iterator[Fault]:
    tree, roots, wanted = Tree(), dict[int, bytes](), {one.size for one in vouched}
    index = _Index(session, log_id)
    genesis: Genesis | None = None
    for row in rows_in_order(session, log_id):
        where, signed = f"{log_name(log_id)}, entry {row.seq}", blob(row.signed)
        if row.seq != tree.size:
            yield Fault(what="taken", where=where, why=f"entry {tree.size} is missing before it; import the pack again or "
                        "restore a backup")
            return
        digest = digest_of(signed)
        try:
            kind = open_envelope(signed).kind
            if row.seq == 0:
                genesis = verify_genesis(signed).body
            yield from index.differences(row.seq, index_row(log_id, row.seq, signed), where)
        except GearkeepError as problem:
            yield Fault(what="taken", where=where, why=f"{problem.kind}: {problem.what}")
            kind = row.kind
        if (row.kind, blob(row.digest), blob(row.nodes)) != (kind, digest, tree.add(digest)):
            yield Fault(what="taken", where=where, why="its columns do not match its bytes")
        if tree.size in wanted:
            roots[tree.size] = tree.root()
    yield from index.rest(tree.size)
    for one in vouched:
        yield from _held(one, genesis, roots.get(one.size))
    if vouched and all_good and tree.size > vouched[-1].size:
        yield Fault(what="taken", where=log_name(log_id), why=f"{tree.size} entries are kept, the take-over vouches for "
                    f"{vouched[-1].size}")


def _held(one: _Vouched, genesis: Genesis | None, root: bytes | None) -> Iterator[Fault]:
    body = one.body
    where = f"{log_name(body.log_id)}, take-over of {one.size} entries"
    if root is None:
        yield Fault(what="taken", where=where, why="its entries are missing; import the pack again or restore a backup")
        return
    if root != one.root:
        yield Fault(what="taken", where=where, why="fork: the entries kept are not those that the take-over vouches for")
        return
    named = (body.log_id, body.host, body.site, body.authority_key)
    if genesis is None or named != (genesis.log_id, genesis.host, genesis.site, genesis.authority_key):
        yield Fault(what="taken", where=where, why="other-vault: its genesis is not of the vault that the take-over names")
        return
    try:
        open_note(body.note, origin_of(body.host, body.log_id), genesis.checkpoint_key)
    except GearkeepError as problem:
        yield Fault(what="taken", where=where, why=f"{problem.kind}: {problem.what}")


class _Index:
    """The stored index rows of a log, taken one after another."""

    def __init__(self, session: Session, log_id: bytes) -> None:
        table = tables.taken_record
        self._rows = iter(session.connection.execute(select(table).where(table.c.log_id == log_id).order_by(table.c.seq),
                                                     execution_options={"yield_per": 500}))
        self._next: Any = next(self._rows, None)

    def differences(self, seq: int, due: Any, where: str) -> Iterator[Fault]:
        """Hold the stored row of an entry against what its bytes say."""
        found = dict(self._next._mapping) if self._next is not None and self._next.seq == seq else None
        if found is not None:
            self._next = next(self._rows, None)
        want = None if due is None else due[1]
        if found == want:
            return
        if found is None:
            why = "the row is missing; run: gearkeep rebuild"
        elif want is None:
            why = "the entry says nothing of this row"
        else:
            why = ", ".join(f"{name} is {found[name]!r}, the entry says {want[name]!r}" for name in want
                            if want[name] != found[name])
        yield Fault(what="index", where=f"table taken_record, {where}", why=why)

    def rest(self, size: int) -> Iterator[Fault]:
        """Rows of entries that are not there, or stand out of their order."""
        while self._next is not None:
            yield Fault(what="index", where=f"table taken_record, entry {self._next.seq}, tag {self._next.tag}",
                        why=f"the log has {size} entries and says nothing of this row")
            self._next = next(self._rows, None)


def rebuild_taken(session: Session) -> int:
    """Make the index over what was taken over anew; returns the rows written. Raises GearkeepError (bad-journal)."""
    session.connection.execute(tables.taken_record.delete())
    written = 0
    for log_id in kept_logs(session):
        found = []
        for row in rows_in_order(session, log_id):
            try:
                made = index_row(log_id, row.seq, blob(row.signed))
            except GearkeepError as problem:
                raise GearkeepError(f"{log_name(log_id).capitalize()}, entry {row.seq} cannot be read: {problem.what}",
                                    hint="Nothing was changed. Restore a backup, then rebuild.", kind="bad-journal") from problem
            found += [made] if made is not None else []
        write_rows(session.connection, found)
        written += len(found)
    return written
