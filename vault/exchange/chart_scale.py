"""Round steps for an axis: 1, 2 or 5 times a power of ten, exact, so that no 0.30000000000000004 stands at a tick."""

from __future__ import annotations

import itertools
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal

_SUPERSCRIPTS = str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹")
_LARGE, _SMALL = 6, -3  # powers of ten from which an axis says its ticks in thousands, millions, thousandths ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Scale:
    """Ticks at first·step, (first + 1)·step … last·step; they cover the figures that the scale was made for."""

    step: Decimal
    first: int
    last: int

    @property
    def low(self) -> Decimal:
        """The first tick."""
        return self.first * self.step

    @property
    def high(self) -> Decimal:
        """The last tick."""
        return self.last * self.step

    @property
    def ticks(self) -> tuple[Decimal, ...]:
        """All ticks, rising."""
        return tuple(number * self.step for number in range(self.first, self.last + 1))

    @property
    def power(self) -> int:
        """The power of ten, a multiple of three, that the ticks' texts are in; 0 for the figures as they are."""
        largest = max(abs(self.low), abs(self.high)).adjusted()
        return 3 * (largest // 3) if largest >= _LARGE or largest <= _SMALL else 0

    @property
    def factor(self) -> str:
        """ "×10⁶" for an axis in millions, empty for the figures as they are."""
        return f"×10{str(self.power).translate(_SUPERSCRIPTS)}" if self.power else ""

    def text(self, tick: Decimal) -> str:
        """A tick's text: 12,500 or −0.05."""
        places = max(0, self.power - self.step.adjusted())
        return f"{tick.scaleb(-self.power):,.{places}f}".replace("-", "\N{MINUS SIGN}") if tick else "0"

    def share(self, value: Decimal) -> float:
        """Where a figure stands between the first tick (0) and the last one (1)."""
        return float((value - self.low) / (self.high - self.low))


def scale_for(values: Iterable[Decimal], *, zero: bool, whole: bool = False, pieces: int = 8) -> Scale:
    """The finest scale of at most `pieces` pieces that covers the values.

    zero: zero is covered too. whole: no step below 1. One value stands in the middle of two pieces, or at
    an end where zero is covered; no value at all gets 0 to 1.
    """
    given = [*values, *([Decimal(0)] if zero else [])] or [Decimal(0)]
    least, most = min(given), max(given)
    # Of one value alone the size is all that says how far apart ticks should stand.
    span = most - least or abs(most)
    power = (span / pieces).adjusted() if span else 0
    for number in itertools.count():
        step = Decimal((1, 2, 5)[number % 3]).scaleb(power + number // 3)
        first = int((least / step).to_integral_value(ROUND_FLOOR))
        last = max(int((most / step).to_integral_value(ROUND_CEILING)), first + 1)
        if last - first <= pieces and not (whole and step < 1):
            break
    return Scale(step=step, first=first - (not zero and least == most and bool(least)), last=last)
