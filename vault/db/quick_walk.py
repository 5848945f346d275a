"""The quick way through a large main journal: batches are checked in processes of their own, and answer "all good" or not.

Says nothing about what is wrong: wherever one batch or one rule is not wholly good, the careful walk of
vault/db/replay.py looks at everything and puts it into words. So a fault never depends on which way was taken.

A batch is 2^11 entries, so that all the tree's lower nodes lie inside one: its process checks those and answers with the
batch's root; the few nodes above are checked here. The rules of records are asked of the index by whole-table queries:
by then every row of it was found equal to what is signed.
"""

from __future__ import annotations

import gc
import os
from collections.abc import Callable, Iterator
from concurrent.futures import Executor, Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass
from multiprocessing import get_context

from sqlalchemy import Connection, text

from vault.db import tables
from vault.db.address import Address
from vault.db.batch_check import Batch, BatchAnswer, check_batch, prepare
from vault.db.file_faults import file_faults
from vault.db.plain_errors import plain_errors
from vault.db.replay import Tree
from vault.db.session import Session
from vault.db.tables import MAIN
from vault.db.worker_life import stay_with_caller
from vault.domain.record import MAY_FOLLOW, Reason
from vault.errors import GearkeepError
from vault.trust.statements import Kind

LEVELS = 11
# Fewer entries are walked sooner than processes are started.
LEAST_ENTRIES = 6000


def _begin(address: Address) -> None:
    stay_with_caller()
    # What a batch builds holds no circles, and looking for them takes a tenth of the time.
    gc.disable()
    prepare(address)


def in_processes(workers: int, address: Address) -> Executor:
    """Processes of their own, each with the vault open."""
    return ProcessPoolExecutor(workers, mp_context=get_context("spawn"), initializer=_begin, initargs=(address,))


@dataclass(frozen=True, slots=True, kw_only=True)
class Quickly:
    """How the quick way is taken: so many workers, batches of 2^levels entries, from so many entries on."""

    processes: int = 0
    levels: int = LEVELS
    least_entries: int = LEAST_ENTRIES
    pool: Callable[[int, Address], Executor] = in_processes

    @property
    def workers(self) -> int:
        """Processes: as many as this program may use processors, where nothing else was asked."""
        return self.processes or (len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1)


@dataclass(frozen=True, slots=True, kw_only=True)
class QuickResult:
    """Everything was good. tree: the main journal's."""

    tree: Tree


class _NotGood(Exception):
    pass


def walk_quickly(session: Session, address: Address, how: Quickly, progress: Callable[[int], None]) -> QuickResult | None:
    """Check the whole main journal with its index; None where anything at all is not good, or cannot be told quickly.

    progress: told how many entries are done. Raises GearkeepError (worker-lost) when a process dies: that is no answer.
    """
    try:
        size = session.size()
        signers_good = bool(session.signers.everyone())
    except GearkeepError:
        return None
    if (size < how.least_entries or not signers_good or _holds(session, Kind.RECOVERY) or _entries(session) != size
            or not _rows_in_range(session, size)):
        return None
    batches = [Batch(start=start, end=min(start + (1 << how.levels), size), levels=how.levels)
               for start in range(0, size, 1 << how.levels)]
    tree = Tree()
    rated: dict[tuple[str, int, bytes], int] = {}
    try:
        with how.pool(how.workers, address) as pool:
            file_good = pool.submit(file_is_good, address)
            try:
                for batch, answer in zip(batches, _answers(pool, batches, how.workers * 3), strict=True):
                    _grow(tree, batch, answer)
                    for rating, seq in answer.rated.items():
                        rated.setdefault(rating, seq)
                    progress(batch.end)
                if not file_good.result() or not chain_is_good(session.connection, rated):
                    return None
            finally:
                pool.shutdown(wait=False, cancel_futures=True)
    except _NotGood:
        return None
    except BrokenProcessPool as problem:
        raise GearkeepError("A process that checked a part of the journal ended by itself, so nothing is known of that part.",
                            kind="worker-lost", hint="Run the audit again; is there memory enough?") from problem
    return QuickResult(tree=tree)


