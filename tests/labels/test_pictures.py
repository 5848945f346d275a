"""Reading pictures: what a camera or scanner gives, and what it should not."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from label_samples import content
from PIL import Image, ImageFilter, ImageOps

from labels.errors import LabelError
from labels.layout import lay_out
from labels.media import MEDIA
from labels.raster import raster
from labels.reading import read_picture

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
