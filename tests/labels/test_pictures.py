"""Reading pictures: what a camera or scanner gives, and what it should not."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pillow_heif
import pytest
from label_samples import content
from PIL import Image, ImageFilter, ImageOps

from labels.errors import LabelError
from labels.layout import lay_out
from labels.media import MEDIA
from labels.pictures import open_pages, open_picture
from labels.raster import raster
from labels.reading import read_image, read_picture

MEDIUM = MEDIA["60x40"]
Change = Callable[[Image.Image], Image.Image]


def turned(degrees: int) -> Change:
    return lambda picture: picture.rotate(degrees, Image.Resampling.BICUBIC, expand=True, fillcolor=255)


def scaled(percent: int) -> Change:
    return lambda picture: picture.resize(
        (picture.width * percent // 100, picture.height * percent // 100), Image.Resampling.BILINEAR
    )


def blurred(picture: Image.Image) -> Image.Image:
    return picture.filter(ImageFilter.GaussianBlur(2))


def faded(picture: Image.Image) -> Image.Image:
    return picture.point(lambda value: 100 + value // 5)


CHANGES: dict[str, Change] = {
    "as printed": lambda picture: picture,
    "quarter turn": turned(90),
    "upside down": turned(180),
    "turned 20 degrees": turned(20),
    "white on black": ImageOps.invert,
    "2 pixels a module": scaled(40),
    "large": scaled(200),
    "out of focus": blurred,
    "faded": faded,
}


@pytest.mark.parametrize("name", CHANGES)
@pytest.mark.parametrize("suffix", ["png", "jpg"])
def test_both_codes_are_found(tmp_path: Path, name: str, suffix: str) -> None:
    """Link and capsule are read from the picture, exactly."""
    label = content(222)
    path = tmp_path / f"photo.{suffix}"
    CHANGES[name](raster(lay_out(label, MEDIUM)).convert("L")).save(path)
    assert {found.text for found in read_picture(path)} == {label.link_text, label.capsule_text}


def test_centres_tell_the_codes_apart(tmp_path: Path) -> None:
    """The centre of each code is where it was drawn, within a module."""
    label = content(222)
    layout = lay_out(label, MEDIUM)
    raster(layout).save(tmp_path / "label.png")
    centres = {found.text: found.centre for found in read_picture(tmp_path / "label.png")}
    for code in layout.codes:
        middle = (code.box.left + code.box.width / 2, code.box.top + code.box.height / 2)
        assert centres[code.symbol.text] == pytest.approx(middle, abs=code.dots)


@pytest.mark.parametrize("data", [b"", b"hello", b"\x89PNG\r\n\x1a\n", b"\xff\xd8\xff\xe0 not really"])
def test_what_is_no_picture_is_refused(tmp_path: Path, data: bytes) -> None:
    """An empty file, a text and mere beginnings of pictures are not pictures."""
    (tmp_path / "photo.png").write_bytes(data)
    with pytest.raises(LabelError) as caught:
        read_picture(tmp_path / "photo.png")
    assert (caught.value.kind, bool(caught.value.hint)) == ("not-a-picture", True)


def test_a_cut_off_picture_is_refused(tmp_path: Path) -> None:
    """Half a PNG file is not a picture that can be read."""
    raster(lay_out(content(), MEDIUM)).save(tmp_path / "whole.png")
    whole = (tmp_path / "whole.png").read_bytes()
    (tmp_path / "half.png").write_bytes(whole[: len(whole) // 2])
    with pytest.raises(LabelError) as caught:
        read_picture(tmp_path / "half.png")
    assert caught.value.kind == "not-a-picture"


@pytest.mark.parametrize("name", ["missing.png", "."])
def test_a_missing_file_or_a_folder_is_refused(tmp_path: Path, name: str) -> None:
    """A name without a file and a folder are not pictures."""
    with pytest.raises(LabelError) as caught:
        read_picture(tmp_path / name)
    assert caught.value.kind == "not-a-picture"


def test_an_empty_picture_has_no_code(tmp_path: Path) -> None:
    """A white picture says that no code was found, and what to try."""
    Image.new("L", (400, 300), 255).save(tmp_path / "white.png")
    with pytest.raises(LabelError) as caught:
        read_picture(tmp_path / "white.png")
    assert (caught.value.kind, bool(caught.value.hint)) == ("no-code", True)


@pytest.mark.parametrize("side", [12_000, 20_000])
def test_a_giant_picture_is_refused_unread(tmp_path: Path, side: int) -> None:
    """A small file that unpacks to hundreds of millions of pixels is refused by its stated size."""
    Image.new("1", (side, side), 1).save(tmp_path / "giant.png")
    with pytest.raises(LabelError) as caught:
        read_picture(tmp_path / "giant.png")
    assert (caught.value.kind, bool(caught.value.hint)) == ("too-large", True)


def heic(picture: Image.Image, path: Path) -> None:
    """A picture as phones keep it."""
    pillow_heif.from_pillow(picture.convert("RGB")).save(path, quality=80)


@pytest.mark.parametrize("suffix", ["heic", "heif", "HEIC"])
def test_a_phones_own_pictures_are_read(tmp_path: Path, suffix: str) -> None:
    """Both codes out of a HEIC file."""
    label, path = content(222), tmp_path / f"photo.{suffix}"
    heic(raster(lay_out(label, MEDIUM)).convert("L"), path)
    assert {found.text for found in read_picture(path)} == {label.link_text, label.capsule_text}


def test_a_broken_heic_file_is_refused(tmp_path: Path) -> None:
    """Half of one."""
    heic(raster(lay_out(content(), MEDIUM)).convert("L"), tmp_path / "whole.heic")
    data = (tmp_path / "whole.heic").read_bytes()
    (tmp_path / "half.heic").write_bytes(data[: len(data) // 2])
    with pytest.raises(LabelError) as caught:
        read_picture(tmp_path / "half.heic")
    assert caught.value.kind == "not-a-picture"


def test_a_picture_lying_on_its_side_by_its_own_word_is_turned(tmp_path: Path) -> None:
    """Phones store the way up beside the picture (Exif 2.3 orientation, tag 0x0112; 6: a quarter turn)."""
    exif = Image.Exif()
    exif[0x0112] = 6
    Image.new("L", (60, 40)).save(tmp_path / "photo.jpg", exif=exif)
    assert open_picture(tmp_path / "photo.jpg").size == (40, 60)


def test_every_page_of_a_pdf_is_read(tmp_path: Path) -> None:
    """Three pages, the one in the middle blank."""
    pages = [raster(lay_out(label, MEDIUM)).convert("L") for label in (content(222), content(None))]
    pages.insert(1, Image.new("L", (709, 472), 255))
    pages[0].save(tmp_path / "labels.pdf", save_all=True, append_images=pages[1:], resolution=300)
    found = [(page.number, page.count, len(read_image(page.image).codes)) for page in open_pages(tmp_path / "labels.pdf")]
    assert found == [(1, 3, 2), (2, 3, 0), (3, 3, 1)]
    assert len(read_picture(tmp_path / "labels.pdf")) == 3


def test_pages_are_drawn_at_300_dpi(tmp_path: Path) -> None:
    """An A4 page of 595 × 842 points (a point is 1/72 inch, ISO 32000-1) has 2479 × 3508 pixels then."""
    Image.new("L", (595, 842), 255).save(tmp_path / "page.pdf", resolution=72)
    [page] = open_pages(tmp_path / "page.pdf")
    assert page.image.size == pytest.approx((2479, 3508), abs=1)


@pytest.mark.parametrize("data", [b"", b"hello", b"%PDF-1.7\n", b"%PDF-1.7\ntrailer << /Root 1 0 R >>\n%%EOF"])
def test_what_is_no_pdf_is_refused(tmp_path: Path, data: bytes) -> None:
    """An empty file, a text and mere beginnings of PDFs."""
    (tmp_path / "labels.pdf").write_bytes(data)
    with pytest.raises(LabelError) as caught:
        read_picture(tmp_path / "labels.pdf")
    assert (caught.value.kind, bool(caught.value.hint)) == ("not-a-picture", True)


@pytest.mark.parametrize("name", ["missing.pdf", "missing.heic"])
def test_missing_files_are_refused_by_name(tmp_path: Path, name: str) -> None:
    """Whatever their kind."""
    with pytest.raises(LabelError, match=name) as caught:
        read_picture(tmp_path / name)
    assert caught.value.kind == "not-a-picture"


def test_a_page_too_large_is_refused_undrawn(tmp_path: Path) -> None:
    """Five metres square would be drawn with 3,600 million pixels."""
    Image.new("1", (10, 10), 1).save(tmp_path / "poster.pdf", resolution=10 * 25.4 / 5000)
    with pytest.raises(LabelError) as caught:
        read_picture(tmp_path / "poster.pdf")
    assert caught.value.kind == "too-large"


def test_a_damaged_code_is_told_from_none(tmp_path: Path) -> None:
    """A link's code whose data lies under dirt and whose corners do not: it is there, and cannot be read."""
    layout = lay_out(content(None), MEDIUM)
    picture, box = raster(layout).convert("L"), layout.codes[0].box
    across, down = box.width // 3, box.height // 3
    picture.paste(90, (box.left + across, box.top + 24, box.right - across, box.bottom - 24))
    picture.paste(90, (box.left + 24, box.top + down + 12, box.right - 24, box.bottom - down - 12))
    picture.save(tmp_path / "photo.png")
    with pytest.raises(LabelError) as caught:
        read_picture(tmp_path / "photo.png")
    assert (caught.value.kind, bool(caught.value.hint)) == ("damaged-code", True)
