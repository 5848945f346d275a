"""Where things stand on a label: whole dots, corners, quiet zones, heights, and nothing lost."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from label_samples import BANNER, DIGEST, FIGURES, LINES, MARKS, content
from PIL import Image, ImageDraw

from labels.boxes import TextLine
from labels.check import problems_of
from labels.content import BigFigure
from labels.errors import LabelError
from labels.fonts import font, size_for_cap
from labels.layout import NOT_CARRIED, lay_out
from labels.media import DOTS, MEDIA, cap_um_for
from labels.raster import prove, raster
from labels.typeset import wrap

MEDIUM = MEDIA["60x40"]
LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyzÄÅÉßø0123456789.-/ "


def squeezed(text: str) -> str:
    return text.replace(" ", "").replace("\u00a0", "")


WORDS = st.text(alphabet=LETTERS, min_size=1, max_size=24).filter(lambda text: bool(text.strip()))


def test_the_page_is_whole_dots() -> None:
    """60 by 40 mm at 300 dpi is 708.66 by 472.44 dots: no more than half a dot away."""
    assert abs(MEDIUM.width_dots - 60 * 300 / 25.4) <= 0.5
    assert abs(MEDIUM.height_dots - 40 * 300 / 25.4) <= 0.5


@pytest.mark.parametrize("size", [185, 200, 222, 236, 300])
def test_two_codes_stand_in_opposite_corners(size: int) -> None:
    """The capsule's box begins at the top left corner, the link's ends at the bottom right one."""
    capsule, link = lay_out(content(size), MEDIUM).codes
    assert (capsule.name, capsule.box.left, capsule.box.top) == ("capsule", 0, 0)
    assert (link.name, link.box.right, link.box.bottom) == ("link", MEDIUM.width_dots, MEDIUM.height_dots)


@pytest.mark.parametrize("banner", [None, BANNER])
@pytest.mark.parametrize("size", [185, 236, 500, None])
def test_quiet_zones_are_white_and_modules_exact(size: int | None, banner: str | None) -> None:
    """Every dot of a code's box in the picture is its module, or white within four modules of the edge."""
    layout = lay_out(content(size, banner=banner), MEDIUM)
    dots = np.array(raster(layout))
    for code in layout.codes:
        expected = np.kron(np.pad(~code.symbol.matrix, 4, constant_values=True), np.ones((code.dots, code.dots)))
        box = code.box
        assert np.array_equal(dots[box.top : box.bottom, box.left : box.right], expected.astype(bool))


def test_a_record_too_big_leaves_the_link_where_that_is_allowed() -> None:
    """1500 bytes do not fit: where it may, the label has the link code alone and a line that says where the settings are."""
    layout = lay_out(content(1500, link_only=True), MEDIUM)
    assert [code.name for code in layout.codes] == ["link"]
    assert not layout.carries_settings
    assert squeezed(NOT_CARRIED) in squeezed("".join(line.text for line in layout.texts))


# ISO/IEC 18004 Table 7, bytes at level M: version 12 holds 287, version 40 holds 2331; digits take 8.2 bits a byte.
@pytest.mark.parametrize(
    ("size", "medium", "hint"),
    [(222, "50x25", "60x40, 76x51, 102x51"), (900, "60x40", "76x51, 102x51"), (1500, "102x51", "No size has room")],
)
def test_a_record_too_big_is_refused_with_the_sizes_that_do(size: int, medium: str, hint: str) -> None:
    """Settings that find no room are not dropped in silence: the refusal names every size that would hold them."""
    with pytest.raises(LabelError) as caught:
        lay_out(content(size), MEDIA[medium])
    assert caught.value.kind == "too-big"
    assert hint in caught.value.hint


@pytest.mark.parametrize("size", [200, 236, 300])
def test_a_record_that_fits_is_carried(size: int) -> None:
    """200, 236 and 300 bytes are on the label."""
    assert lay_out(content(size), MEDIUM).carries_settings


@pytest.mark.parametrize("size", [185, 236, 300, 500])
@pytest.mark.parametrize("banner", [None, BANNER])
def test_tag_and_figures_always_stand_there(size: int, banner: str | None) -> None:
    """The tag, the address with its numbering, current and mode are printed, whatever else finds room."""
    printed = " ".join(line.text for line in lay_out(content(size, banner=banner), MEDIUM).texts)
    for text in ("7K3D 9QXW 6", "12 ADDRESS from 0", "700 mA", "switched maintained 3\u00a0h", "v3", DIGEST):
        assert text in printed


def test_a_banner_is_white_on_a_bar() -> None:
    """The banner's words stand in white inside a black bar, and no other text is white."""
    layout = lay_out(content(banner=BANNER), MEDIUM)
    white = [line for line in layout.texts if line.white]
    assert " ".join(line.text for line in white) == BANNER
    (bar,) = layout.bars
    assert all(
        bar.left <= line.box.left and line.box.right <= bar.right
        and bar.top <= line.box.top and line.box.bottom <= bar.bottom
        for line in white
    )  # fmt: skip


def test_what_finds_no_room_is_named() -> None:
    """Every line is either printed whole or named as left off; none is clipped."""
    lines = (*LINES, "a further line that is long enough to need the room of two", "and one more that finds none at all")
    layout = lay_out(content(300, banner=BANNER, lines=lines), MEDIUM)
    printed = squeezed("".join(line.text for line in layout.texts))
    assert {line for line in (*lines, *MARKS) if squeezed(line) not in printed} == set(layout.left_off) != set()


