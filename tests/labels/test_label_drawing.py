"""Files of labels: the page's exact size, its fonts, its dots, and what happens when writing fails."""

from __future__ import annotations

import errno
import os
import re
import subprocess
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import zxingcpp
from label_renderers import poppler
from label_samples import BANNER, content
from PIL import Image
from reportlab.pdfbase import pdfmetrics

from labels.boxes import Box
from labels.content import LabelContent
from labels.drawing import FONTS, Drawn, proven, register_fonts, whole_file, write_pdf, write_png, write_svg
from labels.errors import LabelError
from labels.fonts import text_width
from labels.layout import lay_out
from labels.media import MEDIA
from labels.raster import prove, raster

MEDIUM = MEDIA["60x40"]
ACCENTS = ("Überwachungsraum Ä", "Échangeur gj", "junction Å", "jq Québec ç")
Writer = Callable[[Path], object]


def as_pdf_of(path: Path, label: LabelContent) -> object:
    return write_pdf(path, [label], MEDIUM)


def as_png_of(path: Path, label: LabelContent) -> object:
    return write_png(path, label, MEDIUM)


def as_svg_of(path: Path, label: LabelContent) -> object:
    return write_svg(path, label, MEDIUM)


def as_pdf(path: Path) -> object:
    return as_pdf_of(path, content())


def as_png(path: Path) -> object:
    return as_png_of(path, content())


def as_svg(path: Path) -> object:
    return as_svg_of(path, content())


def cut(dots: np.ndarray, box: Box) -> np.ndarray:
    return dots[box.top : box.bottom, box.left : box.right]


def test_the_media_box_is_whole_dots(tmp_path: Path) -> None:
    """709 × 72/300 = 170.16 and 472 × 72/300 = 113.28 points, on every page."""
    write_pdf(tmp_path / "labels.pdf", [content(), content(None)], MEDIUM)
    boxes = re.findall(rb"/MediaBox \[ *([^\]]*?) *\]", (tmp_path / "labels.pdf").read_bytes())
    assert boxes == [b"0 0 170.16 113.28"] * 2


@pytest.mark.parametrize("size", [200, 500])
def test_every_font_is_embedded(tmp_path: Path, size: int) -> None:
    """Not even an unused font is left for the printer to supply."""
    write_pdf(tmp_path / "labels.pdf", [content(size, banner=BANNER)], MEDIUM)
    told = subprocess.run(["pdffonts", tmp_path / "labels.pdf"], check=True, capture_output=True, text=True).stdout
    rows = [row.split() for row in told.splitlines()[2:]]
    assert (len(rows), {row[-5] for row in rows}) == (2, {"yes"})


@pytest.mark.parametrize("write", [as_pdf, as_png, as_svg])
def test_the_same_label_is_the_same_bytes(tmp_path: Path, write: Writer) -> None:
    """Nothing of the hour, the file's name or chance is in the file."""
    write(tmp_path / "one")
    write(tmp_path / "two")
    assert (tmp_path / "one").read_bytes() == (tmp_path / "two").read_bytes()


@pytest.mark.parametrize("banner", [None, BANNER])
@pytest.mark.parametrize("size", [150, 185, 200, 222, 236, 300, 330, 500, None])
def test_every_code_reads_back_from_the_png(tmp_path: Path, size: int | None, banner: str | None) -> None:
    """The file gives exactly the texts of the codes on it to an independent reader, and the link always."""
    write_png(tmp_path / "label.png", content(size, banner=banner), MEDIUM)
    layout = lay_out(content(size, banner=banner), MEDIUM)
    with Image.open(tmp_path / "label.png") as picture:
        found = zxingcpp.read_barcodes(picture.convert("L"), formats=zxingcpp.BarcodeFormat.QRCodeModel2)
    assert {one.text for one in found} == {code.symbol.text for code in layout.codes}
    assert content().link_text in {one.text for one in found}


