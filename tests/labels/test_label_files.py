"""Labels as files: exact sizes, the same dots in PDF and PNG, whole or not at all."""

from __future__ import annotations

import re
import subprocess
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from label_renderers import RENDERERS, Black, Renderer, opened
from label_samples import BANNER, content
from PIL import Image

from labels.boxes import CodeBox
from labels.drawing import write_pdf, write_png
from labels.errors import LabelError
from labels.layout import lay_out
from labels.media import MEDIA
from labels.reading import read_picture

MEDIUM = MEDIA["60x40"]
BARE = content(None, figures=(), lines=())  # finds room on every label


def rasterised(pdf: Path) -> Path:
    """The first page through poppler at 300 dpi in black and white."""
    subprocess.run(["pdftoppm", "-r", "300", "-mono", "-singlefile", pdf, pdf.with_suffix("")], check=True)
    return pdf.with_suffix(".pbm")


def cut(dots: Black, code: CodeBox) -> Black:
    box = code.box
    return dots[box.top : box.bottom, box.left : box.right]


def test_a_png_has_the_page_s_dots_and_resolution(tmp_path: Path) -> None:
    """1-bit, one pixel a dot, 300 dpi (11811 a metre) written into the file."""
    write_png(tmp_path / "label.png", content(), MEDIUM)
    with Image.open(tmp_path / "label.png") as picture:
        assert (picture.mode, picture.size) == ("1", (MEDIUM.width_dots, MEDIUM.height_dots))
        assert picture.info["dpi"] == pytest.approx((300, 300), abs=0.01)


def test_a_pdf_page_is_the_medium_in_points(tmp_path: Path) -> None:
    """The page is the medium's whole dots at 72/300 points each, within half a dot of 60 by 40 mm."""
    write_pdf(tmp_path / "label.pdf", [content()], MEDIUM)
    told = subprocess.run(["pdfinfo", tmp_path / "label.pdf"], check=True, capture_output=True, text=True).stdout
    width, height = (float(told.split("Page size:")[1].split()[index]) for index in (0, 2))
    assert (width, height) == pytest.approx((MEDIUM.width_dots * 0.24, MEDIUM.height_dots * 0.24), abs=0.001)
    assert (width, height) == pytest.approx((60 / 25.4 * 72, 40 / 25.4 * 72), abs=0.12)


@pytest.mark.parametrize("render", RENDERERS)
@pytest.mark.parametrize("dpi", [203, 300])
@pytest.mark.parametrize(("size", "banner"), [(185, None), (222, BANNER), (None, None)])
def test_pdf_and_png_have_the_same_code_dots(tmp_path: Path, render: Renderer, dpi: int, size: int | None,
                                             banner: str | None) -> None:
    """Three programs rasterise the page at the printer's dots: the codes equal the PNG's dot for dot, quiet zones included."""
    label, medium = content(size, banner=banner), replace(MEDIUM, dpi=dpi)
    write_png(tmp_path / "label.png", label, medium)
    write_pdf(tmp_path / "label.pdf", [label], medium)
    page, picture = render(tmp_path / "label.pdf", dpi), opened(tmp_path / "label.png")
    assert page.shape == picture.shape
    for code in lay_out(label, medium).codes:
        assert np.array_equal(cut(page, code), cut(picture, code))


@pytest.mark.parametrize("name", sorted(MEDIA))
@pytest.mark.parametrize("dpi", [203, 300, 600])
def test_a_page_has_exactly_its_dots(tmp_path: Path, name: str, dpi: int) -> None:
    """A page is the label's whole dots at 72/dpi points, for every size and printer, to a millionth of a point."""
    medium = replace(MEDIA[name], dpi=dpi)
    write_pdf(tmp_path / "label.pdf", [BARE], medium)
    boxes = re.findall(rb"/(Media|Bleed|Trim)Box \[0 0 (\S+) (\S+)\]", (tmp_path / "label.pdf").read_bytes())
    assert [box[0] for box in boxes] == [b"Media", b"Bleed", b"Trim"]
    for _, width, height in boxes:
        assert float(width) == pytest.approx(medium.width_dots * 72 / dpi, abs=1e-6)
        assert float(height) == pytest.approx(medium.height_dots * 72 / dpi, abs=1e-6)


