"""The quick audit of a large journal says what the careful one says: edits, withdrawn keys, forks, rows under odd numbers."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from concurrent.futures import Executor, ThreadPoolExecutor
from pathlib import Path
from typing import Any

import make
import pytest
from sqlalchemy import Table
from stored import behind, last_row, tamper

from vault.db import batch_check, tables
from vault.db.address import Address
from vault.db.audit import AuditResult, Kept, run_audit
from vault.db.quick_walk import Quickly, file_is_good
from vault.db.session import Vault, create
from vault.db.tables import MAIN, PROJECTIONS, STOCK
from vault.db.taken import store
from vault.trust import merkle
from vault.trust.cose import digest
from vault.trust.note import Checkpoint, checkpoint_text, sign_note
from vault.trust.verify import sign

CHAIN = make.chain()
NAMES = [name for name in CHAIN if name != "recovery"]
SIZE = len(NAMES) - 1  # the stock movement stands in the other log


def _threads(workers: int, address: Address) -> Executor:
    return ThreadPoolExecutor(workers, initializer=batch_check.prepare, initargs=(address,))


QUICK = Quickly(processes=2, levels=2, least_entries=1, pool=_threads)
CAREFUL = Quickly(least_entries=2**60)


@pytest.fixture
def address(new_address: Callable[[], str]) -> str:
    """A vault with a statement of every kind but a recovery."""
    place = new_address()
    vault = create(place, CHAIN["genesis"])
    with vault.writing() as session:
        for name in NAMES:
            session.append_signed(CHAIN[name], STOCK if name == "stock-movement" else MAIN)
        store(session, make.OTHER_LOG_ID, list(make.other_chain().values()), lambda _done, _total: None)
    vault.close()
    return place


def _audited(address: str, how: Quickly, *kept: str) -> AuditResult:
    vault = Vault(address)
    with vault.reading() as session:
        result = run_audit(session, [Kept(source="paper", note=note) for note in kept], quickly=how)
    vault.close()
    return result


def _alike(address: str, *kept: str) -> set[str]:
    """First words of the reasons that both ways give; fails where the two differ."""
    quick = _audited(address, QUICK, *kept)
    assert quick == _audited(address, CAREFUL, *kept)
    return {fault.why.split(":")[0] for fault in quick.faults}


# One column of every index table of the main log, and another value that it could well hold.
EDITED: dict[Table, tuple[str, Any]] = {
    tables.signer: ("code", "X99"), tables.signer_withdrawal: ("reason", "lost"), tables.catalogue: ("name", "Other"),
    tables.record: ("time_s", 5), tables.record_predecessor: ("prefix", bytes(16)), tables.gear: ("short_address", 63),
    tables.approval: ("accepts", "window-too-wide"), tables.label: ("copy", 9), tables.label_event: ("event", "placed"),
    tables.take_over: ("site", "Elsewhere"), tables.adopted: ("version", 7),
}


@pytest.mark.parametrize("table", EDITED, ids=lambda table: table.name)
def test_an_edited_column_is_reported_alike(address: str, table: Table) -> None:
    """Each index table: what stands there is not what is signed."""
    column, value = EDITED[table]
    tamper(address, f"UPDATE {table.name} SET {column} = :value WHERE {last_row(table)}", value=value)
    assert any(said.startswith(f"{column} is ") for said in _alike(address))


def test_no_index_table_was_forgotten() -> None:
    """Every index table of the main log but that of recoveries, with which the quick way is never taken."""
    assert {*EDITED, tables.recovered_record} == {table for table, log in PROJECTIONS.items() if log == MAIN}


@pytest.mark.parametrize("at", [0, 3, 40, -65, -1])
def test_a_flipped_bit_is_reported_alike(address: str, at: int) -> None:
    """In the envelope, the header, the payload, the length of the signature and the signature of a record."""
    signed = bytearray(CHAIN["record"])
    signed[at] ^= 1
    tamper(address, "UPDATE journal SET signed = :signed WHERE digest = :digest", signed=bytes(signed),
           digest=digest(CHAIN["record"]))
    assert _alike(address)


@pytest.mark.parametrize("seq", [-1, -(2**40)])
def test_an_entry_under_an_odd_number_is_reported_alike(address: str, seq: int) -> None:
    """A journal row that no batch holds: what is not looked at is not called good."""
    tamper(address, "INSERT INTO journal (log, seq, kind, key_id, digest, signed, nodes) SELECT "
                    f"log, {seq}, kind, key_id, :other, signed, nodes FROM journal WHERE log = 0 AND seq = 5", other=bytes(32))
    assert "entry 0 is missing before it" in _alike(address)


def test_what_a_withdrawn_key_signed_later_is_reported_alike(address: str) -> None:
    """Put into the tables by their owner, with tree hashes that fit: the withdrawal counts."""
    signed = sign(make.Kind.CIRCUIT, make.site.Circuit(name="C2", revision=1, rated_current_ma=16_000,
                                                       breaker=make.site.Breaker.B), make.key("installer"), log_id=make.LOG_ID)
    vault = Vault(address)
    with vault.reading() as session:
        nodes = merkle.nodes_for_append(SIZE, digest(signed), session.read_node(MAIN))
        signer = session.statement(NAMES.index("record")).key_id
    vault.close()
    with behind(address) as connection:
        connection.execute(tables.journal.insert(), {
            "log": MAIN, "seq": SIZE, "kind": int(make.Kind.CIRCUIT), "key_id": signer, "digest": digest(signed),
            "signed": signed, "nodes": nodes})
        if connection.dialect.name == "postgresql":
            connection.exec_driver_sql(f"UPDATE log_state SET size = {SIZE + 1} WHERE log = 0")
    assert _alike(address) == {"withdrawn-signer"}


@pytest.mark.parametrize(("size", "said"), [(5, "fork"), (SIZE, "fork"), (SIZE + 1, "rollback")])
def test_a_checkpoint_of_another_history_is_reported_alike(address: str, size: int, said: str) -> None:
    """Signed with the vault's own checkpoint key, over entries that are not here."""
    name = f"{make.HOST.lower()}/{make.LOG_ID.hex()}"
    note = sign_note(checkpoint_text(Checkpoint(origin=name, size=size, root=bytes(32))), name, make.key("checkpoint"))
    assert _alike(address, note) == {said}


