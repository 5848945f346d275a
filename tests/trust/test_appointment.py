"""Appointments: n of the m recovery keys, each once, for a fresh key, in its turn; requests and endorsements as text."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from hypothesis import given
from hypothesis import strategies as st

from vault.domain.tag import ALPHABET
from vault.errors import GearkeepError, VerificationError
from vault.trust import cbor
from vault.trust.appointment import (
    Request,
    Signed,
    body_of,
    endorse,
    endorsement_text,
    parse_endorsement,
    parse_request,
    request_text,
)
from vault.trust.cose import sig_structure
from vault.trust.keys import public_bytes
from vault.trust.signers import Signers
from vault.trust.statements import Appointment, Endorsement, Genesis, Grant, Kind, Role
from vault.trust.verify import sign, verify

LOG_ID, TIME = bytes(range(16)), 1_900_000_000


def key(number: int) -> Ed25519PrivateKey:
    """A key made from a number."""
    return Ed25519PrivateKey.from_private_bytes(bytes([number]) * 32)


AUTHORITY, CHECKPOINT, NEW, OTHER = key(1), key(2), key(3), key(4)
RECOVERY = [key(number) for number in (11, 12, 13)]
REQUEST = Request(log_id=LOG_ID, public_key=public_bytes(NEW), code="AUTH2", number=1, time_s=TIME, ends_others=True)


def signers(needed: int = 2, recovery: list[Ed25519PrivateKey] = RECOVERY) -> Signers:
    """A vault's signers with its genesis alone."""
    made = Signers()
    made.feed(Genesis(
        log_id=LOG_ID, stock_log_id=bytes(16), authority_key=public_bytes(AUTHORITY), checkpoint_key=public_bytes(CHECKPOINT),
        recovery_keys=b"".join(public_bytes(one) for one in recovery), recovery_needed=needed, host="LX.EXAMPLE.EU",
        site="Baths", time_s=TIME), 0)
    return made


def signed(body: Appointment, by: Ed25519PrivateKey = NEW) -> bytes:
    """The appointment's signed bytes."""
    return sign(Kind.APPOINTMENT, body, by, log_id=LOG_ID)


def made_by(*numbers: int, request: Request = REQUEST) -> Appointment:
    """An appointment whose endorsements are by these recovery keys, counted from 1."""
    return Appointment(
        public_key=request.public_key, code=request.code, number=request.number, time_s=request.time_s,
        ends_others=request.ends_others,
        endorsements=tuple(Endorsement(recovery_key=n, signature=endorse(request, RECOVERY[n - 1]).signature) for n in numbers))


def failure(body: Appointment, known: Signers, place: int = 1, by: Ed25519PrivateKey = NEW) -> str:
    """The class that the statement fails with."""
    with pytest.raises(VerificationError) as caught:
        verify(signed(body, by), log_id=LOG_ID, signers=known, place=place)
    return caught.value.kind


@pytest.mark.parametrize("pair", list(combinations((1, 2, 3), 2)), ids=str)
def test_any_two_of_three_appoint(pair: tuple[int, int]) -> None:
    """Each pair of different recovery keys is enough where two are needed."""
    body = made_by(*pair)
    assert verify(signed(body), log_id=LOG_ID, signers=signers(), place=1).body == body


@pytest.mark.parametrize(("numbers", "kind"), [((1,), "too-few-endorsements"), ((1, 2, 3), "bad-endorsement")])
def test_one_is_too_few_and_three_are_too_many(numbers: tuple[int, ...], kind: str) -> None:
    """An appointment carries as many endorsements as the genesis asks for."""
    assert failure(made_by(*numbers), signers()) == kind


def test_one_key_that_stands_twice_in_the_genesis_counts_once() -> None:
    """Different numbers of the same key are one holder."""
    twice = [RECOVERY[0], RECOVERY[0], RECOVERY[2]]
    one = endorse(REQUEST, RECOVERY[0]).signature
    body = replace(made_by(1), endorsements=tuple(Endorsement(recovery_key=n, signature=one) for n in (1, 2)))
    assert failure(body, signers(recovery=twice)) == "too-few-endorsements"


