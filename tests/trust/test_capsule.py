"""What a label's code says: written, read, and refused."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from vault.domain.tag import tag_from_bits
from vault.errors import GearkeepError
from vault.trust import capsule

HOST = "VAULT.EXAMPLE"
TAG = "".join(filter(None, [tag_from_bits(0)]))
LINK = f"HTTPS://VAULT.EXAMPLE/L/{TAG}"
TAGS = st.integers(min_value=0, max_value=2**40 - 1).map(tag_from_bits).filter(lambda made: made is not None)
HOSTS = st.from_regex(r"[A-Z0-9]{2,10}(\.[A-Z0-9][A-Z0-9-]{0,6}[A-Z0-9]){1,2}", fullmatch=True)
RECORDS = st.binary(min_size=1, max_size=capsule.MAX_RECORD_BYTES)


@given(HOSTS, TAGS, RECORDS)
def test_a_capsule_is_read_back(host: str, tag: str, record: bytes) -> None:
    """Host, tag and every byte of the record come back, leading zeros included."""
    text = capsule.capsule_text(capsule.link(host, tag), record)
    assert capsule.parse_text(text) == capsule.LabelText(host=host, tag=tag, signed_bytes=record)


@given(HOSTS, TAGS)
def test_a_link_is_read_back(host: str, tag: str) -> None:
    """A link label carries no record."""
    assert capsule.parse_text(capsule.link(host, tag)) == capsule.LabelText(host=host, tag=tag, signed_bytes=None)


@given(RECORDS)
def test_digits_are_few(record: bytes) -> None:
    """The largest record stays within the digits that a reader converts."""
    assert len(capsule.capsule_text("", record)) - 1 <= capsule.MAX_DIGITS


@pytest.mark.parametrize(
    ("record", "digits"),
    [
        (b"\x00", "256"),  # 0x0100
        (b"\x00\x00", "65536"),  # 0x010000
        (b"\x84", "388"),  # 0x0184
        (b"\xff\xff", "131071"),  # 0x01ffff
    ],
)
def test_the_number_is_that_of_the_bytes(record: bytes, digits: str) -> None:
    """One version byte, then the record, read as a big-endian number."""
    assert capsule.capsule_text(LINK, record) == f"{LINK}#{digits}"


@pytest.mark.parametrize(
    "text",
    [LINK, LINK.lower(), f"  {LINK}\r\n", LINK.replace("HTTPS", "https").replace("EXAMPLE", "example")],
)
def test_reading_forgives_case_and_white_space(text: str) -> None:
    """A phone's camera may write the link in its own case."""
    assert capsule.parse_text(text) == capsule.LabelText(host=HOST, tag=TAG, signed_bytes=None)


