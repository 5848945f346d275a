"""What a central battery leaves at the luminaire."""

from __future__ import annotations

from fractions import Fraction

CABLE_DROP_PERCENT = 4


def battery_floor_v(battery_min_v: int) -> Fraction:
    """Lowest d.c. voltage at the luminaire: the battery's lowest less 4 % cable drop (common practice)."""
    return Fraction(battery_min_v * (100 - CABLE_DROP_PERCENT), 100)