@settings(max_examples=80, deadline=None)
@given(
    size=st.sampled_from([120, 185, 222, 236, 300, 500, None]),
    figures=st.lists(st.builds(BigFigure, caption=WORDS, value=WORDS), min_size=1, max_size=3).map(tuple),
    lines=st.lists(WORDS, max_size=7).map(tuple),
    banner=st.sampled_from([None, BANNER]),
    name=st.sampled_from(sorted(MEDIA)),
    dpi=st.sampled_from(sorted(DOTS)),
    corner_um=st.sampled_from([0, 1_500, 4_000]),
    bleed_um=st.sampled_from([0, 1_000]),
)
def test_a_layout_has_no_problems(
    size: int | None, figures: tuple[BigFigure, ...], lines: tuple[str, ...], banner: str | None, name: str, dpi: int,
    corner_um: int, bleed_um: int,
) -> None:
    """Whatever the texts, size and printer, a label is either sound by geometry and readable, or refused as too big."""
    medium = dataclasses.replace(MEDIA[name], dpi=dpi, corner_um=corner_um, bleed_um=bleed_um)
    try:
        layout = lay_out(content(size, figures=figures, lines=lines, banner=banner), medium)
    except LabelError as refusal:
        assert refusal.kind == "too-big"
        return
    assert list(problems_of(layout)) == []
    prove(layout, raster(layout))


@settings(max_examples=60, deadline=None)
@given(text=WORDS, width=st.integers(min_value=60, max_value=400), bold=st.booleans())
def test_wrapping_loses_nothing(text: str, width: int, bold: bool) -> None:
    """Wrapped lines hold every character but the spaces."""
    assert "".join(wrap(text, width, bold, 36)).replace(" ", "") == text.replace(" ", "")


@pytest.mark.parametrize("bold", [False, True])
def test_capitals_are_two_millimetres_high(bold: bool) -> None:
    """IEC 60598-1 3.2 (from memory): letters of at least 2 mm, measured in the ink of the smallest size used."""
    least = MEDIUM.dots_up(2_000)
    picture = Image.new("1", (200, 200), 1)
    draw = ImageDraw.Draw(picture)
    draw.fontmode = "1"
    draw.text((20, 150), "H", font=font(bold, size_for_cap(least, bold)), fill=0, anchor="ls")
    rows = np.flatnonzero((~np.array(picture)).any(axis=1))
    assert (rows[-1] - rows[0] + 1) * 25.4 / MEDIUM.dpi >= 2.0


@pytest.mark.parametrize("size", [185, 236, 300, 500])
def test_no_text_is_below_two_millimetres(size: int) -> None:
    """No line of a label has capitals under 2 mm."""
    assert all(line.cap * 25.4 / MEDIUM.dpi >= 2.0 for line in lay_out(content(size, banner=BANNER), MEDIUM).texts)


# DIN 4844-1 as quoted: h = L / 300, so 2 mm is read from 0.6 m, 3 mm from 0.9 m, 5 mm from 1.5 m.
@pytest.mark.parametrize(("height_mm", "distance_mm"), [(2, 600), (3, 900), (5, 1500)])
def test_heights_and_viewing_distances(height_mm: int, distance_mm: int) -> None:
    """Capitals have a 300th of the distance that they are read from."""
    assert cap_um_for(distance_mm) == height_mm * 1000


def moved_onto_the_capsule(line: TextLine) -> TextLine:
    return dataclasses.replace(line, left=100, top=100)


def shrunk(line: TextLine) -> TextLine:
    return dataclasses.replace(line, cap=20)


def pushed_out(line: TextLine) -> TextLine:
    return dataclasses.replace(line, left=MEDIUM.width_dots - 5)


@pytest.mark.parametrize(
    ("change", "problem"),
    [(moved_onto_the_capsule, "overlap"), (shrunk, "under 2 mm"), (pushed_out, "leaves the label")],
)
def test_the_checker_sees_what_is_wrong(change: object, problem: str) -> None:
    """A text on a code, one too small and one off the label are reported and never handed out."""
    assert callable(change)
    layout = lay_out(content(), MEDIUM)
    broken = dataclasses.replace(layout, texts=(change(layout.texts[0]), *layout.texts[1:]))
    assert problem in " ".join(problems_of(broken))
    with pytest.raises(LabelError) as caught:
        prove(broken, raster(broken))
    assert caught.value.kind == "proof-failed"


def test_a_damaged_picture_is_not_handed_out() -> None:
    """A picture whose capsule is blotted out fails its proof, which names that code."""
    layout = lay_out(content(), MEDIUM)
    picture = raster(layout)
    picture.paste(0, (0, 0, 120, 120))
    with pytest.raises(LabelError, match="capsule code does not read back"):
        prove(layout, picture)


def test_figures_are_the_largest_texts() -> None:
    """Current and address stand higher than any line of small print."""
    layout = lay_out(content(185, lines=LINES[:2]), MEDIUM)
    large = [line.cap for line in layout.texts if line.text in {figure.value for figure in FIGURES[:2]}]
    small = [line.cap for line in layout.texts if line.text in LINES]
    assert min(large) > max(small)
