"""A preview of a large schedule of somebody else's making, beside csv.reader and the strict reader alone on the same rows.

    python tests/bench/preview.py [--rows 100000] [--turns 5] [--xlsx] [--json]

Ours: the file is read, its headings are mapped, each distinct text is read once, and every row is checked as a handover would
check it, against a vault that holds the demo's types and enough lines; nothing is signed. Beside it the same luminaires under our
own headings go through `csv.reader` and `read_schedule`, which judge no rating and no address. Each turn of ours is a process of
its own, whose highest memory it says itself; the sides take turns, medians count. With --xlsx the same rows are a workbook too.
"""

from __future__ import annotations

import argparse
import csv
import json
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from statistics import median

HERE = Path(__file__).resolve().parent
# Not this folder: a script in it has the name of a package.
sys.path[:] = [str(HERE.parents[1]), str(HERE.parent), str(HERE.parent / "actions"), *(p for p in sys.path if p != str(HERE))]

from small_vault import CATALOGUE, DEMO, HOST, NOW_S, SITE  # noqa: E402  (needs the path above)

from vault.actions.desk import Desk  # noqa: E402
from vault.actions.handover import hand_over  # noqa: E402
from vault.actions.handover_reading import look  # noqa: E402
from vault.actions.setup import found_vault, load_catalogue  # noqa: E402
from vault.db.bulk import append_many  # noqa: E402
from vault.db.session import Vault  # noqa: E402
from vault.domain.rating import Rating  # noqa: E402
from vault.domain.site import Line, LineKind  # noqa: E402
from vault.exchange.catalogue import read_types  # noqa: E402
from vault.exchange.schedule import read_schedule  # noqa: E402
from vault.exchange.schedule_mapping import ScheduleMapping  # noqa: E402
from vault.exchange.table_out import Sheet, write_xlsx_table  # noqa: E402
from vault.trust.keys import read_key_file  # noqa: E402
from vault.trust.statements import Kind  # noqa: E402

ON_A_LINE = 64
MOST_S, MOST_MB = 60, 500
THEIRS = ("Leuchten-Nr.", "Leuchtentyp", "Geschoss", "Raum-Nr.", "Ausgangsstrom", "Flussspg.", "Schutzart", "DALI-Linie",
          "DALI-Adr.", "Gruppe(n)")
OURS = ("reference", "type", "place", "current_ma", "voltage_min_v", "voltage_max_v", "line", "address", "groups", "min_level")


def line_name(number: int) -> str:
    """The name of the bench's line of that number."""
    return f"B{number:05d}"


