"""Whether a layout is sound, by geometry alone."""

from __future__ import annotations

from collections.abc import Iterator

from labels.boxes import Box, Layout
from labels.code import QUIET_MODULES
from labels.media import MIN_CAP_UM
from labels.zones import code_edge


def problems_of(layout: Layout) -> Iterator[str]:
    """What is wrong with a layout, by geometry: overlaps, texts off the label, too small, quiet zones broken."""
    medium = layout.medium
    page = Box(left=0, top=0, width=medium.width_dots, height=medium.height_dots)
    least = medium.dots_up(MIN_CAP_UM)
    for line in layout.texts:
        box = line.box
        if line.cap < least:
            yield f"{line.text!r} is under 2 mm"
        if not box.within(page):
            yield f"{line.text!r} leaves the label"
        if line.white and not any(box.within(bar) for bar in layout.bars):
            yield f"{line.text!r} is white on white"
    solid = [(line.text, line.box) for line in layout.texts if not line.white]
    # A code's box holds its quiet zone, so anything that overlaps the box breaks the quiet zone.
    solid += [(code.name, code.box) for code in layout.codes] + [("bar", bar) for bar in layout.bars]
    for number, (name, box) in enumerate(solid):
        for other_name, other in solid[number + 1 :]:
            if box.overlaps(other):
                yield f"{name!r} and {other_name!r} overlap"
    edge = code_edge(medium)
    printable = Box(left=edge, top=edge, width=page.width - 2 * edge, height=page.height - 2 * edge)
    for code in layout.codes:
        if not code.box.within(printable):
            yield f"{code.name} leaves the label"
        if {code.box.width, code.box.height} != {(code.symbol.modules + 2 * QUIET_MODULES) * code.dots}:
            yield f"{code.name} has no quiet zone of four modules"