@pytest.mark.parametrize("word", ["7K3D", "9QXW", "700 mA", "Level 2, corridor 2.14", "≤"])
def test_the_words_can_be_found_in_the_page(tmp_path: Path, word: str) -> None:
    """poppler's pdftotext gives back the letters, those of the trade and the no-break spaces with them."""
    write_pdf(tmp_path / "label.pdf", [content()], MEDIUM)
    told = subprocess.run(["pdftotext", tmp_path / "label.pdf", "-"], check=True, capture_output=True, text=True).stdout
    assert word in told


@pytest.mark.parametrize("size", [185, 236, 300])
def test_both_codes_are_read_from_the_page(tmp_path: Path, size: int) -> None:
    """The PDF, rasterised, gives back exactly the link and the capsule."""
    label = content(size)
    write_pdf(tmp_path / "label.pdf", [label], MEDIUM)
    with Image.open(rasterised(tmp_path / "label.pdf")) as page:
        page.save(tmp_path / "page.png")
    texts = {found.text for found in read_picture(tmp_path / "page.png")}
    assert texts == {label.link_text, label.capsule_text}


def test_a_pdf_is_the_same_bytes_again(tmp_path: Path) -> None:
    """The same labels give the same file."""
    write_pdf(tmp_path / "one.pdf", [content()], MEDIUM)
    write_pdf(tmp_path / "two.pdf", [content()], MEDIUM)
    assert (tmp_path / "one.pdf").read_bytes() == (tmp_path / "two.pdf").read_bytes()


def test_a_pdf_embeds_its_fonts_and_asks_not_to_be_scaled(tmp_path: Path) -> None:
    """Every font is embedded, and the viewer preference says no scaling."""
    write_pdf(tmp_path / "label.pdf", [content()], MEDIUM)
    listed = subprocess.run(["pdffonts", tmp_path / "label.pdf"], check=True, capture_output=True, text=True).stdout
    rows = [row.split() for row in listed.splitlines()[2:]]
    assert {row[-5] for row in rows if "Atkinson" in row[0]} == {"yes"}
    assert b"/PrintScaling /None" in (tmp_path / "label.pdf").read_bytes()


def test_pages_come_in_order_and_say_what_they_carry(tmp_path: Path) -> None:
    """Three labels, the second without its settings; progress is told after each."""
    told: list[tuple[int, int]] = []
    told_of = write_pdf(
        tmp_path / "labels.pdf", [content(185), content(None), content(300)], MEDIUM,
        lambda done, total: told.append((done, total)),
    )  # fmt: skip
    assert [one.carries_settings for one in told_of] == [True, False, True]
    assert told == [(1, 3), (2, 3), (3, 3)]


def test_a_refused_file_leaves_the_old_one(tmp_path: Path) -> None:
    """When the file cannot be written the refusal says so, and nothing is left behind."""
    with pytest.raises(LabelError) as caught:
        write_pdf(tmp_path / "missing" / "labels.pdf", [content()], MEDIUM)
    assert (caught.value.kind, bool(caught.value.hint)) == ("cannot-write", True)
    assert list(tmp_path.iterdir()) == []


def test_a_failing_label_leaves_the_old_file(tmp_path: Path) -> None:
    """A label that cannot be made leaves the file that was there, and no half-written one."""
    target = tmp_path / "labels.pdf"
    target.write_bytes(b"old")
    hopeless = replace(content(), link_text="A" * 5_000)  # more than any code holds
    with pytest.raises(LabelError):
        write_pdf(target, [content(), hopeless], MEDIUM)
    assert [(path.name, path.read_bytes()) for path in tmp_path.iterdir()] == [("labels.pdf", b"old")]
