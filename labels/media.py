"""Label sizes, as data. Everything is drawn in whole printer dots."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

MICROMETRES_PER_INCH = 25_400
# IEC 60598-1 clause 3.2: letters and numerals at least 2 mm high (from memory).
MIN_CAP_UM = 2_000
# DIN 4844-1 as quoted: height of text = viewing distance / 300.
VIEWING_RATIO = 300


@dataclass(frozen=True, slots=True, kw_only=True)
class Medium:
    """One label size. capsule_dots, link_dots: printer dots for one module of each code; capsule_dots_least: where
    a full record needs the room.

    Modules are whole dots, never millimetres, so that no printer has to round an edge.
    """

    name: str
    width_um: int
    height_um: int
    margin_um: int
    dpi: int
    capsule_dots: int
    capsule_dots_least: int
    link_dots: int

    def dots(self, um: int) -> int:
        """The nearest whole number of dots."""
        return round(um * self.dpi / MICROMETRES_PER_INCH)

    def dots_up(self, um: int) -> int:
        """The least whole number of dots that is not shorter."""
        return -(-um * self.dpi // MICROMETRES_PER_INCH)

    @property
    def width_dots(self) -> int:
        """Width in dots."""
        return self.dots(self.width_um)

    @property
    def height_dots(self) -> int:
        """Height in dots."""
        return self.dots(self.height_um)

    def points(self, dots: float) -> float:
        """Dots in PDF points (1/72 inch)."""
        return dots * 72 / self.dpi


# 5 dots at 300 dpi are 0.423 mm a module and 6 are 0.508 mm: above the 0.35 mm that DIN SPEC 91406 asks for.
MEDIA: Mapping[str, Medium] = {
    "60x40": Medium(name="60x40", width_um=60_000, height_um=40_000, margin_um=700, dpi=300, capsule_dots=5,
                    capsule_dots_least=4, link_dots=6),
}


def legible_from_mm(cap_dots: int, medium: Medium) -> float:
    """Distance from which capitals of that height can be read (h = L/300)."""
    return cap_dots * MICROMETRES_PER_INCH / medium.dpi / 1000 * VIEWING_RATIO
