"""The most memory that a process and those that it started hold together, watched from outside (Linux)."""

from __future__ import annotations

import subprocess
import threading
from collections.abc import Iterable
from pathlib import Path

PAUSE_S = 0.25


def _family(first: int) -> list[int]:
    parents: dict[int, int] = {}
    for entry in Path("/proc").glob("[0-9]*/stat"):
        try:
            parents[int(entry.parent.name)] = int(entry.read_text().rpartition(")")[2].split()[1])
        except OSError:
            continue
    found = [first]
    for one in found:
        found += [child for child, parent in parents.items() if parent == one]
    return found


def _memory_mb(pids: Iterable[int]) -> float:
    total = 0
    for pid in pids:
        try:
            lines = Path(f"/proc/{pid}/smaps_rollup").read_text().splitlines()
        except OSError:
            continue
        # Proportional share: what two processes hold together counts once.
        total += sum(int(line.split()[1]) for line in lines if line.startswith("Pss:"))
    return total / 1024


def watched(process: subprocess.Popen[str]) -> tuple[str, float]:
    """Wait for a process; (what it printed, the most memory seen in MB, nought where the system does not tell)."""
    highest, over = [0.0], threading.Event()

    def watch() -> None:
        while not over.wait(PAUSE_S):
            highest[0] = max(highest[0], _memory_mb(_family(process.pid)))

    watcher = threading.Thread(target=watch, daemon=True)
    watcher.start()
    said, _ = process.communicate()
    over.set()
    watcher.join()
    return said, highest[0]
