"""Many programs appending to one site at once: one order, no fork, nothing lost, nothing twice."""

from __future__ import annotations

import secrets
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor

import make
import pytest

from vault.db.audit import run_audit
from vault.db.queries import head_rows, versions_of
from vault.db.session import Vault, create
from vault.domain.record import Reason, Record
from vault.domain.tag import parse_tag, tag_from_bits, to_bytes
from vault.errors import GearkeepError
from vault.trust.verify import sign, verify_genesis

CHAIN = make.chain()
LOG_ID = verify_genesis(CHAIN["genesis"]).body.log_id
BEFORE = ("grant-installer", "grant-approver", "rating", "driver-model", "circuit", "line", "record")


@pytest.fixture
def address(new_address: Callable[[], str]) -> str:
    """A vault with signers, a rating and one luminaire."""
    place = new_address()
    vault = create(place, CHAIN["genesis"])
    for name in BEFORE:
        vault.append_signed(CHAIN[name])
    vault.close()
    return place


def _first(address: str) -> Record:
    vault = Vault(address)
    with vault.reading() as session:
        body: Record = session.statement(7).body
    vault.close()
    return body


def _new_luminaires(address: str, count: int) -> list[bytes]:
    model = _first(address)
    tags = [tag for tag in (tag_from_bits(secrets.randbits(40)) for _ in range(count * 2)) if tag][:count]
    return [sign(make.Kind.RECORD, make.replace(model, tag=to_bytes(tag)), make.key("installer"), log_id=LOG_ID) for tag in tags]


def _append_all(address: str, statements: list[bytes]) -> None:
    vault = Vault(address)
    for signed in statements:
        vault.append_signed(signed)
    vault.close()


def _audit(address: str) -> tuple[int, int]:
    vault = Vault(address)
    with vault.reading() as session:
        result = run_audit(session)
    vault.close()
    return result.sizes[0], len(result.faults)


def test_four_writers_make_one_journal(address: str) -> None:
    """A hundred luminaires from four writers are a hundred entries more, and the audit finds nothing."""
    parts = [_new_luminaires(address, 25) for _ in range(4)]
    with ThreadPoolExecutor(4) as pool:
        list(pool.map(lambda part: _append_all(address, part), parts))
    assert _audit(address) == (8 + 100, 0)


def test_the_same_statements_from_two_writers_are_there_once(address: str) -> None:
    """Whoever comes second finds what the first one added."""
    part = _new_luminaires(address, 25)
    with ThreadPoolExecutor(2) as pool:
        list(pool.map(lambda _: _append_all(address, part), range(2)))
    assert _audit(address) == (8 + 25, 0)


def test_a_luminaire_changed_twice_at_once_has_one_next_version(address: str) -> None:
    """Two sessions that read version 1 and sign version 2: the second one meets the first one's version."""

    def move(place: str) -> int:
        vault = Vault(address)
        with vault.writing() as session:
            head = head_rows(session, tag=parse_tag(make.TAG))[-1]
            body = make.replace(session.statement(head.seq).body, version=head.version + 1, predecessors=head.digest[:16],
                                reason=Reason.MOVED, place=place)
            session.append(make.Kind.RECORD, body, make.key("installer"))
        vault.close()
        return head.version + 1

    with ThreadPoolExecutor(4) as pool:
        versions = sorted(pool.map(move, ["Hall", "Stairs", "Roof", "Yard"]))
    vault = Vault(address)
    with vault.reading() as session:
        assert versions == [2, 3, 4, 5] and [row.version for row in versions_of(session, parse_tag(make.TAG))] == [1, 2, 3, 4, 5]
    vault.close()


def test_a_withdrawal_in_between_stops_a_statement_that_was_checked_before_it(address: str) -> None:
    """A writer that has known the signer for long is still held to the withdrawal."""
    luminaires = _new_luminaires(address, 2)
    writer, authority = Vault(address), Vault(address)
    writer.append_signed(luminaires[0])
    authority.append_signed(CHAIN["withdrawal"])
    with pytest.raises(GearkeepError) as problem:
        writer.append_signed(luminaires[1])
    writer.close()
    authority.close()
    assert problem.value.kind == "withdrawn-signer"
