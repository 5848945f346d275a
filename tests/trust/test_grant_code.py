"""Codes of a signers' page: written, read, and refused."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labels.code import segments
from vault.errors import GearkeepError, VerificationError
from vault.trust.capsule import parse_text
from vault.trust.grant_code import MAX_STATEMENT_BYTES, GrantCode, grant_text, is_grant_code, parse_grant_text

HOSTS = st.from_regex(r"[A-Z0-9]{2,10}(\.[A-Z0-9][A-Z0-9-]{0,6}[A-Z0-9]){1,2}", fullmatch=True)
COUNTS = st.integers(min_value=1, max_value=99_999)
CODES = COUNTS.flatmap(lambda count: st.builds(
    GrantCode, host=HOSTS, place=st.integers(min_value=0, max_value=2**40), number=st.integers(min_value=1, max_value=count),
    count=st.just(count), signed_bytes=st.binary(min_size=1, max_size=MAX_STATEMENT_BYTES)))
GOOD = "HTTPS://LX.EXAMPLE.EU/S/17/3-8#388"  # 388 = 0x0184: version 1, one byte


@given(CODES)
def test_a_code_is_read_back(code: GrantCode) -> None:
    """Host, place, number, count and every byte come back, leading zeros included."""
    assert is_grant_code(grant_text(code)) and parse_grant_text(grant_text(code)) == code


@given(CODES)
def test_a_code_can_be_printed(code: GrantCode) -> None:
    """The text has the three segments that a code is made of: a link, the sign, digits."""
    assert len(segments(grant_text(code))) == 3


@given(CODES)
def test_it_is_no_label(code: GrantCode) -> None:
    """A reader of labels refuses it as a foreign link."""
    with pytest.raises(VerificationError) as caught:
        parse_text(grant_text(code))
    assert caught.value.kind == "foreign-link"


@given(st.text() | st.text(alphabet="HTPS:/0123456789-#.LXE").map(lambda tail: "HTTPS://LX.EXAMPLE.EU/S/" + tail))
def test_any_other_text_is_refused_in_words(text: str) -> None:
    """Whatever a camera reads, nothing but the vault's own error comes of it."""
    try:
        parse_grant_text(text)
    except GearkeepError as problem:
        assert problem.what and problem.kind


@pytest.mark.parametrize("text", [GOOD, GOOD.lower(), f"  {GOOD}\r\n"])
def test_reading_forgives_case_and_white_space(text: str) -> None:
    """A phone may write the link in its own case."""
    assert parse_grant_text(text) == GrantCode(host="LX.EXAMPLE.EU", place=17, number=3, count=8, signed_bytes=b"\x84")


@pytest.mark.parametrize(("text", "kind"), [
    (GOOD.replace("/S/", "/L/"), "foreign-link"), (GOOD.replace("3-8", "9-8"), "foreign-link"),
    (GOOD.replace("3-8", "0-8"), "foreign-link"), (GOOD.replace("17", "017"), "foreign-link"),
    (GOOD.replace("17", "9999999999999"), "foreign-link"), (GOOD.replace("17", "-1"), "foreign-link"),
    (GOOD.replace("#388", ""), "foreign-link"), (GOOD.replace("LX.EXAMPLE.EU", "A"), "foreign-link"),
    (GOOD.replace("388", ""), "bad-digits"), (GOOD.replace("388", "0388"), "bad-digits"),
    (GOOD.replace("388", "38A"), "bad-digits"), (GOOD.replace("388", "٣٨٨"), "foreign-link"),
    (GOOD.replace("388", "1"), "truncated"), (GOOD.replace("388", "644"), "future-version"),  # 0x0284
    (GOOD.replace("388", "1" * 3001), "too-large"), (GOOD.replace("388", "1" * 100_000), "too-large"),
])
def test_each_defect_has_its_class(text: str, kind: str) -> None:
    """What is wrong with a code is told apart."""
    with pytest.raises(VerificationError) as caught:
        parse_grant_text(text)
    assert caught.value.kind == kind


def test_a_statement_too_large_for_a_code_is_refused() -> None:
    """One byte more than a code is made for."""
    code = GrantCode(host="LX.EXAMPLE.EU", place=0, number=1, count=1, signed_bytes=b"x" * (MAX_STATEMENT_BYTES + 1))
    with pytest.raises(VerificationError) as caught:
        grant_text(code)
    assert caught.value.kind == "too-large"
