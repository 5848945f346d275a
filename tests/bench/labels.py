"""Labels a second, from signed records to a PDF of one two-code label a page, beside two stock ways of doing it.

    python tests/bench/labels.py [--labels 10000] [--stock-labels 200] [--turns 5] [--workers 2] [--json]

Ours: records that are signed already become what stands on their labels; each label is laid out, drawn as dots, read back
by an independent reader and written, in several processes. Stock: the same words at fixed places and the same two codes by
`qrcode` (or `segno`) and reportlab, a rectangle for each run of modules, in one process, nothing laid out or proved; fewer
labels, because its time grows evenly with them. The sides take turns; medians count. Memory is that of all our processes
together (Linux, proportional share), at its highest; their processor time tells what two free cores would do where other
work disturbs the clock.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from pathlib import Path
from statistics import median
from types import SimpleNamespace

HERE = Path(__file__).resolve().parent
# Not this folder: this script has the name of the package that it measures.
sys.path[:] = [str(HERE.parents[1]), str(HERE.parent / "vectors"), *(path for path in sys.path if path != str(HERE))]

import make  # noqa: E402  (needs the path above)
import qrcode  # noqa: E402
import segno  # noqa: E402

from labels.content import LabelContent  # noqa: E402
from labels.drawing import FONTS, new_canvas, write_pdf  # noqa: E402
from labels.media import MEDIA  # noqa: E402
from vault.actions.label_content import content_of  # noqa: E402
from vault.domain import record  # noqa: E402
from vault.domain.tag import tag_from_bits, to_bytes  # noqa: E402
from vault.trust import cose  # noqa: E402
from vault.trust.statements import Kind  # noqa: E402
from vault.trust.verify import sign  # noqa: E402

MEDIUM = MEDIA["60x40"]
LEAST_A_SECOND, LEAST_RATIO, MOST_MB = 400, 10, 300
Signed = tuple[str, record.Record, bytes]
Rows = list[list[bool]]


def signed_records(count: int) -> list[Signed]:
    """Records of an invented building: tag, record, signed bytes. Different tags, places, addresses and serial numbers."""
    chance, key = random.Random(1), make.key("installer")
    first = record.Record(
        tag=bytes(5), version=1, fixture_type=record.TypeRef(code="PANEL600", revision=2, digest=bytes(8)),
        essentials=make.essentials_of(make.RATING), time_s=make.TIME, reason=record.Reason.HANDOVER, basis=record.Basis.STATED,
        baseline=record.Baseline.NOT_RECORDED, place="-", line="L2-A", reference="-", gears=(make.GENERAL,))
    made: list[Signed] = []
    while len(made) < count:
        tag = tag_from_bits(chance.getrandbits(40))
        if tag is None:
            continue
        settings = replace(make.GENERAL.settings, control=replace(make.GENERAL.settings.control, short_address=len(made) % 64))
        body = replace(first, tag=to_bytes(tag), place=f"L{len(made) // 400}, room {len(made) % 400}",
                       reference=f"E{len(made):05d}",
                       gears=(replace(make.GENERAL, serial=f"{chance.getrandbits(19):06d}", settings=settings),))
        made.append((tag, body, sign(Kind.RECORD, body, key, log_id=make.LOG_ID)))
    return made


def contents(records: list[Signed]) -> Iterator[LabelContent]:
    """What stands on each record's label, made as it is needed."""
    session = SimpleNamespace(genesis=SimpleNamespace(host=make.HOST))
    for tag, body, signed in records:
        statement = SimpleNamespace(digest=cose.digest(signed), signed_bytes=signed)
        yield content_of(session, SimpleNamespace(tag=tag, record=body, statement=statement, provisional=False, approvals=(),
                                                  line=SimpleNamespace(addresses_from=0)))


def with_qrcode(text: str, level: str) -> Rows:
    """A code by qrcode's own documented calls."""
    code = qrcode.QRCode(error_correction=getattr(qrcode.constants, f"ERROR_CORRECT_{level}"), border=0)
    code.add_data(text)
    code.make()
    return code.get_matrix()


def with_segno(text: str, level: str) -> Rows:
    """A code by segno's own documented calls."""
    return [list(map(bool, row)) for row in segno.make(text, error=level, micro=False).matrix]


def stock_pdf(path: Path, labels: Iterator[LabelContent], encode: Callable[[str, str], Rows]) -> None:
    """The words at fixed places and both codes as rectangles, one label a page."""
    canvas = new_canvas(path, MEDIUM.points(MEDIUM.width_dots), MEDIUM.points(MEDIUM.height_dots), "Labels")
    for label in labels:
        words = [label.tag_shown, *(figure.caption for figure in label.big), *(figure.value for figure in label.big),
                 label.digest, *label.marks, *label.lines]
        for number, text in enumerate(words):
            canvas.setFont(FONTS[number == 0], 6)
            canvas.drawString(90, 106 - 8 * number, text)
        for text, level, dots, left, bottom in ((label.capsule_text, "M", 5, 20, 130), (label.link_text, "Q", 6, 520, 24)):
            matrix = encode(text or "", level)
            for y, row in enumerate(matrix):
                x = 0
                while x < len(row):
                    start = x
                    while x < len(row) and row[x] == row[start]:
                        x += 1
                    if row[start]:
                        canvas.rect(MEDIUM.points(left + start * dots), MEDIUM.points(bottom + (len(matrix) - y - 1) * dots),
                                    MEDIUM.points((x - start) * dots), MEDIUM.points(dots), stroke=0, fill=1)
        canvas.showPage()
    canvas.save()


