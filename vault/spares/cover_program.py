"""Set cover as an integer program, solved to proven optimum: the fewest or cheapest columns that cover every row that must be
covered, and enough weight over all. Pure; columns and rows are numbers.

minimise sum(cost x) subject to: for each row, sum(x of the columns that cover it) >= 1, or >= y where the row may be left out;
sum(weight y) >= target; x whole 0 or 1. (Set covering as in Garfinkel and Nemhauser 1969; from memory.)
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

_CHUNK = 20  # columns decided by one solve of the tie-break: weights up to 2^19 stay exact in a double
_TINY = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """What has to be covered. columns: bits of those that do. must: whether it may not be left out."""

    columns: int
    weight: int
    must: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Program:
    """costs: by column, whole numbers from 0. taken: bits of columns that are in whatever happens. target: weight to be
    covered over all rows. Columns stand in the order in which ties are to be broken.
    """

    rows: Sequence[Row]
    costs: Sequence[int]
    taken: int
    target: int

    def cost(self, columns: int) -> int:
        """Of a choice."""
        return sum(self.costs[one] for one in bits(columns))

    def covered(self, columns: int) -> int:
        """Weight that a choice covers."""
        return sum(row.weight for row in self.rows if row.columns & columns)

    def holds(self, columns: int) -> bool:
        """Whether a choice meets everything, in whole numbers."""
        return (columns & self.taken == self.taken and self.covered(columns) >= self.target
                and all(row.columns & columns for row in self.rows if row.must))


@dataclass(frozen=True, slots=True, kw_only=True)
class Solved:
    """columns: bits. bound: no choice costs less. proven: the bound is what it costs."""

    columns: int
    bound: int
    proven: bool


def bits(columns: int) -> list[int]:
    """Numbers of the bits, upwards."""
    found = []
    while columns:
        low = columns & -columns
        found.append(low.bit_length() - 1)
        columns ^= low
    return found


def merged(rows: Iterable[Row]) -> list[Row]:
    """Rows that the same columns cover, as one."""
    found: dict[int, Row] = {}
    for row in rows:
        held = found.get(row.columns)
        found[row.columns] = row if held is None else replace(
            held, weight=held.weight + row.weight, must=held.must or row.must)
    return [found[columns] for columns in sorted(found)]


def only_cover(rows: Iterable[Row]) -> int:
    """Columns without which some row that must be covered is not: every choice has them."""
    forced = 0
    for row in rows:
        if row.must and row.columns & (row.columns - 1) == 0:
            forced |= row.columns
    return forced


def dominated(program: Program) -> dict[int, int]:
    """Column -> another that covers all the same rows and costs no more; of twins the first in order stays.

    Rows that `taken` covers do not count. Whatever choice has the column stays as good with the other in its place, so
    some best choice has none of them.
    """
    covers = [0] * len(program.costs)
    for number, row in enumerate(program.rows):
        if not row.columns & program.taken:
            for column in bits(row.columns):
                covers[column] |= 1 << number
    # Most rows, then cheapest, then first: a column is only ever replaced by one that stands before it here.
    order = sorted((one for one in range(len(covers)) if not program.taken >> one & 1),
                   key=lambda one: (-covers[one].bit_count(), program.costs[one], one))
    kept: list[int] = []
    found: dict[int, int] = {}
    for column in order:
        by = next((other for other in kept if not covers[column] & ~covers[other]
                   and program.costs[other] <= program.costs[column]), None)
        if by is None:
            kept.append(column)
        else:
            found[column] = by
    return found


def best(program: Program, *, usable: int, never: Sequence[int] = (), time_limit_s: float) -> Solved | None:
    """The best choice from the `usable` columns and those that are taken; None where there is none.

    never: choices that may not be part of the answer. Of equally cheap choices the one with the fewest columns, then the
    one that covers most, then the first in order. time_limit_s: of each solve; without proof `proven` says so.
    """
    if program.holds(program.taken) and not any(one & ~program.taken == 0 for one in never):
        return Solved(columns=program.taken, bound=program.cost(program.taken), proven=True)
    return _Solver(program, usable, never, time_limit_s).run()


class _Solver:
    """One program in HiGHS. Its variables: the open columns, then a share 0 to 1 for each open row that may be left out."""

    def __init__(self, program: Program, usable: int, never: Sequence[int], time_limit_s: float) -> None:
        self.program, self.never, self.limit_s = program, never, time_limit_s
        self.columns = bits(usable & ~program.taken)
        self.open = sum(1 << column for column in self.columns)
        at = {column: place for place, column in enumerate(self.columns)}
        open_rows = merged(row for row in program.rows if not row.columns & program.taken)
        self.optional = [row for row in open_rows if not row.must]
        self.constraints: list[tuple[Mapping[int, float], float, float]] = []
        self.impossible = any(row.must and not row.columns & self.open for row in open_rows)
        width, need = len(self.columns), program.target - program.covered(program.taken)
        need -= sum(row.weight for row in open_rows if row.must)
        for row in open_rows:
            if row.must:
                self._add({at[one]: 1 for one in bits(row.columns & self.open)}, least=1)
        for place, row in enumerate(self.optional):
            self._add({**{at[one]: 1 for one in bits(row.columns & self.open)}, width + place: -1}, least=0)
        if need > 0:
            self._add({width + place: row.weight for place, row in enumerate(self.optional)}, least=need)
        for choice in never:
            free = choice & ~program.taken
            self.impossible |= not free
            if not free & ~self.open:
                self._add({at[one]: 1 for one in bits(free)}, most=free.bit_count() - 1)

    def _add(self, terms: Mapping[int, float], *, least: float = float("-inf"), most: float = float("inf")) -> None:
        self.constraints.append((terms, least, most))

    def run(self) -> Solved | None:
        if self.impossible:
            return None
        costs = [self.program.costs[one] for one in self.columns]
        taken_cost = self.program.cost(self.program.taken)
        found, bound, feasible = self._solve(dict(enumerate(costs)))
        if not feasible:
            return None
        if not self._proves(bound + taken_cost, found):
            # Out of time: what the solver has by then may be far worse than what is taken greedily.
            found = min((one for one in (found, self._greedy()) if one is not None), key=self.program.cost, default=None)
        if found is None:
            return None
        cost = self.program.cost(found)
        if not self._proves(bound + taken_cost, found):
            return Solved(columns=found, bound=max(0, -int(-(bound - _TINY) // 1)) + taken_cost, proven=False)
        self._add(dict(enumerate(costs)), most=cost - taken_cost)
        return Solved(columns=self._tie(found, costs), bound=cost, proven=True)

    def _proves(self, bound: float, found: int | None) -> bool:
        """Costs are whole numbers, so that nothing lies between a bound and the next of them."""
        return found is not None and bound > self.program.cost(found) - 1 + _TINY

    def _tie(self, found: int, costs: Sequence[int]) -> int:
        """The first of the equally cheap choices."""
        width = len(self.columns)
        ones: dict[int, float] = dict.fromkeys(range(width), 1)
        if len(set(costs)) > 1 or 0 in costs:
            found = self._better(ones, found)
        count = (found & self.open).bit_count()
        self._add(ones, least=count, most=count)
        if self.optional:
            weights = {width + place: -row.weight for place, row in enumerate(self.optional)}
            found = self._better(weights, found)
            self._add(weights, most=-sum(row.weight for row in self.optional if row.columns & found))
        for start in range(0, width, _CHUNK):
            chunk = range(start, min(start + _CHUNK, width))
            if not any(found >> self.columns[place] & 1 for place in range(start, width)):
                break
            found = self._better({place: -float(1 << (chunk.stop - 1 - place)) for place in chunk}, found)
            for place in chunk:
                value = found >> self.columns[place] & 1
                self._add({place: 1}, least=value, most=value)
        return found

    def _better(self, objective: Mapping[int, float], found: int) -> int:
        better, _, _ = self._solve(objective)
        return found if better is None else better

    def _solve(self, objective: Mapping[int, float]) -> tuple[int | None, float, bool]:
        """Columns (None: none found in time), the bound, and whether there is any choice."""
        import numpy
        from scipy.optimize import Bounds, LinearConstraint, milp
        from scipy.sparse import csr_array

        width, size = len(self.columns), len(self.columns) + len(self.optional)
        if not size:
            return None, 0.0, False
        aim = numpy.zeros(size)
        for place, value in objective.items():
            aim[place] = value
        entries = [(value, number, place) for number, (terms, _, _) in enumerate(self.constraints)
                   for place, value in terms.items()]
        values, numbers, places = zip(*entries, strict=True) if entries else ((), (), ())
        matrix = csr_array((values, (numbers, places)), shape=(len(self.constraints), size), dtype=float)
        limits = LinearConstraint(matrix, [low for _, low, _ in self.constraints], [high for _, _, high in self.constraints])
        done: Any = milp(aim, integrality=[1] * width + [0] * (size - width), bounds=Bounds(0, 1), constraints=limits,
                         options={"mip_rel_gap": 0.0, "time_limit": self.limit_s})
        if done.status in (2, 4) and done.x is None:
            return None, 0.0, False
        bound = 0.0 if done.mip_dual_bound is None else float(done.mip_dual_bound)
        if done.x is None:
            return None, bound, True
        chosen = self.program.taken
        chosen |= sum(1 << one for one, value in zip(self.columns, done.x[:width], strict=True) if value > 0.5)
        # The program's figures are floats; what counts is checked in whole numbers.
        return (chosen if self.program.holds(chosen) else None), bound, True

    def _greedy(self) -> int | None:
        """Some choice, for want of time: always the column that covers most of what is left for its cost."""
        chosen, program = self.program.taken, self.program
        while not program.holds(chosen):
            left = [row for row in program.rows if not row.columns & chosen and row.columns & self.open]
            if not left:
                return None
            gains = {one: sum(row.weight + row.must for row in left if row.columns >> one & 1) for one in self.columns}
            chosen |= 1 << max(gains, key=lambda one: (gains[one] / (program.costs[one] + 1), -one))
        return None if any(not one & ~chosen for one in self.never) else chosen
