"""Processor time of one code, from its text to its modules, beside stock calls of qrcode and segno.

    python tests/bench/symbols.py [--symbols 100] [--turns 7] [--json]

All get the same segments and level, find the version, draw and choose the mask themselves; a text is never drawn twice by the
same side. Link and capsules are what labels carry: version 3 at Q, versions 10 and 12 at M. The sides take turns; medians
count. That all three hold the same text at the same version and level is checked first, qrcode's module by module.
"""

from __future__ import annotations

import argparse
import json
import random
import sys
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from statistics import median

sys.path[:0] = [str(Path(__file__).resolve().parents[2])]

import qrcode  # noqa: E402  (needs the path above)
import segno  # noqa: E402

from labels.code import LEVELS, make_symbol, segments  # noqa: E402

LINK = "HTTPS://LX.EXAMPLE.EU/L/"
# Name: level, version, characters of the tag, bytes of the record, most ms a symbol.
CASES = {"v3-Q": ("Q", 3, 14, 0, 0.6), "v10-M": ("M", 10, 9, 184, None), "v12-M": ("M", 12, 9, 250, 2.5)}
Rows = Sequence[Sequence[int | bool]]


def texts(case: str, count: int, seed: int) -> list[str]:
    """So many different label texts that take the case's version at its level."""
    _, _, tag, size, _ = CASES[case]
    chance = random.Random(f"{case}{seed}")
    links = [LINK + "".join(chance.choices("23456789ABCDEFGHJKLMNPQRSTUVWXYZ", k=tag)) for _ in range(count)]
    return [f"{link}#{int.from_bytes(b'1' + chance.randbytes(size), 'big')}" if size else link for link in links]


def ours(text: str, level: str) -> Rows:
    """By labels.code."""
    return make_symbol(text, level=level, max_version=40).matrix


def with_qrcode(text: str, level: str) -> Rows:
    """By qrcode, with our segments."""
    code = qrcode.QRCode(error_correction=LEVELS[level], border=0)
    for part in segments(text):
        code.add_data(part, optimize=0)
    code.make()
    return code.get_matrix()


def with_segno(text: str, level: str) -> Rows:
    """By segno, with our segments; both libraries number the modes as ISO/IEC 18004 Table 2 does."""
    parts = [(part.data.decode("ascii"), part.mode) for part in segments(text)]
    return segno.make(parts, error=level, boost_error=False, micro=False).matrix


SIDES: dict[str, Callable[[str, str], Rows]] = {"ours": ours, "qrcode": with_qrcode, "segno": with_segno}


def check(case: str) -> None:
    """Stop unless all sides draw the case's version, and ours what qrcode draws."""
    level, version, *_ = CASES[case]
    for text in texts(case, 5, -1):
        drawn = {name: [list(map(bool, row)) for row in side(text, level)] for name, side in SIDES.items()}
        if {len(rows) for rows in drawn.values()} != {17 + 4 * version} or drawn["ours"] != drawn["qrcode"]:
            raise SystemExit(f"{case}: the sides do not draw the same code for {text[:60]}…")


def milliseconds(side: Callable[[str, str], Rows], todo: Sequence[str], level: str) -> float:
    """Processor time a symbol."""
    begun = time.process_time()
    for text in todo:
        side(text, level)
    return (time.process_time() - begun) / len(todo) * 1000


def main() -> None:
    """Print the table; exit 1 when a limit is missed."""
    parser = argparse.ArgumentParser(description=str(__doc__).splitlines()[0])
    parser.add_argument("--symbols", type=int, default=100)
    parser.add_argument("--turns", type=int, default=7)
    parser.add_argument("--json", action="store_true")
    asked = parser.parse_args()
    found: dict[str, dict[str, list[float]]] = {case: {name: [] for name in SIDES} for case in CASES}
    for case in CASES:
        check(case)
    for turn in range(asked.turns):
        for case, (level, *_) in CASES.items():
            todo = texts(case, asked.symbols, turn)
            for name, side in SIDES.items():
                found[case][name].append(milliseconds(side, todo, level))
        print(f"turn {turn + 1} of {asked.turns}", file=sys.stderr, flush=True)
    figures: dict[str, dict[str, object]] = {}
    missed = False
    for case, sides in found.items():
        limit, own = CASES[case][-1], median(sides["ours"])
        missed |= limit is not None and own > limit
        for name, times in sides.items():
            figures[f"{case} {name}"] = {"value": round(median(times), 3), "unit": "ms/symbol",
                                         "limit": limit if name == "ours" else None, "ratio": round(median(times) / own, 2)}
    if asked.json:
        print(json.dumps(figures, indent=1))
    else:
        print(f"Processor time a symbol; {asked.symbols} symbols a turn, medians of {asked.turns} turns; ratio: times ours")
        for name, one in figures.items():
            print(f"{name:14} {one['value']:>8} {one['unit']}  limit {one['limit']!s:>5}  ratio {one['ratio']:>6}")
    raise SystemExit(missed)


if __name__ == "__main__":
    main()
