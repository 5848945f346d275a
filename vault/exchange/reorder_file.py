"""The reorder list as rows, for files and the screen. What is not known says so; no figure stands in for it."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal

from vault.exchange.stock_cells import day_words
from vault.exchange.table_out import Cell
from vault.spares.hold_plan import HoldLine
from vault.spares.reorder import OrderLine, ReorderList, Untold
from vault.spares.stores import elsewhere_words
from vault.spares.successor import successor_words

UNKNOWN = "unknown"
HEADINGS = ("supplier", "model", "importance", "order", "pack", "price", "currency", "sum", "lead time, days", "on hand",
            "on order", "reserved", "position", "reorder point", "order up to", "last order", "replaced by", "replacement fits",
            "state", "why")


def amount(cents: int | None) -> Cell:
    """24.50 as a number to be summed, or "unknown"."""
    return UNKNOWN if cents is None else Decimal(cents).scaleb(-2)


def money_words(cents: int | None) -> str:
    """24.50, or "unknown"."""
    return UNKNOWN if cents is None else f"{cents // 100}.{cents % 100:02d}"


def sums_words(sums: Mapping[str, int], unpriced: int) -> str:
    """ "24.50 EUR", "24.50 EUR and 1 without a price", "unknown"."""
    told = ", ".join(f"{money_words(cents)} {currency}".strip() for currency, cents in sums.items())
    if not unpriced:
        return told
    return f"{told} and {unpriced} without a price" if told else UNKNOWN


def ended_words(line: OrderLine) -> str:
    """When its maker took the last order, and what comes after it."""
    return f"last order was {day_words(line.last_order_day or 0)}; {successor_words(line.successor)}"


def held_back_words(line: HoldLine) -> str:
    """ "GEN-50 is not ordered: of its 4, 3 in VAN-1; without these it has 1, order at 2"."""
    left = line.position - sum(pieces for _, pieces in line.elsewhere)
    point = line.levels.reorder_point if line.levels is not None else UNKNOWN
    return (f"{line.model} is not ordered: of its {line.position}, {elsewhere_words(line.elsewhere)}; without these it has "
            f"{left}, order at {point}")


def notice_words(line: OrderLine) -> str:
    """That a model which may still be ordered will end; "" where nobody said so."""
    return "" if line.last_order_day is None else f"last order {day_words(line.last_order_day)}"


def reorder_rows(found: ReorderList) -> list[tuple[Cell, ...]]:
    """Every line under HEADINGS: what to order, what cannot be ordered any more, and of what nobody can tell."""
    return [HEADINGS, *(_row(line, "order", line.why, line.pieces, amount(line.sum_cents)) for line in found.lines),
            *(_row(line, "no longer made", f"{line.pieces} needed; {ended_words(line)}", None, None) for line in found.ended),
            *map(_untold, found.untold)]


def _row(line: OrderLine, state: str, why: str, order: int | None, summed: Cell) -> tuple[Cell, ...]:
    """order, summed: None for what nobody orders, so that no sum of the column counts it."""
    last = None if line.last_order_day is None else day_words(line.last_order_day)
    after = line.successor
    fits = None if after is None else UNKNOWN if after.fits is None else f"{after.fits} of {after.serves} gear"
    return (line.supplier or UNKNOWN, line.model, line.importance.name.lower(), order, line.pack,
            amount(line.price_cents), line.currency or UNKNOWN, summed, line.lead_days, line.on_hand,
            line.on_order, line.reserved, line.position, line.reorder_point, line.order_up_to, last,
            None if after is None else after.model, fits, state, why)


def _untold(one: Untold) -> tuple[Cell, ...]:
    importance = UNKNOWN if one.importance is None else one.importance.name.lower()
    return (None, one.model, importance, UNKNOWN, None, None, None, None, None, None, None, None, one.position, UNKNOWN, UNKNOWN,
            None, None, None, UNKNOWN, one.lacks)
