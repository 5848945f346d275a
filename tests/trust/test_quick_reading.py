"""The quick ways of reading and writing agree with the careful ones, on good bytes and on every kind of broken ones."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import cbor2
import make
import pytest
from hypothesis import given
from hypothesis import strategies as st

sys.path.append(str(Path(__file__).resolve().parents[1] / "domain"))

from any_settings import settings_strategy

from vault.domain.rating import Rating
from vault.domain.record import Record
from vault.domain.settings import Settings
from vault.errors import VerificationError
from vault.trust import cbor, cose, mapping
from vault.trust.quick_cbor import is_plain, quick_value
from vault.trust.quick_mapping import Doubt, quick

SIGNED = list(make.chain().values())
PAYLOADS = [cose.open_envelope(signed).payload for signed in SIGNED]
VALUES: Any = st.recursive(
    st.none() | st.booleans() | st.floats() | st.text(max_size=4) | st.binary(max_size=4)
    | st.integers(min_value=-(2**65), max_value=2**65),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.integers(-3, 300) | st.text(max_size=2), inner, max_size=4),
    max_leaves=12)


def _strict(data: bytes, negative_keys: bool) -> Any:
    value, end = cbor._item(data, 0, cbor.MAX_DEPTH, negative_keys)
    if end != len(data):
        raise VerificationError("something follows", kind="not-deterministic")
    return value


def _agree(data: bytes, negative_keys: bool = False) -> None:
    found = quick_value(data, cbor.MAX_DEPTH, negative_keys)
    if found is not None:
        # repr tells 1 from True and from 1.0.
        assert repr(found[0]) == repr(_strict(data, negative_keys))


@given(st.binary(max_size=60), st.booleans())
def test_any_bytes(data: bytes, negative_keys: bool) -> None:
    """Whatever the quick reader takes, the strict one takes too, as the same value."""
    _agree(data, negative_keys)


@given(VALUES, st.booleans())
def test_anything_that_a_general_encoder_writes(value: Any, negative_keys: bool) -> None:
    """Floats, booleans, large numbers, foreign keys, keys out of order: never taken unless the strict reader takes them."""
    _agree(cbor2.dumps(value), negative_keys)


@given(st.sampled_from(PAYLOADS), st.data())
def test_good_bytes_with_a_mistake(data: bytes, draw: st.DataObject) -> None:
    """A flipped, missing or added byte anywhere in a good payload."""
    at = draw.draw(st.integers(0, len(data) - 1))
    new = draw.draw(st.binary(max_size=2))
    _agree(data[:at] + new + data[at + 1 :])


@pytest.mark.parametrize("payload", PAYLOADS)
def test_good_payloads_take_the_quick_way(payload: bytes) -> None:
    """The quick way is there for what stands in a journal."""
    assert quick_value(payload, cbor.MAX_DEPTH, False) == (_strict(payload, False),)


@pytest.mark.parametrize("tag", [0, 1, 2, 3, 4, 5, 24, 25, 28, 29, 30, 35, 36, 37, 52, 54, 100, 256, 258, 260, 261, 1004, 43000,
                                 55799, 70000])
@pytest.mark.parametrize("inner", [b"\x01", b"\x41a", b"\x61a", b"\x81\x01", b"\xa0"])
def test_a_tag_is_never_acted_on(tag: int, inner: bytes) -> None:
    """No tag is taken, whatever a general decoder would make of it (RFC 8949 section 3.4)."""
    assert quick_value(cbor2.dumps(cbor2.CBORTag(tag, 0))[:-1] + inner, cbor.MAX_DEPTH, True) is None


@given(VALUES)
def test_what_is_written_as_it_stands_is_what_the_careful_writer_writes(value: Any) -> None:
    """A value that is plain needs no other order and no other form."""
    if is_plain(value, cbor.MAX_DEPTH, True):
        assert repr(cbor._plain(value, cbor.MAX_DEPTH, True)) == repr(value)


def _same(kind: type, value: Any) -> None:
    try:
        found = quick(kind, value)
    except Doubt:
        return
    assert found == mapping._careful(kind, value, "") and repr(found) == repr(mapping._careful(kind, value, ""))


@given(settings_strategy())
def test_any_settings(settings: Settings) -> None:
    """The quick mapping gives what the careful one gives, the first time and from what it kept."""
    plain = mapping.to_plain_cbor(settings)
    careful = mapping._careful(Settings, plain, "")
    assert quick(Settings, plain) == quick(Settings, cbor2.loads(cbor2.dumps(plain))) == careful


@given(st.sampled_from([(Record, PAYLOADS[7]), (Record, PAYLOADS[8]), (Rating, PAYLOADS[3])]), st.data())
def test_a_value_of_the_wrong_kind_in_any_field(sample: tuple[type, bytes], draw: st.DataObject) -> None:
    """True for 1, a text for a number, a list for a map: taken by both in the same way or by neither."""
    kind, payload = sample
    value = cbor.decode(payload)
    path: Any = value
    while True:
        key = draw.draw(st.sampled_from(sorted(path))) if isinstance(path, dict) else draw.draw(st.integers(0, len(path) - 1))
        if not isinstance(path[key], dict | list) or not path[key] or draw.draw(st.booleans()):
            break
        path = path[key]
    others = [True, False, 1, 0, 1.0, -1, 2**40, "x", "x ", "", b"", b"x" * 8, None, [], {}, [1], {1: 1}]
    path[key] = draw.draw(st.sampled_from(others))
    _same(kind, value)


@given(st.sampled_from(SIGNED), st.data())
def test_an_envelope_with_a_mistake(signed: bytes, draw: st.DataObject) -> None:
    """A changed, missing or added byte: the quick envelope is the careful one, or there is none."""
    cose.open_envelope(signed)
    at = draw.draw(st.integers(0, len(signed) - 1))
    changed = signed[:at] + draw.draw(st.binary(max_size=2)) + signed[at + 1 :]
    quick_one = cose._quick_envelope(changed)
    if quick_one is not None:
        parts = cose.split1(changed)
        assert (parts.protected_bytes, parts.payload, parts.signature) == (
            quick_one.protected_bytes, quick_one.payload, quick_one.signature)


@pytest.mark.parametrize("size", [0, 1, 23, 24, 255, 256, 65_535, 65_536, 70_000])
def test_what_is_signed_is_what_a_general_encoder_writes(size: int) -> None:
    """Sig_structure by hand is Sig_structure by cbor2 (RFC 9052 section 4.4), at every edge of a length."""
    protected, aad, payload = bytes(size % 300), bytes(size % 30), bytes(size)
    assert cose.sig_structure(protected, aad, payload) == cbor2.dumps(["Signature1", protected, aad, payload])
