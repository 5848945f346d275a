"""The codes at their limits: capacity, the level that is free, segments by their bits, characters, two readers."""

from __future__ import annotations

import random

import numpy as np
import pytest
import zxingcpp
from label_samples import LINK, capsule
from PIL import Image
from pyzbar import pyzbar
from qrcode import constants, util

from labels.code import LINK_CHARACTERS, Symbol, make_symbol, segments
from labels.codewords import codewords
from labels.errors import LabelError

# ISO/IEC 18004 Table 7, as printed in two public reproductions: (version, level, digits, alphanumeric characters).
CAPACITY = [
    (1, "M", 34, 20), (1, "Q", 27, 16), (4, "M", 149, 90), (4, "Q", 111, 67), (5, "M", 202, 122), (5, "Q", 144, 87),
    (6, "M", 255, 154), (6, "Q", 178, 108), (8, "M", 365, 221), (8, "Q", 259, 157), (10, "M", 513, 311),
    (10, "Q", 364, 221), (11, "M", 604, 366), (11, "Q", 427, 259), (12, "M", 691, 419), (12, "Q", 489, 296),
    (40, "M", 5596, 3391), (40, "Q", 3993, 2420),
]  # fmt: skip


def numeric(count: int) -> list[util.QRData]:
    return [util.QRData("7" * count, mode=util.MODE_NUMBER)]


@pytest.mark.parametrize(("version", "level", "digits", "_letters"), CAPACITY)
def test_digits_up_to_the_last_are_held(version: int, level: str, digits: int, _letters: int) -> None:
    """The tabled digits fit into the version when none larger finds room; one more is refused."""
    assert make_symbol("7", level=level, max_version=version, parts=numeric(digits)).version == version
    with pytest.raises(LabelError) as caught:
        make_symbol("7", level=level, max_version=version, parts=numeric(digits + 1))
    assert caught.value.kind == "too-big"


@pytest.mark.parametrize(("version", "level", "_digits", "letters"), CAPACITY)
def test_letters_up_to_the_last_are_held(version: int, level: str, _digits: int, letters: int) -> None:
    """The tabled alphanumeric characters fit into the version when none larger finds room; one more is refused."""
    assert make_symbol("Z" * letters, level=level, max_version=version).version == version
    with pytest.raises(LabelError) as caught:
        make_symbol("Z" * (letters + 1), level=level, max_version=version)
    assert caught.value.kind == "too-big"


# ISO/IEC 18004 Table 7, alphanumeric: version 1 L 25 M 20 Q 16 H 10; 2 L 47 M 38 Q 29 H 20; 3 M 61 Q 47 H 35; 4 H 50.
@pytest.mark.parametrize(
    ("letters", "asked", "version", "given"),
    [
        (10, "M", 1, "H"), (11, "M", 1, "Q"), (16, "M", 1, "Q"), (17, "M", 1, "M"), (20, "M", 1, "M"),
        (21, "M", 2, "Q"), (25, "M", 2, "Q"), (29, "M", 2, "Q"), (30, "M", 2, "M"), (38, "M", 2, "M"),
        (39, "M", 3, "Q"), (47, "M", 3, "Q"), (48, "M", 3, "M"),
        (10, "Q", 1, "H"), (11, "Q", 1, "Q"), (17, "Q", 2, "H"), (20, "Q", 2, "H"), (21, "Q", 2, "Q"),
        (30, "Q", 3, "H"), (35, "Q", 3, "H"), (36, "Q", 3, "Q"), (48, "Q", 4, "H"), (10, "H", 1, "H"), (11, "H", 2, "H"),
    ],
)  # fmt: skip
def test_the_level_is_raised_and_the_version_never(letters: int, asked: str, version: int, given: str) -> None:
    """The version is the least for the level asked for; the level is the best of that version, and never below."""
    symbol = make_symbol("A" * letters, level=asked, max_version=40)
    assert (symbol.version, symbol.level, symbol.modules) == (version, given, 17 + 4 * version)


# ISO/IEC 18004 7.4: 4 mode bits and a count of 9/8/10 bits (alphanumeric/byte/numeric; 11/16/12 from version 10) a
# segment, 11 bits a pair of letters, 10 bits three digits. Level M has 1456, 1728 and 2320 data bits in versions 9, 10, 12.
# The link's 33 characters and "#" leave 1227, 1487 and 2079 bits for the digits.
@pytest.mark.parametrize(("version", "digits"), [(9, 368), (10, 446), (12, 623)])
def test_a_capsule_costs_what_its_three_segments_cost(version: int, digits: int) -> None:
    """The last digit that the bits allow fits, and one more takes the next version."""
    full = make_symbol(f"{LINK}#{'7' * digits}", level="M", max_version=40)
    over = make_symbol(f"{LINK}#{'7' * (digits + 1)}", level="M", max_version=40)
    assert (full.version, over.version) == (version, version + 1)


def test_segments_hold_the_text_in_order() -> None:
    """The three segments are the text cut at "#", and nothing is lost."""
    assert [segment.data for segment in segments("HTTPS://A.B/L/1#0012")] == [b"HTTPS://A.B/L/1", b"#", b"0012"]


