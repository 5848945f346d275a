"""The added signature of a checkpoint by ML-DSA-65 (FIPS 204; FORMAT.md, section Algorithm agility).

It is a second signature line of the same C2SP note. Whoever does not know it ignores it; whoever looks for it refuses a note
without a good one. The algorithm comes with `cryptography` where that is built on a library that has it.
"""

from __future__ import annotations

import re
from base64 import b64decode, b64encode
from hashlib import sha256
from typing import TYPE_CHECKING

from vault.errors import GearkeepError, VerificationError
from vault.trust.note import Checkpoint, parse_checkpoint, signatures_in

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.mldsa import MLDSA65PrivateKey

PUBLIC_KEY_BYTES, SIGNATURE_BYTES = 1_952, 3_309  # FIPS 204 table 2
CONTEXT = b"gearkeep checkpoint 1"
# signed-note, section Signatures: a type without a number is ff and a text that nobody else is likely to use.
_TYPE = b"\xffgearkeep ML-DSA-65"
_VERIFIER = re.compile(r"(\S{1,120}/ml-dsa-65)\+([0-9a-f]{8})\+([A-Za-z0-9+/=]{1,4000})")


def missing() -> GearkeepError:
    """What to say where the library lacks ML-DSA."""
    return GearkeepError("This computer's cryptography library has no ML-DSA, so co-signatures cannot be made or checked here.",
                         kind="cannot-check", hint="Use a newer cryptography, on a library that has FIPS 204, or check the note "
                         "on another computer. The checkpoint's first signature can be checked here.")


def new_cosign_key() -> MLDSA65PrivateKey:
    """A new co-signing key. Raises GearkeepError (cannot-check) where the library lacks ML-DSA."""
    from cryptography.exceptions import UnsupportedAlgorithm

    try:
        from cryptography.hazmat.primitives.asymmetric.mldsa import MLDSA65PrivateKey

        return MLDSA65PrivateKey.generate()
    except (ImportError, UnsupportedAlgorithm) as problem:
        raise missing() from problem


def cosign_name(origin: str) -> str:
    """The key name of a log's co-signatures."""
    return f"{origin}/ml-dsa-65"


def _key_id(name: str, public_key: bytes) -> bytes:
    return sha256(name.encode() + b"\n" + _TYPE + public_key).digest()[:4]


def verifier_text(origin: str, public_key: bytes) -> str:
    """A co-signing public key (1,952 bytes) with its name and key id as one word, for one log."""
    name = cosign_name(origin)
    return f"{name}+{_key_id(name, public_key).hex()}+{b64encode(_TYPE + public_key).decode()}"


def parse_verifiers(text: str) -> dict[str, bytes]:
    """Key name -> public key, of a file with one verifier key a line. Raises VerificationError (bad-key)."""
    found: dict[str, bytes] = {}
    for line in text.split():
        match = _VERIFIER.fullmatch(line)
        try:
            data = b64decode(match[3], validate=True) if match else b""
        except ValueError:
            data = b""
        name, public_key = (match[1], data.removeprefix(_TYPE)) if match else ("", b"")
        if (match is None or data != _TYPE + public_key or len(public_key) != PUBLIC_KEY_BYTES
                or _key_id(name, public_key).hex() != match[2]):
            raise VerificationError("This is no verifier key of a co-signer: NAME/ml-dsa-65+HEX+BASE64.", kind="bad-key",
                                    hint="Give the file that gearkeep cosign key wrote beside the key (.pub).")
        found[name] = public_key
    if not found:
        raise VerificationError("The file holds no verifier key of a co-signer.", kind="bad-key",
                                hint="Give the file that gearkeep cosign key wrote beside the key (.pub).")
    return found


def _body(note: str) -> str:
    return note.rpartition("\n\n")[0] + "\n"


def cosign(note: str, key: MLDSA65PrivateKey) -> str:
    """The note of a checkpoint with one more signature line. Raises VerificationError (bad-note)."""
    body = _body(note)
    name = cosign_name(parse_checkpoint(body).origin)
    signature = key.sign(body.encode(), context=CONTEXT)
    blob = _key_id(name, key.public_key().public_bytes_raw()) + signature
    return f"{note.rstrip()}\n— {name} {b64encode(blob).decode()}\n"


def open_cosigned(note: str, verifiers: dict[str, bytes]) -> Checkpoint:
    """The checkpoint that a co-signer signed. verifiers: what the reader trusts, by key name (see `parse_verifiers`).

    Raises VerificationError: bad-note, unknown-signer (no such line, or no key for this log), bad-signature; GearkeepError
    cannot-check where the library lacks ML-DSA.
    """
    from cryptography.exceptions import InvalidSignature, UnsupportedAlgorithm

    said = parse_checkpoint(_body(note))
    name = cosign_name(said.origin)
    if name not in verifiers:
        raise VerificationError(f"No co-signer's key is at hand for {said.origin}.", kind="unknown-signer",
                                hint="Give the .pub file of the co-signer of this vault.")
    public_key = verifiers[name]
    body, signatures = signatures_in(note, name, _key_id(name, public_key))
    try:
        from cryptography.hazmat.primitives.asymmetric.mldsa import MLDSA65PublicKey

        loaded = MLDSA65PublicKey.from_public_bytes(public_key)
    except (ImportError, UnsupportedAlgorithm) as problem:
        raise missing() from problem
    try:
        for signature in signatures:
            loaded.verify(signature, body.encode(), context=CONTEXT)
    except InvalidSignature as problem:
        raise VerificationError(f"The co-signature of {said.origin} is not good: the checkpoint was changed, or another key "
                                "signed it.", kind="bad-signature", hint="Do not rely on this checkpoint.") from problem
    return said
