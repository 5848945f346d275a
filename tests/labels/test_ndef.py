"""Stickers: the NDEF message against outside bytes, what is refused, and a reader's tag object."""

from __future__ import annotations

import contextlib
import sys
from dataclasses import dataclass
from types import SimpleNamespace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labels.errors import LabelError
from labels.ndef import MAX_MESSAGE_BYTES, StickerText, capacities_for, external_type_of, message, parse_message
from labels.nfc_reader import open_sticker, read_octets, write_octets

LINK, TYPE = "https://example.com/a/1", "example.com:rec"

# NFC Forum NDEF 1.0 section 3, RTD 1.0 and RTD-URI 1.0 (prefix 04 https://, 02 https://www., 00 none, 03 http://).
URI_BODY = "011055046578616d706c652e636f6d2f612f31"
TYPE_HEX = "6578616d706c652e636f6d3a726563"
URI_ALONE = bytes.fromhex("d1" + URI_BODY)
BOTH = bytes.fromhex("91" + URI_BODY + "540f01" + TYPE_HEX + "01")
LONG = bytes.fromhex("91" + URI_BODY + "440f0000012c" + TYPE_HEX) + bytes(300)
EXTERNAL_ALONE = bytes.fromhex("d40f04" + TYPE_HEX + "01020304")
TEXT = bytes.fromhex("d101085402656e48656c6c6f")
CBOR = bytes.fromhex("d210036170706c69636174696f6e2f63626f72a10a00")

HOSTS = st.from_regex(r"[a-z0-9]([a-z0-9-]{0,10}[a-z0-9])?(\.[a-z]{2,5}){1,2}", fullmatch=True)
PATHS = st.from_regex(r"[A-Za-z0-9/._~-]{0,40}", fullmatch=True)


@pytest.mark.parametrize(("capsule", "expected"), [
    (None, URI_ALONE),
    (b"\x01", BOTH),
    (bytes.fromhex("01020304"), bytes.fromhex("91" + URI_BODY + "540f04" + TYPE_HEX + "01020304")),
    (bytes(300), LONG),
])
def test_a_message_is_what_the_forum_s_rules_make_of_it(capsule: bytes | None, expected: bytes) -> None:
    """Flags, lengths, the shortened link; beyond 255 bytes a record has four bytes of length (NDEF 1.0, 3.2.4)."""
    assert message(LINK, TYPE, capsule) == expected
    assert parse_message(expected, TYPE) == StickerText(link=LINK, capsule=capsule)


@pytest.mark.parametrize(("data", "link", "capsule"), [
    (b"\xd1\x01\x18\x55\x00https://example.com/a/1", LINK, None),
    (b"\xd1\x01\x10\x55\x02example.com/a/1", "https://www.example.com/a/1", None),
    (bytes.fromhex("91" + URI_BODY + "540f01") + b"Example.COM:Rec\x07", LINK, b"\x07"),
    (b"\x99\x01\x10\x01U1\x04example.com/a/1\x5c\x0f\x01\x01example.com:rec2\x07", LINK, b"\x07"),
], ids=["link not shortened", "shortened with www", "type in capitals", "with ids"])
def test_other_writers_of_the_same_are_read(data: bytes, link: str, capsule: bytes | None) -> None:
    """The standards leave a writer some choice."""
    assert parse_message(data, TYPE) == StickerText(link=link, capsule=capsule)


