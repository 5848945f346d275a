"""Attacks on what is stored, by somebody who owns the database and no key. Rows of the table in DEVELOPERS.md."""

from __future__ import annotations

from dataclasses import replace

import pytest
from attackers import STRANGER, checkpoint_of, journal_of, packed, refused, resigned, words_of_audit, write_journal
from small_vault import NOW_S, SmallVault
from stored import ask, tamper

from vault.actions.changes import move
from vault.actions.keeping import signer_list
from vault.actions.luminaire import find_tag, view
from vault.actions.scanning import scan
from vault.trust import cose
from vault.trust.keys import key_id, public_bytes
from vault.trust.statements import Grant, Kind, Role
from vault.trust.verify import verify_genesis


@pytest.fixture
def small(small_on: SmallVault) -> SmallVault:
    """The small vault, on each engine in turn."""
    return small_on


def _place(small: SmallVault, reference: str) -> int:
    (seq,), = ask(small.address, "SELECT max(seq) FROM record WHERE tag = :tag", tag=small.tags[reference])
    return int(seq)


def test_an_edited_field_of_what_was_signed(small: SmallVault) -> None:
    """700 mA made 800 mA in the signed bytes: show and audit refuse the signature."""
    seq = _place(small, "CH-007")
    (signed,), = ask(small.address, "SELECT signed FROM journal WHERE log = 0 AND seq = :seq", seq=seq)
    assert b"\x19\x02\xbc" in signed  # 700 as CBOR writes it (RFC 8949 section 3.1)
    tamper(small.address, "UPDATE journal SET signed = :changed WHERE log = 0 AND seq = :seq",
           changed=signed.replace(b"\x19\x02\xbc", b"\x19\x03\x20"), seq=seq)
    assert refused(lambda: small.seen("CH-007")) == "bad-signature"
    assert "bad-signature" in words_of_audit(small)


def test_an_edited_field_of_the_index(small: SmallVault) -> None:
    """Another luminaire's record under this tag in the index: show refuses, the audit names table and entry."""
    tamper(small.address, "UPDATE record SET tag = 'x' WHERE tag = :one", "UPDATE record SET tag = :one WHERE tag = :two",
           one=small.tags["CH-007"], two=small.tags["CV-001"])
    assert refused(lambda: small.seen("CH-007")) == "bad-index"
    assert any(word.startswith("index table record") for word in words_of_audit(small))


def test_a_deleted_last_version(small: SmallVault) -> None:
    """The newest entry taken away with all that the index says of it: a checkpoint kept outside, or the label, tells."""
    move(small.desk("I01"), small.tags["CH-007"], place="Elsewhere", line=None, circuit=None, address=None)
    label = small.label_text("CH-007")
    kept, before = checkpoint_of(small), journal_of(small)
    write_journal(small, before[:-1])
    assert "rollback" in words_of_audit(small, kept)
    found = scan([], text=label, vault=small.open(), trust_text=None)[0]
    assert found.problem is not None and found.problem[0] == "not-in-vault"


def test_a_deleted_luminaire(small: SmallVault) -> None:
    """One luminaire's only entry taken out and the numbers closed up, hashes made to fit: the checkpoint shows a fork."""
    kept, before = checkpoint_of(small), journal_of(small)
    seq = _place(small, "CH-001")
    write_journal(small, [*before[:seq], *before[seq + 1 :]])
    assert words_of_audit(small, kept) & {"rollback", "fork"}
    tamper(small.address, "DELETE FROM journal WHERE log = 0 AND seq = 5")
    assert "entry 5 is missing before it" in words_of_audit(small)


def test_reordered_entries(small: SmallVault) -> None:
    """Two entries exchanged, hashes made to fit: the order breaks a rule or the checkpoint."""
    kept, before = checkpoint_of(small), journal_of(small)
    seq = _place(small, "CH-002")
    write_journal(small, [*before[: seq - 1], before[seq], before[seq - 1], *before[seq + 1 :]])
    assert "fork" in words_of_audit(small, kept)


