"""A figure beside its limit, and the turns in which the two are measured one after the other."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from statistics import median
from typing import Any, Literal


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """One figure. limit: what stands beside it, measured in the same run. ratio: value to limit, median over the turns.

    target: what the ratio (or the value, where there is no limit) shall reach; sense: from which side.
    """

    name: str
    value: float
    unit: str
    limit: float | None
    beside: str
    ratio: float | None
    target: float
    sense: Literal["at least", "at most"]

    @property
    def met(self) -> bool:
        """Whether the target is reached."""
        held = self.value if self.ratio is None else self.ratio
        return held >= self.target if self.sense == "at least" else held <= self.target

    def plain(self) -> dict[str, Any]:
        """As JSON holds it."""
        return {"value": self.value, "unit": self.unit, "limit": self.limit, "beside": self.beside, "ratio": self.ratio,
                "target": f"{self.sense} {self.target:g}", "met": self.met}


def alternate(work: Callable[[], float], limit: Callable[[], float], turns: int) -> tuple[float, float, float]:
    """Medians of the work, of its limit, and of their ratio turn by turn: machines are noisy, so the two take turns."""
    pairs = [(work(), limit()) for _ in range(turns)]
    return (median(a for a, _ in pairs), median(b for _, b in pairs), median(a / b for a, b in pairs))


def seconds(act: Callable[[], object]) -> float:
    """How long an act takes, by the wall clock."""
    begun = time.perf_counter()
    act()
    return time.perf_counter() - begun


@dataclass(frozen=True, slots=True, kw_only=True)
class Ran:
    """A whole process: wall-clock seconds and the most memory that it and its own children held at once, each."""

    wall_s: float
    peak_mb: float


_WATCH = """
import resource, subprocess, sys, time
begun = time.perf_counter()
done = subprocess.run(sys.argv[2:], stdout=subprocess.DEVNULL)
wall = time.perf_counter() - begun
print(wall, resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024, done.returncode)
"""


def run_process(command: Sequence[str], *, expected: int = 0) -> Ran:
    """Run a command as a whole process. Raises RuntimeError when it ends otherwise than expected."""
    # As an installed program runs: compiled once, whatever the surroundings say.
    surroundings = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    done = subprocess.run([sys.executable, "-c", _WATCH, "watch", *command], capture_output=True, text=True, check=True,
                          env=surroundings)
    wall, peak, code = done.stdout.split()
    if int(code) != expected:
        raise RuntimeError(f"{' '.join(command)} ended with {code}: {done.stderr[-500:]}")
    return Ran(wall_s=float(wall), peak_mb=float(peak))