@pytest.mark.parametrize(("data", "kind", "said"), [
    (b"", "not-ndef", "nothing in it"),
    (b"\x07", "not-ndef", "no NDEF message"),
    (b"HTTPS://EXAMPLE.COM/L/7K3D9QXW6", "not-ndef", "no NDEF message"),
    (URI_ALONE[:-1], "truncated", "after 19 bytes"),
    (BOTH[: len(URI_ALONE)], "truncated", "middle of a record"),
    (BOTH[:-1], "truncated", "middle of a record"),
    (URI_ALONE + b"\xfe", "not-ndef", "1 bytes stand behind"),
    (b"\x03\x14" + URI_ALONE + b"\xfe", "not-ndef", "no NDEF message"),  # with the TLV around it
    (bytes(MAX_MESSAGE_BYTES + 1), "not-ndef", "more than any sticker"),
    (b"\xd1\x01\x02\x55\x24a", "not-ndef", "no NDEF message"),
    (b"\xd1\x01\x03\x55\x04\xff\xff", "not-ndef", "no NDEF message"),
    (b"\xd0\x00\x00", "foreign-sticker", "It is empty"),
    (EXTERNAL_ALONE, "foreign-sticker", "not begin with a link"),
    (TEXT, "foreign-sticker", "not begin with a link"),
    (CBOR, "foreign-sticker", "not begin with a link"),
    (bytes.fromhex("d1010e55026e66632d666f72756d2e6f7267"), "foreign-sticker", "nfc-forum.org"),
    (b"\xd1\x01\x10\x55\x03example.com/a/1", "foreign-sticker", "http://example.com"),
    (b"\xd1\x01\x12\x55\x04example.com/a/1#2", "foreign-sticker", "#2"),
    (b"\x91" + bytes.fromhex(URI_BODY) + b"\x54\x0f\x01example.org:rec\x01", "foreign-sticker", "example.org:rec"),
    (b"\x91" + bytes.fromhex(URI_BODY) + b"\x54\x0f\x01example.com:rex\x01", "foreign-sticker", "example.com:rex"),
    (b"\x91" + bytes.fromhex(URI_BODY) + b"\x51" + TEXT[1:], "foreign-sticker", "urn:nfc:wkt:T"),
    (b"\x91" + bytes.fromhex(URI_BODY) + b"\x14" + EXTERNAL_ALONE[1:] + b"\x54" + EXTERNAL_ALONE[1:], "foreign-sticker",
     "3 records"),
    (b"\x91" + bytes.fromhex(URI_BODY) + b"\x54\x0f\x00" + bytes.fromhex(TYPE_HEX), "truncated", "holds nothing"),
])
def test_what_is_no_sticker_of_this_kind_is_refused(data: bytes, kind: str, said: str) -> None:
    """Each with its class and with what was found."""
    with pytest.raises(LabelError) as refused:
        parse_message(data, TYPE)
    assert (refused.value.kind, said in refused.value.what, bool(refused.value.hint)) == (kind, True, True)


@pytest.mark.parametrize(("link", "external_type", "capsule"), [
    ("http://example.com/a/1", TYPE, None), ("https://example.com", TYPE, None), ("https://example.com/a/1#5", TYPE, None),
    (LINK, "example.org:rec", None), (LINK, "example.com:Rec", None), (LINK, "example.com:", None), (LINK, "rec", None),
    (LINK, TYPE, b""), (LINK, TYPE, bytes(MAX_MESSAGE_BYTES)), (LINK + "9" * MAX_MESSAGE_BYTES, TYPE, None),
])
def test_what_could_not_be_read_back_is_not_made(link: str, external_type: str, capsule: bytes | None) -> None:
    """A link without host and path, another domain's type, a capsule of nothing, more than any sticker holds."""
    with pytest.raises(LabelError) as refused:
        message(link, external_type, capsule)
    assert refused.value.kind == "bad-text"


@given(host=HOSTS, path=PATHS, capsule=st.none() | st.binary(min_size=1, max_size=1300))
def test_what_is_written_is_read(host: str, path: str, capsule: bytes | None) -> None:
    """Any link and any bytes come back, under the type that belongs to the link."""
    link = f"https://{host}/{path}"
    said = parse_message(message(link, external_type_of(link), capsule))
    assert (said.link, said.capsule) == (link, capsule)


@given(data=st.binary(max_size=80) | st.builds(
    lambda at, put, by: BOTH[:at] + put + BOTH[at + by:], st.integers(0, len(BOTH)), st.binary(max_size=4), st.integers(0, 4)))
def test_hostile_bytes_raise_nothing_else(data: bytes) -> None:
    """Whatever a sticker holds, it is read or refused."""
    with contextlib.suppress(LabelError):
        parse_message(data, TYPE)


@pytest.mark.parametrize(("size_bytes", "memory_bytes"), [
    (1, (144, 504, 888)), (137, (144, 504, 888)), (138, (504, 888)), (492, (504, 888)), (493, (888,)), (868, (888,)), (869, ()),
])
def test_a_message_s_length_tells_the_stickers(size_bytes: int, memory_bytes: tuple[int, ...]) -> None:
    """137, 492 and 868 bytes on tags of 144, 504 and 888 (common practice, no source)."""
    assert tuple(one.memory_bytes for one in capacities_for(size_bytes)) == memory_bytes


