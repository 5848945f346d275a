"""The checkpoint of an estate: signed, verified by a key known from elsewhere, compared."""

from __future__ import annotations

import json
from dataclasses import replace
from hashlib import sha256
from typing import Any

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from hypothesis import given
from hypothesis import strategies as st

from vault.errors import GearkeepError, UsageProblem, VerificationError
from vault.trust import cbor, cose
from vault.trust.estate import (
    ESTATE_KIND,
    EstateCheckpoint,
    SiteState,
    disagreements,
    estate_id,
    estate_text,
    parse_estate_text,
    sign_estate,
    verify_estate,
)
from vault.trust.keys import public_bytes
from vault.trust.mapping import to_plain_cbor
from vault.trust.signers import Signers
from vault.trust.statements import FORMAT_VERSION
from vault.trust.verify import verify

TIME = 1_900_000_000
KEY, OTHER = (Ed25519PrivateKey.from_private_bytes(bytes([n]) * 32) for n in (1, 2))
PUBLIC = public_bytes(KEY)


def state(number: int, main: int = 10, stock: int = 0, root: bytes = b"a") -> SiteState:
    """One site of these tests."""
    return SiteState(log_id=number.to_bytes(16, "big"), main_size=main, main_root=sha256(root).digest(),
                     stock_log_id=(number + 10_000).to_bytes(16, "big"), stock_size=stock, stock_root=sha256(b"").digest())


def body(*sites: SiteState, **changes: Any) -> EstateCheckpoint:
    """A checkpoint of these sites."""
    return replace(EstateCheckpoint(name="Estate", public_key=PUBLIC, time_s=TIME, sites=sites), **changes)


def signed(content: Any, *, key: Ed25519PrivateKey = KEY, kind: int = ESTATE_KIND, ident: bytes | None = None) -> bytes:
    """Any payload under an estate's signature."""
    return cose.sign_statement(kind, cbor.encode(content), key,
                               cose.external_aad(FORMAT_VERSION, ident or estate_id(public_bytes(key))))


STATES = st.lists(st.integers(1, 9_999), min_size=1, max_size=8, unique=True)


@given(STATES)
def test_what_was_signed_is_read_back_in_order(numbers: list[int]) -> None:
    """Every site, in ascending order of its log id, whatever order they came in."""
    found = verify_estate(sign_estate("Estate", [state(n) for n in numbers], KEY, time_s=TIME), PUBLIC)
    assert [site.log_id for site in found.sites] == [n.to_bytes(16, "big") for n in sorted(numbers)]


def test_five_hundred_sites_are_one_statement() -> None:
    """The most that the format allows stays under 65,536 bytes."""
    whole = sign_estate("Estate", [state(n, 2**40, 2**40) for n in range(1, 501)], KEY, time_s=TIME)
    assert len(whole) < 65_536 and len(verify_estate(whole, PUBLIC).sites) == 500


@pytest.mark.parametrize("sites", [[], [state(1), state(1, 11)], [state(n) for n in range(1, 502)]],
                         ids=["none", "one twice", "501"])
def test_what_is_never_signed(sites: list[SiteState]) -> None:
    """Nothing, a site twice, too many."""
    with pytest.raises(UsageProblem) as caught:
        sign_estate("Estate", sites, KEY, time_s=TIME)
    assert caught.value.kind == "bad-payload"


PLAIN = to_plain_cbor(body(state(1), state(2)))
BAD = {
    "another key": (signed(to_plain_cbor(body(state(1), public_key=public_bytes(OTHER))), key=OTHER), "unknown-signer"),
    "a statement of a vault": (signed(PLAIN, kind=8), "unknown-kind"),
    "bound to another estate": (signed(PLAIN, ident=bytes(16)), "bad-signature"),
    "names another key": (signed({**PLAIN, 2: public_bytes(OTHER)}), "bad-payload"),
    "sites out of order": (signed({**PLAIN, 4: PLAIN[4][::-1]}), "bad-payload"),
    "a site twice": (signed({**PLAIN, 4: PLAIN[4][:1] * 2}), "bad-payload"),
    "no sites": (signed({**PLAIN, 4: []}), "bad-payload"),
    "a field that the format does not have": (signed({**PLAIN, 9: 1}), "bad-payload"),
}


@pytest.mark.parametrize(("whole", "kind"), BAD.values(), ids=BAD.keys())
def test_what_is_refused(whole: bytes, kind: str) -> None:
    """Each with its failure class."""
    with pytest.raises(VerificationError) as caught:
        verify_estate(whole, PUBLIC)
    assert caught.value.kind == kind


def test_no_journal_takes_it() -> None:
    """A vault refuses kind 14."""
    with pytest.raises(VerificationError) as caught:
        verify(signed(PLAIN), log_id=bytes(16), signers=Signers(), place=1)
    assert caught.value.kind == "unknown-kind"


EARLIER = body(state(1), state(2))


@pytest.mark.parametrize(("later", "kinds"), [
    (EARLIER, []), (body(state(1, 11, 4), state(2), state(3)), []), (body(state(1)), ["site-gone"]),
    (body(state(1, 9), state(2)), ["rollback"]), (body(state(1, root=b"b"), state(2)), ["fork"]),
    (body(state(1, 9), state(2, root=b"b")), ["rollback", "fork"]),
], ids=["the same", "grown", "a site gone", "smaller", "another root", "two at once"])
def test_two_are_compared(later: EstateCheckpoint, kinds: list[str]) -> None:
    """Logs only grow, no site goes away, and one size has one root."""
    assert [one.kind for one in disagreements(EARLIER, later)] == kinds


def test_the_file_is_read_back() -> None:
    """Statement and key as they were written."""
    whole = sign_estate("Estate", [state(1)], KEY, time_s=TIME)
    assert parse_estate_text(estate_text(whole, PUBLIC)) == (whole, PUBLIC)


@pytest.mark.parametrize(("content", "kind"), [
    ("", "bad-estate"), ("[]", "bad-estate"), ("{}", "bad-estate"), ("x" * 200_000, "too-large"),
    (json.dumps({"gearkeep-estate": 1, "estate_key": "zz", "statement": ""}), "bad-estate"),
    (json.dumps({"gearkeep-estate": 2, "estate_key": "", "statement": ""}), "future-version"),
])
def test_a_file_that_is_none(content: str, kind: str) -> None:
    """Each with its failure class."""
    with pytest.raises(GearkeepError) as caught:
        parse_estate_text(content)
    assert caught.value.kind == kind
