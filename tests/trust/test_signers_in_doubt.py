"""Keys that were in wrong hands: what is in doubt, from where, and what it passes on to."""

from __future__ import annotations

from hashlib import sha256

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from vault.errors import UsageProblem
from vault.trust.keys import key_id, public_bytes
from vault.trust.signers import Signers
from vault.trust.statements import Genesis, Grant, Kind, Role, Withdrawal
from vault.trust.verify import sign

TIME = 1_900_000_000
KEYS = {name: Ed25519PrivateKey.from_private_bytes(sha256(name.encode()).digest())
        for name in ("AUTH", "NEW", "CHECK", "R", "T", "U")}
IDS = {name: key_id(public_bytes(key)) for name, key in KEYS.items()}


def digest(place: int) -> bytes:
    """The digest of the entry at a place of the journal of these tests."""
    return sha256(place.to_bytes(8, "big")).digest()


def grant(name: str, role: Role = Role.TECHNICIAN) -> Grant:
    """A grant under the key's own name."""
    return Grant(public_key=public_bytes(KEYS[name]), roles=frozenset({role}), code=name, time_s=TIME)


def limit(name: str, trusted_until: int, of: int | None = None) -> Withdrawal:
    """A withdrawal that trusts a key up to a place; of: the entry whose digest it names, where that is another."""
    return Withdrawal(key_id=IDS[name], time_s=TIME, reason="stolen", trusted_until=trusted_until,
                      trusted_digest=digest(trusted_until if of is None else of)[:8])


def journal(*entries: tuple[int, object, str]) -> Signers:
    """Signers fed with (place, body, name of whoever signed it) behind a genesis."""
    made = Signers()
    made.feed(Genesis(log_id=bytes(16), stock_log_id=bytes(16), authority_key=public_bytes(KEYS["AUTH"]),
                      checkpoint_key=public_bytes(KEYS["CHECK"]), recovery_keys=public_bytes(KEYS["R"]), recovery_needed=1,
                      host="LX.EXAMPLE.EU", site="Baths", time_s=TIME), 0)
    for place, body, by in entries:
        made.feed(body, place, by=IDS[by])
    return made


STOLEN = journal((1, grant("T"), "AUTH"), (50, limit("T", 20), "AUTH"))


@pytest.mark.parametrize(("place", "in_doubt"), [(2, False), (20, False), (21, True), (49, True)])
def test_entries_behind_the_last_trusted_one_are_in_doubt(place: int, in_doubt: bool) -> None:
    """The last trusted entry itself is good, the next is not."""
    found = STOLEN.doubt(IDS["T"], place, digest)
    assert (found is not None) is in_doubt


def test_the_doubt_says_whose_and_from_where() -> None:
    """Code, last trusted entry and the withdrawal's place."""
    found = STOLEN.doubt(IDS["T"], 30, digest)
    assert found is not None and (found.code, found.trusted_until, found.withdrawn_at) == ("T", 20, 50)


@pytest.mark.parametrize("at", [lambda _place: None, lambda place: digest(place + 1)], ids=["no such entry", "another entry"])
def test_in_another_history_nothing_of_the_key_is_trusted(at: object) -> None:
    """In a journal made anew from labels the place means another entry, so every entry of the key is in doubt."""
    found = STOLEN.doubt(IDS["T"], 2, at)  # type: ignore[arg-type]
    assert found is not None and found.trusted_until is None


def test_a_place_behind_the_withdrawal_trusts_nothing() -> None:
    """It cannot mean the history that the withdrawal stands in."""
    ahead = journal((1, grant("T"), "AUTH"), (5, limit("T", 20), "AUTH"))
    assert ahead.doubt(IDS["T"], 2, digest) is not None


def test_others_are_not_in_doubt() -> None:
    """Neither another signer nor a key without such a withdrawal."""
    made = journal((1, grant("T"), "AUTH"), (2, grant("U"), "AUTH"), (50, limit("T", 20), "AUTH"))
    assert made.doubt(IDS["U"], 30, digest) is None and made.suspects() == {IDS["T"]}
    assert not journal((1, grant("T"), "AUTH")).any_doubt


def test_granted_anew_the_key_is_good_from_there_on() -> None:
    """Behind the withdrawal a new grant by a good hand counts."""
    made = journal((1, grant("T"), "AUTH"), (50, limit("T", 20), "AUTH"), (60, grant("T"), "AUTH"))
    assert made.doubt(IDS["T"], 61, digest) is None and made.doubt(IDS["T"], 30, digest) is not None


THIEF = ((1, grant("NEW", Role.AUTHORITY), "AUTH"), (30, grant("T", Role.AUTHORITY), "AUTH"), (31, grant("U"), "T"),
         (50, limit("AUTH", 20), "NEW"))


@pytest.mark.parametrize("name", ["T", "U"])
def test_what_a_thief_granted_is_in_doubt_and_what_that_granted_too(name: str) -> None:
    """A grant by a key in wrong hands lends no trust, before the withdrawal and behind it."""
    made = journal(*THIEF)
    assert [made.doubt(IDS[name], place, digest) is not None for place in (40, 80)] == [True, True]
    assert made.suspects() >= {IDS["AUTH"], IDS["T"], IDS["U"]}


def test_granted_by_a_good_hand_it_is_good_again() -> None:
    """What it signed under the thief's grant stays in doubt."""
    made = journal(*THIEF, (60, grant("U"), "NEW"))
    assert made.doubt(IDS["U"], 70, digest) is None and made.doubt(IDS["U"], 40, digest) is not None


def test_a_grant_before_the_theft_stands() -> None:
    """The authority that was granted at entry 1 is not in doubt."""
    assert journal(*THIEF).doubt(IDS["NEW"], 60, digest) is None


def test_it_can_be_said_of_a_key_that_was_withdrawn_before() -> None:
    """The first withdrawal decides until when it signed, the second what of that is trusted."""
    gone = Withdrawal(key_id=IDS["T"], time_s=TIME, reason="left")
    made = journal((1, grant("T"), "AUTH"), (40, gone, "AUTH"), (50, limit("T", 20), "AUTH"))
    last = made.latest(IDS["T"])
    assert last is not None and last.withdrawn_at == 40 and made.doubt(IDS["T"], 30, digest) is not None


@pytest.mark.parametrize("half", [{"trusted_until": 3}, {"trusted_digest": bytes(8)}], ids=["place alone", "digest alone"])
def test_half_of_it_is_never_signed(half: dict[str, object]) -> None:
    """A place without what stood there, or the other way round."""
    body = Withdrawal(key_id=IDS["T"], time_s=TIME, reason="stolen", **half)  # type: ignore[arg-type]
    with pytest.raises(UsageProblem) as caught:
        sign(Kind.WITHDRAWAL, body, KEYS["AUTH"], log_id=bytes(16))
    assert caught.value.kind == "bad-payload"
