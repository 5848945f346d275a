"""One label as SVG: its size, its dots, and letters that need no font."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pymupdf
import pytest
import zxingcpp
from label_renderers import mupdf
from label_samples import BANNER, content
from PIL import Image

from labels.drawing import proven, write_svg
from labels.media import MEDIA

MEDIUM = MEDIA["60x40"]
BARE = content(None, figures=(), lines=())  # finds room on every label


@pytest.mark.parametrize("name", sorted(MEDIA))
@pytest.mark.parametrize("dpi", [203, 300, 600])
def test_the_size_is_the_label_s_in_millimetres(tmp_path: Path, name: str, dpi: int) -> None:
    """Whole dots at 25.4/dpi mm, to a hundredth of a micrometre; one unit is one dot."""
    medium = replace(MEDIA[name], dpi=dpi)
    write_svg(tmp_path / "label.svg", BARE, medium)
    root = ElementTree.parse(tmp_path / "label.svg").getroot()
    assert root.get("viewBox") == f"0 0 {medium.width_dots} {medium.height_dots}"
    for side, dots in (("width", medium.width_dots), ("height", medium.height_dots)):
        number, unit = root.get(side)[:-2], root.get(side)[-2:]
        assert (float(number), unit) == (pytest.approx(dots * 25.4 / dpi, abs=1e-5), "mm")


def test_another_program_opens_it_at_that_size(tmp_path: Path) -> None:
    """709 × 472 dots at 300 dpi are 170.16 by 113.28 points in MuPDF."""
    write_svg(tmp_path / "label.svg", content(), MEDIUM)
    with pymupdf.open(tmp_path / "label.svg") as document:
        assert (document[0].rect.width, document[0].rect.height) == pytest.approx((170.16, 113.28), abs=0.001)


@pytest.mark.parametrize("dpi", [203, 300])
@pytest.mark.parametrize(("size", "banner"), [(185, None), (222, BANNER), (None, None)])
def test_its_codes_are_the_picture_s_dots(tmp_path: Path, dpi: int, size: int | None, banner: str | None) -> None:
    """Rasterised by MuPDF at the printer's dots, codes and quiet zones equal the proved picture's."""
    label, medium = content(size, banner=banner), replace(MEDIUM, dpi=dpi)
    layout, picture = proven(label, medium)
    write_svg(tmp_path / "label.svg", label, medium)
    page, dots = mupdf(tmp_path / "label.svg", dpi), ~np.array(picture)
    assert page.shape == dots.shape
    for box in (code.box for code in layout.codes):
        assert np.array_equal(page[box.top : box.bottom, box.left : box.right], dots[box.top : box.bottom, box.left : box.right])


@pytest.mark.parametrize("banner", [None, BANNER])
def test_its_letters_are_where_the_picture_has_them(tmp_path: Path, banner: str | None) -> None:
    """An edge may differ by smoothing, but no dot that is more than two dots away from the other drawing's edge."""
    label = content(222, banner=banner)
    _, picture = proven(label, MEDIUM)
    write_svg(tmp_path / "label.svg", label, MEDIUM)
    page, dots = mupdf(tmp_path / "label.svg", 300), ~np.array(picture)
    around = np.lib.stride_tricks.sliding_window_view(dots, (5, 5))
    inner = page[2:-2, 2:-2]
    assert not (inner & ~around.any(axis=(2, 3))).any()
    assert not (~inner & around.all(axis=(2, 3))).any()


def test_both_codes_are_read_from_it(tmp_path: Path) -> None:
    """An independent reader gets exactly the link and the capsule."""
    label = content(222)
    write_svg(tmp_path / "label.svg", label, MEDIUM)
    page = Image.fromarray(~mupdf(tmp_path / "label.svg", 300)).convert("L")
    assert {one.text for one in zxingcpp.read_barcodes(page)} == {label.link_text, label.capsule_text}


def test_no_program_needs_the_font(tmp_path: Path) -> None:
    """Letters are outlines; the words stand beside them for those who listen, marks of the language itself escaped."""
    write_svg(tmp_path / "label.svg", content(lines=('R&D <3> "lab"',)), MEDIUM)
    every = list(ElementTree.parse(tmp_path / "label.svg").iter())
    assert {one.tag.split("}")[1] for one in every} == {"svg", "title", "path"}
    assert {"700 mA", 'R&D <3> "lab"', "capsule", "link"} <= {one.get("aria-label") for one in every}