@dataclass(kw_only=True)
class FakeArea:
    """A tag's NDEF area: what is assigned shows at once, what the memory keeps after it was read again."""

    shown: bytes = b""
    memory: bytes = b""
    capacity: int = 137
    is_writeable: bool = True
    sticks: bool = True

    @property
    def octets(self) -> bytes:
        return self.shown

    @octets.setter
    def octets(self, data: bytes) -> None:
        self.shown = data
        self.memory = data if self.sticks else self.memory

    @property
    def has_changed(self) -> bool:
        self.shown = self.memory
        return True


@dataclass
class FakeTag:
    """A sticker in the field."""

    ndef: FakeArea | None


@pytest.mark.parametrize("held", [b"", b"\xd0\x00\x00", BOTH])
def test_a_sticker_holds_what_was_written(held: bytes) -> None:
    """On a blank one, and on one that says the same already."""
    tag = FakeTag(FakeArea(shown=held, memory=held))
    write_octets(tag, BOTH)
    assert read_octets(tag) == BOTH


@pytest.mark.parametrize(("area", "kind", "after"), [
    (None, "not-formatted", None),
    (FakeArea(is_writeable=False), "read-only", b""),
    (FakeArea(capacity=len(BOTH) - 1), "sticker-too-small", b""),
    (FakeArea(shown=TEXT, memory=TEXT), "sticker-in-use", TEXT),
    (FakeArea(sticks=False), "not-as-written", b""),
])
def test_a_sticker_that_cannot_be_written_is_refused(area: FakeArea | None, kind: str, after: bytes | None) -> None:
    """Before anything is written; and what did not stay there is noticed."""
    with pytest.raises(LabelError) as refused:
        write_octets(FakeTag(area), BOTH)
    assert (refused.value.kind, area and area.memory) == (kind, after)


def test_another_message_is_replaced_when_asked() -> None:
    """With overwrite."""
    tag = FakeTag(FakeArea(shown=TEXT, memory=TEXT))
    write_octets(tag, BOTH, overwrite=True)
    assert read_octets(tag) == BOTH


def test_an_unformatted_sticker_is_not_read() -> None:
    """It has no NDEF area."""
    with pytest.raises(LabelError) as refused:
        read_octets(FakeTag(None))
    assert refused.value.kind == "not-formatted"


def test_without_nfcpy_it_says_how_to_get_it(monkeypatch: pytest.MonkeyPatch) -> None:
    """The extra is named."""
    monkeypatch.setitem(sys.modules, "nfc", None)
    with pytest.raises(LabelError) as refused, open_sticker():
        pass
    assert (refused.value.kind, "gearkeep[nfc]" in refused.value.hint) == ("no-nfc", True)


class Lost(Exception):
    """What nfcpy raises for a sticker that does not answer."""


class FakeReader:
    """nfcpy's front end as far as it is used: `found` and `tag` are set by a test."""

    found: bool | OSError = True
    tag: object = None

    def open(self, _path: str) -> bool:
        if isinstance(self.found, OSError):
            raise self.found
        return self.found

    def connect(self, **_options: object) -> object:
        return self.tag

    def close(self) -> None:
        pass


@pytest.mark.parametrize(("found", "tag", "kind"), [
    (False, None, "no-reader"), (PermissionError(13, "Permission denied"), None, "no-reader"), (True, None, "no-sticker"),
    (True, False, "no-sticker"), (True, FakeTag(None), "sticker-lost"),
])
def test_a_reader_that_finds_nothing_says_so(monkeypatch: pytest.MonkeyPatch, found: bool | OSError, tag: object,
                                             kind: str) -> None:
    """No reader, no right to use it, no sticker, a sticker taken away too early."""
    names = {"ContactlessFrontend": FakeReader, "tag": SimpleNamespace(TagCommandError=Lost), "clf": SimpleNamespace(Error=Lost)}
    monkeypatch.setitem(sys.modules, "nfc", SimpleNamespace(**names))
    monkeypatch.setattr(FakeReader, "found", found)
    monkeypatch.setattr(FakeReader, "tag", tag)
    with pytest.raises(LabelError) as refused, open_sticker("usb"):
        raise Lost
    assert refused.value.kind == kind
