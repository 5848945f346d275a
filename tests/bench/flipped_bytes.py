"""A byte turned over at many places of every page of a vault's file: what is told, and whether anything is not.

    python tests/bench/flipped_bytes.py [--per-page 64] [--seed 1] [--json]

SQLite keeps no checksums of pages. Each flip (one bit, or all eight) has to be found by an audit (SQLite's integrity_check, or
the content), be refused on opening, or change nothing that can be read: all rows of all tables and the schema's text are the
same. Persons' names stand beside the journal unsigned, so that they can be erased: flips there are counted apart. Three
quarters of the flips are where something is written. A second run of as many flips looks at a few luminaires without an audit:
what is shown was signed for that luminaire, or it is refused.
Exit 1 when anything is untold, shows another luminaire's settings, or ends in a traceback.
"""

from __future__ import annotations

import argparse
import json
import sys
import tempfile
from pathlib import Path

TESTS = Path(__file__).resolve().parents[1]
sys.path[:0] = [str(TESTS.parent), *(str(TESTS / name) for name in ("", "faults", "actions", "vectors", "labels"))]

from crash_places import Places  # noqa: E402  (needs the path above)
from page_flips import (  # noqa: E402
    BAD,
    FOUND,
    NAME,
    NOTHING,
    OTHERS,
    REFUSED,
    SHOWN,
    TRACEBACK,
    UNTOLD,
    audit_look,
    flips,
    reading_look,
    whole_vault,
)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--per-page", type=int, default=64)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--json", action="store_true")
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="gearkeep-flips-") as name:
        small = Places(Path(name)).today()
        whole = whole_vault(small)
        tags = [small.tags[reference] for reference in ("CH-001", "ST-N1", "CV-001")]
        runs = {"audit": (audit_look(whole), (FOUND, REFUSED, NOTHING, NAME, UNTOLD, TRACEBACK)),
                "show": (reading_look(tags), (SHOWN, REFUSED, OTHERS, TRACEBACK))}
        done = {run: flips(whole, look, per_page=asked.per_page, seed=asked.seed) for run, (look, _) in runs.items()}
    figures = {f"{run}: {outcome}": {
        "value": done[run].outcomes[outcome], "unit": "flips", "limit": 0 if outcome in BAD else None,
        "ratio": round(done[run].outcomes[outcome] / done[run].outcomes.total(), 4)}
               for run, (_, outcomes) in runs.items() for outcome in outcomes}
    if asked.json:
        print(json.dumps(figures, indent=1))
    else:
        told = done["audit"]
        print(f"{told.outcomes.total()} flips in {told.pages} pages of {told.page_size} bytes, each run; ratio: of all flips")
        for figure, one in figures.items():
            print(f"{figure:34} {one['value']:>7}  limit {one['limit']!s:>4}  ratio {one['ratio']:>7}")
    bad = [(run, one) for run, flipped in done.items() for one in flipped.bad]
    for run, one in bad[:20]:
        last = one.said.strip().splitlines()[-1]
        print(f"{run}: page {one.page}, byte {one.offset}, bits {one.mask:08b}: {one.outcome}: {last}", file=sys.stderr)
    raise SystemExit(bool(bad))


if __name__ == "__main__":
    main()
