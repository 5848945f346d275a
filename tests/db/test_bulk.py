"""Statements appended many at a time: the same bytes, rows and refusals as one by one, on both engines."""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import make
import nacl.bindings
import pytest
from hypothesis import given
from hypothesis import strategies as st
from small_vault import SmallVault, copy_of
from stored import ask, rows

sys.path.append(str(Path(__file__).resolve().parents[1] / "domain"))

from any_settings import any_of, gear_strategy

from vault.db import bulk
from vault.db.audit import run_audit
from vault.db.bulk import Frontier, append_many
from vault.db.bulk_payload import Payloads, Unusual
from vault.db.bulk_signing import LotSigner, Order, signed_lots
from vault.domain.rating import Essentials
from vault.domain.record import Baseline, Basis, Reason, Record, TypeRef
from vault.domain.schema import check
from vault.domain.site import Line, LineKind
from vault.domain.tag import tag_from_bits, to_bytes
from vault.errors import GearkeepError
from vault.trust import cbor, cose, merkle
from vault.trust.mapping import to_plain_cbor
from vault.trust.statements import IssuedLabel, Kind, LabelIssue, Withdrawal
from vault.trust.verify import sign

JOURNAL = "SELECT log, seq, kind, key_id, digest, signed, nodes FROM journal ORDER BY log, seq"
TAGS = [to_bytes(tag) for tag in map(tag_from_bits, range(7, 500)) if tag is not None]
ALIKE = [(LineKind.DALI, 0), (LineKind.DALI, 1), (LineKind.CENTRAL_BATTERY_BUS, 0)]


def _new(small: SmallVault, count: int, **fields: Any) -> list[Record]:
    first = small.seen("CH-007").record
    return [replace(first, tag=tag, reference=f"N-{number}", **fields) for number, tag in enumerate(TAGS[:count])]


def _later(small: SmallVault, record: Record) -> Record:
    """The version that follows a record which I01 signs."""
    with small.open().reading() as session:
        log_id = session.genesis.log_id
    before = cose.digest(sign(Kind.RECORD, record, small.keys["I01"], log_id=log_id))
    return replace(record, version=2, predecessors=before[:16], reason=Reason.CORRECTION)


def _many(small: SmallVault, bodies: list[Any], kind: Kind = Kind.RECORD, code: str = "I01",
          workers: int | None = 0) -> list[Any]:
    with small.open().writing() as session:
        return list(append_many(session, kind, bodies, small.keys[code], workers=workers))


def _kept(small: SmallVault) -> tuple[object, ...]:
    small.close()
    return [tuple(map(_plain, row)) for row in ask(small.address, JOURNAL)], rows(small.address)


def _plain(value: Any) -> Any:
    return bytes(value) if isinstance(value, memoryview) else value


@pytest.mark.parametrize("workers", [0, 2])
def test_many_leave_what_one_by_one_leaves(small_on: SmallVault, small: SmallVault, workers: int, tmp_path: Path,
                                           monkeypatch: pytest.MonkeyPatch) -> None:
    """New luminaires, one of them with its second version behind it: same journal, tree hashes and index."""
    monkeypatch.setattr(bulk, "LOT", 7)
    bodies = _new(small, 40)
    bodies.insert(20, _later(small, bodies[3]))
    (tmp_path / "other").mkdir()
    other = copy_of(small, tmp_path / "other") if small_on.server_address is None else small
    with other.open().writing() as session:
        singles = [session.append(Kind.RECORD, body, small.keys["I01"]) for body in bodies]
    assert _many(small_on, bodies, workers=workers) == singles
    assert _kept(small_on) == _kept(other)
    with small_on.open().reading() as session:
        assert run_audit(session).faults == ()
    other.close()


@pytest.mark.parametrize(
    ("kind", "code", "bodies"),
    [
        (Kind.LINE, "authority", [Line(name=f"X{at}", revision=1, kind=kind, addresses_from=start)
                                  for at, (kind, start) in enumerate(ALIKE)]),
        (Kind.LINE, "authority", [Line(name="X", revision=at, kind=LineKind.DALI, addresses_from=0) for at in (1, 2, 3)]),
    ],
)
def test_other_kinds_go_in_the_same_way(small_on: SmallVault, kind: Kind, code: str, bodies: list[Any]) -> None:
    """Lines, and revisions of one line that follow each other, stand in the journal in order and audit clean."""
    before = small_on.sizes()[0]
    assert [one.body for one in _many(small_on, bodies, kind, code)] == bodies
    assert small_on.sizes()[0] == before + len(bodies)
    with small_on.open().reading() as session:
        assert run_audit(session).faults == ()


