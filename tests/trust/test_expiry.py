"""Grants that end: by the statement's own time, by the authority's, by the clock of whoever appends."""

from __future__ import annotations

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from vault.errors import UsageProblem, VerificationError
from vault.trust.keys import public_bytes
from vault.trust.signers import Signers, day_of, expiring
from vault.trust.statements import Genesis, Grant, Kind, LabelCopy, LabelPlaced, Role
from vault.trust.verify import sign, verify, verify_movement

DAY = 86_400
START, END = 1_900_000_000, 1_900_000_000 + 365 * DAY
LOG_ID, STOCK_LOG_ID = bytes(range(16)), bytes(range(16, 32))
AUTHORITY, KEY, OTHER = (Ed25519PrivateKey.from_private_bytes(bytes([n]) * 32) for n in (1, 2, 3))


def grant(key: Ed25519PrivateKey, time_s: int, until_s: int | None, code: str = "T01") -> Grant:
    """A grant to a technician."""
    return Grant(public_key=public_bytes(key), roles=frozenset({Role.TECHNICIAN}), code=code, time_s=time_s, until_s=until_s)


def journal(*entries: tuple[int, Grant]) -> Signers:
    """Signers with a genesis at entry 0 and grants behind it."""
    made = Signers()
    made.feed(Genesis(log_id=LOG_ID, stock_log_id=STOCK_LOG_ID, authority_key=public_bytes(AUTHORITY),
                      checkpoint_key=public_bytes(OTHER), recovery_keys=public_bytes(OTHER), recovery_needed=1,
                      host="LX.EXAMPLE.EU", site="Baths", time_s=START), 0)
    for place, body in entries:
        made.feed(body, place)
    return made


def placed(time_s: int) -> bytes:
    """A statement by the technician, dated so."""
    body = LabelPlaced(time_s=time_s, labels=(LabelCopy(tag=bytes(5), copy=1),))
    return sign(Kind.LABEL_PLACED, body, KEY, log_id=LOG_ID)


ONE = (1, grant(KEY, START, END))
LATER = (9, grant(OTHER, END + 1, None, "T02"))


@pytest.mark.parametrize(("entries", "place", "time_s"), [
    ((ONE,), 2, START), ((ONE,), 2, END), ((ONE, LATER), 8, END), ((ONE, LATER), 9, END),
    ((ONE, LATER, (10, grant(KEY, END + 2, None))), 11, END + 3),
    (((1, grant(OTHER, 2**40, None, "T02")), (2, grant(KEY, START, END))), 3, START),
], ids=["at once", "in the last second", "before the authority's later entry", "at its place", "renewed",
        "behind a date far ahead that stands before the grant"])
def test_in_time(entries: tuple[tuple[int, Grant], ...], place: int, time_s: int) -> None:
    """What was signed in time is good, and stays so when it is read later."""
    assert verify(placed(time_s), log_id=LOG_ID, signers=journal(*entries), place=place).body.time_s == time_s


@pytest.mark.parametrize(("entries", "place", "time_s", "now_s"), [
    ((ONE,), 2, END + 1, None), ((ONE, LATER), 10, START, None), ((ONE,), 2, START, END + 1),
], ids=["by its own time", "dated back behind the authority's later entry", "by the clock of whoever appends"])
def test_too_late(entries: tuple[tuple[int, Grant], ...], place: int, time_s: int, now_s: int | None) -> None:
    """A key whose time is over signs nothing that counts, whatever it says of the time."""
    with pytest.raises(VerificationError) as caught:
        verify(placed(time_s), log_id=LOG_ID, signers=journal(*entries), place=place, now_s=now_s)
    assert caught.value.kind == "expired-signer" and day_of(END) in caught.value.what


@pytest.mark.parametrize(("time_s", "good"), [(START, True), (END + 1, False)])
def test_a_label_with_no_vault_at_hand_goes_by_its_own_time(time_s: int, good: bool) -> None:
    """Its place is not known, so an old label stays good and one dated later is refused."""
    known = journal(ONE, LATER)
    failed = ""
    try:
        verify(placed(time_s), log_id=LOG_ID, signers=known, place=100, place_known=False)
    except VerificationError as problem:
        failed = problem.kind
    assert failed == ("" if good else "expired-signer")


def movement(time_s: int, main_size: int) -> bytes:
    """A receipt by the technician."""
    from vault.domain.stock import Act, Movement, MovementLine

    body = Movement(act=Act.RECEIPT, store="MAIN", time_s=time_s, main_size=main_size,
                    lines=(MovementLine(model="M", quantity=1),))
    return sign(Kind.STOCK_MOVEMENT, body, KEY, log_id=STOCK_LOG_ID)


@pytest.mark.parametrize(("time_s", "main_size", "now_s"), [(END + 1, 5, None), (START, 10, None), (START, 5, END + 1)],
                         ids=["its own time", "the authority's", "the clock's"])
def test_movements_too(time_s: int, main_size: int, now_s: int | None) -> None:
    """In the stock log the place is the main size that the movement names."""
    with pytest.raises(VerificationError) as caught:
        verify_movement(movement(time_s, main_size), stock_log_id=STOCK_LOG_ID, signers=journal(ONE, LATER), main_size=1,
                        now_s=now_s)
    assert caught.value.kind == "expired-signer"
    assert verify_movement(movement(END, 9), stock_log_id=STOCK_LOG_ID, signers=journal(ONE, LATER), main_size=1)


def test_a_grant_that_ends_before_it_begins_is_never_signed() -> None:
    """It would grant nothing."""
    with pytest.raises(UsageProblem) as caught:
        sign(Kind.GRANT, grant(KEY, START, START - 1), AUTHORITY, log_id=LOG_ID)
    assert caught.value.kind == "bad-payload"


@pytest.mark.parametrize(("now_s", "codes"), [
    (END - 91 * DAY, []), (END - 90 * DAY, ["T01"]), (END + DAY, ["T01"])], ids=["91 days before", "90 days before", "after"])
def test_who_ends_soon_is_named(now_s: int, codes: list[str]) -> None:
    """From 90 days before on, and once it is over; a signer without an end never."""
    assert [one.code for one in expiring(journal(ONE, (2, grant(OTHER, START, None, "T02"))), now_s)] == codes


@pytest.mark.parametrize(("time_s", "said"), [(0, "1970-01-01"), (2**40, f"{2**40} s")])
def test_days_beyond_the_calendar(time_s: int, said: str) -> None:
    """A time that no calendar holds is said in seconds; 1970-01-01 by POSIX."""
    assert day_of(time_s) == said
