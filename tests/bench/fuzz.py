"""Fuzzing campaigns: TARGET is capsule, record, checkpoint, link, schedule, or any other name of tests/fuzz/parsers.py.

    python tests/bench/fuzz.py record [--runs 10000000] [--seconds S] [--plain] [--json]

With atheris installed (pip install 'gearkeep[fuzz]') inputs are led by coverage; with --plain, or without it, good inputs are
spoiled at random (fixed seed) in as many processes as there are processors. A crash is anything but a value or a refusal in
the parser's own words, and any acceptance that is not written back as it was read; it is printed and kept in a file.
"""

from __future__ import annotations

import argparse
import importlib.util
import json
import os
import random
import sys
import time
from multiprocessing import get_context
from pathlib import Path

HERE = Path(__file__).resolve().parent
# Not this folder: a script in it has the name of a package.
sys.path[:] = [str(HERE.parents[1]), str(HERE.parent / "fuzz"), str(HERE.parent / "vectors"),
               *(path for path in sys.path if path != str(HERE))]

from parsers import PARSERS, Parser, spoiled  # noqa: E402  (needs the path above)

from labels.errors import LabelError  # noqa: E402
from vault.errors import GearkeepError  # noqa: E402

TARGETS = {"record": "statement"}
LOT = 20_000
MOST_KEPT = 5  # findings of one lot that are printed and kept


def parser_of(target: str) -> Parser:
    """The parser behind a target's name."""
    return PARSERS[TARGETS.get(target, target)]


def once(parser: Parser, data: bytes) -> tuple[bool, str]:
    """(accepted, what went wrong: nothing, or a crash in words)."""
    try:
        again = parser.read(data)
    except (GearkeepError, LabelError):
        return False, ""
    except Exception as problem:  # whatever it is, it is a finding
        return False, f"{type(problem).__name__}: {problem}"
    return True, "" if again is None or again == data else "accepted, and written back otherwise"


def keep(target: str, data: bytes, why: str) -> None:
    """Print a finding and put its input into a file."""
    path = Path(f"fuzz-{target}-{abs(hash(data)) % 10**8}.bin")
    path.write_bytes(data)
    print(f"{target}: {why}; input kept in {path}", file=sys.stderr, flush=True)


def lot(task: tuple[str, int, int]) -> tuple[int, int, int]:
    """(executions, accepted, crashes) of one lot of spoiled inputs."""
    target, seed, count = task
    parser, chance = parser_of(target), random.Random(seed)
    accepted = crashes = 0
    for _ in range(count):
        data = spoiled(chance.choice(parser.good), chance.randrange)
        good, why = once(parser, data)
        accepted += good
        if why:
            crashes += 1
            if crashes <= MOST_KEPT:
                keep(target, data, why)
    return count, accepted, crashes


def plain(target: str, runs: int, seconds: float) -> dict[str, object]:
    """Spoiled inputs in several processes, until enough were run or the time is over."""
    begun, told = time.monotonic(), time.monotonic()
    done = accepted = crashes = 0
    tasks = ((target, seed, min(LOT, runs - seed * LOT)) for seed in range(-(-runs // LOT)))
    processes = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
    with get_context("spawn").Pool(processes) as pool:
        for ran, good, bad in pool.imap_unordered(lot, tasks):
            done, accepted, crashes = done + ran, accepted + good, crashes + bad
            if time.monotonic() - told > 30:
                told = time.monotonic()
                print(f"{target}: {done} executions, {accepted} accepted, {crashes} crashes", file=sys.stderr, flush=True)
            if time.monotonic() - begun > seconds:
                pool.terminate()
                break
    return {"target": target, "way": "spoiled at random", "executions": done, "seconds": round(time.monotonic() - begun, 1),
            "accepted": accepted, "crashes": crashes}


def led_by_coverage(target: str, runs: int, seconds: float) -> None:
    """By atheris, which ends the process itself and prints executions and coverage; a crash ends it at once."""
    import atheris

    atheris.instrument_all()
    parser = parser_of(target)

    def test(data: bytes) -> None:
        _, why = once(parser, data)
        if why:
            keep(target, data, why)
            raise RuntimeError(why)

    corpus = Path(f"fuzz-corpus-{target}")
    corpus.mkdir(exist_ok=True)
    for number, good in enumerate(parser.good):
        (corpus / f"good-{number}").write_bytes(good)
    limits = [f"-runs={runs}"] + ([f"-max_total_time={int(seconds)}"] if seconds < 1e9 else [])
    atheris.Setup([sys.argv[0], str(corpus), "-max_len=4096", *limits], test)
    atheris.Fuzz()


def main() -> None:
    """Run one campaign; exit 1 when it found anything."""
    asked = argparse.ArgumentParser(description=str(__doc__).splitlines()[0])
    asked.add_argument("target", choices=sorted({*TARGETS, *(name for name, one in PARSERS.items() if one.good)}))
    asked.add_argument("--runs", type=int, default=200_000)
    asked.add_argument("--seconds", type=float, default=1e10)
    asked.add_argument("--plain", action="store_true")
    asked.add_argument("--json", action="store_true")
    given = asked.parse_args()
    if not given.plain and importlib.util.find_spec("atheris"):
        led_by_coverage(given.target, given.runs, given.seconds)
        return
    found = plain(given.target, given.runs, given.seconds)
    rate = float(str(found["executions"])) / max(float(str(found["seconds"])), 0.1)
    print(json.dumps(found) if given.json else
          f"{found['target']}: {found['executions']} executions in {found['seconds']} s ({rate:.0f} a second), "
          f"{found['accepted']} accepted and written back alike, {found['crashes']} crashes")
    raise SystemExit(bool(found["crashes"]))


if __name__ == "__main__":
    main()