def test_labels_are_issued_in_the_same_way(small: SmallVault) -> None:
    """Two issues of labels for one luminaire."""
    seen = small.seen("CH-007")
    label = IssuedLabel(tag=seen.record.tag, record_digest=seen.statement.digest[:8], copy=1, carries_settings=True)
    bodies = [LabelIssue(time_s=1, medium="60x40", labels=(replace(label, copy=copy),)) for copy in (1, 2)]
    assert len(_many(small, bodies, Kind.LABEL_ISSUE)) == 2


def test_the_same_bodies_twice_change_nothing(small_on: SmallVault) -> None:
    """Given again, or twice in one call, a body is the statement that stands in the journal already."""
    bodies = _new(small_on, 5)
    first, before = _many(small_on, bodies), small_on.sizes()
    again = _many(small_on, [*bodies, bodies[0]])
    assert [one.digest for one in again] == [one.digest for one in [*first, first[0]]]
    assert small_on.sizes() == before


Spoil = Callable[[SmallVault, list[Record]], list[Record]]
SPOILT: list[tuple[str, str, Spoil]] = [
    ("I01", "tag-in-use", lambda _small, new: [*new, replace(new[0], place="elsewhere")]),
    ("I01", "tag-in-use", lambda small, new: [*new, replace(small.seen("CH-001").record, place="elsewhere")]),
    ("I01", "bad-payload", lambda _small, new: [*new, replace(new[0], place="x" * 41)]),
    ("I01", "bad-payload", lambda _small, new: [*new, replace(new[0], gears=())]),
    ("I01", "bad-chain", lambda _small, new: [*new, replace(new[0], tag=TAGS[99], fixture_type=replace(
        new[0].fixture_type, revision=9))]),
    ("I01", "bad-chain", lambda small, new: [*new, replace(_later(small, new[0]), predecessors=bytes(16))]),
    ("I01", "bad-chain", lambda small, new: [*new, replace(_later(small, new[0]), version=3)]),
    ("S01", "wrong-role", lambda _small, new: new),
    ("stranger", "unknown-signer", lambda _small, new: new),
]


@pytest.mark.parametrize(("code", "kind", "spoil"), SPOILT)
def test_one_bad_body_leaves_nothing_of_the_others(small_on: SmallVault, code: str, kind: str, spoil: Spoil,
                                                   monkeypatch: pytest.MonkeyPatch) -> None:
    """The refusal is that of a single append, and what came before it in the same call is taken back."""
    monkeypatch.setattr(bulk, "LOT", 4)
    small = replace(small_on, keys={**small_on.keys, "stranger": make.key("installer")})
    before = small.sizes()
    with pytest.raises(GearkeepError) as caught:
        _many(small, spoil(small, _new(small, 6)), code=code)
    small.close()
    assert (caught.value.kind, small.sizes()) == (kind, before)


def test_a_faulty_signature_never_reaches_the_journal(small: SmallVault, monkeypatch: pytest.MonkeyPatch) -> None:
    """A signer that computes wrongly is found out before anything is written."""
    right = nacl.bindings.crypto_sign
    bodies, before = _new(small, 3), small.sizes()
    monkeypatch.setattr(nacl.bindings, "crypto_sign", lambda message, key: bytes([right(message, key)[0] ^ 1])
                        + right(message, key)[1:])
    with pytest.raises(GearkeepError) as caught:
        _many(small, bodies)
    assert (caught.value.kind, small.sizes()) == ("bad-signature", before)


@pytest.mark.parametrize("kind", [Kind.GENESIS, Kind.GRANT, Kind.WITHDRAWAL, Kind.APPOINTMENT, Kind.STOCK_MOVEMENT])
def test_kinds_that_change_who_may_sign_are_not_taken(small: SmallVault, kind: Kind) -> None:
    """Statements about signers go one by one, and the stock journal has rules of its own."""
    with pytest.raises(ValueError, match="by itself"):
        _many(small, [Withdrawal(key_id=bytes(8), time_s=1, reason="lost")], kind)