@pytest.mark.parametrize("text", [TAG, TAG.lower(), f"{TAG[:4]} {TAG[4:8]} {TAG[8]}", f" {TAG[:4]}-{TAG[4:]} \n"])
def test_a_tag_may_be_typed_alone(text: str) -> None:
    """A typed tag has no host and no record."""
    assert capsule.parse_text(text) == capsule.LabelText(host=None, tag=TAG, signed_bytes=None)


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("HTTPS://VAULT.EXAMPLE", "foreign-link"),
        ("HTTPS://VAULT.EXAMPLE/", "foreign-link"),
        (f"HTTP://VAULT.EXAMPLE/L/{TAG}", "foreign-link"),
        (f"HTTPS://VAULT.EXAMPLE/M/{TAG}", "foreign-link"),
        (f"HTTPS://VAULT.EXAMPLE/X/L/{TAG}", "foreign-link"),
        (f"HTTPS://VAULT.EXAMPLE:8000/L/{TAG}", "foreign-link"),
        (f"HTTPS://ME@VAULT.EXAMPLE/L/{TAG}", "foreign-link"),
        (f"HTTPS://.EXAMPLE/L/{TAG}", "foreign-link"),
        (f"HTTPS://VAULT..EXAMPLE/L/{TAG}", "foreign-link"),
        (f"HTTPS://ABC/L/{TAG}", "foreign-link"),
        (f"HTTPS://{'A' * 31}/L/{TAG}", "foreign-link"),
        (f"HTTPS://VÄULT.EXAMPLE/L/{TAG}", "foreign-link"),
        (f"HTTP\u017f://VAULT.EXAMPLE/L/{TAG}", "foreign-link"),  # a long s, which upper-cases to S
        (f"{LINK}/", "foreign-link"),
        (f"{LINK}?x=1", "foreign-link"),
        ("tel:123456789", "foreign-link"),
        ("WIFI:S:guest;;", "foreign-link"),
        ("", "bad-tag"),
        ("hello", "bad-tag"),
        ("HTTPS://VAULT.EXAMPLE/L/", "bad-tag"),
        ("HTTPS://VAULT.EXAMPLE/L/#256", "bad-tag"),
        (f"HTTPS://VAULT.EXAMPLE/L/{TAG}0", "bad-tag"),
        (f"{LINK[:-1]}Z", "bad-tag"),
        (f"{LINK}#", "bad-digits"),
        (f"{LINK}#0", "bad-digits"),
        (f"{LINK}#0256", "bad-digits"),
        (f"{LINK}#-256", "bad-digits"),
        (f"{LINK}#25 6", "bad-digits"),
        (f"{LINK}#2_56", "bad-digits"),
        (f"{LINK}#256#256", "bad-digits"),
        (f"{LINK}#25\n6", "bad-digits"),
        (f"{LINK}#1E9", "bad-digits"),
        (f"{LINK}#0X100", "bad-digits"),
        (f"{LINK}#512", "future-version"),  # 0x0200
        (f"{LINK}#65280", "future-version"),  # 0xff00
        (f"{LINK}#1", "truncated"),
        (f"{LINK}#{'9' * 3001}", "too-large"),
        (f"{LINK}#{'9' * 1_000_000}", "too-large"),
    ],
    ids=lambda value: value[:48],
)
def test_a_text_that_is_no_label_is_told_apart(text: str, kind: str) -> None:
    """Each wrong text causes its failure class, with a sentence and a hint or none."""
    with pytest.raises(GearkeepError) as caught:
        capsule.parse_text(text)
    assert caught.value.kind == kind
    assert len(caught.value.what) < 200


@pytest.mark.parametrize("text", ["\u0662\u0665\u0666", "256\u00b2"])
def test_digits_of_other_scripts_are_no_digits(text: str) -> None:
    """A text with anything outside ASCII is no label."""
    with pytest.raises(GearkeepError) as caught:
        capsule.parse_text(f"{LINK}#{text}")
    assert caught.value.kind == "foreign-link"


@given(st.text(max_size=80))
def test_any_text_is_read_or_refused(text: str) -> None:
    """Whatever was scanned, reading gives a tag or a GearkeepError."""
    try:
        assert len(capsule.parse_text(text).tag) == 9
    except GearkeepError as problem:
        assert problem.kind in {"bad-tag", "foreign-link"}


@pytest.mark.parametrize("host", ["", "abc", "a" * 31, "-vault.example", "vault.example-", "va ult", "vault/x", "v..x"])
def test_a_host_that_cannot_stand_on_labels_is_refused(host: str) -> None:
    """Length, characters and ends of a host name are checked before it is printed."""
    with pytest.raises(GearkeepError) as caught:
        capsule.link(host, TAG)
    assert caught.value.kind == "foreign-link"


def test_a_record_too_large_for_a_label_is_refused() -> None:
    """What does not fit is said before anything is drawn."""
    with pytest.raises(GearkeepError) as caught:
        capsule.capsule_text(LINK, bytes(capsule.MAX_RECORD_BYTES + 1))
    assert caught.value.kind == "too-large"
