"""The ladder of tries: where a view's points lie, what each step does, and when the reader climbs."""

from __future__ import annotations

import numpy as np
import pytest
from label_samples import content
from PIL import Image, ImageDraw, ImageFilter
from zxingcpp import BarcodeFormat, create_barcode

from labels.layout import lay_out
from labels.media import MEDIA
from labels.raster import raster
from labels.reading import Reading, beside, links_without_capsule, on_same_label, read_image
from labels.tries import View, closer, crop, first, scaled, strong, thresholded, whole

LABEL = content(222)
LAYOUT = lay_out(LABEL, MEDIA["60x40"])
CAPSULE, LINK = LAYOUT.codes
DRAWN = raster(LAYOUT).convert("L")


def dot(width: int, height: int, x: int, y: int) -> Image.Image:
    """A white picture with one black square of 9 pixels around a point."""
    picture = Image.new("L", (width, height), 255)
    ImageDraw.Draw(picture).rectangle((x - 4, y - 4, x + 4, y + 4), fill=0)
    return picture


def darkest(view: View) -> tuple[float, float]:
    """The middle of what is dark in a view."""
    rows, columns = np.nonzero(np.asarray(view.image) < 128)
    return float(columns.mean()), float(rows.mean())


@pytest.mark.parametrize("view", [*first(dot(2400, 1400, 1711, 333)), *closer(View(name="whole", image=dot(300, 200, 211, 33)))],
                         ids=lambda view: view.name)  # fmt: skip
def test_every_view_knows_where_its_points_lie(view: View) -> None:
    """A dot at a known place of the first picture is found there through the view, whatever was done to it."""
    x, y = view.origin_of(*darkest(view))
    assert (x, y) == pytest.approx((1711, 333) if x > 300 else (211, 33), abs=1)


@pytest.mark.parametrize("side", [100, 700, 1300])
def test_a_crop_knows_where_its_points_lie(side: int) -> None:
    """Cut out near an edge, and made smaller where its codes are large."""
    view = crop(dot(3000, 2000, 2900, 77), (2900, 77), 400, side)
    assert view.origin_of(*darkest(view)) == pytest.approx((2900, 77), abs=2)


@pytest.mark.parametrize(("width", "height", "factor", "expected"), [
    (400, 300, 2, (800, 600)), (400, 300, 0.5, (200, 150)), (401, 301, 0.5, (201, 151)), (90, 60, 1 / 3, (30, 20))])  # fmt: skip
def test_scaling(width: int, height: int, factor: float, expected: tuple[int, int]) -> None:
    """So many times the pixels along each side; a rest makes one pixel more."""
    assert scaled(View(name="", image=Image.new("L", (width, height))), "", factor).image.size == expected


@pytest.mark.parametrize(("size", "names"), [((1600, 1200), ["whole"]), ((4000, 3000), ["whole, half size", "whole"])])
def test_large_pictures_are_looked_at_by_halves_first(size: tuple[int, int], names: list[str]) -> None:
    """Two million pixels are looked at as they are, twelve million first at half size."""
    assert [view.name for view in first(Image.new("L", size))] == names
    assert whole(Image.new("L", size)).name == names[0]


def test_contrast_takes_the_whole_range() -> None:
    """A picture of two near greys becomes black and white."""
    half = Image.new("L", (100, 100), 120)
    half.paste(140, (0, 0, 50, 100))
    assert strong(half).getextrema() == (0, 255)


