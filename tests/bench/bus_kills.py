"""Setting a spare over a simulated line, killed at every n-th frame and taken up again: what stands at the address afterwards.

    python tests/bench/bus_kills.py [--step 11] [--neighbours 5] [--json]

Prints the frames and the time on the bus that one job takes (IEC 62386-101: a forward frame with its settling time, and the
time for an answer where one is asked), and how many kills were taken up well, told, or ended with two gear at the address.
"""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE.parents[1]), str(HERE.parent / "bus"), str(HERE.parent / "actions"), str(HERE.parent)]

from guided_bench import ADDRESS, neighbour  # noqa: E402
from simulated_gear import SimulatedGear  # noqa: E402
from simulated_line import SimulatedLine, SimulatedPort  # noqa: E402
from small_vault import DEMO  # noqa: E402

from vault.bus.job import job_for  # noqa: E402
from vault.bus.progress_log import NotesInMemory, ProgressLog  # noqa: E402
from vault.bus.setting import set_gear  # noqa: E402
from vault.domain.settings import Channel, Control, Curve, Duty, Gear, Output, Protocol, Settings  # noqa: E402
from vault.errors import GearkeepError  # noqa: E402
from vault.exchange.catalogue import read_drivers  # noqa: E402


def _gear() -> Gear:
    control = Control(protocol=Protocol.DALI, short_address=ADDRESS, groups=0x0203, scenes=(254, 170, *(255,) * 14), min_level=86,
                      max_level=254, power_on_level=254, system_failure_level=254, fade_time=4, fade_rate=7,
                      curve=Curve.LOGARITHMIC)
    return Gear(duty=Duty.GENERAL, model=None, settings=Settings(
        output=Output.CONSTANT_CURRENT, channels=(Channel(current_ma=700),), control=control))


def _run(line: SimulatedLine, notes: NotesInMemory, lost_after: int | None) -> tuple[SimulatedPort, str]:
    spare = next(one for one in read_drivers(DEMO / "drivers.toml") if one.model == "GEN-50-1050")
    port = SimulatedPort(line, lost_after=lost_after)
    try:
        set_gear(port, job_for(_gear(), spare), log=ProgressLog(notes), tell=lambda _said: None)
    except GearkeepError as problem:
        return port, problem.kind
    return port, "good"


def _line(neighbours: int) -> SimulatedLine:
    others = [one for one in range(64) if one != ADDRESS][:neighbours]
    return SimulatedLine([*map(neighbour, others), SimulatedGear(seed=7)])


def main() -> None:
    """Run the campaign and print its table."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--step", type=int, default=11)
    asked.add_argument("--neighbours", type=int, default=5)
    asked.add_argument("--json", action="store_true")
    given = asked.parse_args()
    whole, _ = _run(_line(given.neighbours), NotesInMemory(), None)
    ends: dict[str, int] = {}
    two = kills = 0
    for frame in range(1, whole.sent, given.step):
        line, notes = _line(given.neighbours), NotesInMemory()
        _run(line, notes, frame)
        _, end = _run(line, notes, None)
        kills, ends[end] = kills + 1, ends.get(end, 0) + 1
        two += line.count_by_address()[ADDRESS] > 1
    figures = {
        "frames": {"value": whole.sent, "unit": "frames", "limit": None, "ratio": None},
        "bus_time": {"value": round(whole.at_ms / 1000, 1), "unit": "s", "limit": None, "ratio": None},
        "taken_up": {"value": ends.get("good", 0), "unit": "kills", "limit": kills, "ratio": ends.get("good", 0) / kills},
        "told": {"value": kills - ends.get("good", 0), "unit": "kills", "limit": kills, "ratio": None},
        "two_at_address": {"value": two, "unit": "kills", "limit": 0, "ratio": None},
    }
    if given.json:
        print(json.dumps(figures))
        return
    for name, figure in figures.items():
        limit = "" if figure["limit"] is None else f"   of {figure['limit']}"
        print(f"{name:16} {figure['value']:>8} {figure['unit']}{limit}")


if __name__ == "__main__":
    main()