def _family() -> dict[int, float]:
    """This process and all that came from it, each with the seconds of processor time it has used."""
    parents: dict[int, int] = {}
    used: dict[int, float] = {}
    for entry in Path("/proc").glob("[0-9]*/stat"):
        try:
            fields = entry.read_text().rpartition(")")[2].split()
        except OSError:
            continue
        pid = int(entry.parent.name)
        parents[pid], used[pid] = int(fields[1]), (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")
    found = [os.getpid()]
    for one in found:
        found += [child for child, parent in parents.items() if parent == one]
    return {pid: used[pid] for pid in found}


def _memory_mb(pids: Iterable[int]) -> float:
    total = 0
    for pid in pids:
        try:
            rows = Path(f"/proc/{pid}/smaps_rollup").read_text().splitlines()
        except OSError:
            continue
        total += sum(int(row.split()[1]) for row in rows if row.startswith("Pss:"))
    return total / 1024


class Watch(threading.Thread):
    """Looks four times a second at the memory and the processor time of all processes."""

    def __init__(self) -> None:
        super().__init__(daemon=True)
        self.highest_mb, self._over = 0.0, threading.Event()
        self._before = self._used = _family()

    def run(self) -> None:
        """Until `stop`."""
        while not self._over.wait(0.25):
            now = _family()
            self._used = self._used | now
            self.highest_mb = max(self.highest_mb, _memory_mb(now))

    def stop(self) -> float:
        """Seconds of processor time since the beginning."""
        self._over.set()
        self.join()
        return sum(self._used.values()) - sum(self._before.values())


def seconds(work: Callable[[], object]) -> float:
    """How long it takes by the clock."""
    begun = time.monotonic()
    work()
    return time.monotonic() - begun


def figure(value: float, unit: str, limit: float | None, ratio: float | None) -> dict[str, object]:
    """One line of the table."""
    return {"value": value, "unit": unit, "limit": limit, "ratio": None if ratio is None else round(ratio, 2)}


def main() -> None:
    """Print the table; exit 1 when a limit is missed."""
    parser = argparse.ArgumentParser(description=str(__doc__).splitlines()[0])
    parser.add_argument("--labels", type=int, default=10_000)
    parser.add_argument("--stock-labels", type=int, default=200)
    parser.add_argument("--turns", type=int, default=5)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--json", action="store_true")
    asked = parser.parse_args()
    records = signed_records(asked.labels)
    few = records[: asked.stock_labels]
    ours: list[float] = []
    stock: dict[str, list[float]] = {"qrcode": [], "segno": []}
    stock_busy: dict[str, list[float]] = {"qrcode": [], "segno": []}
    busy: list[float] = []
    memory = 0.0
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder, "labels.pdf")
        for turn in range(asked.turns):
            watch = Watch()
            watch.start()
            ours.append(asked.labels / seconds(lambda: write_pdf(file, contents(records), MEDIUM, total=len(records),
                                                                 workers=asked.workers)))
            busy.append(watch.stop() / asked.labels * 1000)
            memory = max(memory, watch.highest_mb)
            for name, encode in (("qrcode", with_qrcode), ("segno", with_segno)):
                begun = time.process_time()
                taken = seconds(lambda encode=encode: stock_pdf(Path(folder, "stock.pdf"), contents(few), encode))
                stock_busy[name].append((time.process_time() - begun) / len(few) * 1000)
                stock[name].append(len(few) / taken)
            print(f"turn {turn + 1}: {ours[-1]:.0f}, qrcode {stock['qrcode'][-1]:.1f}, segno {stock['segno'][-1]:.1f} labels/s",
                  file=sys.stderr, flush=True)
        size, stock_size = file.stat().st_size / asked.labels, Path(folder, "stock.pdf").stat().st_size / len(few)
    rate, peers = median(ours), {name: median(rates) for name, rates in stock.items()}
    record_size = median(len(signed) for _, _, signed in records)
    figures = {
        "labels to PDF": figure(round(rate), "labels/s", LEAST_A_SECOND, rate / LEAST_A_SECOND),
        **{f"times {name} with reportlab": figure(round(rate / peer, 1), "times", LEAST_RATIO, rate / peer / LEAST_RATIO)
           for name, peer in peers.items()},
        **{f"{name} with reportlab": figure(round(peer, 1), "labels/s", None, None) for name, peer in peers.items()},
        "processor time": figure(round(median(busy), 2), "ms/label", 2000 / LEAST_A_SECOND, median(busy) * LEAST_A_SECOND / 2000),
        **{f"{name}'s processor time": figure(round(median(times), 1), "ms/label", None, None)
           for name, times in stock_busy.items()},
        "peak memory, all processes": figure(round(memory), "MB", MOST_MB, memory / MOST_MB),
        "bytes a label": figure(round(size), "B", round(stock_size), size / stock_size),
        "bytes of a signed record": figure(round(record_size), "B", None, None),
    }
    if asked.json:
        print(json.dumps(figures, indent=1))
    else:
        print(f"{asked.labels} labels of two codes, {asked.workers} processes; {len(few)} by stock calls; {asked.turns} turns")
        for name, one in figures.items():
            print(f"{name:28} {one['value']!s:>8} {one['unit']:9} limit {one['limit']!s:>6}  ratio {one['ratio']}")
    raise SystemExit(rate < LEAST_A_SECOND or rate / peers["qrcode"] < LEAST_RATIO or memory > MOST_MB)


if __name__ == "__main__":
    main()