def test_a_file_that_cannot_be_read_is_not_called_good(tmp_path: Path) -> None:
    """What the database refuses to read in a worker is for the careful walk to name, not an error of the worker's."""
    place = tmp_path / "noise.db"
    place.write_bytes(bytes(range(256)) * 64)
    address = Address(url=f"sqlite:///{place}", path=place)
    batch_check.prepare(address)
    assert batch_check.check_batch(batch_check.Batch(start=0, end=4, levels=2)) is None
    assert not file_is_good(address)


_CALLER = """
import time
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from os import getpid
from vault.db.worker_life import stay_with_caller
if __name__ == "__main__":
    pool = ProcessPoolExecutor(1, mp_context=get_context("spawn"), initializer=stay_with_caller)
    print(pool.submit(getpid).result(), flush=True)
    time.sleep(600)
"""


def test_no_worker_outlives_its_caller(tmp_path: Path) -> None:
    """Killed without a chance to tidy up (SIGKILL), the caller takes its workers along."""
    script = tmp_path / "caller.py"
    script.write_text(_CALLER, encoding="utf-8")
    root = str(Path(batch_check.__file__).parents[2])
    with subprocess.Popen([sys.executable, str(script)], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True,
                          env={**os.environ, "PYTHONPATH": root}) as caller:
        assert caller.stdout is not None
        worker = int(caller.stdout.readline())
        caller.send_signal(signal.SIGKILL)
    assert _ended(worker)


def _ended(pid: int) -> bool:
    for _ in range(200):
        try:
            os.kill(pid, 0)
        except ProcessLookupError:
            return True
        if _is_zombie(pid):
            return True
        time.sleep(0.05)
    return False


def _is_zombie(pid: int) -> bool:
    # Its new parent may be slow to take note of its end.
    try:
        return Path(f"/proc/{pid}/stat").read_text(encoding="utf-8").rpartition(")")[2].split()[0] == "Z"
    except OSError:
        return False
