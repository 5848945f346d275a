"""PWG raster, read by the CUPS library."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image
from pwg_reader import pages_of

from labels.pwg import PixelKind, document, page

KINDS = list(PixelKind)


def picture(dots: np.ndarray) -> Image.Image:
    return Image.fromarray(dots.astype(np.uint8)).convert("1", dither=Image.Dither.NONE)


def written(*pictures: Image.Image, kind: PixelKind = PixelKind.BLACK_1, dpi: int = 300) -> bytes:
    return b"".join(document(pictures, dpi=dpi, kind=kind, medium="om_label_60x40mm", pages=len(pictures)))


@st.composite
def dot_fields(draw: st.DrawFn) -> np.ndarray:
    """Black and white dots, in which a line often comes again and a stretch is often even, as on labels."""
    width, height = draw(st.integers(1, 300)), draw(st.integers(1, 12))
    chance = np.random.default_rng(draw(st.integers(0, 2**32)))
    coarse = chance.random((height, -(-width // draw(st.integers(1, 40)))))
    fine = coarse.repeat(draw(st.integers(1, 40)), axis=1).repeat(draw(st.integers(1, 3)), axis=0)
    return np.where(fine[:, :width] < 0.5, 0, 255).astype(np.uint8)


@settings(max_examples=60, deadline=None)
@given(fields=st.lists(dot_fields(), min_size=1, max_size=3), kind=st.sampled_from(KINDS))
def test_every_dot_comes_back(fields: list[np.ndarray], kind: PixelKind) -> None:
    """Pages of any size and look are read dot by dot as they were, in both forms."""
    read = pages_of(written(*map(picture, fields), kind=kind))
    assert [one.dots.tolist() for one in read] == [one.tolist() for one in fields]


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("dots", [
    np.zeros((600, 1300)),  # more equal lines, and more equal bytes in one, than a count holds (256 and 128)
    np.full((257, 1025), 255),
    np.tile([0, 255], (3, 700)),
    np.tile([0, 0, 255, 0, 255, 255, 255, 0] * 3 + [0] * 8 + [255] * 8, (2, 60)),  # single bytes, then two pairs
    np.indices((40, 1040)).sum(axis=0) * 37 % 2 * 255,
    np.arange(260)[:, None] % 2 * 255,  # one dot wide
    np.random.default_rng(1).integers(0, 2, (8, 8 * 300)) * 255,  # 300 different bytes: more than one stretch
])
def test_counts_at_their_ends(dots: np.ndarray, kind: PixelKind) -> None:
    """Runs, stretches and repeated lines longer than their counts hold."""
    (read,) = pages_of(written(picture(dots), kind=kind))
    assert np.array_equal(read.dots, dots)


# bits of a pixel and ColorSpace: PWG 5102.4 clause 4.3.3 (3 black, 18 sGray)
@pytest.mark.parametrize(("kind", "bits", "space"), [(PixelKind.BLACK_1, 1, 3), (PixelKind.SGRAY_8, 8, 18)])
def test_what_a_page_says_of_itself(kind: PixelKind, bits: int, space: int) -> None:
    """Resolution, size in points, form of the dots, number of pages and medium: 709 × 472 dots are 60 × 40 mm at 300 dpi."""
    first, second = pages_of(written(*[picture(np.full((472, 709), 255))] * 2, kind=kind))
    assert (first.dpi, first.points, first.bits, first.colour_space) == ((300, 300), (170, 113), bits, space)
    assert (first.medium, first.pages, second.pages) == ("om_label_60x40mm", 2, 2)


def test_the_file_begins_as_the_standard_says() -> None:
    """The synchronisation word (PWG 5102.4 clause 4.2) and the name of the format (clause 4.3)."""
    assert written(picture(np.zeros((1, 1))))[:14] == b"RaS2PwgRaster\0"


def test_pages_are_made_one_at_a_time() -> None:
    """The second picture is asked for only when the first page was handed out."""
    asked = []
    pictures = (asked.append(number) or picture(np.zeros((4, 4))) for number in range(3))  # type: ignore[func-returns-value]
    pieces = document(pictures, dpi=300, kind=PixelKind.BLACK_1, medium="m")
    assert [next(pieces)[:4], len(next(pieces)) > 0, list(asked)] == [b"RaS2", True, [0]]


@pytest.mark.parametrize("image", [Image.new("L", (4, 4)), Image.new("1", (0, 4)), Image.new("1", (4, 0))])
def test_only_black_and_white_pages(image: Image.Image) -> None:
    """A grey picture, or one without dots, is a mistake of the caller."""
    with pytest.raises(ValueError, match="1-bit"):
        page(image, dpi=300, kind=PixelKind.BLACK_1, medium="m")
