"""A handover of many rows beside raw signature checks of as many messages; rows into tables beside the driver's executemany.

    python tests/bench/handover.py [--rows 10000] [--turns 5] [--engine sqlite|postgresql] [--json]

Ours: `hand_over` of a schedule file into a vault that holds types, circuits and lines alone: read, checked, signed, each
signature verified, journaled, indexed, committed. Each turn is a process of its own, whose memory is watched from outside
(Linux, proportional share, its signing processes with it). Beside it libsodium verifies as many signatures over the same
bytes, in one process. The sides take turns; medians count. Where other work disturbs the clock, the processor time of the
process that hands over, beside that of the checks, says what two free cores would give.
"""

from __future__ import annotations

import argparse
import csv
import json
import os
import random
import shutil
import sqlite3
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterable, Iterator
from contextlib import ExitStack
from pathlib import Path
from statistics import median
from typing import Any

HERE = Path(__file__).resolve().parent
# Not this folder: a script in it has the name of a package.
sys.path[:] = [str(HERE.parents[1]), str(HERE.parent), str(HERE.parent / "actions"), *(p for p in sys.path if p != str(HERE))]

import nacl.bindings  # noqa: E402  (needs the path above)
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey  # noqa: E402
from small_vault import CATALOGUE, DEMO, GOOD, HEADING, HOST, NOW_S, SITE, rows_of  # noqa: E402
from sqlalchemy import select  # noqa: E402

from vault.actions.desk import Desk  # noqa: E402
from vault.actions.handover import hand_over  # noqa: E402
from vault.actions.setup import add_signer, found_vault, load_catalogue  # noqa: E402
from vault.db import tables  # noqa: E402
from vault.db.bulk import append_many  # noqa: E402
from vault.db.bulk_rows import CACHE_KIB, roomy, write_tuples  # noqa: E402
from vault.db.session import Vault, create_empty  # noqa: E402
from vault.domain.site import Line, LineKind  # noqa: E402
from vault.trust import cose  # noqa: E402
from vault.trust.keys import public_bytes, read_key_file  # noqa: E402
from vault.trust.statements import FORMAT_VERSION, Kind, Role  # noqa: E402

LEAST_RATIO, MOST_MB, LEAST_BULK = 0.5, 500, 0.9
ON_A_LINE = 64
INSTALLER = Ed25519PrivateKey.from_private_bytes(bytes(range(32)))


def line_name(number: int) -> str:
    """The name of the bench's line of that number."""
    return f"B{number:05d}"


