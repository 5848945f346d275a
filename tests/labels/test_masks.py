"""Symbols module by module as qrcode draws them: every version and level of a label, the penalty, the information bits."""

from __future__ import annotations

import random
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest
import qrcode
from hypothesis import given, settings
from hypothesis import strategies as st
from qrcode import constants, util

from labels.code import LEVELS
from labels.codewords import codewords, least_version
from labels.masks import as_number, draw, information, lost_points

Modules = npt.NDArray[np.bool_]
LEVEL = st.sampled_from("LMQH")
THREE_SEGMENTS = 74  # bits at most of "A/", "#" and the digits' mode and count


def stock(parts: list[util.QRData], level: str, version: int | None = None) -> Any:
    code = qrcode.QRCode(version=version, error_correction=LEVELS[level], border=0)
    for part in parts:
        code.add_data(part, optimize=0)
    return code


def stock_modules(parts: list[util.QRData], level: str, version: int) -> Modules:
    code = stock(parts, level, version)
    code.make(fit=False)
    return np.array(code.get_matrix(), dtype=bool)


def our_modules(parts: list[util.QRData], level: str, version: int) -> Modules:
    found = codewords(parts, version=version, correction=LEVELS[level])
    return draw(found, version=version, correction=LEVELS[level])


def label_like(version: int, level: str, percent: int) -> list[util.QRData]:
    """Letters, a "#" and random digits that take about so many percent of the data bits."""
    room = util.BIT_LIMIT_TABLE[LEVELS[level]][version] - THREE_SEGMENTS
    digits = random.Random(f"{version}{level}{percent}").choices("0123456789", k=max(1, room * percent // 100 * 3 // 10))
    return [util.QRData("A/", mode=util.MODE_ALPHA_NUM), util.QRData("#", mode=util.MODE_8BIT_BYTE),
            util.QRData("".join(digits), mode=util.MODE_NUMBER)]


@pytest.mark.parametrize("percent", [5, 60, 100])
@pytest.mark.parametrize("level", "LMQH")
@pytest.mark.parametrize("version", range(1, 21))
def test_a_symbol_is_the_one_that_qrcode_draws(version: int, level: str, percent: int) -> None:
    """Every module is the same, and so is the mask, in versions 1 to 20 at all levels, nearly empty to full."""
    parts = label_like(version, level, percent)
    assert np.array_equal(our_modules(parts, level, version), stock_modules(parts, level, version))


LARGE = [(21, "Q"), (24, "H"), (26, "L"), (27, "M"), (33, "Q"), (39, "H"), (40, "L"), (40, "M")]


@pytest.mark.parametrize(("version", "level"), LARGE)
def test_a_large_symbol_is_the_one_that_qrcode_draws(version: int, level: str) -> None:
    """The same above the versions of a label, where counts grow wider (27) and up to the largest."""
    parts = label_like(version, level, 100)
    assert np.array_equal(our_modules(parts, level, version), stock_modules(parts, level, version))


@pytest.mark.parametrize(
    ("version", "digits"),
    [(2, "1000037"), (2, "1000158"), (2, "1000313"), (3, "1000346"), (3, "1000384"), (3, "1000417")],
)
def test_of_two_equally_good_masks_the_first_is_taken(version: int, digits: str) -> None:
    """Digits for which two masks cost the same at level M: the mask of the lower number, as qrcode takes it."""
    parts = [util.QRData(digits, mode=util.MODE_NUMBER)]
    assert np.array_equal(our_modules(parts, "M", version), stock_modules(parts, "M", version))


LETTERS = st.text("ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789 $%*+-./:", min_size=1, max_size=80)
PART = st.one_of(
    st.text("0123456789", min_size=1, max_size=400).map(lambda text: util.QRData(text, mode=util.MODE_NUMBER)),
    LETTERS.map(lambda text: util.QRData(text, mode=util.MODE_ALPHA_NUM)),
    # qrcode 8.2 cannot divide a block of zeros alone (test_label_code has those); 1 to 255 cannot make one.
    st.lists(st.integers(1, 255), min_size=1, max_size=60).map(lambda data: util.QRData(bytes(data), mode=util.MODE_8BIT_BYTE)),
)


@settings(max_examples=40, deadline=None)
@given(parts=st.lists(PART, min_size=1, max_size=4), level=LEVEL)
def test_any_segments_make_the_symbol_that_qrcode_makes(parts: list[util.QRData], level: str) -> None:
    """Whatever the segments, their order and the level: qrcode's smallest version, and in it qrcode's modules."""
    version = stock(parts, level).best_fit(start=1)
    assert least_version(parts, LEVELS[level]) == version
    assert np.array_equal(our_modules(parts, level, version), stock_modules(parts, level, version))


def repeated(digits: int, letters: int, count: int) -> list[util.QRData]:
    return [util.QRData("7" * digits, mode=util.MODE_NUMBER), util.QRData("Z" * letters, mode=util.MODE_ALPHA_NUM),
            util.QRData("z" * count, mode=util.MODE_8BIT_BYTE)]


@settings(max_examples=80, deadline=None)
@given(digits=st.integers(1, 2000), letters=st.integers(1, 300), count=st.integers(1, 200), level=LEVEL)
def test_counting_bits_finds_the_version_that_qrcode_finds(digits: int, letters: int, count: int, level: str) -> None:
    """The version by arithmetic is qrcode's, which encodes to find it."""
    parts = repeated(digits, letters, count)
    assert least_version(parts, LEVELS[level]) == stock(parts, level).best_fit(start=1)


@pytest.mark.parametrize("digits", [*range(508, 520), *range(610, 622), *range(3240, 3252), *range(3474, 3488)])
def test_the_version_is_right_where_counts_grow_wider(digits: int) -> None:
    """Around the ends of versions 9, 10, 26 and 27 at level L: counts take more bits from 10 and from 27 on."""
    parts = repeated(digits, 10, 4)
    assert least_version(parts, LEVELS["L"]) == stock(parts, "L").best_fit(start=1)


def test_what_does_not_fit_is_refused() -> None:
    """35 digits in version 1 at level M, which holds 34 (ISO/IEC 18004 Table 7)."""
    with pytest.raises(qrcode.exceptions.DataOverflowError):
        codewords([util.QRData("7" * 35, mode=util.MODE_NUMBER)], version=1, correction=LEVELS["M"])


def points(modules: Modules) -> int:
    return lost_points(as_number(modules), as_number(np.ones_like(modules)), len(modules))


# ISO/IEC 18004 7.8.3 on 21 by 21 modules, by hand. One colour: 42 lines of 3 + 16, 400 squares of 3, 50 % off: 10 times 10.
# Stripes: 21 lines of 3 + 16 one way, no squares, 231 of 441 dark is 2.4 % off.
ROWS, COLUMNS = np.indices((21, 21))


@pytest.mark.parametrize(
    ("modules", "expected"),
    [
        (ROWS >= 0, 798 + 1200 + 100), (ROWS < 0, 798 + 1200 + 100), (ROWS % 2 == 0, 399), (COLUMNS % 2 == 0, 399),
        ((ROWS + COLUMNS) % 2 == 0, 0),
    ],
    ids=["dark", "light", "rows", "columns", "chequered"],
)  # fmt: skip
def test_the_penalty_of_simple_patterns_is_the_one_by_hand(modules: Modules, expected: int) -> None:
    """All dark, all light, striped and chequered squares cost what the standard's table says."""
    assert points(modules) == expected


@st.composite
def squares(draw: st.DrawFn) -> Modules:
    """Random modules, and repeated ones, so that runs, squares and finder-like rows are frequent."""
    side = draw(st.sampled_from([21, 25, 29, 45]))
    row = draw(st.sampled_from(["10111010000", "00001011101", "1", "0", "01", "1111100000", "0011"]))
    chance = np.random.default_rng(draw(st.integers(0, 2**32)))
    regular = np.resize(np.array(list(row)) == "1", (side, side))
    noise = chance.random((side, side)) < draw(st.sampled_from([0.0, 0.02, 0.1, 0.5]))
    return (regular ^ noise).T if draw(st.booleans()) else regular ^ noise


@settings(max_examples=80, deadline=None)
@given(modules=squares())
def test_the_penalty_is_the_one_that_qrcode_finds(modules: Modules) -> None:
    """Any square of modules costs what qrcode's scan of it costs."""
    assert points(modules) == util.lost_point(modules.tolist())


# ISO/IEC 18004 Annexes C and D, most significant bit first, at their places of 7.9 and 7.10 (both copies).
def test_format_information_stands_twice_as_printed() -> None:
    """Level M with mask 101 is 100000011001110, down column 8 and along row 8; the module above the lower part is dark."""
    found = information(1, constants.ERROR_CORRECT_M, 5).astype(int)
    upright = [*found[:6, 8], found[7, 8], found[8, 8], *found[14:, 8]]
    along = [*found[8, :-9:-1], found[8, 7], *found[8, 5::-1]]
    assert "".join(map(str, reversed(upright))) == "100000011001110"
    assert "".join(map(str, reversed(along))) == "100000011001110"
    assert found[13, 8] == 1


def test_version_information_stands_twice_as_printed() -> None:
    """Version 7 is 000111110010010100, in both blocks of six by three."""
    found = information(7, constants.ERROR_CORRECT_M, 0).astype(int)
    assert "".join(map(str, found[:6, 34:37].ravel()[::-1])) == "000111110010010100"
    assert "".join(map(str, found[34:37, :6].T.ravel()[::-1])) == "000111110010010100"
