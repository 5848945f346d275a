"""Audit: the journal is verified entry by entry and every index row is held against it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Table, func, select

from vault.db.bulk_rows import roomy, write_rows
from vault.db.doubts import doubtful_entries
from vault.db.file_faults import file_faults, kind_faults
from vault.db.projections import Row
from vault.db.queries import checkpoints
from vault.db.quick_walk import Quickly, walk_quickly
from vault.db.replay import Fault, Replay, place_name
from vault.db.session import Session
from vault.db.stock_doubts import doubtful_stock
from vault.db.tables import MAIN, PROJECTIONS, STOCK, journal
from vault.db.taken_check import rebuild_taken, taken_faults
from vault.errors import GearkeepError
from vault.trust.note import open_note, parse_checkpoint
from vault.trust.statements import Genesis

Progress = Callable[[int, int], None]
# So many index rows are held back and written together.
LOT_ROWS = 2000


def quiet(_done: int, _total: int) -> None:
    """No progress is shown."""


@dataclass(frozen=True, slots=True, kw_only=True)
class AuditResult:
    """How many statements were verified, what is wrong, and each log's size and root."""

    statements: int
    faults: tuple[Fault, ...]
    sizes: dict[int, int]
    roots: dict[int, bytes]


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """A checkpoint from outside: the name of where it comes from, and its note."""

    source: str
    note: str


class _IndexReader:
    """Rows of one index table in the order of the journal, taken entry by entry."""

    def __init__(self, session: Session, table: Table) -> None:
        self.table = table
        key = list(table.primary_key.columns)
        self._rows = iter(session.connection.execute(select(table).order_by(*key), execution_options={"yield_per": 500}))
        self._next: Any = next(self._rows, None)

    def take(self, upto: int) -> list[dict[str, Any]]:
        """Every row of entries up to and including `upto` that was not taken before."""
        taken = []
        while self._next is not None and self._next.seq <= upto:
            taken.append(dict(self._next._mapping))
            self._next = next(self._rows, None)
        return taken


def _row_name(table: Table, row: dict[str, Any]) -> str:
    where = f"table {table.name}, entry {row['seq']}" + (f", row {row['number']}" if "number" in row else "")
    return where + (f", tag {row['tag']}" if row.get("tag") else "")


def _differences(table: Table, found: list[dict[str, Any]], due: list[dict[str, Any]]) -> Iterator[Fault]:
    def key(row: dict[str, Any]) -> tuple[int, int]:
        return row["seq"], row.get("number", 0)

    due_by_key, found_by_key = {key(row): row for row in due}, {key(row): row for row in found}
    for ident in sorted(due_by_key.keys() | found_by_key.keys()):
        want, have = due_by_key.get(ident), found_by_key.get(ident)
        if want is None and have is not None:
            yield Fault(what="index", where=_row_name(table, have), why="the journal says nothing of this row")
        elif have is None and want is not None:
            yield Fault(what="index", where=_row_name(table, want), why="the row is missing; run: gearkeep rebuild")
        elif want is not None and have is not None and want != have:
            wrong = ", ".join(f"{name} is {have[name]!r}, the journal says {want[name]!r}"
                              for name in want if want[name] != have[name])
            yield Fault(what="index", where=_row_name(table, want), why=wrong)


def _walk_log(session: Session, replay: Replay, log: int, faults: list[Fault], step: Callable[[], None]) -> None:
    readers = [_IndexReader(session, table) for table, of_log in PROJECTIONS.items() if of_log == log]
    for entry in replay.walk(log):
        faults.extend(entry.faults)
        for reader in readers:
            found = reader.take(entry.seq)
            due = [row for table, row in entry.rows if table is reader.table]
            if entry.statement is not None or not any(row["seq"] == entry.seq for row in found):
                faults.extend(_differences(reader.table, found, due))
        step()
    for reader in readers:
        faults.extend(_differences(reader.table, reader.take(2**62), []))


def _own_checkpoints(session: Session, replay: Replay) -> Iterator[Fault]:
    for log in (MAIN, STOCK):
        for size, root, note in checkpoints(session, log):
            where = f"{'main' if log == MAIN else 'stock'} checkpoint of size {size}"
            yield from _hold(replay, log, where, note, (size, root))


def _hold(replay: Replay, log: int, where: str, note: str,
          stored: tuple[int, bytes] | None = None) -> Iterator[Fault]:
    if replay.genesis is None:
        return
    name = origin(replay.genesis, log)
    try:
        said = parse_checkpoint(open_note(note, name, replay.genesis.checkpoint_key))
    except GearkeepError as problem:
        yield Fault(what="checkpoint", where=where, why=f"{problem.kind}: {problem.what}")
        return
    if said.origin != name:
        yield Fault(what="checkpoint", where=where, why=f"other-vault: it is of {said.origin}, this vault is {name}")
    elif stored is not None and stored != (said.size, said.root):
        yield Fault(what="checkpoint", where=where, why="its columns do not match its note")
    elif said.size > replay.trees[log].size:
        yield Fault(what="checkpoint", where=where, why=f"rollback: it saw {said.size} entries, the vault now holds "
                    f"{replay.trees[log].size}; entries were taken away or an old copy was restored")
    elif said.size and replay.roots.get((log, said.size)) != said.root:
        yield Fault(what="checkpoint", where=where, why="fork: the vault's first "
                    f"{said.size} entries are not those that this checkpoint saw")


