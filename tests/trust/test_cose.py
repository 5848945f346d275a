"""Signed statements: against RFC 8032 and a published COSE message, and the vault's own narrower rules."""

from __future__ import annotations

import cbor2
import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from hypothesis import given
from hypothesis import strategies as st

from vault.errors import VerificationError
from vault.trust import cose
from vault.trust.keys import key_id, public_bytes, verify_signature

# RFC 8032 7.1, TEST 1, TEST 2, TEST 3, TEST SHA(abc): secret, public, message, signature.
RFC_8032 = [
    (
        "9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60",
        "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a",
        "",
        "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e065224901555fb8821590a33bacc61e39701cf9b46bd25bf5f0595bbe"
        "24655141438e7a100b",
    ),
    (
        "4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb",
        "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c",
        "72",
        "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da085ac1e43e15996e458f3613d0f11d8c387b2eaeb4302a"
        "eeb00d291612bb0c00",
    ),
    (
        "c5aa8df43f9f837bedb7442f31dcb7b166d38535076f094b85ce3a2e0b4458f7",
        "fc51cd8e6218a1a38da47ed00230f0580816ed13ba3303ac5deb911548908025",
        "af82",
        "6291d657deec24024827e69c3abe01a30ce548a284743a445e3680d7db5ac3ac18ff9b538d16f290ae67f760984dc6594a7c15e9716ed2"
        "8dc027beceea1ec40a",
    ),
    (
        "833fe62409237b9d62ec77587520911e9a759cec1d19755b7da901b96dca3d42",
        "ec172b93ad5e563bf4932c70e1245034c35467ef2efd4d64ebf819683467e2bf",
        "ddaf35a193617abacc417349ae20413112e6fa4e89a97ea20a9eeee64b55d39a2192992a274fc1a836ba3c23a3feebbd454d4423643ce8"
        "0e2a9ac94fa54ca49f",
        "dc2a4459e7369633a52b1bf277839a00201009a3efbf3ecb69bea2186c26b58909351fc9ac90b3ecfdfbc7c66431e0303dca179c138ac1"
        "7ad9bef1177331a704",
    ),
]

# COSE WG Examples, eddsa-sig-01: the key is that of RFC 8032 TEST 1.
EDDSA_SIG_01 = bytes.fromhex(
    "d28445a201270300a10442313154546869732069732074686520636f6e74656e742e58407142fd2ff96d56db85bee905a76ba1d0b7321a95"
    "c8c4d3607c5781932b7afb8711497dfa751bf40b58b3bcc32300b1487f3db34085eef013bf08f4a44d6fef0d"
)
EDDSA_SIG_01_SIGNED = "846a5369676e61747572653145a2012703004054546869732069732074686520636f6e74656e742e"

KEY = Ed25519PrivateKey.from_private_bytes(bytes.fromhex(RFC_8032[0][0]))
PUBLIC = bytes.fromhex(RFC_8032[0][1])
OTHER = Ed25519PrivateKey.from_private_bytes(bytes.fromhex(RFC_8032[1][0]))
LOG_ID = bytes(range(16))
AAD = cose.external_aad(1, LOG_ID)
PAYLOAD = bytes.fromhex("a10005")
STATEMENT = cose.sign_statement(7, PAYLOAD, KEY, AAD)
HEADER = {1: -19, 4: key_id(PUBLIC), -65537: 7}


@pytest.mark.parametrize(("secret", "public", "message", "signature"), RFC_8032)
def test_published_signatures(secret: str, public: str, message: str, signature: str) -> None:
    """RFC 8032 7.1: key, signature and verification agree."""
    key = Ed25519PrivateKey.from_private_bytes(bytes.fromhex(secret))
    assert public_bytes(key).hex() == public
    assert key.sign(bytes.fromhex(message)).hex() == signature
    verify_signature(bytes.fromhex(public), bytes.fromhex(message), bytes.fromhex(signature))


def test_published_message_is_signed_byte_for_byte() -> None:
    """eddsa-sig-01 comes out of the general code as it was published, 100 bytes."""
    made = cose.sign1({1: -8, 3: 0}, b"This is the content.", KEY, b"", unprotected={4: b"11"}, tagged=True)
    assert made == EDDSA_SIG_01


