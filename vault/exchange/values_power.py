"""Powers: 28,5W, 28.5 W, ~30, 2x14."""

from __future__ import annotations

from decimal import Decimal

from vault.exchange.cell_reading import ColumnFacts, Said
from vault.exchange.values_measure import Measure, read_measure
from vault.exchange.values_several import read_several

POWER = Measure(
    unit="W", units={"w": Decimal(1), "watt": Decimal(1), "watts": Decimal(1), "watios": Decimal(1), "mw": Decimal("0.001"),
                     "kw": Decimal(1000)},
    least=Decimal("0.001"), most=Decimal(10_000), called="a power in W",
    allowed="0.001 to 10,000 W, as 28.5 W; VA is another thing")


def read_power(plain: str, facts: ColumnFacts) -> Said:
    """{power_w: "28.5"} or that of another channel; "max." in front is what the field means. Raises Ask."""
    return read_several(plain, facts, POWER) or read_measure(plain, facts, POWER, frozenset(("max", "maxi", "≤", "<=")))