def test_nothing_to_sign_asks_nothing(small: SmallVault) -> None:
    """Without a body nobody's role is asked."""
    assert _many(small, [], code="S01") == []


RECORDS = st.builds(
    replace, any_of(Record), tag=st.sampled_from(TAGS) | st.just(b"x"), version=st.integers(0, 2),
    predecessors=st.none() | st.binary(min_size=16, max_size=16), place=st.text(max_size=42),
    reference=st.none() | st.text(max_size=25), gears=st.lists(gear_strategy(), max_size=2).map(tuple))


@given(RECORDS)
def test_the_short_cut_writes_what_the_long_way_writes(record: Record) -> None:
    """Whatever the short cut takes has no problem, and its bytes are those of the codec."""
    try:
        short = Payloads().plain_case(record)
    except Unusual:
        return
    assert (list(check(record)), short) == ([], cbor.encode(to_plain_cbor(record)))


@given(st.lists(gear_strategy(), min_size=1, max_size=2), st.sampled_from(["Café, row 2", "Hall", "浴場"]))
def test_good_records_take_the_short_cut(gears: list[Any], place: str) -> None:
    """A good record of any settings, with a place in any script, is the plain case, the second time from what is shared."""
    record = Record(
        tag=TAGS[0], version=1, fixture_type=TypeRef(code="T1", revision=1, digest=bytes(8)), essentials=Essentials(), time_s=1,
        reason=Reason.HANDOVER, basis=Basis.STATED, baseline=Baseline.NOT_RECORDED, place=place, gears=tuple(gears))
    payloads = Payloads()
    assert payloads.plain_case(record) == payloads.plain_case(record) == cbor.encode(to_plain_cbor(record))


@given(st.binary(max_size=300))
def test_a_lot_is_signed_as_single_statements_are(payload: bytes) -> None:
    """libsodium and OpenSSL give one signature (Ed25519 is deterministic, RFC 8032 5.1.6), and the envelope is the same."""
    key, aad = make.key("installer"), cose.external_aad(1, make.LOG_ID)
    order = Order(seed=key.private_bytes_raw(), kind=8, external_aad=aad)
    assert LotSigner(order)([payload]) == [cose.sign_statement(8, payload, key, aad)]


def test_lots_come_back_in_order_from_other_processes() -> None:
    """Twenty lots through two processes: each with its own payloads, in the order given."""
    order = Order(seed=bytes(32), kind=8, external_aad=cose.external_aad(1, bytes(16)))
    lots = [([number], [bytes([number])]) for number in range(20)]
    found = list(signed_lots(order, iter(lots), workers=2))
    assert [bodies for bodies, _ in found] == [[number] for number in range(20)]
    assert [cose.open_envelope(signed).payload for _, (signed,) in found] == [bytes([number]) for number in range(20)]


def test_the_seed_is_not_shown() -> None:
    """No log or traceback that prints an order prints the key."""
    assert bytes(range(32)).hex() not in repr(Order(seed=bytes(range(32)), kind=8, external_aad=b""))
    assert str(bytes(range(32))) not in repr(Order(seed=bytes(range(32)), kind=8, external_aad=b""))


@given(st.integers(0, 70), st.integers(1, 70))
def test_a_frontier_from_any_size_on_gives_the_trees_hashes(begun: int, more: int) -> None:
    """The hashes beside each leaf are those that the tree's own rule gives, wherever the first leaf was added."""
    leaves = [merkle.leaf_hash(bytes([number])) for number in range(begun + more)]
    kept: list[bytes] = []
    store = SimpleNamespace(read=lambda level, index: leaves[index] if level == 0 else _stored(kept, level, index))
    for number, leaf in enumerate(leaves):
        kept.append(merkle.nodes_for_append(number, leaf, store.read))
    frontier = Frontier(begun, store.read)
    assert [frontier.add(leaf) for leaf in leaves[begun:]] == kept[begun:]


def _stored(kept: list[bytes], level: int, index: int) -> bytes:
    row, at = merkle.node_location(level, index)
    return kept[row][at : at + merkle.HASH_BYTES]