@pytest.mark.parametrize("change", [
    {"log_id": bytes(16)}, {"public_key": public_bytes(OTHER)}, {"code": "AUTH3"}, {"number": 2}, {"time_s": TIME + 1},
    {"ends_others": False}], ids=lambda change: next(iter(change)))
def test_every_part_is_endorsed(change: dict[str, object]) -> None:
    """An endorsement of another request is none of this one."""
    other = replace(REQUEST, **change)  # type: ignore[arg-type]
    stolen = endorse(other, RECOVERY[0]).signature
    body = made_by(1, 2)
    body = replace(body, endorsements=(Endorsement(recovery_key=1, signature=stolen), body.endorsements[1]))
    assert failure(body, signers()) == "bad-endorsement"


def test_what_is_endorsed_is_never_a_statement() -> None:
    """The signed texts of the two begin differently, so neither stands for the other."""
    assert cbor.decode(REQUEST.message)[0] != cbor.decode(sig_structure(b"", b"", b""))[0]


@pytest.mark.parametrize(("body", "by", "kind"), [
    (made_by(1, 2), OTHER, "unknown-signer"),
    (made_by(1, 2, request=replace(REQUEST, public_key=public_bytes(AUTHORITY))), AUTHORITY, "bad-chain"),
    (made_by(1, 2, request=replace(REQUEST, public_key=public_bytes(RECOVERY[2]))), RECOVERY[2], "bad-key"),
    (made_by(1, 2, request=replace(REQUEST, public_key=public_bytes(CHECKPOINT))), CHECKPOINT, "bad-key"),
    (made_by(1, 2, request=replace(REQUEST, number=2)), NEW, "bad-chain"),
], ids=["another signs", "held a role", "a recovery key", "the checkpoint key", "out of turn"])
def test_what_is_refused(body: Appointment, by: Ed25519PrivateKey, kind: str) -> None:
    """The key signs for itself, is fresh and of no other use, and the appointment stands in its turn."""
    assert failure(body, signers(), by=by) == kind


def test_none_counts_twice() -> None:
    """Behind an appointment neither the same one nor one that was left lying counts."""
    known = signers()
    known.feed(made_by(1, 2), 1)
    lying = made_by(1, 3, request=replace(REQUEST, public_key=public_bytes(OTHER)))
    assert (failure(made_by(1, 3), known, 2), failure(lying, known, 2, OTHER)) == ("bad-chain", "bad-chain")
    again = made_by(1, 3, request=replace(REQUEST, number=2))
    assert failure(again, known, 2) == "bad-chain"


def test_it_verifies_again_where_it_stands() -> None:
    """Read anew with all signers known, an appointment at its place is good."""
    known = signers()
    known.feed(made_by(1, 2), 1)
    assert verify(signed(made_by(1, 2)), log_id=LOG_ID, signers=known, place=1).kind is Kind.APPOINTMENT


@pytest.mark.parametrize(("ends", "old_is_there"), [(True, False), (False, True)])
def test_whether_the_others_end(ends: bool, old_is_there: bool) -> None:
    """With ends_others every other authority ends at this place, also one that a thief granted; other roles stay."""
    known = signers()
    for number, role in ((5, Role.AUTHORITY), (6, Role.INSTALLER)):
        known.feed(Grant(public_key=public_bytes(key(number)), roles=frozenset({role}), code=f"C{number}", time_s=TIME), number)
    known.feed(made_by(1, 2, request=replace(REQUEST, ends_others=ends)), 9)
    valid = {one.code for one in known.everyone() if one.withdrawn_at is None}
    assert valid == {"AUTH2", "C6"} | ({"AUTH", "C5"} if old_is_there else set())


