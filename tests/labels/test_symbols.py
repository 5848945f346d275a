"""The codes: size, capacity, level and segments, against ISO/IEC 18004."""

from __future__ import annotations

import numpy as np
import pytest
import zxingcpp
from hypothesis import given, settings
from hypothesis import strategies as st
from label_samples import LINK, capsule
from PIL import Image
from qrcode import util

from labels.code import QUIET_MODULES, make_symbol, segments, version_for
from labels.errors import LabelError

# ISO/IEC 18004 Table 7, as printed in two public reproductions: (version, level, digits, alphanumeric characters, bytes).
CAPACITY = [
    (1, "L", 41, 25, 17), (1, "M", 34, 20, 14), (1, "Q", 27, 16, 11), (1, "H", 17, 10, 7),
    (2, "L", 77, 47, 32), (2, "M", 63, 38, 26), (2, "Q", 48, 29, 20), (2, "H", 34, 20, 14),
    (3, "L", 127, 77, 53), (3, "M", 101, 61, 42), (3, "Q", 77, 47, 32), (3, "H", 58, 35, 24),
    (4, "L", 187, 114, 78), (4, "M", 149, 90, 62), (4, "Q", 111, 67, 46), (4, "H", 82, 50, 34),
    (5, "L", 255, 154, 106), (5, "M", 202, 122, 84), (5, "Q", 144, 87, 60), (5, "H", 106, 64, 44),
    (6, "L", 322, 195, 134), (6, "M", 255, 154, 106), (6, "Q", 178, 108, 74), (6, "H", 139, 84, 58),
    (7, "L", 370, 224, 154), (7, "M", 293, 178, 122), (7, "Q", 207, 125, 86), (7, "H", 154, 93, 64),
    (8, "L", 461, 279, 192), (8, "M", 365, 221, 152), (8, "Q", 259, 157, 108), (8, "H", 202, 122, 84),
    (9, "L", 552, 335, 230), (9, "M", 432, 262, 180), (9, "Q", 312, 189, 130), (9, "H", 235, 143, 98),
    (10, "L", 652, 395, 271), (10, "M", 513, 311, 213), (10, "Q", 364, 221, 151), (10, "H", 288, 174, 119),
    (11, "L", 772, 468, 321), (11, "M", 604, 366, 251), (11, "Q", 427, 259, 177), (11, "H", 331, 200, 137),
    (12, "L", 883, 535, 367), (12, "M", 691, 419, 287), (12, "Q", 489, 296, 203), (12, "H", 374, 227, 155),
]  # fmt: skip


def digits_of(count: int) -> list[util.QRData]:
    return [util.QRData("1" * count, mode=util.MODE_NUMBER)]


def bytes_of(count: int) -> list[util.QRData]:
    return [util.QRData("a" * count, mode=util.MODE_8BIT_BYTE)]


@pytest.mark.parametrize(("version", "level", "digits", "_letters", "_bytes"), CAPACITY)
def test_digits_fill_a_version_to_its_capacity(version: int, level: str, digits: int, _letters: int, _bytes: int) -> None:
    """The tabled number of digits fits the version; one more takes the next. The count alone says the same."""
    full = make_symbol("digits", level=level, max_version=40, parts=digits_of(digits))
    over = make_symbol("digits", level=level, max_version=40, parts=digits_of(digits + 1))
    assert (full.version, over.version) == (version, version + 1)
    assert version_for("digits", level, digits_of(digits)) == version
    assert version_for("digits", level, digits_of(digits + 1)) == version + 1


@pytest.mark.parametrize(("version", "level", "_digits", "letters", "_bytes"), CAPACITY)
def test_letters_fill_a_version_to_its_capacity(version: int, level: str, _digits: int, letters: int, _bytes: int) -> None:
    """The tabled number of alphanumeric characters fits the version; one more takes the next. The count says the same."""
    full = make_symbol("A" * letters, level=level, max_version=40)
    over = make_symbol("A" * (letters + 1), level=level, max_version=40)
    assert (full.version, over.version) == (version, version + 1)
    assert (version_for("A" * letters, level), version_for("A" * (letters + 1), level)) == (version, version + 1)


@pytest.mark.parametrize(("version", "level", "_digits", "_letters", "count"), CAPACITY)
def test_bytes_fill_a_version_to_its_capacity(version: int, level: str, _digits: int, _letters: int, count: int) -> None:
    """The tabled number of bytes fits the version; one more takes the next."""
    full = make_symbol("bytes", level=level, max_version=40, parts=bytes_of(count))
    over = make_symbol("bytes", level=level, max_version=40, parts=bytes_of(count + 1))
    assert (full.version, over.version) == (version, version + 1)


@pytest.mark.parametrize(("characters", "side"), [(1, 21), (61, 29), (178, 45), (311, 57), (419, 65)])
def test_a_side_has_17_and_4_modules_a_version(characters: int, side: int) -> None:
    """Versions 1, 3, 7, 10 and 12 have 21, 29, 45, 57 and 65 modules (ISO/IEC 18004)."""
    assert make_symbol("A" * characters, level="M", max_version=40).matrix.shape == (side, side)


