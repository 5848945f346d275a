"""Label sizes: millimetres to whole dots, dots to points."""

from __future__ import annotations

import dataclasses

import pytest

from labels.errors import LabelError
from labels.media import DOTS, MEDIA, MIN_CAP_UM, grid

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


@pytest.mark.parametrize("dpi", DOTS)
@pytest.mark.parametrize("name", MEDIA)
def test_every_medium_has_legal_modules(name: str, dpi: int) -> None:
    """The link's modules are 0.35 mm or more on every size and printer (DIN SPEC 91406, as read in a public summary), the
    capsule's a third of a millimetre."""
    dots = dataclasses.replace(MEDIA[name], dpi=dpi).module_dots
    assert dots.link * 25.4 / dpi >= 0.35
    assert dots.capsule * 25.4 / dpi >= dots.capsule_least * 25.4 / dpi >= 0.33
    assert MEDIA[name].name == name


@pytest.mark.parametrize(
    ("change", "said"),
    [({"dpi": 200}, "203, 300, 600"), ({"width_um": 10_000}, "15 to 300 mm"), ({"height_um": 400_000}, "15 to 300 mm"),
     ({"margin_um": -1}, "0 to 10 mm"), ({"text_um": 1_900}, "2 to 10 mm")],
)  # fmt: skip
def test_a_size_out_of_range_is_refused(change: dict[str, int], said: str) -> None:
    """A printer or a measure that no label can have is refused, and what is allowed is said."""
    with pytest.raises(LabelError) as caught:
        dataclasses.replace(MEDIUM, **change)
    assert (caught.value.kind, said in caught.value.hint) == ("bad-medium", True)


# ISO 216: A4 is 210 by 297 mm. ANSI/ASME Y14.1: Letter is 8.5 by 11 inches, 215.9 by 279.4 mm.
@pytest.mark.parametrize(("page", "width_um", "height_um"), [("a4", 210_000, 297_000), ("letter", 215_900, 279_400)])
@pytest.mark.parametrize("name", MEDIA)
def test_a_grid_stays_on_its_page(page: str, width_um: int, height_um: int, name: str) -> None:
    """The labels of a page do not touch and keep 8 mm off its edges, and the grid stands in its middle."""
    medium = MEDIA[name]
    sheet = grid(page, medium)
    right = sheet.left_um + (sheet.columns - 1) * sheet.across_um + medium.width_um
    bottom = sheet.top_um + (sheet.rows - 1) * sheet.down_um + medium.height_um
    assert (sheet.width_um, sheet.height_um) == (width_um, height_um)
    assert min(sheet.left_um, sheet.top_um, width_um - right, height_um - bottom) >= 8_000
    assert abs(sheet.left_um - (width_um - right)) <= 1 and abs(sheet.top_um - (height_um - bottom)) <= 1
    assert sheet.across_um > medium.width_um and sheet.down_um > medium.height_um
