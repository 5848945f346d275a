"""How often a damaged 60×40 mm label still tells its tag: two codes against one, and the hunt for wrong tags.

    python tests/bench/robustness.py [--labels 200] [--pictures 200] [--processes 2] [--plain] [--record-bytes 222]
                                     [--wrong-tags 100000] [--full-reader 10000] [--json]

Each kind of damage (damage.py says what they are) strikes a label with both codes, and a label of the same size made from
the same record that carries one code, the capsule's, with modules of six dots. "Known": any code gives a text that the
capsule room accepts, of the vault's host; link form and check character are part of that. "Capsule": the record's bytes are
read exactly. The limits, in per cent known, are those that the layout was chosen by; a figure within two standard errors of its
limit is put down to chance.

The hunt damages every picture once or twice, by random kinds and amounts, and counts every accepted text that names
another tag or carries other bytes than the label's. --plain looks once instead of with the whole reader; in the hunt the
first --full-reader pictures get the whole reader, the others one look.
"""

from __future__ import annotations

import argparse
import json
import sys
import time
from collections.abc import Callable
from concurrent.futures import Executor, ProcessPoolExecutor
from dataclasses import dataclass
from functools import lru_cache, partial
from math import sqrt

import numpy as np
from damage import damage
from damage_samples import RECORD_BYTES, Sample, accepted, random_damage, samples, wrong

PORTION = 250


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """One kind and amount of damage with the least per cent known and capsules read; None where none was set."""

    kind: str
    amount: float
    known: int | None = None
    capsule: int | None = None

    @property
    def name(self) -> str:
        """As the table shows it."""
        return f"{self.kind} {self.amount:g}"


CELLS = (
    Cell(kind="blobs", amount=0.05, known=90),
    Cell(kind="blobs", amount=0.10, known=66),
    Cell(kind="scratches", amount=0.05, known=41),
    Cell(kind="torn", amount=0.10, known=100),
    Cell(kind="pixels", amount=4, known=100),
    Cell(kind="pixels", amount=3, known=94),
    Cell(kind="blur", amount=0.18, known=100),
    Cell(kind="tilt", amount=60, known=72),
    Cell(kind="blobs", amount=0.15),
    Cell(kind="torn", amount=0.20),
    Cell(kind="fade", amount=35),
    Cell(kind="fade", amount=20),
    Cell(kind="dim", amount=0.35),
    Cell(kind="dead", amount=1),
    Cell(kind="dead", amount=8),
    Cell(kind="blur", amount=0.24),
)


@lru_cache(maxsize=1)
def _kept(labels: int, record_bytes: int) -> list[Sample]:
    return list(samples(labels, record_bytes))


def _measure(at: int, *, labels: int, pictures: int, record_bytes: int, plain: bool) -> list[int]:
    """For one cell: known and capsules of two codes, known of one code, wrong ones of both."""
    cell, made = CELLS[at], _kept(labels, record_bytes)
    counts = [0, 0, 0, 0]
    for number in range(pictures):
        sample = made[number % len(made)]
        for side, label in enumerate((sample.two_codes, sample.one_code)):
            rng = np.random.default_rng([at, number])
            texts = accepted(damage(label, cell.kind, cell.amount, rng), plain=plain)
            counts[3] += len(wrong(sample, texts))
            known = any(one.tag == sample.tag for one in texts)
            if side:
                counts[2] += known
            else:
                counts[0] += known
                counts[1] += any(one.signed_bytes == sample.record for one in texts)
    return counts


def _hunt(start: int, *, total: int, labels: int, record_bytes: int, full: int, plain: bool) -> tuple[int, list[str]]:
    """How many pictures of one portion gave a tag, and every wrong text."""
    made, known = _kept(labels, record_bytes), 0
    found: list[str] = []
    for number in range(start, min(start + PORTION, total)):
        sample, rng = made[number % len(made)], np.random.default_rng([99, number])
        texts = accepted(random_damage(sample.two_codes, rng), plain=plain or number >= full)
        known += bool(texts)
        found += [f"picture {number}: {one}" for one in wrong(sample, texts)]
    return known, found


def _figure(value: float, limit: float | None, unit: str) -> dict[str, object]:
    return {"value": value, "unit": unit, "limit": limit, "ratio": round(value / limit, 2) if limit else None}


def _judged(value: float, limit: int | None, pictures: int) -> str:
    if limit is None:
        return ""
    if value >= limit:
        return "met"
    share = limit / 100
    return "chance" if value + 200 * sqrt(max(share * (1 - share), 0.01) / pictures) >= limit else "MISSED"