def test_published_message_is_taken_apart_and_verified() -> None:
    """eddsa-sig-01: its parts, the bytes signed, and its signature."""
    parts = cose.split1(EDDSA_SIG_01, tagged=True)
    assert parts.protected == {1: -8, 3: 0}
    assert parts.unprotected == {4: b"11"}
    assert parts.payload == b"This is the content."
    signed = cose.sig_structure(parts.protected_bytes, b"", parts.payload)
    assert signed.hex() == EDDSA_SIG_01_SIGNED
    verify_signature(PUBLIC, signed, parts.signature)


def test_published_message_is_no_statement() -> None:
    """The vault takes one algorithm, and not the deprecated name of it."""
    with pytest.raises(VerificationError) as caught:
        cose.open_envelope(EDDSA_SIG_01[1:])
    assert caught.value.kind == "wrong-algorithm"


def test_another_implementation_sees_the_standard_shape() -> None:
    """cbor2 finds four parts and the three protected headers."""
    protected, unprotected, payload, signature = cbor2.loads(STATEMENT)
    assert cbor2.loads(protected) == HEADER
    assert unprotected == {}
    assert payload == PAYLOAD
    assert len(signature) == 64


def test_a_statement_is_opened_and_verified() -> None:
    """What was signed is what is read."""
    envelope = cose.open_envelope(STATEMENT)
    assert (envelope.kind, envelope.key_id, envelope.payload) == (7, key_id(PUBLIC), PAYLOAD)
    assert envelope.signed_bytes == STATEMENT
    cose.verify_envelope(envelope, PUBLIC, AAD)


@given(st.integers(min_value=0, max_value=2**32), st.binary(max_size=400))
def test_every_statement_survives_the_way(kind: int, payload: bytes) -> None:
    """Any kind and payload round-trip."""
    envelope = cose.open_envelope(cose.sign_statement(kind, payload, KEY, AAD))
    assert (envelope.kind, envelope.payload) == (kind, payload)
    cose.verify_envelope(envelope, PUBLIC, AAD)


@pytest.mark.parametrize(
    ("public_key", "aad"),
    [
        (public_bytes(OTHER), AAD),
        (PUBLIC, cose.external_aad(1, bytes(16))),
        (PUBLIC, cose.external_aad(2, LOG_ID)),
        (PUBLIC, b""),
        (PUBLIC[:31], AAD),
        (b"", AAD),
    ],
    ids=["another key", "another vault", "another format", "no vault", "short key", "no key"],
)
def test_a_statement_counts_for_one_key_and_one_vault(public_key: bytes, aad: bytes) -> None:
    """A statement carried elsewhere has a bad signature."""
    with pytest.raises(VerificationError) as caught:
        cose.verify_envelope(cose.open_envelope(STATEMENT), public_key, aad)
    assert caught.value.kind == "bad-signature"