def test_a_statement_replayed(small: SmallVault) -> None:
    """The same signed bytes again: by the door nothing happens, in the tables a digest is there once."""
    signed = journal_of(small)[_place(small, "CH-007")]
    before = small.sizes()
    small.open().append_signed(signed)
    assert small.sizes() == before
    again = replace(small.seen("CH-007").record, time_s=NOW_S + 1)
    assert refused(lambda: small.open().append_signed(resigned(small, Kind.RECORD, again, small.keys["I01"]))) == "tag-in-use"


def test_a_record_of_another_vault(small: SmallVault) -> None:
    """Signed by the same installer for another vault: the log id is part of what was signed."""
    foreign = cose.sign_statement(int(Kind.RECORD), cose.open_envelope(small.seen("CH-007").statement.signed_bytes).payload,
                                  small.keys["I01"], cose.external_aad(1, b"another log id !"))
    assert refused(lambda: small.open().append_signed(foreign)) == "bad-signature"


def test_an_insider_with_the_database_and_no_key(small: SmallVault) -> None:
    """The whole history signed anew with made-up keys: whoever holds a checkpoint, a label or a list of signers sees it."""
    label, kept, trust = small.label_text("CH-007"), checkpoint_of(small), signer_list(small.open())
    before = journal_of(small)
    genesis = replace(verify_genesis(before[0]).body, authority_key=public_bytes(STRANGER), checkpoint_key=public_bytes(STRANGER))
    forged = [resigned(small, Kind.GENESIS, genesis, STRANGER), *before[1:]]
    write_journal(small, forged)
    assert words_of_audit(small, kept) & {"bad-signature", "unknown-signer", "bad-note", "fork"}
    found = scan([], text=label, vault=None, trust_text=trust)[0]
    assert found.problem is None  # the label and the list stand by themselves


def test_a_signer_written_into_the_table(small: SmallVault) -> None:
    """A made-up key put into the index of signers gives nobody a role: roles come from signed grants."""
    tamper(small.address, "INSERT INTO signer (seq, key_id, public_key, code, roles) VALUES (9000, :id, :key, 'X01', 31)",
           id=key_id(public_bytes(STRANGER)), key=public_bytes(STRANGER))
    assert refused(lambda: small.open().append_signed(packed(small, b"\xa0", STRANGER))) == "unknown-signer"
    assert any(word.startswith("index table signer") for word in words_of_audit(small))


def test_a_forked_journal_shown_to_two_people(small: SmallVault) -> None:
    """Each of two histories agrees with its own checkpoint; whoever holds both sees that they are not one."""
    shared = journal_of(small)
    move(small.desk("I01"), small.tags["CH-007"], place="Here", line=None, circuit=None, address=None)
    first = checkpoint_of(small)
    write_journal(small, shared)
    move(small.desk("I01"), small.tags["CH-007"], place="There", line=None, circuit=None, address=None)
    second = checkpoint_of(small)
    assert "fork" not in words_of_audit(small, second)
    assert "fork" in words_of_audit(small, first)


def test_a_frozen_vault(small: SmallVault) -> None:
    """An old state served for ever: a newer checkpoint, or a newer label, says so."""
    frozen = journal_of(small)
    move(small.desk("I01"), small.tags["CH-007"], place="Elsewhere", line=None, circuit=None, address=None)
    newer, label = checkpoint_of(small), small.label_text("CH-007")
    write_journal(small, frozen)
    assert "rollback" in words_of_audit(small, newer)
    found = scan([], text=label, vault=small.open(), trust_text=None)[0]
    assert found.problem is not None and found.problem[0] == "not-in-vault"


def test_a_forged_grant_in_the_journal(small: SmallVault) -> None:
    """A grant signed by a key without the role, put straight into the tables: nothing it lends is believed."""
    body = Grant(public_key=public_bytes(STRANGER), roles=frozenset({Role.INSTALLER}), code="X01", time_s=NOW_S)
    write_journal(small, [*journal_of(small), resigned(small, Kind.GRANT, body, small.keys["T01"])])
    assert "wrong-role" in words_of_audit(small)
    with small.open().reading() as session:
        assert refused(lambda: view(session, find_tag(session, small.tags["CH-007"]))) == "wrong-role"