def _cells(pool: Executor, measure: Callable[[int], list[int]], pictures: int, say: Callable[[str], None],
           figures: dict[str, dict[str, object]]) -> bool:
    """Measure and show every cell. Whether no limit was missed and nothing wrong was read."""
    good, began = True, time.monotonic()
    say(f"{pictures} pictures a row, per cent\n"
        f"{'damage':16}{'known':>7}{'limit':>7} {'':7}{'capsule':>8}{'limit':>7} {'':7}{'one code':>9}{'wrong':>7}")
    for cell, (known, capsule, one, mistaken) in zip(CELLS, pool.map(measure, range(len(CELLS))), strict=True):
        tag, record, peer = (100 * count / pictures for count in (known, capsule, one))
        judged = [_judged(tag, cell.known, pictures), _judged(record, cell.capsule, pictures)]
        good = good and "MISSED" not in judged and not mistaken
        limits = ["–" if limit is None else str(limit) for limit in (cell.known, cell.capsule)]
        say(f"{cell.name:16}{tag:7.1f}{limits[0]:>7} {judged[0]:7}{record:8.1f}{limits[1]:>7} {judged[1]:7}"
            f"{peer:9.1f}{mistaken:7}")
        figures[f"{cell.name}: tag known"] = _figure(tag, cell.known, "%")
        figures[f"{cell.name}: capsule read"] = _figure(record, cell.capsule, "%")
        figures[f"{cell.name}: tag known, against one code"] = _figure(tag, peer, "%")
        figures[f"{cell.name}: wrong texts"] = _figure(mistaken, 0, "texts")
    say(f"{time.monotonic() - began:.0f} s")
    return good


def _wrong_tags(pool: Executor, hunt: Callable[[int], tuple[int, list[str]]], pictures: int, say: Callable[[str], None],
                figures: dict[str, dict[str, object]]) -> bool:
    """Hunt, showing progress on standard error. Whether nothing wrong was accepted."""
    known, done, began = 0, 0, time.monotonic()
    found: list[str] = []
    for gave, mistaken in pool.map(hunt, range(0, pictures, PORTION)):
        known, done, found = known + gave, min(done + PORTION, pictures), found + mistaken
        print(f"\r{done} of {pictures} pictures, {known} known, {len(found)} wrong, {time.monotonic() - began:.0f} s",
              end="", file=sys.stderr, flush=True)
    print(file=sys.stderr)
    say("\n".join([f"hunt: {pictures} pictures, the tag known in {known}, wrong texts accepted: {len(found)} (limit 0)", *found]))
    figures["hunt: wrong texts"] = _figure(len(found), 0, "texts")
    figures["hunt: tag known"] = _figure(known, None, f"of {pictures} pictures")
    return not found


def main() -> None:
    """Print the tables; exit 1 when a limit is missed or a wrong text was accepted."""
    parser = argparse.ArgumentParser(description=str(__doc__).splitlines()[0])
    parser.add_argument("--labels", type=int, default=200, help="different labels")
    parser.add_argument("--pictures", type=int, default=200, help="pictures for each kind and amount; 0: none")
    parser.add_argument("--record-bytes", type=int, default=RECORD_BYTES)
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("--wrong-tags", type=int, default=0, help="pictures of the hunt")
    parser.add_argument("--full-reader", type=int, default=10_000, help="pictures of the hunt that get the whole reader")
    parser.add_argument("--plain", action="store_true", help="one look at each picture instead of the whole reader")
    parser.add_argument("--json", action="store_true")
    asked = parser.parse_args()
    shared = {"labels": asked.labels, "record_bytes": asked.record_bytes, "plain": asked.plain}
    figures: dict[str, dict[str, object]] = {}
    say: Callable[[str], None] = partial(print, file=sys.stderr if asked.json else sys.stdout, flush=True)
    good = True
    with ProcessPoolExecutor(asked.processes) as pool:
        if asked.pictures:
            good &= _cells(pool, partial(_measure, pictures=asked.pictures, **shared), asked.pictures, say, figures)
        if asked.wrong_tags:
            hunt = partial(_hunt, total=asked.wrong_tags, full=asked.full_reader, **shared)
            good &= _wrong_tags(pool, hunt, asked.wrong_tags, say, figures)
    if asked.json:
        print(json.dumps(figures, indent=1))
    raise SystemExit(not good)


if __name__ == "__main__":
    main()
