"""Deterministic CBOR: one encoding for each value, every other one refused."""

from __future__ import annotations

from typing import Any
from unicodedata import normalize

import cbor2
import pytest
from hypothesis import given
from hypothesis import strategies as st

from vault.errors import GearkeepError, VerificationError
from vault.trust import cbor

INTEGERS = st.integers(min_value=-(2**64), max_value=2**64 - 1)
TEXTS = st.text(st.characters(codec="utf-8", exclude_categories=["Cc"])).map(lambda text: normalize("NFC", text))
KEYS = st.integers(min_value=0, max_value=2**64 - 1)
VALUES = st.recursive(
    st.none() | INTEGERS | st.binary(max_size=300) | TEXTS,
    lambda inner: st.lists(inner, max_size=6) | st.dictionaries(KEYS, inner, max_size=6),
    max_leaves=20,
)

# RFC 8949 Appendix A, the rows that lie in the subset.
ACCEPTED = [
    ("00", 0),
    ("17", 23),
    ("1818", 24),
    ("1903e8", 1000),
    ("1a000f4240", 1000000),
    ("1b000000e8d4a51000", 1000000000000),
    ("1bffffffffffffffff", 18446744073709551615),
    ("3bffffffffffffffff", -18446744073709551616),
    ("20", -1),
    ("3903e7", -1000),
    ("f6", None),
    ("40", b""),
    ("4401020304", b"\x01\x02\x03\x04"),
    ("60", ""),
    ("62225c", '"\\'),
    ("62c3bc", "ü"),
    ("63e6b0b4", "水"),
    ("64f0908591", "𐅑"),
    ("80", []),
    ("8301820203820405", [1, [2, 3], [4, 5]]),
    ("98190102030405060708090a0b0c0d0e0f101112131415161718181819", list(range(1, 26))),
    ("a0", {}),
    ("a201020304", {1: 2, 3: 4}),
]

# (bytes, failure class). "A": RFC 8949 Appendix A, outside the subset; "F": RFC 8949 Appendix F, not well-formed;
# the others follow from section 4.2.1 or from the subset.
REFUSED = [
    ("f90000", "not-deterministic"),  # A: 0.0
    ("fb3ff199999999999a", "not-deterministic"),  # A: 1.1
    ("f4", "not-deterministic"),  # A: false
    ("f5", "not-deterministic"),  # A: true
    ("f7", "not-deterministic"),  # A: undefined
    ("f0", "not-deterministic"),  # A: simple(16)
    ("f8ff", "not-deterministic"),  # A: simple(255)
    ("c249010000000000000000", "not-deterministic"),  # A: bignum
    ("c11a514b67b0", "not-deterministic"),  # A: time, tag 1
    ("c074323031332d30332d32315432303a30343a30305a", "not-deterministic"),  # A: time, tag 0
    ("d818456449455446", "not-deterministic"),  # A: embedded CBOR, tag 24
    ("d81c00", "not-deterministic"),  # tag 28, shared value
    ("d9d9f700", "not-deterministic"),  # tag 55799, self-described CBOR
    ("5f42010243030405ff", "not-deterministic"),  # A: indefinite byte string
    ("7f657374726561646d696e67ff", "not-deterministic"),  # A: indefinite text
    ("9fff", "not-deterministic"),  # A: indefinite array
    ("bf6346756ef563416d7421ff", "not-deterministic"),  # A: indefinite map
    ("a26161016162820203", "not-deterministic"),  # A: text keys
    ("1817", "not-deterministic"),  # 23 in two bytes
    ("1900ff", "not-deterministic"),  # 255 in three
    ("1a0000ffff", "not-deterministic"),  # 65535 in five
    ("1b00000000ffffffff", "not-deterministic"),  # 2**32 - 1 in nine
    ("3817", "not-deterministic"),  # -24 in two
    ("580100", "not-deterministic"),  # byte string with a long length
    ("780161", "not-deterministic"),  # text with a long length
    ("980100", "not-deterministic"),  # array with a long length
    ("b8010000", "not-deterministic"),  # map with a long length
    ("a203040102", "not-deterministic"),  # keys out of order
    ("a201020103", "not-deterministic"),  # a key twice
    ("a12000", "not-deterministic"),  # a negative key
    ("a1810100", "not-deterministic"),  # an array as a key
    ("a1a00000", "not-deterministic"),  # a map as a key
    ("a1f600", "not-deterministic"),  # null as a key
    ("0000", "not-deterministic"),  # a byte behind the value
    ("6100", "not-deterministic"),  # U+0000
    ("610a", "not-deterministic"),  # a line end in a text
    ("617f", "not-deterministic"),  # U+007F
    ("62c285", "not-deterministic"),  # U+0085
    ("6375cc88", "not-deterministic"),  # u and a combining diaeresis, not composed
    ("81" * 9 + "00", "not-deterministic"),  # nine arrays deep
    ("81" * 60000 + "00", "not-deterministic"),
    ("a100" * 9 + "00", "not-deterministic"),  # nine maps deep
    ("", "truncated"),
    ("18", "truncated"),  # F: end of input in a head
    ("1b01020304050607", "truncated"),  # F
    ("41", "truncated"),  # F: definite-length strings with short data
    ("61", "truncated"),  # F
    ("5affffffff00", "truncated"),  # F
    ("5bffffffffffffffff010203", "truncated"),  # F
    ("7affffffff00", "truncated"),  # F
    ("81", "truncated"),  # F: definite-length arrays and maps not closed with enough items
    ("818181818181818181", "not-deterministic"),  # F, and too deep besides
    ("8200", "truncated"),  # F
    ("a1", "truncated"),  # F
    ("a20102", "truncated"),  # F
    ("a100", "truncated"),  # F
    ("9bffffffffffffffff", "truncated"),
    ("bbffffffffffffffff", "truncated"),
    ("1c", "not-cbor"),  # F: reserved additional information
    ("5d", "not-cbor"),  # F
    ("9e", "not-cbor"),  # F
    ("dc", "not-cbor"),  # F
    ("fe", "not-cbor"),  # F
    ("ff", "not-cbor"),  # F: break on its own
    ("81ff", "not-cbor"),  # F: break in a definite-length array
    ("a1ff00", "not-cbor"),  # F: break in a definite-length map
    ("1f", "not-cbor"),  # F: indefinite length where there is none
    ("3f", "not-cbor"),  # F
    ("df", "not-cbor"),  # F
    ("61ff", "not-cbor"),  # no UTF-8
    ("62c080", "not-cbor"),  # an overlong zero
    ("63eda080", "not-cbor"),  # half of a surrogate pair
]


