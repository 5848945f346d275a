"""What the building's wiring says: circuits and control lines, and the vault's local rule for them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import IntEnum
from typing import ClassVar

from vault.domain.schema import Problem, choice, flag, text, whole


class Breaker(IntEnum):
    """Tripping curve of the protective device (IEC 60898-1)."""

    B = 0
    C = 1
    D = 2


class LineKind(IntEnum):
    """What a line carries."""

    DALI = 0
    CENTRAL_BATTERY_BUS = 1
    SELF_CONTAINED_EMERGENCY_BUS = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Circuit:
    """A final circuit. central: fed by a central battery; its battery range and local limits then count.

    luminaires_max and share_max_percent are the local rule for central circuits (for example 20 and 60 % in
    DIN V VDE V 0108-100:2010 4.4.6); None where no such rule is set. leakage_max_ua: what the residual-current
    device may see in steady state. site_ta_c: highest air temperature where its luminaires hang.
    """

    FORM: ClassVar[str] = "map"
    name: str = text(1, 8, required=True)
    revision: int = whole(2, 1, 999, required=True)
    rated_current_ma: int | None = whole(3, 1, 125_000, "mA")
    breaker: Breaker | None = choice(4, Breaker)
    central: bool | None = flag(5)
    battery_min_v: int | None = whole(6, 1, 1000, "V d.c.")
    battery_max_v: int | None = whole(7, 1, 1000, "V d.c.")
    luminaires_max: int | None = whole(8, 1, 255)
    share_max_percent: int | None = whole(9, 1, 100, "%")
    leakage_max_ua: int | None = whole(10, 1, 1_000_000, "µA")
    site_ta_c: int | None = whole(11, 0, 150, "°C")
    title: str | None = text(12, 60)

    def further_problems(self, path: str) -> Iterator[Problem]:
        """The battery range stands in order."""
        low, high = self.battery_min_v, self.battery_max_v
        if low is not None and high is not None and low > high:
            yield Problem(path=f"{path}.battery_min_v".lstrip("."), found=f"{low} V", allowed=f"at most {high} V")


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A control line. addresses_from: 0 or 1, how the site writes its addresses; gear_max: how many it may hold."""

    FORM: ClassVar[str] = "map"
    name: str = text(1, 8, required=True)
    revision: int = whole(2, 1, 999, required=True)
    kind: LineKind = choice(3, LineKind, required=True)
    addresses_from: int = whole(4, 0, 1, required=True)
    gear_max: int | None = whole(5, 1, 64)
    site_ta_c: int | None = whole(6, 0, 150, "°C")
    title: str | None = text(7, 60)
