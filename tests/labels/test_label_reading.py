"""Reading pictures: several labels, other codes beside them, unusual files."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import zxingcpp
from label_samples import LINK, content
from PIL import Image, ImageOps

from labels import pictures
from labels.content import LabelContent
from labels.errors import LabelError
from labels.layout import lay_out
from labels.media import MEDIA
from labels.raster import raster
from labels.reading import read_picture

MEDIUM = MEDIA["60x40"]
OTHER = LabelContent(tag_shown="0G2M 5V8A 1", link_text="HTTPS://LX.EXAMPLE.EU/L/0G2M5V8A1", capsule_text=None, big=(), lines=())


def drawn(label: LabelContent) -> Image.Image:
    return raster(lay_out(label, MEDIUM)).convert("L")


def beside(*pictures: Image.Image) -> Image.Image:
    """Pictures in a row on white paper."""
    paper = Image.new("L", (sum(one.width + 60 for one in pictures), max(one.height for one in pictures) + 60), 255)
    for number, one in enumerate(pictures):
        paper.paste(one, (30 + sum(before.width + 60 for before in pictures[:number]), 30))
    return paper


def other_code(kind: zxingcpp.BarcodeFormat, text: str) -> Image.Image:
    return Image.fromarray(np.array(zxingcpp.create_barcode(text, kind).to_image(scale=6, add_quiet_zones=True)))


def test_two_labels_in_one_picture_are_both_found(tmp_path: Path) -> None:
    """Both labels' codes are read, each with its own text."""
    label = content(222)
    beside(drawn(label), drawn(OTHER)).save(tmp_path / "two.png")
    texts = sorted(found.text for found in read_picture(tmp_path / "two.png"))
    assert texts == sorted([label.link_text, str(label.capsule_text), OTHER.link_text])


OTHER_CODES = [
    (zxingcpp.BarcodeFormat.MicroQRCode, "LX12"),
    (zxingcpp.BarcodeFormat.RMQRCode, LINK),
    (zxingcpp.BarcodeFormat.DataMatrix, LINK),
    (zxingcpp.BarcodeFormat.Aztec, LINK),
    (zxingcpp.BarcodeFormat.PDF417, LINK),
    (zxingcpp.BarcodeFormat.Code128, "7K3D9QXW6"),
    (zxingcpp.BarcodeFormat.EAN13, "4006381333931"),
]


@pytest.mark.parametrize(("kind", "text"), OTHER_CODES)
def test_other_codes_are_drawn_so_that_they_can_be_read(kind: zxingcpp.BarcodeFormat, text: str) -> None:
    """The samples of the next two tests are good codes: a reader of every kind finds them."""
    assert [found.text for found in zxingcpp.read_barcodes(other_code(kind, text))] == [text]


@pytest.mark.parametrize(("kind", "text"), OTHER_CODES)
def test_other_codes_alone_are_no_label(tmp_path: Path, kind: zxingcpp.BarcodeFormat, text: str) -> None:
    """A picture of a Micro QR code or a bar code holds no label's code."""
    other_code(kind, text).save(tmp_path / "other.png")
    with pytest.raises(LabelError) as caught:
        read_picture(tmp_path / "other.png")
    assert caught.value.kind == "no-code"


@pytest.mark.parametrize(("kind", "text"), OTHER_CODES)
def test_other_codes_beside_a_label_are_left_alone(tmp_path: Path, kind: zxingcpp.BarcodeFormat, text: str) -> None:
    """Of a label with a maker's code beside it the label's link alone is returned."""
    beside(drawn(OTHER), other_code(kind, text)).save(tmp_path / "both.png")
    assert [found.text for found in read_picture(tmp_path / "both.png")] == [OTHER.link_text]


def half_size(picture: Image.Image) -> Image.Image:
    return picture.resize((picture.width // 2, picture.height // 2), Image.Resampling.BILINEAR)


def grey_on_grey(picture: Image.Image) -> Image.Image:
    return picture.point(lambda value: 110 + value // 8)


def turned_and_grey(picture: Image.Image) -> Image.Image:
    return grey_on_grey(picture.rotate(20, Image.Resampling.BICUBIC, expand=True, fillcolor=255))


def inverted_and_half_size(picture: Image.Image) -> Image.Image:
    return ImageOps.invert(half_size(picture))


def see_through(picture: Image.Image) -> Image.Image:
    """Black on a ground that is transparent black."""
    ground = Image.new("RGBA", picture.size, (0, 0, 0, 0))
    ground.paste((0, 0, 0, 255), mask=ImageOps.invert(picture))
    return ground


def sixteen_bits(picture: Image.Image) -> Image.Image:
    return Image.fromarray(np.asarray(picture).astype(np.uint16) * 160 + 9_000)


@pytest.mark.parametrize(
    "change",
    [half_size, grey_on_grey, turned_and_grey, inverted_and_half_size, see_through, sixteen_bits,
     lambda picture: picture.convert("P"), lambda picture: picture.convert("1")],
)  # fmt: skip
def test_both_codes_are_found_in_poor_and_unusual_pictures(tmp_path: Path, change: object) -> None:
    """Small, pale, turned, inverted, transparent, 16-bit and palette pictures give both texts exactly."""
    assert callable(change)
    label = content(222)
    change(drawn(label)).save(tmp_path / "photo.png")
    assert {found.text for found in read_picture(tmp_path / "photo.png")} == {label.link_text, label.capsule_text}


@pytest.mark.parametrize("suffix", ["png", "jpg", "bmp", "gif", "tif", "webp"])
def test_usual_picture_files_are_read(tmp_path: Path, suffix: str) -> None:
    """The link is read from every usual kind of file."""
    drawn(OTHER).save(tmp_path / f"photo.{suffix}")
    assert [found.text for found in read_picture(tmp_path / f"photo.{suffix}")] == [OTHER.link_text]


def test_the_largest_picture_that_is_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A picture of just the allowed pixels is read; with one pixel fewer allowed it is refused with its size."""
    drawn(OTHER).save(tmp_path / "photo.png")
    monkeypatch.setattr(pictures, "MAX_PIXELS", 709 * 472)
    assert [found.text for found in read_picture(tmp_path / "photo.png")] == [OTHER.link_text]
    monkeypatch.setattr(pictures, "MAX_PIXELS", 709 * 472 - 1)
    with pytest.raises(LabelError, match="709 × 472") as caught:
        read_picture(tmp_path / "photo.png")
    assert caught.value.kind == "too-large"
