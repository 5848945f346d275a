"""Attacks by bytes: what is not in the one form, not signed in the one way, or too much. Rows of the table in DEVELOPERS.md."""

from __future__ import annotations

import cbor2
import pytest
from attackers import packed, refusal, refused
from small_vault import SmallVault

from vault.errors import VerificationError
from vault.trust import cbor, cose, merkle
from vault.trust.keys import check_public_key, verify_signature
from vault.trust.note import open_note, parse_checkpoint
from vault.trust.statements import Kind

# The order of the group of Ed25519 (RFC 8032 section 5.1): S and S + L satisfy the same equation.
L = 2**252 + 27742317777372353535851937790883648493
# Points of small order in their canonical encodings (RFC 7748 section 6.1, Bernstein's curve25519 page, as y-coordinates).
SMALL_ORDER = ("0100000000000000000000000000000000000000000000000000000000000000",
               "ecffffffffffffffffffffffffffffffffffffffffffffffffffffffffffff7f",
               "0000000000000000000000000000000000000000000000000000000000000000",
               "26e8958fc2b227b045c3f489f2ef98f0d5dfac05d3c63339b13802886d53fc05",
               "c7176a703d4dd84fba3c0b760d10670f2a2053fa2c39ccc64ec7fd7792ac037a")


def _payload(small: SmallVault) -> bytes:
    return cose.open_envelope(small.seen("CH-007").statement.signed_bytes).payload


PAYLOADS = {
    "nested": (b"\x81" * 60 + b"\x01", "nested too deep"), "duplicate key": (b"\xa2\x01\x01\x01\x02", "there twice"),
    "keys out of order": (b"\xa2\x02\x01\x01\x02", "out of order"),
    "a long head": (b"\xa1\x01\x18\x01", "longer than it need be"),
    "indefinite length": (b"\xbf\x01\x01\xff", "indefinite length"), "a float": (b"\xa1\x01\xfb" + bytes(8), "a float"),
    "something behind the end": (b"\xa0\x00", "follow the end"), "cut short": (b"\xa1\x01", "ends at byte"),
    "a huge length": (b"\x9b" + b"\x7f" * 8, "ends at byte"), "a number by a tag": (b"\xa1\x01\xc2\x41\x01", "a tag"),
    "a text with an escape": (b"\xa1\x0a\x65\x1b[31m", "control character"),
    "text not composed": (b"\xa1\x0a\x63e\xcc\x81", "composed form"),
}


@pytest.mark.parametrize("name", PAYLOADS)
def test_a_payload_in_another_form(small: SmallVault, name: str) -> None:
    """Signed with a good key, and refused before it is journaled, in words that say what is wrong with it."""
    payload, word = PAYLOADS[name]
    problem = refusal(lambda: small.open().append_signed(packed(small, payload, small.keys["I01"])))
    assert problem.kind == "bad-payload" and word in problem.what


@pytest.mark.parametrize(("change", "word"), [
    ({99: 1}, "key 99"), ({2: "x"}, "version"), ({1: b"123"}, "tag"), ({14: []}, "gears")])
def test_a_field_that_the_format_does_not_have(small: SmallVault, change: dict[int, object], word: str) -> None:
    """An unknown field, a text for a number, a short tag, no gear: named by the field."""
    payload = cbor2.dumps({**cbor2.loads(_payload(small)), **change})
    problem = refusal(lambda: small.open().append_signed(packed(small, payload, small.keys["I01"])))
    assert problem.kind == "bad-payload" and word in problem.what


def test_a_statement_too_large(small: SmallVault) -> None:
    """Endless data ends at 64 KiB, before anything is read."""
    large = packed(small, cbor2.dumps({1: bytes(70_000)}), small.keys["I01"])
    assert refused(lambda: small.open().append_signed(large)) == "too-large"