def theirs(number: int) -> tuple[str, ...]:
    """A row as somebody else writes it: units, commas, dots and dashes change from row to row."""
    line, at = divmod(number, ON_A_LINE)
    current = ("0,7 A", "700 mA", "700", "0,70A")[number % 4]
    window = ("30-44V", "30…44 V", "30 bis 44", "30 – 44")[number // 4 % 4]
    return (f"E{number:07d}", "T1", f"{line // 20}.OG", f"R{line % 20}-{at + 1}", current, window, "IP40", line_name(line),
            str(at), ("1+3", "1,3", "G01")[number % 3])


def ours(number: int) -> tuple[str, ...]:
    """The same row under our headings."""
    line, at = divmod(number, ON_A_LINE)
    return (f"E{number:07d}", "T1", f"{line // 20}.OG, R{line % 20}-{at + 1}", "700", "30", "44", line_name(line), str(at),
            ("1+3", "1+3", "1")[number % 3], "not set")


def make(folder: Path, rows: int, workbook: bool) -> None:
    """The vault and the files."""
    founded = found_vault(str(folder / "vault.db"), host=HOST, site=SITE, keys_folder=folder / "keys", passphrase=b"dry socks 12",
                          recovery_needed=1, recovery_count=1, now_s=NOW_S)
    key = read_key_file(founded.authority_file, b"dry socks 12")
    desk = Desk(vault=founded.vault, key_source=lambda: key, now_s=lambda: NOW_S)
    for kind, name in CATALOGUE:
        load_catalogue(desk, kind, DEMO / f"{name}.toml")
    with founded.vault.writing() as session:
        for _ in append_many(session, Kind.LINE, lines(rows).values(), key, workers=0):
            pass
    founded.vault.close()
    for name, headings, row, mark in (("theirs.csv", THEIRS, theirs, ";"), ("ours.csv", OURS, ours, ",")):
        with (folder / name).open("w", encoding="utf-8", newline="") as file:
            out = csv.writer(file, delimiter=mark)
            out.writerow(headings)
            out.writerows(map(row, range(rows)))
    if workbook:
        write_xlsx_table(folder / "theirs.xlsx", [Sheet(name="Leuchten", rows=[THEIRS, *map(theirs, range(rows))])])


def lines(rows: int) -> dict[str, Line]:
    """Enough lines for the rows."""
    made = (Line(name=line_name(number), revision=1, kind=LineKind.DALI, addresses_from=0, site_ta_c=30)
            for number in range(rows // ON_A_LINE + 1))
    return {line.name: line for line in made}


def one_preview(vault: str, schedule: Path) -> None:
    """In a process of its own: preview the file, its questions answered as it points to, and print what it took."""
    desk = Desk(vault=Vault(vault), now_s=lambda: NOW_S)
    begun = time.perf_counter()
    mapping, asked = ScheduleMapping(), 0
    seen = look(desk, schedule, mapping=mapping)
    read = time.perf_counter() - begun
    while seen.questions:
        asked += len(seen.questions)
        answers = {one.key: one.likely or one.choices[0].word for one in seen.questions}
        mapping = ScheduleMapping(answers={**mapping.answers, **answers})
        begun = time.perf_counter()
        seen = look(desk, schedule, mapping=mapping)
        read = time.perf_counter() - begun
    begun = time.perf_counter()
    result = hand_over(desk, seen, preview=True)
    seconds = read + time.perf_counter() - begun
    print(json.dumps({"read": read, "seconds": seconds, "asked": asked, "accepted": len(result.accepted),
                      "rejected": [str(one) for one in result.rejected[:3]],
                      "mb": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024}))


def measured(folder: Path, name: str, rows: int) -> dict[str, float]:
    """What a preview in its own process says of itself."""
    command = [sys.executable, __file__, "--one", str(folder / "vault.db"), str(folder / name)]
    said = json.loads(subprocess.run(command, check=True, stdout=subprocess.PIPE, text=True).stdout)
    if said["accepted"] != rows:
        raise SystemExit(f"{said['accepted']} of {rows} rows would be signed; {said['rejected']}")
    return said


def beside(folder: Path, ratings: dict[str, Rating], rows: int) -> float:
    """Seconds that csv.reader and the strict reader take for the same luminaires."""
    begun = time.perf_counter()
    with (folder / "ours.csv").open(encoding="utf-8", newline="") as file:
        count = sum(1 for _ in csv.reader(file))
    done = read_schedule(folder / "ours.csv", ratings=ratings, lines=lines(rows), circuits={})
    spent = time.perf_counter() - begun
    if count != rows + 1 or len(done.luminaires) != rows:
        raise SystemExit(f"the strict reader took {len(done.luminaires)} of {rows}: {done.rejected[:2]}")
    return spent


def figure(value: float, unit: str, limit: float | None, ratio: float | None) -> dict[str, object]:
    """One line of the table."""
    return {"value": value, "unit": unit, "limit": limit, "ratio": None if ratio is None else round(ratio, 3)}


def measure(rows: int, turns: int, workbook: bool) -> dict[str, dict[str, object]]:
    """Every figure."""
    ratings = {one.code: one for one in read_types(DEMO / "types.toml")}
    text: list[dict[str, float]] = []
    book: list[dict[str, float]] = []
    plain: list[float] = []
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        make(folder, rows, workbook)
        for turn in range(turns):
            text.append(measured(folder, "theirs.csv", rows))
            plain.append(beside(folder, ratings, rows))
            if workbook:
                book.append(measured(folder, "theirs.xlsx", rows))
            print(f"turn {turn + 1}: {text[-1]['seconds']:.1f} s, strict reader alone {plain[-1]:.1f} s", file=sys.stderr,
                  flush=True)
    strict = median(plain)
    found = {"csv.reader and strict reader": figure(round(strict, 2), "s", None, None)}
    for called, runs in (("preview", text), ("preview of XLSX", book)):
        if runs:
            spent, mb = median(one["seconds"] for one in runs), max(one["mb"] for one in runs)
            found[called] = figure(round(spent, 2), "s", MOST_S, spent / strict)
            found[f"{called}, reading alone"] = figure(round(median(one["read"] for one in runs), 2), "s", None, None)
            found[f"{called}, memory"] = figure(round(mb), "MB", MOST_MB, mb / MOST_MB)
    return found


def main() -> None:
    """Print the table; exit 1 when a limit is missed."""
    parser = argparse.ArgumentParser(description=str(__doc__).splitlines()[0])
    parser.add_argument("--rows", type=int, default=100_000)
    parser.add_argument("--turns", type=int, default=5)
    parser.add_argument("--xlsx", action="store_true")
    parser.add_argument("--json", action="store_true")
    parser.add_argument("--one", nargs=2, metavar=("VAULT", "SCHEDULE"), help=argparse.SUPPRESS)
    asked = parser.parse_args()
    if asked.one:
        one_preview(asked.one[0], Path(asked.one[1]))
        return
    figures = measure(asked.rows, asked.turns, asked.xlsx)
    if asked.json:
        print(json.dumps(figures, indent=1))
    else:
        print(f"{asked.rows} rows, {asked.turns} turns")
        for name, one in figures.items():
            print(f"{name:32} {one['value']!s:>8} {one['unit']:4} limit {one['limit']!s:>6}  ratio {one['ratio']}")
    raise SystemExit(any(one["limit"] is not None and float(str(one["value"])) > float(str(one["limit"]))
                         for one in figures.values()))


if __name__ == "__main__":
    main()