def test_a_threshold_goes_with_the_light() -> None:
    """Dark bars on a ground that grows darker stay bars from one side to the other, and nothing else is dark."""
    light = np.linspace(250, 60, 400)[None, :].repeat(60, axis=0)
    bars = (np.arange(400) // 8 % 2 == 1)[None, :].repeat(60, axis=0)
    seen = np.asarray(thresholded(Image.fromarray(np.where(bars, light * 0.6, light).astype(np.uint8)), 20))
    assert np.array_equal(seen[5:-5, 16:-16] == 0, bars[5:-5, 16:-16])


def read_texts(picture: Image.Image) -> set[str]:
    return {code.text for code in read_image(picture).codes}


def test_a_sharp_label_is_read_at_the_first_look() -> None:
    """Nothing more is tried, and nothing is called damaged."""
    reading = read_image(DRAWN)
    assert (len(reading.codes), reading.damaged, reading.tried) == (2, 0, ("whole",))


def blotted(box: tuple[int, int, int, int]) -> Image.Image:
    picture = DRAWN.copy()
    picture.paste(90, box)
    return picture


def test_with_the_capsule_hidden_the_reader_looks_for_it_from_close_by() -> None:
    """The link is known at once; the ladder is climbed for the other code, and ends."""
    reading = read_image(blotted((CAPSULE.box.left, CAPSULE.box.top, CAPSULE.box.right, CAPSULE.box.bottom)))
    assert [code.text for code in reading.codes] == [LABEL.link_text]
    assert len(reading.tried) > 5 and all(name.startswith(("whole", "close")) for name in reading.tried)


def test_with_the_link_hidden_nothing_more_is_tried() -> None:
    """The capsule says the tag too."""
    reading = read_image(blotted((LINK.box.left, LINK.box.top, LINK.box.right, LINK.box.bottom)))
    assert ([code.text for code in reading.codes], reading.tried) == ([LABEL.capsule_text], ("whole",))


def test_a_code_that_cannot_be_decoded_is_counted() -> None:
    """With its data under dirt and its corners clean the capsule is damaged, not absent."""
    box = CAPSULE.box
    reading = read_image(blotted((box.left + 60, box.top + 110, box.right - 20, box.bottom - 110)))
    assert ({code.text for code in reading.codes}, reading.damaged) == ({LABEL.link_text}, 1)


def test_white_paper_holds_nothing() -> None:
    """No code and no damaged one."""
    reading = read_image(Image.new("L", (640, 480), 255))
    assert (reading.codes, reading.damaged) == ((), 0)


@pytest.mark.parametrize("effort", [0, 10_000, 400_000, 2_000_000])
def test_the_effort_is_bounded(effort: int) -> None:
    """No more pixels are looked at than allowed: with too few for one look there is none."""
    reading = read_image(Image.effect_noise((640, 480), 90), effort_pixels=effort)
    assert 640 * 480 * len(reading.tried) <= effort or all("enlarged" not in name for name in reading.tried)
    assert bool(reading.tried) is (effort >= 640 * 480)


def test_the_same_picture_is_tried_the_same_way_again() -> None:
    """Steps follow the picture, not the clock."""
    picture = blotted((CAPSULE.box.left, CAPSULE.box.top, CAPSULE.box.right, CAPSULE.box.bottom)).filter(ImageFilter.BoxBlur(1))
    assert read_image(picture) == read_image(picture)


def test_a_makers_code_does_not_end_the_search() -> None:
    """Beside a sharp code of somebody else a label too pale for the first look is still read."""
    other = Image.fromarray(np.array(create_barcode("https://shop.example.org/", BarcodeFormat.QRCode).to_image(scale=6)))
    paper = Image.new("L", (DRAWN.width + other.width + 40, DRAWN.height), 250)
    paper.paste(DRAWN.filter(ImageFilter.GaussianBlur(2.8)), (0, 0))
    paper.paste(other, (DRAWN.width + 20, 0))
    assert "https://shop.example.org/" in read_texts(paper)
    assert LABEL.link_text in read_texts(paper)


def test_codes_of_a_label_belong_together() -> None:
    """As drawn, upside down and turned: the capsule stands where the link's own must; the other way round it does not."""
    for degrees in (0, 90, 180, 33):
        codes = {code.text: code for code in read_image(DRAWN.rotate(degrees, expand=True, fillcolor=255)).codes}
        link, capsule = codes[LABEL.link_text], codes[str(LABEL.capsule_text)]
        assert on_same_label(link, capsule) and beside(link, capsule)
        assert not on_same_label(capsule, link)


def _row() -> Reading:
    paper = Image.new("L", (DRAWN.width * 2 + 24, DRAWN.height), 255)
    paper.paste(DRAWN, (0, 0))
    paper.paste(DRAWN, (DRAWN.width + 24, 0))
    return read_image(paper)


def test_the_neighbours_capsule_belongs_to_another_label() -> None:
    """On a sheet the label on the left never takes the capsule of the one on its right, nor the right one the left one's."""
    links = sorted((code for code in _row().codes if "#" not in code.text), key=lambda code: code.centre)
    capsules = sorted((code for code in _row().codes if "#" in code.text), key=lambda code: code.centre)
    assert [[on_same_label(link, capsule) for capsule in capsules] for link in links] == [[True, False], [False, True]]


A, B = "HTTPS://LX.EXAMPLE.EU/L/7K3D9QXW6", "HTTPS://LX.EXAMPLE.EU/L/0G2M5V8A1"


@pytest.mark.parametrize(("texts", "expected"), [
    ([], set()), ([A], {A}), ([A, f"{A}#123"], set()), ([A.lower(), f"{A}#123"], set()), ([A, f"{B}#123"], {A}),
    ([f"{A}#123"], set()), (["https://shop.example.org/"], set()), (["HTTPS://LX.EXAMPLE.EU/B/MAIN/A-1"], set())])  # fmt: skip
def test_which_links_lack_their_capsule(texts: list[str], expected: set[str]) -> None:
    """Luminaires' links alone have one to look for."""
    assert links_without_capsule(texts) == expected
