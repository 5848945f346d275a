"""Kills at random moments of appending, handing over, swapping, upgrading and backing up, on both engines.

    python tests/bench/crashes.py [--kills 500] [--cuts 200] [--engine sqlite|postgresql]
                                    [--act append|handover|swap|migration|backup] [--seed 1] [--json]

The kills are spread over engines, acts and blows. On SQLite the process that acts is killed (SIGKILL). On PostgreSQL, with fsync
on, it is the client, or the server's processes for our connections (SIGKILL), or the whole server (stop without tidying up, as
pg_ctl stop -m immediate). After each: every statement that was acknowledged is there and in its order, each transaction is
whole, PRAGMA integrity_check is ok, the audit finds nothing, and the act goes on; a statement sent again is there once.
A killed process takes nothing with it that it had written. So on SQLite the power is cut too (--cuts): the writes and syncs
that the program issues are recorded, and what was not synced before the cut is dropped or torn (tests/faults/recorded_writes.py).
A last row has the same cuts with synchronous=NORMAL, which must lose something, or the cuts prove nothing.
Exit 1 on any loss or problem, or when that last row loses nothing.
"""

from __future__ import annotations

import argparse
import json
import sys
import tempfile
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from itertools import chain
from pathlib import Path

TESTS = Path(__file__).resolve().parents[1]
sys.path[:0] = [str(TESTS.parent), *(str(TESTS / name) for name in ("", "faults", "actions", "vectors", "labels"))]

from crash_acts import ACTS  # noqa: E402  (needs the path above)
from crash_checks import Tally  # noqa: E402
from crash_kills import Blow, crash_server, kill_backends, kill_client, kills, wait_for  # noqa: E402
from crash_places import Places  # noqa: E402
from postgres_server import DURABLE, running_server  # noqa: E402
from power_cuts import cuts  # noqa: E402

# How long a process runs at most before it is killed, by act; and how many steps are recorded before the power is cut.
LONGEST_S = {"backup": 1.0}
STEPS = {"append": 60, "handover": 15, "swap": 20, "migration": 1}
LINE = "{:11} {:10} {:19} {:>6} {:>13} {:>5} {:>15} {:>9}"
# With few pages in the WAL a short run often copies it into the file.
OFTEN, CONTROL = "wal_autocheckpoint=20", "synchronous=NORMAL"


def campaign(count: int, engines: list[str], acts: list[str], seed: int) -> Iterator[tuple[str, str, str, Tally]]:
    """(engine, act, what is killed, what came of it), one after the other."""
    with ExitStack() as stack:
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="gearkeep-crashes-")))
        settings: list[tuple[str, str, Blow, Places, Callable[[], None]]] = []
        if "sqlite" in engines:
            (folder / "files").mkdir()
            settings.append(("sqlite", "the process", kill_client, Places(folder / "files"), lambda: None))
        if "postgresql" in engines:
            server = stack.enter_context(running_server(DURABLE))
            (folder / "sites").mkdir()
            places = Places(folder / "sites", server)
            blows = {"the client": kill_client, "its backends": kill_backends(server), "the server": crash_server(server)}
            settings += [("postgresql", name, blow, places, lambda: wait_for(server)) for name, blow in blows.items()]
        parts = [(setting, act) for setting in settings for act in acts]
        for number, ((engine, name, blow, places, settle), act) in enumerate(parts):
            share = count // len(parts) + (number < count % len(parts))
            yield engine, act, name, kills(act, places.of(act), count=share, longest_s=LONGEST_S.get(act, 0.4),
                                           seed=seed + number, blow=blow, settle=settle)


def power(count: int, acts: list[str], seed: int) -> Iterator[tuple[str, str, str, Tally]]:
    """The power cut in the middle of each act that writes to the vault, and the control."""
    with tempfile.TemporaryDirectory(prefix="gearkeep-cuts-") as folder:
        places = Places(Path(folder))
        for number, act in enumerate(acts):
            share = count // len(acts) + (number < count % len(acts))
            done = cuts(act, places.of(act)(), steps=STEPS[act], count=share, seed=seed, pragmas=(OFTEN,))
            yield "sqlite", act, "the power", Tally(kills=done.cuts, acknowledged=done.acknowledged, lost=done.lost,
                                                    problems=done.problems)
        done = cuts("append", places.today(), steps=STEPS["append"], count=max(20, count // 4), seed=seed,
                    pragmas=(OFTEN, CONTROL))
        yield "sqlite", "append", CONTROL, Tally(kills=done.cuts, acknowledged=done.acknowledged, lost=done.lost)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--kills", type=int, default=500)
    parser.add_argument("--cuts", type=int, default=200)
    parser.add_argument("--engine", choices=["sqlite", "postgresql"])
    parser.add_argument("--act", choices=list(ACTS))
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--json", action="store_true")
    asked = parser.parse_args()
    engines = [asked.engine] if asked.engine else ["sqlite", "postgresql"]
    acts = [asked.act] if asked.act else list(ACTS)
    written = [act for act in acts if act in STEPS] if "sqlite" in engines and asked.cuts else []
    figures: dict[str, dict[str, object]] = {}
    total, proven = Tally(), True
    if not asked.json:
        print(LINE.format("engine", "act", "killed", "kills", "acknowledged", "lost", "unacknowledged", "problems"))
    for engine, act, name, tally in chain(campaign(asked.kills, engines, acts, asked.seed),
                                          power(asked.cuts, written, asked.seed) if written else ()):
        row = {"kills": tally.kills, "acknowledged": tally.acknowledged, "lost": tally.lost,
               "unacknowledged": tally.unacknowledged, "problems": len(tally.problems)}
        for column, value in row.items():
            limit = 0 if column in ("lost", "problems") and name != CONTROL else None
            figures[f"{engine} {act} {name} {column}"] = {"value": value, "unit": "", "limit": limit, "ratio": None}
        if not asked.json:
            print(LINE.format(engine, act, name, *row.values()), flush=True)
        for problem in tally.problems[:5]:
            print(f"  {problem}", file=sys.stderr)
        if name == CONTROL:
            proven = tally.lost > 0
            continue
        total.kills += tally.kills
        total.acknowledged += tally.acknowledged
        total.lost += tally.lost
        total.unacknowledged += tally.unacknowledged
        total.problems += tally.problems
    if asked.json:
        print(json.dumps(figures, indent=1))
    else:
        print(LINE.format("all", "", "", total.kills, total.acknowledged, total.lost, total.unacknowledged, len(total.problems)))
    raise SystemExit(bool(total.lost or total.problems or not proven))


if __name__ == "__main__":
    main()