def origin(genesis: Genesis, log: int) -> str:
    """The origin line of a log's checkpoints: HOST/log id in hexadecimal."""
    return f"{genesis.host.lower()}/{(genesis.log_id if log == MAIN else genesis.stock_log_id).hex()}"


def _sizes_wanted(session: Session, kept: Sequence[Kept]) -> dict[int, set[int]]:
    wanted = {log: {size for size, _, _ in checkpoints(session, log)} for log in (MAIN, STOCK)}
    for outside in kept:
        # Only to know where to look: the note is verified later, against the root found there.
        lines = outside.note.splitlines()
        if len(lines) > 1 and lines[1].isdecimal() and len(lines[1]) < 19:
            for log in (MAIN, STOCK):
                wanted[log].add(int(lines[1]))
    return wanted


def run_audit(session: Session, kept: Sequence[Kept] = (), progress: Progress = quiet,
              quickly: Quickly | None = None) -> AuditResult:
    """Verify every signature, rule, tree hash, index row and checkpoint; `kept` are checkpoints from outside.

    quickly: how a large journal is walked in several processes; the result is the same.
    """
    total = session.size(MAIN) + session.size(STOCK)
    replay = Replay(session, _sizes_wanted(session, kept))
    quick = None if session.address is None else walk_quickly(
        session, session.address, quickly or Quickly(), lambda main: progress(main, total))
    faults: list[Fault] = []
    done = 0
    if quick is not None:
        replay.skip_main(quick.tree)
        done = quick.tree.size
    else:
        faults += file_faults(session.connection, kinds=False)

    def step() -> None:
        nonlocal done
        done += 1
        progress(done, total)

    try:
        for log in (MAIN, STOCK) if quick is None else (STOCK,):
            _walk_log(session, replay, log, faults, step)
        faults += _doubtful(session)
        faults += _replayed(session)
        faults += _own_checkpoints(session, replay)
        faults += taken_faults(session)
    except (TypeError, ValueError, AttributeError, KeyError, IndexError, OverflowError):
        # Values of any kind come out of a damaged page.
        faults += kind_faults(session.connection)
        if not faults:
            raise
        faults.append(Fault(what="file", where=f"behind entry {done} of both journals", why="the rest cannot be read"))
    faults += _log_state(session, replay)
    for outside in kept:
        of_stock = replay.genesis is not None and outside.note.startswith(origin(replay.genesis, STOCK))
        log = STOCK if of_stock else MAIN
        faults.extend(_hold(replay, log, outside.source, outside.note))
    return AuditResult(
        statements=done, faults=tuple(faults), sizes={log: tree.size for log, tree in replay.trees.items()},
        roots={log: tree.root() for log, tree in replay.trees.items()},
    )


def _doubtful(session: Session) -> Iterator[Fault]:
    """What a key in wrong hands signed and nobody has answered for since."""
    try:
        for one in doubtful_entries(session):
            yield Fault(what="signer", where=place_name(MAIN, one.seq), why=one.why)
        for moved in doubtful_stock(session):
            yield Fault(what="signer", where=place_name(STOCK, moved.seq), why=moved.why)
    except GearkeepError:
        # Statements that do not verify, and rows that say otherwise, are named by the walk.
        return


def _replayed(session: Session) -> Iterator[Fault]:
    """Statements that stand in the journal more than once: a movement of stock would count twice. The tables forbid it, but
    whoever owns them can allow it.
    """
    twice = select(journal.c.digest).group_by(journal.c.digest).having(func.count() > 1)
    places = select(journal.c.digest, journal.c.log, journal.c.seq).where(journal.c.digest.in_(twice))
    first: dict[bytes, str] = {}
    for digest, log, seq in session.connection.execute(places.order_by(journal.c.log, journal.c.seq)):
        where = place_name(log, seq)
        if bytes(digest) in first:
            yield Fault(what="journal", where=where, why=f"replayed: it is {first[bytes(digest)]} once more")
        first.setdefault(bytes(digest), where)


def _log_state(session: Session, replay: Replay) -> Iterator[Fault]:
    if session.connection.dialect.name != "postgresql":
        return
    for log, size in session.connection.exec_driver_sql("SELECT log, size FROM log_state ORDER BY log"):
        if size != replay.trees[log].size:
            yield Fault(what="index", where=f"table log_state, log {log}",
                        why=f"size is {size}, the journal holds {replay.trees[log].size}; run: gearkeep upgrade")


def rebuild(session: Session, progress: Progress = quiet) -> int:
    """Make every index table anew from the journal alone; returns the number of rows written. The index over entries taken
    over is made from those.

    Raises GearkeepError and changes nothing when an entry of the journal does not verify.
    """
    for table in PROJECTIONS:
        session.connection.execute(table.delete())
    total, done, written = session.size(MAIN) + session.size(STOCK), 0, 0
    replay = Replay(session)
    lot: list[Row] = []
    with roomy(session.connection):
        for log in (MAIN, STOCK):
            for entry in replay.walk(log):
                if entry.statement is None:
                    raise GearkeepError(f"{place_name(log, entry.seq).capitalize()} does not verify: {entry.faults[0].why}",
                                        hint="Nothing was changed. Restore the journal from a backup, then rebuild.",
                                        kind="bad-journal")
                lot.extend(entry.rows)
                done += 1
                progress(done, total)
                if len(lot) >= LOT_ROWS or done == total:
                    write_rows(session.connection, lot)
                    written += len(lot)
                    lot.clear()
    return written + rebuild_taken(session)


__all__ = ["AuditResult", "Fault", "Kept", "origin", "rebuild", "run_audit"]