@pytest.mark.parametrize(("encoded", "value"), ACCEPTED)
def test_the_published_examples_of_the_subset(encoded: str, value: Any) -> None:
    """Each row is read as its value and written as its bytes."""
    assert cbor.decode(bytes.fromhex(encoded)) == value
    assert cbor.encode(value).hex() == encoded


@pytest.mark.parametrize(("encoded", "kind"), REFUSED, ids=[case[0][:24] or "empty" for case in REFUSED])
def test_everything_else_is_refused(encoded: str, kind: str) -> None:
    """Each row causes its failure class and nothing else."""
    with pytest.raises(VerificationError) as caught:
        cbor.decode(bytes.fromhex(encoded))
    assert caught.value.kind == kind
    assert caught.value.what


def test_keys_stand_in_bytewise_order() -> None:
    """RFC 8949 4.2.1: 10, 100, -1 in this order, whatever order they came in."""
    assert cbor.encode({-1: 0, 100: 0, 10: 0}, negative_keys=True).hex() == "a30a001864002000"


def test_key_order_is_not_that_of_the_older_rule() -> None:
    """By RFC 8949 4.2.1 {1, 300, -1, -300}; RFC 7049 would put -1 before 300 as the shorter."""
    assert cbor.encode({-300: 9, 300: 4, -1: 3, 1: 2}, negative_keys=True).hex() == "a4010219012c04200339012b09"


def test_keys_in_the_older_order_are_refused() -> None:
    """The same map in the order of RFC 7049 is not deterministic."""
    with pytest.raises(VerificationError) as caught:
        cbor.decode(bytes.fromhex("a40102200319012c0439012b09"), negative_keys=True)
    assert caught.value.kind == "not-deterministic"


@given(VALUES)
def test_what_is_written_is_read(value: Any) -> None:
    """Every value of the subset comes back."""
    assert cbor.decode(cbor.encode(value, max_depth=99), max_depth=99) == value


@given(VALUES)
def test_another_implementation_reads_the_same(value: Any) -> None:
    """cbor2 reads the bytes as the same value."""
    assert cbor2.loads(cbor.encode(value, max_depth=99)) == value


@given(st.binary(max_size=200))
def test_any_bytes_are_read_in_one_way_or_refused(data: bytes) -> None:
    """Whatever is accepted encodes to the very same bytes; whatever is not is a VerificationError."""
    try:
        value = cbor.decode(data)
    except VerificationError:
        return
    assert cbor.encode(value) == data


@given(VALUES, st.data())
def test_every_beginning_of_a_value_is_truncated(value: Any, data: st.DataObject) -> None:
    """Bytes cut short are never read as something else."""
    encoded = cbor.encode(value, max_depth=99)
    cut = data.draw(st.integers(min_value=0, max_value=len(encoded) - 1))
    with pytest.raises(VerificationError) as caught:
        cbor.decode(encoded[:cut], max_depth=99)
    assert caught.value.kind == "truncated"


def test_size_is_checked_first() -> None:
    """One byte more than allowed is refused before it is read."""
    assert cbor.decode(b"\x00", max_bytes=1) == 0
    with pytest.raises(VerificationError) as caught:
        cbor.decode(b"\x00\x00", max_bytes=1)
    assert caught.value.kind == "too-large"


@pytest.mark.parametrize(
    "value",
    [
        True,
        1.5,
        2**64,
        -(2**64) - 1,
        "line\nend",
        "u\u0308",
        "\ud800",
        {"text": 1},
        {True: 1},
        {-1: 1},
        {1, 2},
        pytest.param(object(), id="an object"),
        [[[[[[[[[0]]]]]]]]],
    ],
    ids=repr,
)
def test_what_lies_outside_the_subset_is_not_written(value: object) -> None:
    """A value that could not be read back is refused when it is written."""
    with pytest.raises(GearkeepError) as caught:
        cbor.encode(value)
    assert caught.value.kind == "bad-payload"
