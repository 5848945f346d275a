"""A whole handover and a whole audit, each as a process of its own whose memory is watched."""

from __future__ import annotations

import csv
import json
import os
import random
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from vault.actions.desk import Desk
from vault.actions.handover import hand_over
from vault.actions.keeping import audit
from vault.bench.big_vault import PER_LINE, BigVault, build
from vault.bench.measure import Figure, alternate
from vault.bench.memory import watched
from vault.bench.raw import executemany_seconds, verify_rate
from vault.db import tables
from vault.db.bulk_rows import write_tuples
from vault.db.session import Vault, create_empty

LOT = 250


def processors() -> int:
    """How many processors this program may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def write_schedule(path: Path, rows: int) -> None:
    """Luminaires of the bench's one type, each with a place, an address and a serial number of its own."""
    chance = random.Random(6)
    with path.open("w", encoding="utf-8", newline="") as file:
        out = csv.writer(file)
        out.writerow(["reference", "type", "place", "line", "driver", "serial", "control", "address", "groups", "current_ma",
                      "voltage_min_v", "voltage_max_v", "power_w", "min_level", "max_level"])
        for number in range(rows):
            line, address = divmod(number, PER_LINE)
            out.writerow([f"E{number:07d}", "DL28", f"Floor {number // 400}, room {number % 400}", f"N{line}", "CC-40-A",
                          f"{chance.getrandbits(30):09d}", "dali", address, "1", 700, 33, 42, 30, 85, 254])


def one(act: str, address: str, seed: str, schedule: str) -> None:
    """Run in a process of its own: do the act and print the seconds that it took."""
    vault = Vault(address)
    begun = time.perf_counter()
    if act == "audit":
        found: Sequence[object] = audit(vault).faults
    else:
        key = Ed25519PrivateKey.from_private_bytes(bytes.fromhex(seed))
        found = hand_over(Desk(vault=vault, key_source=lambda: key), Path(schedule)).rejected
    spent = time.perf_counter() - begun
    if found:
        raise SystemExit(f"{len(found)} found, the first: {found[0]}")
    print(json.dumps(spent))


def _measured(act: str, big: BigVault, schedule: Path | None = None) -> tuple[float, float]:
    code = "import sys; from vault.bench.whole import one; one(*sys.argv[1:])"
    process = subprocess.Popen([sys.executable, "-c", code, act, big.address, big.installer_seed.hex(), str(schedule)],
                               stdout=subprocess.PIPE, text=True)
    said, peak_mb = watched(process)
    if process.returncode:
        raise RuntimeError(f"the {act} of the bench failed: {said}")
    return float(said), peak_mb


def audit_figures(big: BigVault, turns: int) -> list[Figure]:
    """Statements a second that an audit verifies, beside libsodium on as many processors; and its memory."""
    peaks: list[float] = []

    def work() -> float:
        spent, peak = _measured("audit", big)
        peaks.append(peak)
        return big.statements / spent

    rate, limit, ratio = alternate(work, lambda: verify_rate(min(big.statements, 20_000) // processors(), processors()), turns)
    return [Figure(name="audit", value=rate, unit="a second", limit=limit, beside=f"libsodium on {processors()} processors",
                   ratio=ratio, target=0.85, sense="at least"),
            Figure(name="audit_memory", value=max(peaks), unit="MB", limit=None, beside=f"{big.statements} statements",
                   ratio=None, target=500, sense="at most")]


def handover_figures(folder: Path, rows: int, turns: int) -> list[Figure]:
    """Rows a second from a schedule into the vault, beside libsodium on one processor; memory; rows into the tables."""
    schedule = folder / "schedule.csv"
    write_schedule(schedule, rows)
    empty = build(str(folder / "empty.db"), luminaires=0, versions=0, lines=rows // PER_LINE + 1)
    peaks: list[float] = []
    copies = iter(range(turns))

    def work() -> float:
        target = folder / f"handover{next(copies)}.db"
        shutil.copy(empty.address, target)
        spent, peak = _measured("handover", BigVault(address=str(target), tags=[], statements=0,
                                                     installer_seed=empty.installer_seed), schedule)
        peaks.append(peak)
        return rows / spent

    rate, limit, ratio = alternate(work, lambda: verify_rate(rows, 1), turns)
    return [Figure(name="handover", value=rate, unit="rows a second", limit=limit, beside="libsodium on one processor",
                   ratio=ratio, target=0.5, sense="at least"),
            Figure(name="handover_memory", value=max(peaks), unit="MB", limit=None, beside=f"{rows} rows", ratio=None,
                   target=500, sense="at most"),
            bulk_figure(folder, folder / "handover0.db", turns)]


def _rows(path: Path) -> dict[Any, list[tuple[Any, ...]]]:
    vault = Vault(str(path))
    with vault.reading() as session:
        found = {table: [tuple(row) for row in session.connection.exec_driver_sql(f"SELECT * FROM {table.name} ORDER BY seq")]
                 for table in (tables.journal, tables.record, tables.gear)}
    vault.close()
    return found


def bulk_figure(folder: Path, source: Path, turns: int) -> Figure:
    """The rows that a handover wrote, written again through SQLAlchemy, beside the bare driver's executemany."""
    rows = _rows(source)
    count = len(rows[tables.journal])

    def ours() -> float:
        with tempfile.TemporaryDirectory(dir=folder) as name:
            vault = create_empty(f"{name}/vault.db")
            begun = time.perf_counter()
            with vault.writing() as session:
                for table, held in rows.items():
                    for start in range(0, len(held), LOT):
                        write_tuples(session.connection, table, held[start : start + LOT])
            spent = time.perf_counter() - begun
            vault.close()
            return count / spent

    def bare() -> float:
        with tempfile.TemporaryDirectory(dir=folder) as name:
            create_empty(f"{name}/vault.db").close()
            return count / executemany_seconds(Path(name) / "vault.db", [(table.name, held) for table, held in rows.items()], LOT)

    rate, limit, ratio = alternate(ours, bare, turns)
    return Figure(name="bulk", value=rate, unit="luminaires a second", limit=limit, beside="bare sqlite3 executemany",
                  ratio=ratio, target=0.9, sense="at least")