@pytest.mark.parametrize("size", [150, 185, 222, 236, 300, None])
def test_page_and_picture_agree_around_accents(tmp_path: Path, size: int | None) -> None:
    """With accents, descenders and a j beside them the codes of page and picture are the same dots, quiet zones too."""
    label = content(size, lines=ACCENTS)
    layout, picture = proven(label, MEDIUM)
    write_pdf(tmp_path / "label.pdf", [label], MEDIUM)
    page, dots = poppler(tmp_path / "label.pdf", 300), ~np.array(picture)
    assert page.shape == dots.shape == (472, 709)
    for code in layout.codes:
        assert np.array_equal(cut(page, code.box), cut(dots, code.box))


@pytest.mark.parametrize("size", [185, 500])
def test_page_and_picture_have_their_texts_in_the_same_places(tmp_path: Path, size: int) -> None:
    """In each text's box page and picture have ink, and no ink on the page is outside all boxes by more than a dot."""
    label = content(size, lines=ACCENTS)
    layout, picture = proven(label, MEDIUM)
    write_pdf(tmp_path / "label.pdf", [label], MEDIUM)
    page, dots = poppler(tmp_path / "label.pdf", 300), ~np.array(picture)
    for line in layout.texts:
        assert cut(page, line.box).any()
        assert cut(dots, line.box).any()
    for box in [one.box for one in (*layout.texts, *layout.codes)]:
        page[max(0, box.top - 1) : box.bottom + 1, max(0, box.left - 1) : box.right + 1] = False
    assert not page.any()


@pytest.mark.parametrize("text", ["W" * 24, "i" * 24, "Emergency lighting corridor 2.14", "AVATAR To. Yo, LT"])
@pytest.mark.parametrize("bold", [False, True])
def test_widths_are_those_of_the_page(text: str, bold: bool) -> None:
    """The layout's width is another PDF library's, in whole dots for the pen and the last letter's edge: nothing grows."""
    register_fonts()
    assert text_width(text, bold, 36) == pytest.approx(pdfmetrics.stringWidth(text, FONTS[bold], 36), abs=2)


@pytest.mark.parametrize("write", [as_pdf, as_png, as_svg])
@pytest.mark.parametrize("folder", ["missing", "a file"])
def test_a_folder_that_is_none_is_said(tmp_path: Path, write: Writer, folder: str) -> None:
    """Into a missing folder, or a file taken for one, nothing is written; the refusal says what to check."""
    (tmp_path / "a file").write_bytes(b"here before")
    with pytest.raises(LabelError) as caught:
        write(tmp_path / folder / "label")
    assert (caught.value.kind, bool(caught.value.hint)) == ("cannot-write", True)
    assert [(one.name, one.read_bytes()) for one in tmp_path.iterdir()] == [("a file", b"here before")]


@pytest.mark.parametrize("write", [as_pdf, as_png, as_svg])
def test_a_folder_in_the_file_s_place_stays(tmp_path: Path, write: Writer) -> None:
    """Where a folder has the file's name the refusal leaves it alone, and no partial file."""
    (tmp_path / "label").mkdir()
    with pytest.raises(LabelError) as caught:
        write(tmp_path / "label")
    assert caught.value.kind == "cannot-write"
    assert [one.name for one in tmp_path.iterdir()] == ["label"]


@pytest.mark.parametrize("write", [as_pdf, as_png, as_svg])
def test_a_disk_that_is_full_leaves_the_old_file(tmp_path: Path, write: Writer, monkeypatch: pytest.MonkeyPatch) -> None:
    """When the last step fails the file that was there stays, and the partial one goes."""
    (tmp_path / "label").write_bytes(b"old")

    def full(_from: Path, _to: Path) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(Path, "replace", full)
    with pytest.raises(LabelError, match="No space left") as caught:
        write(tmp_path / "label")
    assert caught.value.kind == "cannot-write"
    assert [(one.name, one.read_bytes()) for one in tmp_path.iterdir()] == [("label", b"old")]


