"""Corner patterns of codes: found wherever they lie, and drawn anew where one is hidden."""

from __future__ import annotations

from math import cos, hypot, radians, sin

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from label_samples import LINK, capsule, content
from PIL import Image

from labels.code import QUIET_MODULES, make_symbol
from labels.finders import Pattern, drawn_anew, find_patterns, from_two
from labels.layout import lay_out
from labels.media import MEDIA
from labels.raster import raster
from labels.reading import read_image

DOTS = 5


def code(text: str, degrees: float = 0) -> tuple[Image.Image, list[tuple[float, float]]]:
    """A code on white paper, turned about its middle, and the middles of its three corner patterns.

    A corner pattern is 7 modules wide (ISO/IEC 18004 6.3.3): its middle lies 3.5 modules from two of the code's edges.
    """
    symbol = make_symbol(text, level="M", max_version=40)
    side = symbol.modules * DOTS
    paper = np.full((side * 2, side * 2), 255, np.uint8)
    start = side // 2
    paper[start : start + side, start : start + side] = np.kron(~symbol.matrix, np.full((DOTS, DOTS), 255, np.uint8))
    near, far = start + 3.5 * DOTS - 0.5, start + side - 3.5 * DOTS - 0.5
    middle, turn = side - 0.5, radians(degrees)
    corners = [(x - middle, y - middle) for x, y in ((near, near), (far, near), (near, far))]
    turned = [(middle + x * cos(turn) + y * sin(turn), middle - x * sin(turn) + y * cos(turn)) for x, y in corners]
    return Image.fromarray(paper).rotate(degrees, Image.Resampling.BICUBIC, fillcolor=255), turned


def far_off(found: list[Pattern], places: list[tuple[float, float]]) -> list[float]:
    """How far each place is from the nearest pattern that was found, modules."""
    return [min(hypot(one.x - x, one.y - y) for one in found) / DOTS for x, y in places]


@pytest.mark.parametrize("degrees", [0, 90, 180, 270, 10, 30, 45, 200])
@pytest.mark.parametrize("text", [LINK, capsule(222)])
def test_the_three_patterns_of_a_code_are_found(text: str, degrees: float) -> None:
    """In any direction, within half a module."""
    picture, corners = code(text, degrees)
    assert max(far_off(find_patterns(picture), corners)) < 0.5


@pytest.mark.parametrize("picture", [
    Image.new("L", (200, 100), 255), Image.new("L", (200, 100), 0), Image.new("L", (1, 1), 0),
    Image.fromarray((np.arange(300) // 9 % 2 * 255).astype(np.uint8)[None, :].repeat(200, axis=0)),
    Image.fromarray(np.kron(np.indices((30, 30)).sum(axis=0) % 2 * 255, np.ones((6, 6))).astype(np.uint8)),
])  # fmt: skip
def test_where_there_is_no_pattern_none_is_found(picture: Image.Image) -> None:
    """White, black, a single point, stripes and a chequered floor."""
    assert find_patterns(picture) == []


def test_noise_gives_few_patterns_soon() -> None:
    """However much looks like one, eight are kept at most."""
    noise = np.random.default_rng(3).integers(0, 2, (600, 800)).astype(np.uint8) * 255
    assert len(find_patterns(Image.fromarray(noise.repeat(2, axis=0).repeat(2, axis=1)))) <= 8


@settings(max_examples=60)
@given(st.integers(0, 359), st.integers(1, 15), st.integers(2, 9), st.integers(0, 2))
def test_any_two_patterns_tell_where_the_third_one_is(degrees: int, version: int, module: int, hidden: int) -> None:
    """For every direction, version and size one of the guesses has the third pattern's place within a module, and names the
    corner at the right angle.
    """
    turn, steps = radians(degrees), (4 * version + 10) * module
    across, down = (cos(turn) * steps, sin(turn) * steps), (-sin(turn) * steps, cos(turn) * steps)
    corners = [(500.0, 500.0), (500 + across[0], 500 + across[1]), (500 + down[0], 500 + down[1])]
    along_rows = module / max(abs(cos(turn)), abs(sin(turn)))
    seen = [Pattern(x=x, y=y, module=along_rows) for number, (x, y) in enumerate(corners) if number != hidden]
    off = [max(hypot(x - u, y - v) for (x, y), (u, v) in zip(guess.patterns, corners, strict=True)) for guess in from_two(seen)]
    assert min(off) < module


@pytest.mark.parametrize(("one", "other"), [(4.0, 6.0), (2.0, 9.0)])
def test_patterns_of_different_sizes_make_no_code(one: float, other: float) -> None:
    """They are of two codes."""
    assert list(from_two([Pattern(x=0, y=0, module=one), Pattern(x=200, y=0, module=other)])) == []


def test_patterns_too_near_or_too_far_apart_make_no_code() -> None:
    """A code has 21 modules at least (version 1); none of these labels' codes has more than 81."""
    near, far = ([Pattern(x=0, y=0, module=5), Pattern(x=x, y=0, module=5)] for x in (30, 700))
    assert (list(from_two(near)), list(from_two(far))) == ([], [])


@pytest.mark.parametrize("hidden", range(3))
@pytest.mark.parametrize("degrees", [0, 17, 90])
def test_a_hidden_corner_is_drawn_anew_and_the_code_is_read(hidden: int, degrees: float) -> None:
    """With one pattern under dirt a plain look finds nothing; with it drawn anew the text is read, exactly."""
    picture, corners = code(capsule(222), degrees)
    x, y = (round(value) for value in corners[hidden])
    picture.paste(120, (x - 20, y - 20, x + 20, y + 20))
    reading = read_image(picture)
    assert [found.text for found in reading.codes] == [capsule(222)]
    assert "corner drawn anew" in reading.tried[-1]


def test_what_is_drawn_leaves_the_rest_alone() -> None:
    """Three squares of nine modules change, nothing else, and the picture given stays as it was."""
    picture, _ = code(LINK)
    blank = Image.new("L", picture.size, 128)
    guess = next(from_two(find_patterns(picture)[:2]))
    drawn = np.asarray(drawn_anew(blank, guess, 0, 0))
    changed = np.count_nonzero(drawn != 128) / DOTS**2
    assert changed == pytest.approx(3 * (7 + 2) ** 2, rel=0.1)
    assert blank.getextrema() == (128, 128)


def test_nothing_is_made_up_where_the_data_is_gone() -> None:
    """A label whose capsule's inside is painted over keeps its corners: no text is claimed for it, the code is called damaged."""
    layout = lay_out(content(222), MEDIA["60x40"])
    picture, box = raster(layout).convert("L"), layout.codes[0].box
    inset = (QUIET_MODULES + 8) * layout.codes[0].dots
    picture.paste(255, (box.left + inset, box.top + inset, box.right - inset, box.bottom - inset))
    reading = read_image(picture)
    assert [found.text for found in reading.codes] == [content(222).link_text]