@pytest.mark.parametrize(("change", "kind"), [
    ({1: -8}, "wrong-algorithm"), ({1: None}, "wrong-algorithm"), ({5: 1}, "unknown-header"), ({-65537: 14}, "unknown-kind"),
    ({-65537: 99}, "unknown-kind"), ({-65537: 18}, "unknown-kind"),
])
def test_another_header(small: SmallVault, change: dict[int, int | None], kind: str) -> None:
    """Another algorithm (-8 is deprecated by RFC 9864), none, one header more, an estate in a journal, an unknown kind."""
    envelope = cose.open_envelope(small.seen("CH-007").statement.signed_bytes)
    header = {**cbor2.loads(envelope.protected_bytes), **change}
    with small.open().reading() as session:
        aad = cose.external_aad(1, session.genesis.log_id)
    signed = cose.sign1({name: value for name, value in header.items() if value is not None}, envelope.payload,
                        small.keys["I01"], aad)
    assert refused(lambda: small.open().append_signed(signed)) == kind


@pytest.mark.parametrize(("name", "kind"), [
    ("no signature", "unsigned"), ("bare settings", "unsigned"), ("algorithm outside", "unknown-header"),
    ("S plus L", "bad-signature"), ("R of small order", "bad-signature"), ("another's key id", "bad-signature"),
])
def test_a_signature_that_is_none(small: SmallVault, name: str, kind: str) -> None:
    """Left out, moved into the open header, malleated (RFC 8032 8.4), made from a point of small order, under another name."""
    good = small.seen("CH-007").statement.signed_bytes
    protected, _, payload, signature = cbor2.loads(good)
    s = int.from_bytes(signature[32:], "little")
    other = cose.open_envelope(packed(small, payload, small.keys["T01"], kind=Kind.RECORD)).protected_bytes
    bad = {
        "no signature": [protected, {}, payload, b""], "bare settings": cbor2.loads(payload),
        "algorithm outside": [protected, {1: -19}, payload, signature],
        "S plus L": [protected, {}, payload, signature[:32] + (s + L).to_bytes(32, "little")],
        "R of small order": [protected, {}, payload, bytes.fromhex(SMALL_ORDER[0]) + bytes(32)],
        "another's key id": [other, {}, payload, signature],
    }[name]
    assert refused(lambda: small.open().append_signed(cbor2.dumps(bad))) == kind


@pytest.mark.parametrize("point", SMALL_ORDER)
def test_a_key_of_small_order(point: str) -> None:
    """Such a key is refused at enrolment, and a signature under it at every check, whatever was signed."""
    forged = bytes.fromhex(SMALL_ORDER[0]) + bytes(32)
    assert refused(lambda: check_public_key(bytes.fromhex(point))) == "bad-key"
    assert refused(lambda: verify_signature(bytes.fromhex(point), b"anything", forged)) == "bad-signature"


@pytest.mark.parametrize("proof", [[], [bytes(32)], [bytes(32)] * 70, [b"short"]])
def test_a_forged_proof(proof: list[bytes]) -> None:
    """Proofs that are empty, of noughts, endless or of other lengths hold for nothing."""
    with pytest.raises(VerificationError) as problem:
        merkle.verify_inclusion(bytes(32), 3, 7, proof, b"r" * 32)
    assert problem.value.kind == "bad-proof"


@pytest.mark.parametrize("note", ["", "x\n\n", "a\n1\n" + "A" * 43 + "=\n\n— a AAAA\n", "a\n" * 70_000])
def test_a_note_that_is_none(note: str) -> None:
    """Empty, unsigned, badly signed or endless notes are no checkpoints."""
    assert refused(lambda: parse_checkpoint(open_note(note, "a", bytes(32)))) in ("bad-note", "bad-signature", "unknown-signer")


def test_reading_hostile_bytes_builds_nothing(small: SmallVault) -> None:
    """A statement that claims four thousand million entries is refused at once (endless data)."""
    assert refused(lambda: small.open().append_signed(b"\x9a\xff\xff\xff\xff")) == "truncated"
    assert refused(lambda: cbor.decode(b"\xa1\x01\x5b\x7f\xff\xff\xff\xff\xff\xff\xff")) == "truncated"