@pytest.mark.parametrize("failure", [OSError(errno.EIO, "broken"), LabelError("no"), KeyboardInterrupt()])
def test_whatever_breaks_off_the_writing_leaves_nothing(tmp_path: Path, failure: BaseException) -> None:
    """A half-written file never takes the old one's place, nor stays beside it."""
    (tmp_path / "label").write_bytes(b"old")
    with pytest.raises((LabelError, KeyboardInterrupt)), whole_file(tmp_path / "label") as partial:
        partial.write_bytes(b"half")
        raise failure
    assert [(one.name, one.read_bytes()) for one in tmp_path.iterdir()] == [("label", b"old")]


def test_a_new_file_takes_the_old_one_s_place(tmp_path: Path) -> None:
    """A second writing replaces the first and leaves one file."""
    write_png(tmp_path / "label.png", content(None), MEDIUM)
    before = (tmp_path / "label.png").read_bytes()
    write_png(tmp_path / "label.png", content(200), MEDIUM)
    assert [one.name for one in tmp_path.iterdir()] == ["label.png"]
    assert (tmp_path / "label.png").read_bytes() != before


def test_a_png_of_a_hopeless_label_is_not_written(tmp_path: Path) -> None:
    """A label whose link is more than any code holds leaves the old picture."""
    (tmp_path / "label.png").write_bytes(b"old")
    with pytest.raises(LabelError) as caught:
        write_png(tmp_path / "label.png", replace(content(), link_text="A" * 5_000), MEDIUM)
    assert caught.value.kind == "too-big"
    assert [(one.name, one.read_bytes()) for one in tmp_path.iterdir()] == [("label.png", b"old")]


@pytest.mark.parametrize("size", [300, None])
def test_every_writer_tells_what_it_drew(tmp_path: Path, size: int | None) -> None:
    """Tag, lines left off and whether the settings are in a code, as the layout has them, from all three writers."""
    layout = lay_out(content(size), MEDIUM)
    told = [*write_pdf(tmp_path / "label.pdf", [content(size)], MEDIUM), write_png(tmp_path / "label.png", content(size), MEDIUM),
            write_svg(tmp_path / "label.svg", content(size), MEDIUM)]
    assert told == 3 * [Drawn(tag_shown="7K3D 9QXW 6", left_off=layout.left_off, carries_settings=layout.carries_settings)]


@pytest.mark.parametrize(("dx", "dy"), [(0, 0), (3, 3), (19, 19), (20, 20), (150, 150)])
@pytest.mark.parametrize("name", ["capsule", "link"])
def test_a_single_wrong_dot_is_found(name: str, dx: int, dy: int) -> None:
    """One dot turned over in a quiet zone, a finder pattern or the data, which a reader would put up with, fails the proof."""
    layout, picture = proven(content(222), MEDIUM)
    (code,) = (one for one in layout.codes if one.name == name)
    at = (code.box.left + dx, code.box.top + dy)
    picture.putpixel(at, 255 - picture.getpixel(at))
    with pytest.raises(LabelError, match=f"the {name} code or its quiet zone is damaged") as caught:
        prove(layout, picture)
    assert caught.value.kind == "proof-failed"


def test_a_code_that_says_something_else_is_found() -> None:
    """A symbol whose dots are sound but give another text than the label's fails the proof."""
    layout, _ = proven(content(222), MEDIUM)
    capsule, link = layout.codes
    other = replace(layout, codes=(capsule, replace(link, symbol=replace(link.symbol, text=link.symbol.text + "X"))))
    with pytest.raises(LabelError, match="the link code does not read back"):
        prove(other, raster(other))


@pytest.mark.parametrize("write", [as_pdf_of, as_png_of, as_svg_of])
def test_a_letter_that_the_font_lacks_is_refused(tmp_path: Path, write: Callable[[Path, LabelContent], object]) -> None:
    """An empty box in place of a letter would be read as nothing: the refusal names label and letter."""
    with pytest.raises(LabelError, match="7K3D 9QXW 6: The label's font has no 廊") as caught:
        write(tmp_path / "label", content(lines=("Level 2 廊",)))
    assert (caught.value.kind, list(tmp_path.iterdir())) == ("no-glyph", [])
