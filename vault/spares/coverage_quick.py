"""The quick way: plain stops for every class and model at once.

A rule is asked once for each pair of figures and model that is still open, and numpy spreads the answers over all classes.
The quick way only ever says "does not fit"; whatever it leaves open goes the careful way, through the whole fit.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from vault.domain.driver import DriverModel
from vault.domain.findings import Verdict
from vault.spares.coverage import Need
from vault.spares.coverage_row import Plain, Row
from vault.spares.coverage_rules import PLAIN
from vault.spares.needs import Answer

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Grid = NDArray[np.int32]


@dataclass(frozen=True, slots=True, kw_only=True)
class Stops:
    """Plain stops. at[class, model]: 0 where there is none, else the place of its answer in `answers` (whose first is None)."""

    at: Grid
    answers: Sequence[Answer | None]


def rows_of(need: Need) -> list[Row]:
    """A class under each of its ratings."""
    of = need.of
    return [Row(gear=of.gear, rating=rating, position=rating.gear_for(of.gear.duty), line=of.line, circuit=of.circuit)
            for rating in of.ratings]


def quick_stops(needs: Sequence[Need], models: Sequence[DriverModel]) -> Stops:
    """Every plain stop of every model against every class, under any of the class's ratings."""
    import numpy as np

    answers: list[Answer | None] = [None]
    at = np.zeros((len(needs), len(models)), dtype=np.int32)
    every = [rows_of(need) for need in needs]
    # The first ratings of all classes, then the second ones of those that have two.
    for turn in range(max(map(len, every), default=0)):
        held = np.array([number for number, rows in enumerate(every) if len(rows) > turn], dtype=np.intp)
        found = at[held]
        for plain in PLAIN:
            _ask(plain, [every[number][turn] for number in held], models, found, answers)
        at[held] = found
    return Stops(at=at, answers=answers)


def _ask(plain: Plain, rows: Sequence[Row], models: Sequence[DriverModel], found: Grid, answers: list[Answer | None]) -> None:
    import numpy as np

    codes, figures = _coded(plain.figures, rows, (found == 0).any(axis=1))
    asked = np.flatnonzero(codes >= 0)
    if not asked.size:
        return
    pairs = codes[asked, None] * len(models) + np.arange(len(models))
    block = found[asked]
    free = block == 0
    told = np.zeros(len(figures) * len(models), dtype=np.int32)
    for pair in np.unique(pairs[free]).tolist():
        figure, model = divmod(pair, len(models))
        says = plain.stops(figures[figure], models[model])
        if says is not None:
            told[pair] = len(answers)
            answers.append(Answer(verdict=Verdict.DOES_NOT_FIT, rule=plain.rule, limit=says))
    block[free] = told[pairs[free]]
    found[asked] = block


def _coded(figures_of: Callable[[Row], Any], rows: Sequence[Row],
           still: NDArray[np.bool_]) -> tuple[NDArray[np.int64], list[Any]]:
    """A number for each row's figures, -1 where there are none or nothing is open, and the figures by number."""
    import numpy as np

    known: dict[Any, int] = {}
    codes = np.full(len(rows), -1, dtype=np.int64)
    for number in np.flatnonzero(still).tolist():
        figures = figures_of(rows[number])
        if figures is not None:
            codes[number] = known.setdefault(figures, len(known))
    return codes, list(known)
