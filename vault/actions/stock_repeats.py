"""Whether a delivery came before: the same lines into the same store."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from vault.db import stock_rows
from vault.db.session import Session
from vault.domain.stock import Act, MovementLine
from vault.spares.stock_walk import DAY_S


@dataclass(frozen=True, slots=True, kw_only=True)
class Earlier:
    """An earlier delivery with the same lines. time_s: its last, POSIX seconds; delivery: its note, None without one."""

    time_s: int
    delivery: str | None

    @property
    def day(self) -> int:
        """Days since 1970-01-01."""
        return self.time_s // DAY_S


def same_lines(session: Session, store: str, lines: Sequence[MovementLine]) -> tuple[Earlier, ...]:
    """Deliveries into the store that had exactly these lines, the newest first. What came without a note is one delivery by
    its second.
    """
    found: dict[tuple[str | None, int], Counter[tuple[object, ...]]] = {}
    last: dict[tuple[str | None, int], int] = {}
    for row in stock_rows.each_movement(session, models={line.model for line in lines}):
        if row.act == Act.RECEIPT and row.store == store:
            key = row.delivery, row.time_s if row.delivery is None else 0
            found.setdefault(key, Counter())[_key(row)] += row.quantity
            last[key] = row.time_s
    wanted: Counter[tuple[object, ...]] = Counter()
    for line in lines:
        wanted[_key(line)] += line.quantity
    same = [Earlier(time_s=last[key], delivery=key[0]) for key, held in found.items() if held == wanted]
    return tuple(sorted(same, key=lambda one: one.time_s, reverse=True))


def _key(line: Any) -> tuple[object, ...]:
    return line.model, line.bin, line.serial, line.condition, line.made_day
