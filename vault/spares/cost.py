"""How many pieces at once: the economic order quantity, whole and in packs."""

from __future__ import annotations

import math

from vault.errors import GearkeepError


def order_quantity(yearly: float, *, order_cents: int, keeping_cents: float) -> float:
    """Economic order quantity, not rounded: sqrt(2 K d / h). order_cents: what one order costs (K). keeping_cents: what
    keeping one piece for a year costs (h). Raises GearkeepError (out-of-range) where keeping costs nothing.
    """
    if keeping_cents <= 0 or order_cents < 0 or yearly < 0:
        raise GearkeepError("An order quantity needs a cost of keeping above 0 and a cost of an order and a demand from 0.",
                            kind="out-of-range", hint="Name the price of the model in its terms and a share of it for keeping.")
    return math.sqrt(2 * order_cents * yearly / keeping_cents)


def in_packs(quantity: float, pack: int) -> int:
    """Whole packs that cost least about an economic order quantity, at least one: of two quantities the smaller costs no more
    where the square of the best one is at most their product.
    """
    fewer = max(math.floor(quantity / pack), 1) * pack
    return fewer if quantity**2 <= fewer * (fewer + pack) else fewer + pack
