"""Whether a delivery came before, all of it or most: the same lines into the same store."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from vault.db import stock_rows
from vault.db.session import Session
from vault.domain.stock import Act, MovementLine, line_key
from vault.spares.stock_walk import DAY_S

Lines = Counter[tuple[object, ...]]  # a line's key -> pieces


@dataclass(frozen=True, slots=True, kw_only=True)
class Earlier:
    """An earlier delivery with the same lines. time_s: its last, POSIX seconds; delivery: its note, None without one.
    shared: lines, with their quantity, that it has too; whole: whether neither has another.
    """

    time_s: int
    delivery: str | None
    shared: int
    whole: bool

    @property
    def day(self) -> int:
        """Days since 1970-01-01."""
        return self.time_s // DAY_S


def earlier_lines(session: Session, store: str, lines: Sequence[MovementLine]) -> tuple[Earlier, ...]:
    """Deliveries into the store that had exactly these lines, the newest first, then those that had most of them, two at
    least, with the most first. What came without a note is one delivery by its second.
    """
    found: dict[tuple[str | None, int], Lines] = {}
    last: dict[tuple[str | None, int], int] = {}
    for row in stock_rows.each_movement(session, models={line.model for line in lines}):
        if row.act == Act.RECEIPT and row.store == store:
            key = row.delivery, row.time_s if row.delivery is None else 0
            found.setdefault(key, Counter())[line_key(row)] += row.quantity
            last[key] = row.time_s
    wanted = _counted(lines)
    same = [Earlier(time_s=last[key], delivery=key[0], shared=len(wanted.items() & held.items()),
                    whole=held == wanted and _no_more(session, store, key[0], wanted)) for key, held in found.items()]
    return tuple(sorted((one for one in same if one.whole or (one.shared > 1 and one.shared * 2 > len(wanted))),
                        key=lambda one: (one.whole, 0 if one.whole else one.shared, one.time_s), reverse=True))


def _counted(lines: Iterable[MovementLine | stock_rows.MovementRow]) -> Lines:
    counted: Lines = Counter()
    for line in lines:
        counted[line_key(line)] += line.quantity
    return counted


def _no_more(session: Session, store: str, delivery: str | None, wanted: Lines) -> bool:
    """Whether a note brought no other model besides."""
    return delivery is None or _counted(stock_rows.delivered(session, store, delivery)) == wanted
