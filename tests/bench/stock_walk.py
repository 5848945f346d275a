"""What a long history of movements costs: `stock list`, `stock today` and `cover` as whole processes, beside a bare walk.

    python tests/bench/stock_walk.py [--movements 100000] [--turns 5] [--json]

The vault is the tests' small one; signed statements of 500 lines each are added to it, straight into the journal: receipts,
issues, transfers, returns, checks and counts of its models in a hundred bins. Every command takes its turn beside the same
command in the vault without them. Medians of processor time, which other work on the machine tells on least.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path
from statistics import median
from typing import Any

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE.parents[1]), str(HERE.parent / "actions")]

from small_vault import NOW_S, SmallVault, build  # noqa: E402  (needs the path above)

from vault.actions.luminaire import driver_models  # noqa: E402
from vault.db import stock_rows  # noqa: E402
from vault.domain.stock import Act, Condition, Movement, MovementLine  # noqa: E402
from vault.spares.stock_state import state_of  # noqa: E402
from vault.trust.statements import Kind  # noqa: E402

LINES, STORES = 500, ("MAIN", "VAN-1", "VAN-2")
COMMANDS = {"stock list": ("stock", "list"), "stock today": ("stock", "today"), "cover": ("cover",)}


def invented(chance: random.Random, models: list[str], held: dict[tuple[str, str, str], int], number: int, size: int) -> Movement:
    """One statement that never takes more than lies there, after those before it. held: pieces, which it changes. size: of the
    main journal.
    """
    store = chance.choice(STORES)
    full = [place for place, pieces in held.items() if place[0] == store and pieces > 2]
    act = chance.choice([Act.RECEIPT, Act.RECEIPT, Act.ISSUE, Act.ISSUE, Act.TRANSFER, Act.COUNT]) if len(full) > 20 \
        else Act.RECEIPT
    to_store = chance.choice([one for one in STORES if one != store]) if act is Act.TRANSFER else None
    lines = []
    for _ in range(LINES):
        place = (store, chance.choice(models), f"B{chance.randrange(100)}") if act in (Act.RECEIPT, Act.COUNT) else \
            chance.choice(full)
        pieces = chance.randrange(1, 9) if act is Act.RECEIPT else held.get(place, 0) if act is Act.COUNT else \
            min(1, held.get(place, 0))
        if not pieces and act is not Act.COUNT:
            continue
        held[place] = held.get(place, 0) + pieces * (1 if act is Act.RECEIPT else 0 if act is Act.COUNT else -1)
        if to_store is not None:
            held[to_store, place[1], place[2]] = held.get((to_store, place[1], place[2]), 0) + pieces
        lines.append(MovementLine(model=place[1], quantity=pieces, bin=place[2],
                                  condition=Condition.GOOD if act is Act.RECEIPT else None))
    return Movement(act=act, store=store, time_s=NOW_S - 40_000_000 + number * 60_000, main_size=size, lines=tuple(lines),
                    to_store=to_store, reason="counted" if act is Act.COUNT else None)


def with_history(small: SmallVault, movements: int) -> int:
    """Sign so many lines into its stock journal; how many there are then."""
    chance, held = random.Random(7), dict[tuple[str, str, str], int]()
    with small.open().writing() as session:
        models, number, signed = sorted(driver_models(session)), 0, 0
        while signed < movements:
            body = invented(chance, models, held, number, session.size())
            session.append(Kind.STOCK_MOVEMENT, body, small.keys["S01"])
            number, signed = number + 1, signed + len(body.lines)
    return signed


def spent() -> float:
    """Seconds of processor time so far, of this process and those that it has waited for."""
    return sum(os.times()[:4])


def timed(work: Callable[[], Any]) -> float:
    """Seconds of processor time."""
    start = spent()
    work()
    return spent() - start


def run(small: SmallVault, words: tuple[str, ...], cache: Path) -> None:
    """A whole process."""
    environment = {**os.environ, "XDG_CACHE_HOME": str(cache), "GEARKEEP_VAULT": str(small.path)}
    done = subprocess.run([sys.executable, "-m", "vault.cli.main", *words], env=environment, cwd=HERE.parents[1],
                          stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True, check=False)
    if done.returncode not in (0, 1):
        sys.exit(done.stderr)


def main() -> None:
    """Measure and print."""
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    asked.add_argument("--movements", type=int, default=100_000)
    asked.add_argument("--turns", type=int, default=5)
    asked.add_argument("--json", action="store_true")
    given = asked.parse_args()
    took: dict[str, list[float]] = {}
    with tempfile.TemporaryDirectory() as folder:
        bare = build(Path(folder) / "bare")
        shutil.copytree(bare.folder, Path(folder) / "long")
        long = SmallVault(folder=Path(folder) / "long", keys_folder=bare.keys_folder, keys=bare.keys, tags=bare.tags)
        lines = with_history(long, given.movements)
        for turn in range(given.turns + 1):
            for name, words in COMMANDS.items():
                for small, beside in ((long, ""), (bare, ", without them")):
                    small.close()
                    seconds = timed(lambda small=small, words=words: run(small, words, Path(folder) / "cache"))  # type: ignore[misc]
                    took.setdefault(name + beside, []).extend([seconds] if turn else [])  # the first fills the caches
            # Rows are held against what is signed once in a session, so each has one of its own.
            with long.open().reading() as session:
                took.setdefault("reading the rows", []).append(timed(lambda: list(stock_rows.each_movement(session))))
            with long.open().reading() as session:
                took.setdefault("reading and walking them", []).append(
                    timed(lambda: state_of(stock_rows.each_movement(session), {}, today_day=0)))
        long.close()
    told = {f"{name}, {lines:,} movement lines": {"value": round(median(some), 3), "unit": "s", "limit": None, "ratio": None}
            for name, some in took.items()}
    if given.json:
        print(json.dumps(told, indent=2))
        return
    for name, one in told.items():
        print(f"{name:<64}{one['value']:>10} s")


if __name__ == "__main__":
    main()
