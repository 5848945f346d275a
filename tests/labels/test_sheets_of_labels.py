"""Sheets: labels on a grid over A4 and Letter pages, each with the dots it has alone."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pymupdf
import pytest
import zxingcpp
from label_renderers import RENDERERS, Renderer, poppler
from label_samples import content
from PIL import Image

from labels.drawing import proven, write_pdf
from labels.errors import LabelError
from labels.media import MEDIA, grid

MEDIUM = MEDIA["60x40"]
# ISO 216 and ANSI/ASME Y14.1.
MILLIMETRES = {"a4": (210, 297), "letter": (215.9, 279.4)}


@pytest.mark.parametrize("page", sorted(MILLIMETRES))
@pytest.mark.parametrize("dpi", [203, 300, 600])
def test_a_sheet_is_its_page_to_half_a_dot(tmp_path: Path, page: str, dpi: int) -> None:
    """Every page of the file has the paper's size, rounded to whole dots."""
    medium = replace(MEDIUM, dpi=dpi)
    write_pdf(tmp_path / "sheet.pdf", [content(None)], medium, sheet=grid(page, medium))
    with pymupdf.open(tmp_path / "sheet.pdf") as document:
        sides = (document[0].rect.width, document[0].rect.height)
    assert sides == pytest.approx([side / 25.4 * 72 for side in MILLIMETRES[page]], abs=36 / dpi + 1e-4)


@pytest.mark.parametrize("render", RENDERERS)
@pytest.mark.parametrize("page", sorted(MILLIMETRES))
@pytest.mark.parametrize("dpi", [203, 300])
def test_each_label_has_the_dots_it_has_alone(tmp_path: Path, render: Renderer, page: str, dpi: int) -> None:
    """Three programs rasterise the sheet: every cell's codes are those of the label's picture, nothing shifted by a dot."""
    medium = replace(MEDIUM, dpi=dpi)
    sheet = grid(page, medium)
    labels = [content(size) for size in (150, 222, None, 185)]
    write_pdf(tmp_path / "sheet.pdf", labels, medium, sheet=sheet)
    dots = render(tmp_path / "sheet.pdf", dpi)
    for place, label in enumerate(labels):
        layout, picture = proven(label, medium)
        alone = ~np.array(picture)
        x = medium.dots(sheet.left_um + place % sheet.columns * sheet.across_um)
        y = medium.dots(sheet.top_um + place // sheet.columns * sheet.down_um)
        for box in (code.box for code in layout.codes):
            there = dots[y + box.top : y + box.bottom, x + box.left : x + box.right]
            assert np.array_equal(there, alone[box.top : box.bottom, box.left : box.right])


@pytest.mark.parametrize(("more", "pages"), [(0, 1), (1, 2), (-1, 1)])
def test_a_full_sheet_begins_another(tmp_path: Path, more: int, pages: int) -> None:
    """As many labels as the grid holds are one page; progress tells labels, not pages."""
    told: list[tuple[int, int]] = []
    count = grid("a4", MEDIUM).count + more
    drawn = write_pdf(tmp_path / "sheet.pdf", [content(None)] * count, MEDIUM, lambda *at: told.append(at),
                      sheet=grid("a4", MEDIUM))
    with pymupdf.open(tmp_path / "sheet.pdf") as document:
        assert (document.page_count, len(drawn), len(told), told[-1]) == (pages, count, pages, (count, count))


def test_every_code_of_a_sheet_reads_back(tmp_path: Path) -> None:
    """An independent reader finds all codes of a rasterised A4 sheet."""
    labels = [content(size) for size in range(150, 150 + grid("a4", MEDIUM).count)]
    write_pdf(tmp_path / "sheet.pdf", labels, MEDIUM, sheet=grid("a4", MEDIUM))
    page = Image.fromarray(~poppler(tmp_path / "sheet.pdf", 300)).convert("L")
    found = [one.text for one in zxingcpp.read_barcodes(page, formats=zxingcpp.BarcodeFormat.QRCodeModel2)]
    assert sorted(found) == sorted(text for label in labels for text in (label.link_text, label.capsule_text))


@pytest.mark.parametrize(("changes", "says"), [
    ({"across_um": 59_000}, "overlap"), ({"down_um": 39_000}, "overlap"), ({"left_um": 40_000}, "leave"),
    ({"top_um": -1_000}, "leave"), ({"rows": 9}, "leave"), ({"columns": 0}, "has no column"),
])
def test_a_grid_that_does_not_fit_is_refused(tmp_path: Path, changes: dict[str, int], says: str) -> None:
    """Labels over one another or off the paper are refused before anything is drawn."""
    with pytest.raises(LabelError, match=says) as caught:
        write_pdf(tmp_path / "sheet.pdf", [content(None)], MEDIUM, sheet=replace(grid("a4", MEDIUM), **changes))
    assert (caught.value.kind, bool(caught.value.hint), list(tmp_path.iterdir())) == ("bad-medium", True, [])


def test_labels_that_touch_are_let_through(tmp_path: Path) -> None:
    """A grid without gaps, as on perforated paper, is sound."""
    sheet = replace(grid("a4", MEDIUM), across_um=60_000, down_um=40_000)
    assert len(write_pdf(tmp_path / "sheet.pdf", [content(None)] * 4, MEDIUM, sheet=sheet)) == 4
