"""A large journal is walked by several workers at once: what is reported is what the careful walk reports."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from concurrent.futures import Executor, ProcessPoolExecutor, ThreadPoolExecutor

import make
import pytest
from sqlalchemy import Table
from stored import ask, last_row, tamper

from vault.db.address import Address
from vault.db.audit import AuditResult, Kept, run_audit
from vault.db.batch_check import prepare
from vault.db.quick_walk import Quickly, walk_quickly
from vault.db.session import Vault, create
from vault.db.tables import MAIN, PROJECTIONS, STOCK
from vault.db.taken import store
from vault.domain.tag import tag_from_bits, to_bytes
from vault.errors import GearkeepError
from vault.trust.verify import sign

CHAIN = make.chain()
OTHER = next(tag for bits in range(100) if (tag := tag_from_bits(bits)))
# A journal with a recovery is always walked carefully; this one has every other kind.
NAMES = [name for name in CHAIN if name != "recovery"]


def _threads(workers: int, address: Address) -> Executor:
    return ThreadPoolExecutor(workers, initializer=prepare, initargs=(address,))


QUICK = Quickly(processes=2, levels=2, least_entries=1, pool=_threads)
CAREFUL = Quickly(least_entries=2**60)


@pytest.fixture
def address(new_address: Callable[[], str]) -> str:
    """A vault whose main journal fills some batches of four and a part of one more."""
    place = new_address()
    vault = create(place, CHAIN["genesis"])
    with vault.writing() as session:
        for name in NAMES:
            session.append_signed(CHAIN[name], STOCK if name == "stock-movement" else MAIN)
        store(session, make.OTHER_LOG_ID, list(make.other_chain().values()), lambda _done, _total: None)
    vault.close()
    return place


@pytest.fixture
def vault(address: str) -> Iterator[Vault]:
    """That vault, open."""
    opened = Vault(address)
    yield opened
    opened.close()


def _audited(address: str, how: Quickly, *kept: str) -> AuditResult:
    vault = Vault(address)
    with vault.reading() as session:
        result = run_audit(session, [Kept(source="paper", note=note) for note in kept], quickly=how)
    vault.close()
    return result


def test_a_good_journal_takes_the_quick_way(vault: Vault, address: str) -> None:
    """All good: the quick way gives the same tree, sizes and roots, and nothing else."""
    with vault.reading() as session:
        quick = walk_quickly(session, vault.address, QUICK, lambda _done: None)
        assert quick is not None and (quick.tree.size, quick.tree.root()) == (session.size(), session.root())
    assert _audited(address, QUICK) == _audited(address, CAREFUL)
    assert _audited(address, QUICK).faults == ()


MAIN_TABLES = [table for table, log in PROJECTIONS.items() if log == MAIN and table.name != "recovered_record"]


@pytest.mark.parametrize("statement", [
    *(f"UPDATE journal SET {change} WHERE log = 0 AND seq = {seq}" for change, seq in (
        ("digest = :value", 7), ("nodes = :value", 7), ("nodes = :value", 15), ("signed = :value", 6), ("kind = 9", 6))),
    "DELETE FROM journal WHERE log = 0 AND seq = 6", "DELETE FROM journal WHERE log = 0 AND seq = 5",
    "UPDATE record SET place = 'Elsewhere'", "UPDATE record_predecessor SET prefix = :short",
    "INSERT INTO record_predecessor (seq, number, prefix) VALUES (9000, 1, :short)",
    "INSERT INTO gear (seq, number, duty) VALUES (-1, 1, 0)", "UPDATE signer SET until_s = 5 WHERE seq = 1",
    *(f"DELETE FROM {table.name} WHERE {last_row(table)}" for table in MAIN_TABLES),
])
def test_whatever_is_wrong_is_reported_alike(address: str, statement: str) -> None:
    """Bytes, columns, tree hashes, gaps, and rows of every index table: the same faults in the same words."""
    tamper(address, statement, value=bytes(32), short=bytes(16))
    quick = _audited(address, QUICK)
    assert quick == _audited(address, CAREFUL) and quick.faults


@pytest.mark.parametrize("table", MAIN_TABLES, ids=lambda table: table.name)
def test_a_row_too_many_is_reported_alike(address: str, table: Table) -> None:
    """A copy of a row under the next entry's number."""
    names = [column.name for column in table.columns]
    moved = ", ".join("seq + 1" if name == "seq" else "number + 7" if name == "number" else
                      "revision + 5" if name == "revision" else name for name in names)
    tamper(address, f"INSERT INTO {table.name} ({', '.join(names)}) SELECT {moved} FROM {table.name} WHERE {last_row(table)}")
    quick = _audited(address, QUICK)
    assert quick == _audited(address, CAREFUL) and quick.faults


@pytest.mark.parametrize("changes", [
    {"predecessors": b"\x01" * 16}, {"tag": to_bytes(OTHER), "version": 1, "predecessors": None},
    {"fixture_type": make.record.TypeRef(code="T9", revision=1, digest=bytes(8))},
])
def test_a_broken_chain_is_reported_alike(vault: Vault, address: str, changes: dict[str, object]) -> None:
    """Records that are well signed and well indexed, and do not follow what stands before them."""
    with vault.writing() as session:
        last = session.statement(8)
        body = make.replace(last.body, **{"version": 2, "predecessors": session.statement(7).digest[:16],
                                          "reason": make.record.Reason.MOVED, "open_stops": None, **changes})
        if body.version == 1:
            body = make.replace(body, reason=make.record.Reason.HANDOVER, fixture_type=make.record.TypeRef(
                code="T1", revision=7, digest=bytes(8)))
        session.append_recovered(sign(make.Kind.RECORD, body, make.key("technician"), log_id=make.LOG_ID))
    quick = _audited(address, QUICK)
    assert quick == _audited(address, CAREFUL) and quick.faults


def _entries(address: str) -> list[bytes]:
    return [bytes(row[0]) for row in ask(address, "SELECT signed FROM journal WHERE log = 0 ORDER BY seq")]


@pytest.mark.parametrize("size", [0, 3])
def test_checkpoints_are_held_alike(address: str, size: int) -> None:
    """A checkpoint from outside that agrees, and the same one after entries were taken off the end."""
    note = make.good()["checkpoint"]
    assert _audited(address, QUICK, note) == _audited(address, CAREFUL, note)
    tamper(address, f"DELETE FROM journal WHERE log = 0 AND seq >= {len(_entries(address)) - 8 - size}")
    quick = _audited(address, QUICK, note)
    assert quick == _audited(address, CAREFUL, note) and quick.faults


def test_processes_of_their_own_give_the_same(address: str) -> None:
    """The way that a real audit goes."""
    assert _audited(address, Quickly(processes=2, levels=2, least_entries=1)) == _audited(address, CAREFUL)


def test_a_process_that_dies_is_no_answer(address: str) -> None:
    """A worker that ends by itself is told; nothing is taken as good."""
    dying = Quickly(processes=1, levels=2, least_entries=1,
                    pool=lambda workers, _address: ProcessPoolExecutor(workers, initializer=os._exit, initargs=(1,)))
    with pytest.raises(GearkeepError) as problem:
        _audited(address, dying)
    assert problem.value.kind == "worker-lost"