def new_vault(address: str, folder: Path, rows: int) -> None:
    """A vault with the demo's catalogue and enough lines, without luminaires."""
    founded = found_vault(address, host=HOST, site=SITE, keys_folder=folder / "keys", passphrase=b"dry socks 12",
                          recovery_needed=1, recovery_count=1, now_s=NOW_S)
    key = read_key_file(founded.authority_file, b"dry socks 12")
    desk = Desk(vault=founded.vault, key_source=lambda: key, now_s=lambda: NOW_S)
    add_signer(desk, code="I01", roles=frozenset({Role.INSTALLER}), public_key=public_bytes(INSTALLER), name=None)
    for kind, name in CATALOGUE:
        load_catalogue(desk, kind, DEMO / f"{name}.toml")
    lines = (Line(name=line_name(number), revision=1, kind=LineKind.DALI, addresses_from=number % 2, site_ta_c=30)
             for number in range(rows // ON_A_LINE + 1))
    with founded.vault.writing() as session:
        for _ in append_many(session, Kind.LINE, lines, key, workers=0):
            pass
    founded.vault.close()


def write_schedule(path: Path, rows: int) -> None:
    """Rows like the demo's good ones that have an address, each luminaire with a place, address and serial of its own."""
    headings = HEADING.split(",")
    demo = [dict(zip(headings, row, strict=True)) for row in csv.reader(rows_of(*GOOD))]
    plain = [row for row in demo if row["address"] and not row["gear"] and not row["central_address"]]
    chance = random.Random(1)
    with path.open("w", encoding="utf-8", newline="") as file:
        out = csv.DictWriter(file, headings)
        out.writeheader()
        for number in range(rows):
            line, at = divmod(number, ON_A_LINE)
            out.writerow(plain[line % len(plain)] | {
                "reference": f"E{number:07d}", "place": f"Level {line // 20}, room {line % 20}, {at + 1}",
                "line": line_name(line), "address": str(at + line % 2), "serial": f"{chance.getrandbits(30):09d}"})


def one_handover(address: str, schedule: Path) -> None:
    """In a process of its own: hand the schedule over and print the seconds and the processor seconds that it took."""
    desk = Desk(vault=Vault(address), key_source=lambda: INSTALLER, now_s=lambda: NOW_S)
    begun, used = time.perf_counter(), time.process_time()
    result = hand_over(desk, schedule)
    spent, used = time.perf_counter() - begun, time.process_time() - used
    if result.rejected:
        raise SystemExit(f"{len(result.rejected)} rejected, the first: {result.rejected[0]}")
    print(json.dumps({"seconds": spent, "main": used}))


def _family(first: int) -> dict[int, float]:
    """A process and all that came from it, each with the seconds of processor time that it has used."""
    parents: dict[int, int] = {}
    used: dict[int, float] = {}
    for entry in Path("/proc").glob("[0-9]*/stat"):
        try:
            fields = entry.read_text().rpartition(")")[2].split()
        except OSError:
            continue
        pid = int(entry.parent.name)
        parents[pid], used[pid] = int(fields[1]), (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")
    found = [first]
    for one in found:
        found += [child for child, parent in parents.items() if parent == one]
    return {pid: used.get(pid, 0.0) for pid in found}


def _memory_mb(pids: Iterable[int]) -> float:
    total = 0
    for pid in pids:
        try:
            rows = Path(f"/proc/{pid}/smaps_rollup").read_text().splitlines()
        except OSError:
            continue
        total += sum(int(row.split()[1]) for row in rows if row.startswith("Pss:"))
    return total / 1024


def measured_handover(address: str, schedule: Path) -> dict[str, float]:
    """What a process that hands over says of itself, its highest memory with its own processes in MB, their processor time."""
    highest, used, over = [0.0], dict[int, float](), threading.Event()
    process = subprocess.Popen([sys.executable, __file__, "--one", address, str(schedule)], stdout=subprocess.PIPE, text=True)

    def watch() -> None:
        while not over.wait(0.25):
            family = _family(process.pid)
            used.update(family)
            highest[0] = max(highest[0], _memory_mb(family))

    watcher = threading.Thread(target=watch, daemon=True)
    watcher.start()
    said, _ = process.communicate()
    over.set()
    watcher.join()
    if process.returncode:
        raise SystemExit(said)
    return json.loads(said) | {"mb": highest[0], "others": sum(spent for pid, spent in used.items() if pid != process.pid)}


def messages(address: str, most: int = 2000) -> list[bytes]:
    """Signature and signed bytes of records in a vault, as libsodium takes them."""
    vault = Vault(address)
    with vault.reading() as session:
        aad = cose.external_aad(FORMAT_VERSION, session.genesis.log_id)
        j = tables.journal.c
        signed = session.connection.execute(select(j.signed).where(j.kind == int(Kind.RECORD)).limit(most)).scalars().all()
    vault.close()
    envelopes = [cose.open_envelope(bytes(one)) for one in signed]
    return [one.signature + cose.sig_structure(one.protected_bytes, aad, one.payload) for one in envelopes]


def raw_verify(found: list[bytes], count: int) -> tuple[float, float]:
    """Seconds that libsodium takes for so many signatures in this process: by the clock, and of processor time."""
    public, check = public_bytes(INSTALLER), nacl.bindings.crypto_sign_open
    begun, used = time.perf_counter(), time.process_time()
    for number in range(count):
        check(found[number % len(found)], public)
    return time.perf_counter() - begun, time.process_time() - used


def rows_written(address: str) -> dict[Any, list[tuple[Any, ...]]]:
    """What a handover wrote, table by table."""
    vault = Vault(address)
    with vault.reading() as session:
        found = {table: [tuple(row) for row in session.connection.execute(select(table).order_by(*table.primary_key))]
                 for table in (tables.journal, tables.record, tables.gear)}
    vault.close()
    return found


def lots_of(rows: list[Any], size: int = 500) -> Iterator[list[Any]]:
    """The rows in order, so many at a time."""
    return (rows[at : at + size] for at in range(0, len(rows), size))


def bulk_ours(path: Path, rows: dict[Any, list[tuple[Any, ...]]]) -> float:
    """Seconds to write the rows through the program's own way, lot after lot, committed."""
    vault = create_empty(str(path))
    begun = time.perf_counter()
    with vault.writing() as session, roomy(session.connection):
        for table, found in rows.items():
            for lot in lots_of(found):
                write_tuples(session.connection, table, lot)
    spent = time.perf_counter() - begun
    vault.close()
    return spent


def bulk_raw(path: Path, rows: dict[Any, list[tuple[Any, ...]]]) -> float:
    """Seconds to write the same rows with the driver alone, under the same pragmas."""
    create_empty(str(path)).close()
    raw = sqlite3.connect(path, isolation_level=None)
    for pragma in ("journal_mode=WAL", "synchronous=FULL", "foreign_keys=ON", f"cache_size={-CACHE_KIB}"):
        raw.execute(f"PRAGMA {pragma}")
    begun = time.perf_counter()
    raw.execute("BEGIN IMMEDIATE")
    for table, found in rows.items():
        for lot in lots_of(found):
            raw.executemany(f"INSERT INTO {table.name} VALUES ({', '.join('?' * len(table.columns))})", lot)
    raw.execute("COMMIT")
    spent = time.perf_counter() - begun
    raw.close()
    return spent


def figure(value: float, unit: str, limit: float | None, ratio: float | None) -> dict[str, object]:
    """One line of the table."""
    return {"value": value, "unit": unit, "limit": limit, "ratio": None if ratio is None else round(ratio, 3)}


def _places(engine: str, folder: Path, stack: ExitStack) -> Callable[[str], str]:
    """Gives the address of a new place by its name."""
    if engine == "sqlite":
        return lambda name: str(folder / f"{name}.db")
    from postgres_server import running_server

    server = stack.enter_context(running_server())
    server.sql("CREATE DATABASE bench")
    return lambda name: server.url("bench", site=name)


def measure(rows: int, turns: int, engine: str) -> dict[str, dict[str, object]]:
    """Every figure."""
    ours: list[dict[str, float]] = []
    raw: list[tuple[float, float]] = []
    bulk: list[tuple[float, float]] = []
    with tempfile.TemporaryDirectory() as name, ExitStack() as stack:
        folder = Path(name)
        place, schedule = _places(engine, folder, stack), folder / "schedule.csv"
        write_schedule(schedule, rows)
        empty = place("empty")
        if engine == "sqlite":
            new_vault(empty, folder, rows)
        for turn in range(turns):
            address = place(f"turn{turn}")
            if engine == "sqlite":
                shutil.copy(empty, address)
            else:
                new_vault(address, folder / f"keys{turn}", rows)
            ours.append(measured_handover(address, schedule))
            raw.append(raw_verify(messages(address), rows))
            if engine == "sqlite":
                written = rows_written(address)
                if not turn:
                    bulk_ours(folder / "first.db", {table: found[:500] for table, found in written.items()})
                bulk.append((bulk_ours(folder / f"bulk{turn}.db", written), bulk_raw(folder / f"raw{turn}.db", written)))
                del written
                for left in folder.glob(f"*{turn}.db*"):
                    left.unlink()
            print(f"turn {turn + 1}: {rows / ours[-1]['seconds']:.0f} rows/s, raw {rows / raw[-1][0]:.0f} verifications/s",
                  file=sys.stderr, flush=True)
    spent, beside = median(one["seconds"] for one in ours), median(one for one, _ in raw)
    memory, busy = max(one["mb"] for one in ours), median(one for _, one in raw)
    main, others = median(one["main"] for one in ours), median(one["others"] for one in ours)
    found = {
        "handover": figure(round(rows / spent), "rows/s", round(rows / beside), beside / spent),
        "handover, processor time": figure(round(main / rows * 1e6), "us/row", round(busy / rows * 1e6), busy / main),
        "its signing processes": figure(round(others / rows * 1e6), "us/row", None, None),
        "memory": figure(round(memory), "MB", MOST_MB, memory / MOST_MB),
    }
    if bulk:
        through, driver = median(one for one, _ in bulk), median(one for _, one in bulk)
        found["bulk"] = figure(round(rows / through), "luminaires/s", round(rows / driver), driver / through)
    return found


def main() -> None:
    """Print the table; exit 1 when a limit is missed."""
    parser = argparse.ArgumentParser(description=str(__doc__).splitlines()[0])
    parser.add_argument("--rows", type=int, default=10_000)
    parser.add_argument("--turns", type=int, default=5)
    parser.add_argument("--engine", choices=["sqlite", "postgresql"], default="sqlite")
    parser.add_argument("--json", action="store_true")
    parser.add_argument("--one", nargs=2, metavar=("VAULT", "SCHEDULE"), help=argparse.SUPPRESS)
    asked = parser.parse_args()
    if asked.one:
        one_handover(asked.one[0], Path(asked.one[1]))
        return
    figures = measure(asked.rows, asked.turns, asked.engine)
    if asked.json:
        print(json.dumps(figures, indent=1))
    else:
        print(f"{asked.rows} rows, {asked.turns} turns, {asked.engine}")
        for name, one in figures.items():
            print(f"{name:32} {one['value']!s:>8} {one['unit']:13} limit {one['limit']!s:>8}  ratio {one['ratio']}")
    missed = [name for name, least in (("handover", LEAST_RATIO), ("bulk", LEAST_BULK))
              if name in figures and float(str(figures[name]["ratio"])) < least]
    raise SystemExit(bool(missed) or float(str(figures["memory"]["value"])) > MOST_MB)


if __name__ == "__main__":
    main()
