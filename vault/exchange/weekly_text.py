"""The weekly summary as rows, and the same rows as text."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from vault.domain.stock import Act
from vault.exchange.stock_cells import day_words
from vault.exchange.table_out import Cell
from vault.spares.alarm import false_words
from vault.spares.stock_state import Due
from vault.spares.weekly import ActSum, Fell

HEADINGS = ("about", "name", "pieces", "more")
MOVED, SWAPS, FELL, UNKNOWN, DUE, OVERDUE, ALARM, DOUBT = (
    "Movements", "Drivers replaced", "Fell below minimum", "Minimum unknown", "Due within seven days", "Orders overdue",
    "Fails faster than was believed", "In doubt")
_DONE = {Act.RECEIPT: "received", Act.ISSUE: "issued", Act.RETURN: "came back", Act.COUNT: "found in counts",
         Act.SCRAP: "scrapped", Act.TRANSFER: "transferred", Act.RESERVE: "reserved", Act.RELEASE: "released",
         Act.ORDER: "ordered", Act.CANCEL: "cancelled", Act.CHECKED: "checked and good"}
_PARTS = (MOVED, SWAPS, FELL, UNKNOWN, DUE, OVERDUE, ALARM, DOUBT)


def rows(*, acts: Iterable[ActSum], swaps: Iterable[tuple[str, int]], fell: Iterable[Fell], unknown: Iterable[str],
         due: Iterable[Due], overdue: Iterable[Due], alarms: Iterable[tuple[str, str, int, float]],
         doubts: Iterable[str]) -> list[tuple[Cell, ...]]:
    """Every part under HEADINGS. alarms: by model or type, its name, failures seen and expected. doubts: sentences."""
    found: list[tuple[Cell, ...]] = [HEADINGS]
    found += [(MOVED, _DONE[one.act], one.pieces, f"in {one.lines} {'line' if one.lines == 1 else 'lines'}")
              for one in acts]
    found += [(SWAPS, model, count, None) for model, count in swaps]
    found += [(FELL, one.model, one.now, f"{one.importance.name.lower()}, {one.before} before, order at {one.reorder_point}")
              for one in fell]
    found += [(UNKNOWN, model, None, "no lead time") for model in unknown]
    found += [(DUE, one.model, one.pieces, f"order {one.order}, {day_words(one.due_day)}") for one in due]
    found += [(OVERDUE, one.model, one.pieces, f"order {one.order}, was due {day_words(one.due_day)}") for one in overdue]
    found += [(ALARM, name, seen, f"{by}, {seen} failures seen, {expected:.2f} expected") for by, name, seen, expected in alarms]
    found += [(DOUBT, doubt, None, None) for doubt in doubts]
    return found


def text(title: str, told: Sequence[Sequence[Cell]], false_alarms: float) -> list[str]:
    """Lines: every part with what it holds, or that it holds nothing."""
    lines = [title, ""]
    for part in _PARTS:
        mine = [row for row in told if row[0] == part]
        lines.append(f"{part}:" if mine else f"{part}: none")
        lines += [f"  {'' if pieces is None else pieces:>6}  {name}{f' ({more})' if more else ''}"
                  for _, name, pieces, more in mine]
    return [*lines, "", f"If nothing fails faster than was believed, there is {false_words(false_alarms)}."]
