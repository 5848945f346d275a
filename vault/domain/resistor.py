"""The set resistor: which preferred value comes nearest to a current, and what it gives."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from types import MappingProxyType
from typing import Literal, TypeAlias

import eseries

from vault.domain.means import Means, ResistorSeries
from vault.domain.units import ma

Series: TypeAlias = Literal["E24", "E96", "E192"]

SERIES: Mapping[ResistorSeries, Series] = MappingProxyType({
    ResistorSeries.E24: "E24", ResistorSeries.E96: "E96", ResistorSeries.E192: "E192"})

# IEC 60062: digits 0 to 9, powers of ten -2 to 9, tolerances in per mille.
DIGIT_COLOURS = ("black", "brown", "red", "orange", "yellow", "green", "blue", "violet", "grey", "white")
_POWER_COLOURS = {-2: "silver", -1: "gold", **dict(enumerate(DIGIT_COLOURS))}
_TOLERANCE_COLOURS = ((100, "silver"), (50, "gold"), (20, "red"), (10, "brown"), (5, "green"), (1, "violet"))


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
        return ohms_words(self.ohms)

    @property
    def bands(self) -> tuple[str, ...]:
        """Its colour code of IEC 60062 in words."""
        return colour_bands(self.ohms, self.tolerance_permille, digits=2 if self.series == "E24" else 3)


@dataclass(frozen=True, slots=True, kw_only=True)
class NoResistor:
    """Why no resistor can be named. nearest: the one that comes nearest to the current within what may be fitted."""

    reason: str
    nearest: ResistorChoice | None = None


def ohms_words(ohms: Fraction | int) -> str:
    """ "14.3 kΩ", to three digits."""
    for factor, unit in ((1_000_000, "MΩ"), (1_000, "kΩ")):
        if ohms >= factor:
            return f"{float(ohms / Fraction(factor)):.3g} {unit}"
    return f"{float(ohms):.3g} Ω"


def colour_bands(ohms: Fraction, tolerance_permille: int, *, digits: int) -> tuple[str, ...]:
    """Colours in the order in which they are read: the value's digits, the power of ten, the tolerance (IEC 60062).

    digits: 2 with a tolerance above 2 % (four bands), else 3 (five bands). The band of the tolerance is the widest
    that keeps within the one asked for. () for a value that the code cannot write.
    """
    tolerance = next((colour for widest, colour in _TOLERANCE_COLOURS if widest <= tolerance_permille), None)
    count = 3 if tolerance_permille <= 20 else digits
    power = 0
    while ohms and ohms < 10 ** (count - 1):
        ohms, power = ohms * 10, power - 1
    while ohms >= 10**count:
        ohms, power = ohms / 10, power + 1
    if tolerance is None or ohms.denominator != 1 or not ohms or power not in _POWER_COLOURS:
        return ()
    return (*(DIGIT_COLOURS[int(digit)] for digit in str(ohms)), _POWER_COLOURS[power], tolerance)


def _exact(value: float) -> Fraction:
    # Preferred values have three digits; the library's product with a power of ten may be off in the last bit.
    return Fraction(f"{value:.3g}")


def set_resistor(means: Means, wanted_ma: int, *, series: Series | None = None, least_ma: int | None = None,
                 most_ma: int | None = None) -> ResistorChoice | NoResistor:
    """The preferred resistor whose current is nearest to the wanted one (the lower current of two as near).

    Current = resistor_ma_ohm / R by the driver model's own constant; without it nothing can be told. series: default
    the model's, else E96. The resistor's tolerance is the model's demand, else that of the series. least_ma, most_ma:
    currents of the driver. No value is named where the ideal one lies outside them or outside the model's least and
    highest resistor.
    """
    constant = means.resistor_ma_ohm
    if constant is None:
        return NoResistor(reason="the driver model does not say how its current follows from the resistor")
    named = series or SERIES[ResistorSeries.E96 if means.resistor_series is None else means.resistor_series]
    lows = [Fraction(means.resistor_min_ohm or 0), Fraction(constant, most_ma) if most_ma else Fraction(0)]
    highs = [Fraction(ohms) for ohms in (means.resistor_max_ohm, Fraction(constant, least_ma) if least_ma else None)
             if ohms is not None]
    lowest, highest = max(lows), min(highs, default=None)
    ideal = Fraction(constant, wanted_ma)
    held = max(ideal, lowest) if highest is None else min(max(ideal, lowest), highest)
    options = [ohms for ohms in _about(named, held)
               if ohms >= lowest and (highest is None or ohms <= highest)]
    chosen = min(options, key=lambda value: (abs(constant / value - wanted_ma), -value), default=None)
    found = _choice(means, named, chosen, constant, wanted_ma) if chosen is not None else None
    if found is None or held != ideal:
        return NoResistor(nearest=found, reason=f"{ma(wanted_ma)} needs {ohms_words(ideal)}; this driver takes "
                                                f"{_range_words(lowest, highest)}")
    return found


def _about(series: Series, ideal: Fraction) -> set[Fraction]:
    """The two preferred values about an ideal one, which may be one."""
    key = eseries.ESeries[series]
    return {_exact(find(key, float(ideal))) for find in (eseries.find_less_than_or_equal,
                                                         eseries.find_greater_than_or_equal)}


def _choice(means: Means, series: Series, ohms: Fraction, constant: int, wanted_ma: int) -> ResistorChoice:
    demanded = means.resistor_tolerance_permille
    tolerance = round(eseries.tolerance(eseries.ESeries[series]) * 1000) if demanded is None else demanded
    gives = constant / ohms
    return ResistorChoice(
        series=series, ohms=ohms, tolerance_permille=tolerance, gives_ma=gives,
        low_ma=gives / Fraction(1000 + tolerance, 1000), high_ma=gives / Fraction(1000 - tolerance, 1000),
        error_permille=(gives - wanted_ma) * 1000 / wanted_ma)


def _range_words(lowest: Fraction, highest: Fraction | None) -> str:
    if highest is None:
        return f"at least {ohms_words(lowest)}"
    return f"{ohms_words(lowest)} to {ohms_words(highest)}" if lowest else f"at most {ohms_words(highest)}"
