"""A guided swap with its answers given, over a simulated line, killed where a test wants it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from pytest import MonkeyPatch
from simulated_gear import SimulatedGear
from simulated_line import SimulatedLine, SimulatedPort
from small_vault import SmallVault

from vault.actions.guided_swap import Outcome, guided_swap
from vault.actions.questions import GivenAnswers
from vault.actions.swap_course import Tools
from vault.bus.port import Port
from vault.exchange.kept_notes import KeptNotes

REFERENCE, ADDRESS, SPARE = "CH-007", 6, "GEN-50-1050"
NEIGHBOURS = (0, 1, 4, 5, 7)
ANSWERS = {
    "right-luminaire": "yes", "cautions": "yes", "spare": SPARE, "hands-done": "yes", "set-over-bus": "yes",
    "channels.1.current_ma": "700", "channels.1.current_evidence": "meter", "channels.1.voltage_min_mv": "30000",
    "channels.1.voltage_max_mv": "44000", "channels.1.power_max_mw": "31000", "tests": "all",
    "change-class": "approved-equivalent", "old-driver": "scrapped", "sign": "yes",
}


class Killed(BaseException):
    """The process ends here: nothing catches it."""


def neighbour(address: int) -> SimulatedGear:
    """A gear beside the luminaire, with values of its own."""
    return SimulatedGear(short_address=address, seed=100 + address, held={"max_level": 200 + address, "scene_2": 40 + address})


def line_with_spare(*more: SimulatedGear, spare: SimulatedGear | None = None) -> SimulatedLine:
    """Neighbours, and the spare without an address."""
    return SimulatedLine([*(neighbour(address) for address in NEIGHBOURS), spare or SimulatedGear(seed=7, serial=880412), *more])


@dataclass(slots=True, kw_only=True)
class Told:
    """A teller that remembers."""

    lines: list[str] = field(default_factory=list)

    def heading(self, title: str) -> None:
        self.lines.append(f"# {title}")

    def note(self, *lines: str) -> None:
        self.lines += lines

    def luminaire(self, seen: Any, neighbours: Sequence[str]) -> None:
        self.lines += [seen.record.place, *neighbours]

    def cautions(self, cautions: Sequence[str]) -> None:
        self.lines += cautions

    def spares(self, result: Any) -> None:
        self.lines += [one.fit.model for one in result.spares]

    def plan(self, gear: Any, judged: Any, line: Any, drawings: Sequence[Path]) -> None:
        self.lines += [gear.model, f"{line} {drawings}", *judged.plan.cautions, *(step.text for step in judged.plan.steps)]

    def compared(self, comparisons: Sequence[Any], line: Any) -> None:
        self.lines += [str(line)]
        self.lines += [f"{one.field} {one.result}" for one in comparisons]

    def findings(self, findings: Sequence[Any]) -> None:
        self.lines += [f"{one.rule} {one.severity.value}" for one in findings]


def swap_with(small: SmallVault, *, line: SimulatedLine | None = None, lost_after: int | None = None, told: Told | None = None,
              reference: str = REFERENCE, tools: Tools | None = None, **answers: str) -> Outcome:
    """One run with the usual answers, others by their key (of a question with _ for -)."""
    said = ANSWERS | {key if "." in key else key.replace("_", "-"): value for key, value in answers.items()}
    shown = told or Told()
    return guided_swap(small.desk("T01"), small.tags[reference], small.folder / "swap", tell=shown,
                       asker=GivenAnswers(answers=said, then=None, show=shown.lines.append),
                       tools=tools or Tools(bus=_bus(line, lost_after)))


def _bus(line: SimulatedLine | None, lost_after: int | None) -> Callable[[], Any] | None:
    if line is None:
        return None

    @contextmanager
    def opened() -> Iterator[Port]:
        yield SimulatedPort(line, lost_after=lost_after)

    return opened


def kill_at(monkeypatch: MonkeyPatch, number: int, *, written: bool) -> None:
    """Kill the process at the n-th note, counted from 1: before it is on the disk, or behind it."""
    real, count = KeptNotes.add, iter(range(1, 10_000))

    def add(self: KeptNotes, step: str, **facts: Any) -> Any:
        if next(count) != number:
            return real(self, step, **facts)
        if written:
            real(self, step, **facts)
        raise Killed

    monkeypatch.setattr(KeptNotes, "add", add)
