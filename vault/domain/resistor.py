"""The set resistor: which preferred value comes nearest to a current, and what it gives."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Literal, TypeAlias

import eseries

from vault.domain.driver import Means

Series: TypeAlias = Literal["E24", "E96", "E192"]


@dataclass(frozen=True, slots=True, kw_only=True)
class ResistorChoice:
    """A preferred value (IEC 60063) and the current it gives.

    low_ma and high_ma: over the resistor's own tolerance. error_permille: (gives - wanted) / wanted.
    """

    series: Series
    ohms: Fraction
    tolerance_permille: int
    gives_ma: Fraction
    low_ma: Fraction
    high_ma: Fraction
    error_permille: Fraction

    @property
    def ohms_words(self) -> str:
        """ "14.3 kΩ"."""
        for factor, unit in ((1_000_000, "MΩ"), (1_000, "kΩ")):
            if self.ohms >= factor:
                return f"{float(self.ohms / factor):g} {unit}"
        return f"{float(self.ohms):g} Ω"


@dataclass(frozen=True, slots=True, kw_only=True)
class NoResistor:
    """Why no resistor can be named."""

    reason: str


def _exact(value: float) -> Fraction:
    # Preferred values have three digits; the library's product with a power of ten may be off in the last bit.
    return Fraction(f"{value:.3g}")


def set_resistor(means: Means, wanted_ma: int, *, series: Series = "E96") -> ResistorChoice | NoResistor:
    """The resistor of `series` whose current is nearest to the wanted one (the lower current of two as near).

    Current = resistor_ma_ohm / R by the driver model's own constant; without it nothing can be told. The resistor's
    tolerance is the model's demand, else that of the series.
    """
    constant = means.resistor_ma_ohm
    if constant is None:
        return NoResistor(reason="the driver model does not say how its current follows from the resistor")
    key = eseries.ESeries[series]
    ideal = constant / wanted_ma
    options = {_exact(find(key, ideal)) for find in (eseries.find_less_than_or_equal,
                                                     eseries.find_greater_than_or_equal)}
    ohms = min(options, key=lambda value: (abs(constant / value - wanted_ma), -value))
    demanded = means.resistor_tolerance_permille
    tolerance = round(eseries.tolerance(key) * 1000) if demanded is None else demanded
    gives = constant / ohms
    return ResistorChoice(
        series=series, ohms=ohms, tolerance_permille=tolerance, gives_ma=gives,
        low_ma=gives / Fraction(1000 + tolerance, 1000), high_ma=gives / Fraction(1000 - tolerance, 1000),
        error_permille=(gives - wanted_ma) * 1000 / wanted_ma)