def test_the_appointed_key_is_an_authority_from_there_on() -> None:
    """Not before its own entry."""
    known = signers()
    known.feed(made_by(1, 2), 7)
    ident = verify(signed(made_by(1, 2)), log_id=LOG_ID, signers=known, place=7).key_id
    assert known.at(ident, 8).roles == {Role.AUTHORITY}
    with pytest.raises(VerificationError, match="not on the vault's list"):
        known.at(ident, 6)


# --- as text ---

CODES = st.text(st.characters(codec="ascii", min_codepoint=48, max_codepoint=90), min_size=1, max_size=8)
REQUESTS = st.builds(Request, log_id=st.binary(min_size=16, max_size=16), public_key=st.just(public_bytes(NEW)), code=CODES,
                     number=st.integers(1, 1000), time_s=st.integers(0, 2**40), ends_others=st.booleans())
SIGNED = st.builds(Signed, recovery_key_id=st.binary(min_size=8, max_size=8), request=st.binary(min_size=8, max_size=8),
                   signature=st.binary(min_size=64, max_size=64))


@given(REQUESTS)
def test_a_request_is_read_back(request: Request) -> None:
    """Also in small letters, in one line, with hyphens and look-alikes."""
    text = request_text(request)
    head, rest = text.split(":")
    spoilt = head.lower() + ":" + rest.lower().replace("0", "o").replace("1", "l").replace(" ", "-")
    assert parse_request(text) == parse_request(spoilt) == request


@given(SIGNED)
def test_an_endorsement_is_read_back(one: Signed) -> None:
    """Key, request and signature."""
    assert parse_endorsement(endorsement_text(one)) == one


@given(st.data())
def test_one_wrong_character_is_noticed(data: st.DataObject) -> None:
    """Whichever it is."""
    head, rest = request_text(REQUEST).split(":")
    bare = "".join(rest.split())
    at = data.draw(st.integers(0, len(bare) - 1))
    other = data.draw(st.sampled_from([letter for letter in ALPHABET if letter != bare[at]]))
    with pytest.raises(GearkeepError) as caught:
        parse_request(f"{head}:{bare[:at]}{other}{bare[at + 1:]}")
    assert caught.value.kind == "not-a-request"


@pytest.mark.parametrize("text", ["", "GKREQUEST", "GKREQUEST:", "GKREQUEST:U", "GKREQUEST:" + "0" * 500,
                                  endorsement_text(endorse(REQUEST, NEW)), request_text(REQUEST)[:-6]])
def test_what_is_no_request_is_refused(text: str) -> None:
    """Empty, cut, of another kind, or holding what is never written."""
    with pytest.raises(GearkeepError) as caught:
        parse_request(text)
    assert caught.value.kind == "not-a-request"


@given(st.text(max_size=200))
def test_any_text_is_read_or_refused_with_a_reason(text: str) -> None:
    """No other exception gets out."""
    with pytest.raises(GearkeepError):
        parse_endorsement("GKENDORSE:" + text)


def test_the_endorsements_needed_are_taken_and_no_more() -> None:
    """Of three endorsements two stand in the appointment, in the order of the keys."""
    body = body_of(REQUEST, [endorse(REQUEST, one) for one in reversed(RECOVERY)], signers())
    assert [one.recovery_key for one in body.endorsements] == [1, 2]


@pytest.mark.parametrize(("given_", "kind"), [
    ([endorse(REQUEST, RECOVERY[0])] * 2, "too-few-endorsements"),
    ([endorse(REQUEST, OTHER)], "bad-endorsement"),
    ([endorse(replace(REQUEST, number=2), RECOVERY[0])], "bad-endorsement"),
    ([replace(endorse(REQUEST, RECOVERY[0]), signature=bytes(64))], "bad-endorsement"),
], ids=["the same twice", "no recovery key", "another request", "no signature"])
def test_endorsements_that_do_not_do(given_: list[Signed], kind: str) -> None:
    """Each is named for what it is before anything is signed."""
    with pytest.raises(VerificationError) as caught:
        body_of(REQUEST, given_, signers())
    assert caught.value.kind == kind
