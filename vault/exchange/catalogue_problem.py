"""The refusal of a catalogue file."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from vault.domain.schema import Problem
from vault.errors import GearkeepError
from vault.exchange.complaints import listed


class CatalogueProblem(GearkeepError):
    """A catalogue file is wrong. `problems`: (entry, Problem) for each; says: what is told instead of them, where the file is
    another than was asked for. Kind: bad-catalogue.
    """

    def __init__(self, path: Path, problems: Sequence[tuple[str, Problem]], says: str = "") -> None:
        told = [f"{entry}: {problem}" for entry, problem in problems]
        what = f"{path.name} is wrong, nothing was read: {told[0]}" if len(told) == 1 else (
            f"{path.name} is wrong in {len(told)} places, nothing was read:\n{listed(told)}")
        super().__init__(says or what, hint="Nothing was read. Give a file with them." if says else
                         "correct the file and load it again", kind="bad-catalogue")
        self.problems = tuple(problems)
