"""Sizes out of self-describing media names (PWG 5101.1-2013): om_label_60x40mm, oe_label_4x6in."""

from __future__ import annotations

import re
from fractions import Fraction

_UM = {"mm": 1_000, "in": 25_400}
_SIZE = re.compile(r"_(?P<width>\d+(?:\.\d+)?)x(?P<height>\d+(?:\.\d+)?)(?P<unit>mm|in)$")


def size_of_name(name: str) -> tuple[int, int] | None:
    """Width and height in micrometres; None for a name that says none."""
    found = _SIZE.search(name.lower())
    if found is None:
        return None
    unit = _UM[found["unit"]]
    return round(Fraction(found["width"]) * unit), round(Fraction(found["height"]) * unit)


def name_of_size(width_um: int, height_um: int) -> str:
    """A name of our own for a label size, in the form of the standard: custom_label_60x40mm."""
    return f"custom_label_{width_um / 1000:g}x{height_um / 1000:g}mm"


def size_in_words(width_um: int, height_um: int) -> str:
    """"60 × 40 mm"."""
    return f"{round(width_um / 1000, 1):g} × {round(height_um / 1000, 1):g} mm"
