"""Label sizes: millimetres to whole dots, dots to points."""

from __future__ import annotations

import dataclasses

import pytest

from labels.media import MEDIA, MIN_CAP_UM

MEDIUM = MEDIA["60x40"]


def test_60_by_40_millimetres_are_709_by_472_dots() -> None:
    """At 300 dpi 60 mm are 708.66 dots and 40 mm are 472.44, each rounded to the nearest."""
    assert (MEDIUM.dpi, MEDIUM.width_dots, MEDIUM.height_dots) == (300, 709, 472)


# Arithmetic: a dot at 300 dpi is 72/300 = 0.24 points.
@pytest.mark.parametrize(("dots", "points"), [(0, 0), (1, 0.24), (25, 6), (300, 72), (709, 170.16), (472, 113.28)])
def test_dots_in_points(dots: int, points: float) -> None:
    """A point is 1/72 inch."""
    assert MEDIUM.points(dots) == pytest.approx(points, abs=1e-9)


# Arithmetic: micrometres × dpi / 25400 gives 15.98, 23.62, 47.24, 39.96, 59.06 and whole inches.
@pytest.mark.parametrize(
    ("dpi", "um", "nearest", "up"),
    [
        (203, 2_000, 16, 16), (300, 2_000, 24, 24), (600, 2_000, 47, 48), (203, 5_000, 40, 40), (300, 5_000, 59, 60),
        (203, 25_400, 203, 203), (300, 25_400, 300, 300), (600, 25_400, 600, 600),
    ],
)  # fmt: skip
def test_millimetres_in_dots(dpi: int, um: int, nearest: int, up: int) -> None:
    """`dots` goes to the nearest dot, `dots_up` never below the length asked for."""
    medium = dataclasses.replace(MEDIUM, dpi=dpi)
    assert (medium.dots(um), medium.dots_up(um)) == (nearest, up)


def test_the_smallest_capitals_are_2_millimetres() -> None:
    """IEC 60598-1 3.2 (from memory): 2 mm at least, so 24 dots at 300 dpi."""
    assert (MIN_CAP_UM, MEDIUM.dots_up(MIN_CAP_UM)) == (2_000, 24)


@pytest.mark.parametrize("name", MEDIA)
def test_every_medium_has_legal_modules(name: str) -> None:
    """Both codes' modules are 0.35 mm or more (DIN SPEC 91406, as read in a public summary)."""
    medium = MEDIA[name]
    assert min(medium.link_dots, medium.capsule_dots) * 25.4 / medium.dpi >= 0.35
    assert medium.name == name