@given(st.integers(min_value=0, max_value=8 * len(STATEMENT) - 1))
def test_no_bit_can_be_flipped(bit: int) -> None:
    """Whichever bit is flipped, opening or verifying fails, or the statement names another signer."""
    data = bytearray(STATEMENT)
    data[bit // 8] ^= 1 << bit % 8
    with pytest.raises(VerificationError):
        cose.verify_envelope(cose.open_envelope(bytes(data)), PUBLIC, AAD)


def envelope_of(*parts: object) -> bytes:
    """An array of the given parts, by cbor2, in the order they have."""
    return cbor2.dumps(list(parts))


SIGNATURE = bytes(64)
GOOD_HEADER = cbor2.dumps(HEADER)


@pytest.mark.parametrize(
    ("data", "kind"),
    [
        (b"", "truncated"),
        (STATEMENT[:-1], "truncated"),
        (STATEMENT[:40], "truncated"),
        (STATEMENT + b"\x00", "not-deterministic"),
        (b"\xd2" + STATEMENT, "not-deterministic"),
        (b"\x98\x04" + STATEMENT[1:], "not-deterministic"),
        (bytes(65_537), "too-large"),
        (b"\xff", "not-cbor"),
        (cbor2.dumps({0: 1}), "unsigned"),
        (cbor2.dumps({}), "unsigned"),
        (envelope_of(GOOD_HEADER, {}, PAYLOAD, b""), "unsigned"),
        (cbor2.dumps(5), "not-a-statement"),
        (envelope_of(), "not-a-statement"),
        (envelope_of(GOOD_HEADER, {}, PAYLOAD), "not-a-statement"),
        (envelope_of(GOOD_HEADER, {}, PAYLOAD, SIGNATURE, b""), "not-a-statement"),
        (envelope_of(GOOD_HEADER, {}, None, SIGNATURE), "not-a-statement"),
        (envelope_of(GOOD_HEADER, [], PAYLOAD, SIGNATURE), "not-a-statement"),
        (envelope_of(HEADER, {}, PAYLOAD, SIGNATURE), "not-a-statement"),
        (envelope_of(GOOD_HEADER, {}, PAYLOAD, "signature"), "not-a-statement"),
        (envelope_of(b"\x80", {}, PAYLOAD, SIGNATURE), "not-a-statement"),
        (envelope_of(b"\xa0", {}, PAYLOAD, SIGNATURE), "not-a-statement"),
        (envelope_of(b"", {}, PAYLOAD, SIGNATURE), "wrong-algorithm"),
        (envelope_of(cbor2.dumps({1: -8, 4: bytes(8), -65537: 7}), {}, PAYLOAD, SIGNATURE), "wrong-algorithm"),
        (envelope_of(cbor2.dumps({1: -7, 4: bytes(8), -65537: 7}), {}, PAYLOAD, SIGNATURE), "wrong-algorithm"),
        (envelope_of(cbor2.dumps({4: bytes(8), -65537: 7}), {}, PAYLOAD, SIGNATURE), "wrong-algorithm"),
        (envelope_of(cbor2.dumps({4: bytes(8), -65537: 7}), {1: -19}, PAYLOAD, SIGNATURE), "wrong-algorithm"),
        (envelope_of(GOOD_HEADER, {1: -19}, PAYLOAD, SIGNATURE), "unknown-header"),
        (envelope_of(cbor2.dumps({1: -19, 2: [9], 4: bytes(8), -65537: 7}), {}, PAYLOAD, SIGNATURE), "unknown-header"),
        (envelope_of(cbor2.dumps({1: -19, -65537: 7}), {}, PAYLOAD, SIGNATURE), "unknown-header"),
        (envelope_of(cbor2.dumps({1: -19, 4: bytes(8)}), {}, PAYLOAD, SIGNATURE), "unknown-header"),
        (envelope_of(cbor2.dumps({1: -19, 4: bytes(7), -65537: 7}), {}, PAYLOAD, SIGNATURE), "not-a-statement"),
        (envelope_of(cbor2.dumps({1: -19, 4: "12345678", -65537: 7}), {}, PAYLOAD, SIGNATURE), "not-a-statement"),
        (envelope_of(cbor2.dumps({1: -19, 4: bytes(8), -65537: -7}), {}, PAYLOAD, SIGNATURE), "not-a-statement"),
        (envelope_of(cbor2.dumps({1: -19, 4: bytes(8), -65537: b"7"}), {}, PAYLOAD, SIGNATURE), "not-a-statement"),
        (envelope_of(cbor2.dumps({4: bytes(8), 1: -19, -65537: 7}), {}, PAYLOAD, SIGNATURE), "not-deterministic"),
        (envelope_of(GOOD_HEADER + b"\x00", {}, PAYLOAD, SIGNATURE), "not-deterministic"),
        (envelope_of(GOOD_HEADER[:-1], {}, PAYLOAD, SIGNATURE), "truncated"),
        (envelope_of(b"\xff", {}, PAYLOAD, SIGNATURE), "not-cbor"),
    ],
)
def test_what_is_no_statement_is_told_apart(data: bytes, kind: str) -> None:
    """Each wrong form causes its failure class."""
    with pytest.raises(VerificationError) as caught:
        cose.open_envelope(data)
    assert caught.value.kind == kind


@given(st.binary(max_size=300))
def test_any_bytes_are_refused_in_order(data: bytes) -> None:
    """Whatever the bytes, opening gives an envelope or a VerificationError."""
    try:
        envelope = cose.open_envelope(data)
    except VerificationError:
        return
    assert envelope.signed_bytes == data


def test_the_general_code_wants_the_tag_that_it_was_promised() -> None:
    """An untagged message is refused where a tagged one is expected."""
    with pytest.raises(VerificationError) as caught:
        cose.split1(EDDSA_SIG_01[1:], tagged=True)
    assert caught.value.kind == "not-a-statement"


def test_digest_is_the_leaf_hash() -> None:
    """Of no bytes: the hash of the empty leaf (certificate-transparency merkle_tree_test.cc, root of one leaf)."""
    assert cose.digest(b"").hex() == "6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d"


@pytest.mark.parametrize("log_id", [b"", bytes(15), bytes(17)])
def test_a_log_id_has_sixteen_bytes(log_id: bytes) -> None:
    """Any other length is a mistake of the caller."""
    with pytest.raises(ValueError, match="16 bytes"):
        cose.external_aad(1, log_id)
