"""The added signature of a checkpoint by ML-DSA-65."""

from __future__ import annotations

from base64 import b64encode
from hashlib import sha256

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from cryptography.hazmat.primitives.asymmetric.mldsa import MLDSA65PrivateKey

from vault.errors import VerificationError
from vault.trust.cosign import PUBLIC_KEY_BYTES, SIGNATURE_BYTES, cosign, open_cosigned, parse_verifiers, verifier_text
from vault.trust.keys import public_bytes
from vault.trust.note import Checkpoint, checkpoint_text, open_note, sign_note

ORIGIN = "lx.example.eu/00010203"
CHECKPOINT = Checkpoint(origin=ORIGIN, size=14, root=sha256(b"root").digest())
KEY = Ed25519PrivateKey.from_private_bytes(bytes(32))
NOTE = sign_note(checkpoint_text(CHECKPOINT), ORIGIN, KEY)
COSIGNER, STRANGER = MLDSA65PrivateKey.from_seed_bytes(bytes(32)), MLDSA65PrivateKey.from_seed_bytes(bytes([1]) * 32)
PUBLIC = COSIGNER.public_key().public_bytes_raw()
TRUSTED = parse_verifiers(verifier_text(ORIGIN, PUBLIC))
BOTH = cosign(NOTE, COSIGNER)


def test_lengths_are_those_of_the_standard() -> None:
    """FIPS 204 table 2: a public key of ML-DSA-65 has 1,952 bytes, a signature 3,309."""
    assert (PUBLIC_KEY_BYTES, SIGNATURE_BYTES) == (1_952, 3_309) == (len(PUBLIC), len(COSIGNER.sign(b"")))


def test_both_signatures_are_good() -> None:
    """The first line is as it was, and the second opens with the co-signer's key."""
    assert BOTH.startswith(NOTE) and open_note(BOTH, ORIGIN, public_bytes(KEY)) == open_note(NOTE, ORIGIN, public_bytes(KEY))
    assert open_cosigned(BOTH, TRUSTED) == CHECKPOINT


@pytest.mark.parametrize(("note", "verifiers", "kind"), [
    (NOTE, TRUSTED, "unknown-signer"),
    (cosign(NOTE, STRANGER), TRUSTED, "unknown-signer"),
    (BOTH, parse_verifiers(verifier_text("lx.example.eu/other", PUBLIC)), "unknown-signer"),
    (BOTH.replace("\n14\n", "\n15\n"), TRUSTED, "bad-signature"),
    (BOTH[:-61] + "\n", TRUSTED, "bad-signature"),
    ("nothing", TRUSTED, "bad-note"),
], ids=["no second line", "by a stranger", "a key of another log", "changed", "cut short", "no note"])
def test_what_is_refused(note: str, verifiers: dict[str, bytes], kind: str) -> None:
    """Whoever looks for a co-signature is told when there is no good one."""
    with pytest.raises(VerificationError) as caught:
        open_cosigned(note, verifiers)
    assert caught.value.kind == kind


def test_a_signature_without_the_context_is_none() -> None:
    """What the key signs elsewhere is no co-signature of a checkpoint."""
    body = checkpoint_text(CHECKPOINT)
    name = f"{ORIGIN}/ml-dsa-65"
    ident = sha256(name.encode() + b"\n\xffgearkeep ML-DSA-65" + PUBLIC).digest()[:4]
    line = f"— {name} {b64encode(ident + COSIGNER.sign(body.encode())).decode()}\n"
    with pytest.raises(VerificationError) as caught:
        open_cosigned(NOTE + line, TRUSTED)
    assert caught.value.kind == "bad-signature"


@pytest.mark.parametrize("text", ["", "x", verifier_text(ORIGIN, PUBLIC)[:-4], verifier_text(ORIGIN, PUBLIC).replace("+", "-", 1),
                                  verifier_text(ORIGIN, PUBLIC).replace("00010203", "00010204")])
def test_what_is_no_verifier_key(text: str) -> None:
    """Cut, mistyped, or of another name than its key id says."""
    with pytest.raises(VerificationError) as caught:
        parse_verifiers(text)
    assert caught.value.kind == "bad-key"