def test_the_quiet_zone_is_four_modules() -> None:
    """ISO/IEC 18004: four modules on every side."""
    assert QUIET_MODULES == 4


def test_finder_patterns_stand_in_three_corners() -> None:
    """7 by 7 with a 3 by 3 core (ISO/IEC 18004 7.3, from memory), in three corners of four."""
    ring = np.ones((7, 7), dtype=bool)
    ring[1:6, 1:6] = False
    ring[2:5, 2:5] = True
    matrix = make_symbol(LINK, level="Q", max_version=40).matrix
    assert np.array_equal(matrix[:7, :7], ring)
    assert np.array_equal(matrix[:7, -7:], ring)
    assert np.array_equal(matrix[-7:, :7], ring)
    assert not np.array_equal(matrix[-7:, -7:], ring)


def test_a_capsule_is_three_segments() -> None:
    """The link is alphanumeric, "#" a byte and the record digits, whatever the link's length."""
    modes = [segment.mode for segment in segments("HTTPS://A/L/1#12345")]
    assert modes == [util.MODE_ALPHA_NUM, util.MODE_8BIT_BYTE, util.MODE_NUMBER]


def test_a_link_is_one_segment() -> None:
    """A link alone is alphanumeric throughout."""
    assert [segment.mode for segment in segments(LINK)] == [util.MODE_ALPHA_NUM]


@pytest.mark.parametrize("text", ["", "https://a/l/1", "#12", "HTTPS://A/L/1#", "HTTPS://A/L/1#12A", "HTTPS://A/L/1#٣"])
def test_other_texts_have_no_place_in_a_label_code(text: str) -> None:
    """Lower case, a missing part, letters or foreign digits after "#" are refused."""
    with pytest.raises(LabelError) as caught:
        segments(text)
    assert caught.value.kind == "bad-text"


# Bits by ISO/IEC 18004 7.4 (4 mode bits and a count field a segment), held against Table 7's data codewords.
@pytest.mark.parametrize(("size", "version"), [(185, 10), (222, 11), (236, 12), (300, 13)])
def test_records_stay_within_their_version(size: int, version: int) -> None:
    """Behind a host of 13 characters 185, 222, 236 and 300 bytes take versions 10, 11, 12 and 13 at level M."""
    symbol = make_symbol(capsule(size), level="M", max_version=15)
    assert (symbol.version, symbol.level) == (version, "M")


def test_a_better_level_is_taken_where_it_is_free() -> None:
    """33 characters need version 3 at Q (47), where H holds 35: H is printed."""
    symbol = make_symbol(LINK, level="Q", max_version=40)
    assert (len(LINK), symbol.version, symbol.level) == (33, 3, "H")


def test_a_code_too_big_says_what_it_needs() -> None:
    """The refusal names the version needed and the largest that fits, and has a hint."""
    with pytest.raises(LabelError, match=r"version 13 .* version 12") as caught:
        make_symbol(capsule(300), level="M", max_version=12)
    assert (caught.value.kind, bool(caught.value.hint)) == ("too-big", True)


def test_more_than_any_code_holds_is_too_big() -> None:
    """5597 digits exceed version 40 at level M (5596)."""
    with pytest.raises(LabelError) as caught:
        make_symbol("digits", level="M", max_version=40, parts=digits_of(5597))
    assert caught.value.kind == "too-big"


def test_no_version_is_named_for_what_none_holds() -> None:
    """Counting alone refuses 5597 digits at level M as drawing does."""
    with pytest.raises(LabelError) as caught:
        version_for("digits", "M", digits_of(5597))
    assert caught.value.kind == "too-big"


def test_a_code_asked_for_again_is_the_one_drawn_before() -> None:
    """A layout that tries several sizes has its code drawn once, and nobody can change it."""
    first = make_symbol(LINK, level="Q", max_version=3)
    assert make_symbol(LINK, level="Q", max_version=9) is first
    assert not first.matrix.flags.writeable


def test_the_same_name_with_other_segments_is_another_code() -> None:
    """What is drawn are the segments, whatever text stands beside them."""
    one = make_symbol("digits", level="M", max_version=40, parts=digits_of(3))
    other = make_symbol("digits", level="M", max_version=40, parts=digits_of(4))
    assert not np.array_equal(one.matrix, other.matrix)


@settings(max_examples=25, deadline=None)
@given(data=st.binary(min_size=1, max_size=300), host=st.from_regex(r"[A-Z][A-Z0-9.-]{3,29}", fullmatch=True))
def test_every_code_reads_back(data: bytes, host: str) -> None:
    """An independent decoder reads exactly the text, at a level no worse than asked."""
    text = f"HTTPS://{host}/L/7K3D9QXW6#{int.from_bytes(bytes([1]) + data, 'big')}"
    symbol = make_symbol(text, level="M", max_version=40)
    picture = Image.fromarray(np.pad(~symbol.matrix, 4, constant_values=True)).convert("L")
    large = picture.resize((picture.width * 4, picture.height * 4), Image.Resampling.NEAREST)
    found = zxingcpp.read_barcodes(large, formats=zxingcpp.BarcodeFormat.QRCodeModel2)
    assert [(one.text, one.ec_level) for one in found] == [(text, symbol.level)]
    assert symbol.level in "MQH"
