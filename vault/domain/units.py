"""Figures as people read them: "700 mA", "27.0 V", "28.5 W", "10 %". Every text is the figure, a space, the unit."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from typing import TypeAlias

Figure: TypeAlias = int | Fraction
Show: TypeAlias = Callable[[Figure], str]


def _decimal(value: Figure, least: int, most: int) -> str:
    """A decimal text, rounded to nearest at `most` places, with at least `least` of them shown."""
    scaled = round(Fraction(value) * 10**most)
    whole, rest = divmod(abs(scaled), 10**most)
    digits = f"{rest:0{most}d}".rstrip("0").ljust(least, "0") if most else ""
    return f"{'-' if scaled < 0 else ''}{whole}" + (f".{digits}" if digits else "")


def ma(value: Figure) -> str:
    """Milliamperes: 700 -> "700 mA"."""
    return f"{_decimal(value, 0, 1)} mA"


def mv(value: Figure) -> str:
    """Millivolts shown in volts: 27000 -> "27.0 V"."""
    return f"{_decimal(Fraction(value) / 1000, 1, 2)} V"


def mw(value: Figure) -> str:
    """Milliwatts shown in watts: 28500 -> "28.5 W"."""
    return f"{_decimal(Fraction(value) / 1000, 1, 2)} W"


def ua(value: Figure) -> str:
    """Microamperes shown in milliamperes: 500 -> "0.5 mA"."""
    return f"{_decimal(Fraction(value) / 1000, 1, 3)} mA"


def amps(value: Figure) -> str:
    """Milliamperes of a circuit shown in amperes: 9600 -> "9.6 A"."""
    return f"{_decimal(Fraction(value) / 1000, 0, 2)} A"


def volts(value: Figure) -> str:
    """Volts of a supply: 230 -> "230 V"."""
    return f"{_decimal(value, 0, 1)} V"


def permille(value: Figure) -> str:
    """Per mille shown in per cent: 100 -> "10 %"."""
    return f"{_decimal(Fraction(value) / 10, 0, 1)} %"


def percent(value: Figure) -> str:
    """Per cent: 5 -> "5 %"."""
    return f"{_decimal(value, 0, 1)} %"


def celsius(value: Figure) -> str:
    """Degrees Celsius: 40 -> "40 °C"."""
    return f"{_decimal(value, 0, 1)} °C"


def mm(value: Figure) -> str:
    """Millimetres: 150 -> "150 mm"."""
    return f"{_decimal(value, 0, 1)} mm"


def minutes(value: Figure) -> str:
    """Minutes: 180 -> "180 min"."""
    return f"{_decimal(value, 0, 1)} min"


def mv_range(low: Figure, high: Figure) -> str:
    """A voltage range: "33.0 to 43.4 V"."""
    return f"{mv(low).removesuffix(' V')} to {mv(high)}"


def volts_range(low: Figure, high: Figure) -> str:
    """A supply range: "194 to 254 V"."""
    return f"{volts(low).removesuffix(' V')} to {volts(high)}"
