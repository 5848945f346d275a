"""Label sizes and sheets, as data. Everything is drawn in whole printer dots."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from labels.errors import LabelError

MICROMETRES_PER_INCH = 25_400
# IEC 60598-1 clause 3.2: letters and numerals at least 2 mm high (from memory).
MIN_CAP_UM = 2_000
# DIN 4844-1 as quoted: height of text = viewing distance / 300.
VIEWING_RATIO = 300


def cap_um_for(distance_mm: int) -> int:
    """Height of capitals that can be read from that distance (h = L/300)."""
    return distance_mm * 1000 // VIEWING_RATIO


@dataclass(frozen=True, slots=True, kw_only=True)
class Dots:
    """Printer dots for one module: of the link code, and of the capsule from the best to the least that is printed.

    Modules are whole dots, never millimetres, so that no printer has to round an edge. The link's stay above the
    0.35 mm that DIN SPEC 91406 asks of an identification link.
    """

    link: int
    capsule: int
    capsule_least: int


# dpi: dots. 300 dpi: link 0.51 mm, capsule 0.42 down to 0.34 mm; the others are the whole dots nearest to these.
DOTS: Mapping[int, Dots] = {
    203: Dots(link=4, capsule=3, capsule_least=3),
    300: Dots(link=6, capsule=5, capsule_least=4),
    600: Dots(link=12, capsule=10, capsule_least=8),
}
# On a label under 35 mm high: 300 dpi: link 0.42 mm, capsule 0.34 mm.
SMALL_DOTS: Mapping[int, Dots] = {
    203: Dots(link=3, capsule=3, capsule_least=3),
    300: Dots(link=5, capsule=4, capsule_least=4),
    600: Dots(link=10, capsule=8, capsule_least=8),
}
SMALL_HEIGHT_UM = 35_000
# On a label of 48 mm and more: 300 dpi: link 0.68 mm, capsule 0.51 down to 0.34 mm.
LARGE_DOTS: Mapping[int, Dots] = {
    203: Dots(link=6, capsule=4, capsule_least=3),
    300: Dots(link=8, capsule=6, capsule_least=4),
    600: Dots(link=16, capsule=12, capsule_least=8),
}
LARGE_HEIGHT_UM = 48_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Medium:
    """One label size for one printer. margin: free of text on every side; corner: radius of rounded corners;
    bleed: how far the carrier may be cut off the mark, kept free of codes' quiet zones too. text: height of capitals in
    the small lines where that leaves nothing off; never under 2 mm.
    """

    name: str
    width_um: int
    height_um: int
    margin_um: int = 700
    corner_um: int = 0
    bleed_um: int = 0
    dpi: int = 300
    link_level: str = "Q"
    text_um: int = MIN_CAP_UM

    def __post_init__(self) -> None:
        if self.dpi not in DOTS:
            raise LabelError(f"There are no labels for printers of {self.dpi} dots an inch.", kind="bad-medium",
                             hint=f"There are for {', '.join(map(str, DOTS))}.")
        for field, value, least, most in (("width", self.width_um, 15_000, 300_000),
                                          ("height", self.height_um, 15_000, 300_000),
                                          ("margin", self.margin_um, 0, 10_000), ("corner", self.corner_um, 0, 10_000),
                                          ("bleed", self.bleed_um, 0, 5_000),
                                          ("text", self.text_um, MIN_CAP_UM, 10_000)):
            if not least <= value <= most:
                raise LabelError(f"Label size {self.name}: its {field} is {value / 1000:g} mm.", kind="bad-medium",
                                 hint=f"Give {least / 1000:g} to {most / 1000:g} mm.")

    @property
    def module_dots(self) -> Dots:
        """Dots of a module on this label and printer."""
        if self.height_um < SMALL_HEIGHT_UM:
            return SMALL_DOTS[self.dpi]
        return (LARGE_DOTS if self.height_um >= LARGE_HEIGHT_UM else DOTS)[self.dpi]

    @property
    def sparse(self) -> bool:
        """Whether it is so small that place and digest stand on it only where they find room."""
        return self.height_um < SMALL_HEIGHT_UM

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


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """A page of labels on a free grid, measured from the top left corner of the page to that of the first label."""

    name: str
    width_um: int
    height_um: int
    columns: int
    rows: int
    left_um: int
    top_um: int
    across_um: int
    down_um: int

    @property
    def count(self) -> int:
        """Labels on a page."""
        return self.columns * self.rows


A4_UM, LETTER_UM = (210_000, 297_000), (215_900, 279_400)
PAGES: Mapping[str, tuple[int, int]] = {"a4": A4_UM, "letter": LETTER_UM}
SHEET_EDGE_UM = 8_000  # what desktop printers leave white
SHEET_GAP_UM = 2_000


def grid(page: str, medium: Medium, *, edge_um: int = SHEET_EDGE_UM, gap_um: int = SHEET_GAP_UM) -> Sheet:
    """As many labels as fit on a page, in the middle of it. Raises LabelError (bad-medium)."""
    if page not in PAGES:
        raise LabelError(f"There is no page size {page}.", kind="bad-medium", hint=f"There is: {', '.join(PAGES)}.")
    width, height = PAGES[page]
    columns = (width - 2 * edge_um + gap_um) // (medium.width_um + gap_um)
    rows = (height - 2 * edge_um + gap_um) // (medium.height_um + gap_um)
    if columns < 1 or rows < 1:
        raise LabelError(f"No label of {medium.name} finds room on a page {page}.", kind="bad-medium",
                         hint="Print labels of this size one a page.")
    across, down = medium.width_um + gap_um, medium.height_um + gap_um
    return Sheet(name=page, width_um=width, height_um=height, columns=columns, rows=rows, across_um=across, down_um=down,
                 left_um=(width - columns * across + gap_um) // 2, top_um=(height - rows * down + gap_um) // 2)


# 76x51 and 102x51 are the roll sizes of 3 by 2 and 4 by 2 inches.
MEDIA: Mapping[str, Medium] = {
    medium.name: medium for medium in (
        Medium(name="60x40", width_um=60_000, height_um=40_000),
        Medium(name="50x25", width_um=50_000, height_um=25_000, margin_um=500, link_level="M"),
        Medium(name="76x51", width_um=76_200, height_um=50_800, margin_um=1_200, corner_um=1_500, text_um=2_400),
        Medium(name="102x51", width_um=101_600, height_um=50_800, margin_um=1_200, corner_um=1_500, text_um=2_800),
    )
}