def _answers(pool: Executor, batches: list[Batch], most: int) -> Iterator[BatchAnswer]:
    waiting: list[Future[BatchAnswer | None]] = []
    rest = iter(batches)
    for batch in rest:
        waiting.append(pool.submit(check_batch, batch))
        if len(waiting) < most:
            continue
        yield _good(waiting.pop(0))
    for future in waiting:
        yield _good(future)


def _good(future: Future[BatchAnswer | None]) -> BatchAnswer:
    answer = future.result()
    if answer is None:
        raise _NotGood
    return answer


def _grow(tree: Tree, batch: Batch, answer: BatchAnswer) -> None:
    """Take a batch into the tree; the nodes above its own levels have to be those that its last row keeps."""
    if len(answer.leaves) == 0:
        above = tree.add_whole(answer.root, batch.levels)
        if above != answer.above:
            raise _NotGood
        return
    for leaf in answer.leaves:
        tree.add(leaf)


def file_is_good(address: Address) -> bool:
    """In a process of its own: whether the file's pages, schema and values are what they should be."""
    from vault.db.engine import make_engine

    engine = make_engine(address)
    try:
        with plain_errors(), engine.connect() as connection, connection.begin():
            return not any(True for _ in file_faults(connection, kinds=False))
    except GearkeepError:
        return False
    finally:
        engine.dispose()


def _holds(session: Session, kind: Kind) -> bool:
    # Records that a recovery accepts follow rules of their own.
    return session.connection.execute(text("SELECT 1 FROM journal WHERE log = 0 AND kind = :kind LIMIT 1"),
                                      {"kind": int(kind)}).first() is not None


def _entries(session: Session) -> int:
    """Rows of the main journal under whatever number: each batch finds its own, so that as many as those are all."""
    return int(session.connection.execute(text("SELECT count(*) FROM journal WHERE log = 0")).scalar_one())


def _rows_in_range(session: Session, size: int) -> bool:
    """No row of the index stands outside of the journal; the batches look at those inside."""
    return all(session.connection.execute(text(f"SELECT 1 FROM {table.name} WHERE seq < 0 OR seq >= :size LIMIT 1"),
                                          {"size": size}).first() is None
               for table, log in tables.PROJECTIONS.items() if log == MAIN)


# What no good journal has an answer to (vault/trust/chain.py says each rule in words).
_NEVER = (
    # A tag begins once.
    "SELECT 1 FROM record WHERE version = 1 GROUP BY tag HAVING count(*) > 1",
    # A version that is not the first names a version of its own tag that stands before it.
    """SELECT 1 FROM record_predecessor AS p JOIN record AS r ON r.seq = p.seq
       LEFT JOIN record AS q ON q.prefix = p.prefix AND q.tag = r.tag AND q.seq < r.seq WHERE q.seq IS NULL""",
    # One more than the highest that it names.
    """SELECT 1 FROM record_predecessor AS p JOIN record AS r ON r.seq = p.seq JOIN record AS q ON q.prefix = p.prefix
       AND q.tag = r.tag GROUP BY r.seq, r.version HAVING r.version <> 1 + max(q.version)""",
)
_STEPS = """SELECT DISTINCT q.reason, r.reason FROM record_predecessor AS p JOIN record AS r ON r.seq = p.seq
            JOIN record AS q ON q.prefix = p.prefix AND q.tag = r.tag"""
_FIRST = "SELECT DISTINCT reason FROM record WHERE version = 1"
_RATING = "SELECT seq, digest FROM catalogue WHERE kind = :kind AND name = :name AND revision = :revision"


def chain_is_good(connection: Connection, rated: dict[tuple[str, int, bytes], int]) -> bool:
    """Whether every record follows what stands before it. rated: (type, revision, prefix) -> the first record that names it."""
    if any(connection.execute(text(f"{query} LIMIT 1")).first() is not None for query in _NEVER):
        return False
    if any(Reason(after) not in MAY_FOLLOW[Reason(before)] for before, after in connection.execute(text(_STEPS))):
        return False
    if any(Reason(first) not in MAY_FOLLOW[None] for (first,) in connection.execute(text(_FIRST))):
        return False
    for (code, revision, prefix), first in rated.items():
        row = connection.execute(text(_RATING), {"kind": int(Kind.RATING), "name": code, "revision": revision}).first()
        if row is None or bytes(row.digest[:8]) != prefix or row.seq >= first:
            return False
    return True
