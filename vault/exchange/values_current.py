"""Currents: 0,7 A, 700mA, 1.050 mA, 700, 2x350."""

from __future__ import annotations

from decimal import Decimal

from vault.exchange.cell_reading import ColumnFacts, Said
from vault.exchange.values_measure import Measure, read_measure
from vault.exchange.values_several import read_several

_AMPERE = Decimal(1000)
CURRENT = Measure(
    unit="mA", units={"ma": Decimal(1), "milliamp": Decimal(1), "milliamps": Decimal(1), "ma dc": Decimal(1), "a": _AMPERE,
                      "amp": _AMPERE, "amps": _AMPERE, "ampere": _AMPERE, "a dc": _AMPERE, "ampère": _AMPERE},
    least=Decimal(1), most=Decimal(20_000), called="a driver's current", allowed="1 to 20,000 mA in whole mA, as 700 mA or 0.7 A",
    bare=("mA", "A"), whole=True)


def read_current(plain: str, facts: ColumnFacts) -> Said:
    """{current_ma: "700"} or that of another channel; figures for several channels are asked about. Raises Ask."""
    return read_several(plain, facts, CURRENT) or read_measure(plain, facts, CURRENT)