@pytest.mark.parametrize(
    "text",
    [
        "HTTPS://A/L 1", "HTTPS://A/L$", "HTTPS://A/L%20", "HTTPS://A/*", "HTTPS://A/L+1", "HTTPS://A/L?X", "HTTPS://Ä/L",
        "HTTPS://A/L\n", "#", "A##1", "A#1#2", "A# 1", "A#-1", "A#1.5", "A#²", "A#x",
    ],
)  # fmt: skip
def test_characters_outside_a_link_are_refused(text: str) -> None:
    """Spaces, signs that a web address would escape, and anything but digits behind "#" are refused with a hint."""
    with pytest.raises(LabelError) as caught:
        make_symbol(text, level="M", max_version=40)
    assert (caught.value.kind, bool(caught.value.hint)) == ("bad-text", True)


# ISO/IEC 18004 Annex I: "01234567" as 1-M; data codewords, then check codewords. From memory, computed anew by other code.
ANNEX_I = "10 20 0C 56 61 80 EC 11 EC 11 EC 11 EC 11 EC 11" + "A5 24 D4 C1 ED 36 C7 87 2C 55"


def test_the_standards_worked_symbol_has_its_codewords() -> None:
    """The worked symbol of ISO/IEC 18004 Annex I: 16 data and 10 check codewords."""
    found = codewords([util.QRData("01234567", mode=util.MODE_NUMBER)], version=1, correction=constants.ERROR_CORRECT_M)
    assert found.tobytes() == bytes.fromhex(ANNEX_I)


def picture_of(symbol: Symbol) -> Image.Image:
    dots = np.kron(np.pad(~symbol.matrix, 4, constant_values=True), np.ones((4, 4), dtype=bool))
    return Image.fromarray(dots).convert("L")


def read_by_zxing(symbol: Symbol) -> list[tuple[str, str]]:
    found = zxingcpp.read_barcodes(picture_of(symbol), formats=zxingcpp.BarcodeFormat.QRCodeModel2)
    return [(one.text, one.ec_level) for one in found]


def read_by_zbar(symbol: Symbol) -> list[bytes]:
    return [one.data for one in pyzbar.decode(picture_of(symbol), symbols=[pyzbar.ZBarSymbol.QRCODE])]


@pytest.mark.parametrize("level", ["M", "Q", "H"])
@pytest.mark.parametrize("text", [LINK, "0", "ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-./:", "A#0", "A#000123", f"{LINK}#{'9' * 99}"])
def test_an_independent_reader_gives_the_text_back(text: str, level: str) -> None:
    """Every character of a link, and leading zeros behind "#", come back exactly and at the level the symbol states."""
    symbol = make_symbol(text, level=level, max_version=40)
    assert read_by_zxing(symbol) == [(text, symbol.level)]


# ISO/IEC 18004 Table 7, alphanumeric characters at M and Q: as printed up to version 12, above it as segno 1.6 holds them.
LETTERS = [
    (2, 38, 29), (3, 61, 47), (4, 90, 67), (5, 122, 87), (6, 154, 108), (7, 178, 125), (8, 221, 157), (9, 262, 189),
    (10, 311, 221), (11, 366, 259), (12, 419, 296), (13, 483, 352), (14, 528, 376), (15, 600, 426), (16, 656, 470),
    (17, 734, 531), (18, 816, 574), (19, 909, 644), (20, 970, 702),
]  # fmt: skip
FULL = [(version, "M", letters) for version, letters, _ in LETTERS] + [(version, "Q", letters) for version, _, letters in LETTERS]


@pytest.mark.parametrize(("version", "level", "letters"), FULL)
def test_two_readers_give_a_full_symbol_back(version: int, level: str, letters: int) -> None:
    """A symbol of each version with as many characters as the table allows is read exactly by zxing-cpp and by zbar."""
    text = "".join(random.Random(letters).choices(sorted(LINK_CHARACTERS), k=letters))
    symbol = make_symbol(text, level=level, max_version=20)
    assert (symbol.version, symbol.level) == (version, level)
    assert read_by_zxing(symbol) == [(text, level)]
    assert read_by_zbar(symbol) == [text.encode()]


@pytest.mark.parametrize("level", ["M", "Q"])
@pytest.mark.parametrize("size", [20, 60, 100, 150, 185, 222, 250, 300, 380])
def test_two_readers_give_a_capsule_back(size: int, level: str) -> None:
    """Three segments, the last with as many digits as records of 20 to 380 bytes have, are read exactly by both readers."""
    text = capsule(size)
    symbol = make_symbol(text, level=level, max_version=20)
    assert read_by_zxing(symbol) == [(text, symbol.level)]
    assert read_by_zbar(symbol) == [text.encode()]


@pytest.mark.parametrize("zeros", [99, 300, 600])
def test_blocks_of_zeros_alone_are_read_back(zeros: int) -> None:
    """Nothing but zeros behind "#" fills whole blocks with zero bits; the text comes back all the same."""
    text = f"A#{'0' * zeros}"
    symbol = make_symbol(text, level="M", max_version=20)
    assert read_by_zxing(symbol) == [(text, symbol.level)]
    assert read_by_zbar(symbol) == [text.encode()]
