"""From places and figures to points of a drawing, upright or lying on its side."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from vault.exchange.canvas import Point
from vault.exchange.chart_scale import Scale


@dataclass(frozen=True, slots=True, kw_only=True)
class Plane:
    """The field in which marks are drawn. lying: categories from top to bottom, figures from left to right.

    along: where each category or position stands, 0 to 1 of the field.
    """

    left: float
    top: float
    right: float
    bottom: float
    scale: Scale
    along: tuple[float, ...]
    lying: bool = False

    def at(self, share: float, value: Decimal) -> Point:
        """The point of a figure at a share of the way along the field."""
        height = self.scale.share(value)
        if self.lying:
            return (self.left + (self.right - self.left) * height, self.top + (self.bottom - self.top) * share)
        return (self.left + (self.right - self.left) * share, self.bottom - (self.bottom - self.top) * height)

    @property
    def length(self) -> float:
        """Points from the first end of the field to the other, along its categories or positions."""
        return self.bottom - self.top if self.lying else self.right - self.left

    @property
    def slot(self) -> float:
        """The share of the field that one category has."""
        return 1 / max(len(self.along), 1)
