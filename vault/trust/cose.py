"""Signed statements: COSE_Sign1 (RFC 9052) with Ed25519 (RFC 9864), and the vault's own narrower rules.

The general half builds and takes apart any COSE_Sign1 with integer header labels. The second half is what the vault
signs and accepts: untagged, algorithm −19, exactly three protected headers, no unprotected one, one encoding.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Any

import cbor2

from vault.errors import VerificationError
from vault.trust import cbor
from vault.trust.keys import KEY_ID_BYTES, key_id, public_bytes, verify_signature
from vault.trust.merkle import leaf_hash

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

ALG_ED25519 = -19  # RFC 9864 section 2.2
HEADER_ALG = 1  # RFC 9052 section 3.1
HEADER_KID = 4
HEADER_KIND = -65537  # from the range for private use (RFC 9052 section 11.1, IANA registry of COSE headers)
TAG_SIGN1 = 0xD2  # the one-byte head of tag 18, RFC 9052 section 4.2
MAX_STATEMENT_BYTES = 65_536
LOG_ID_BYTES = 16

_HEADERS = {HEADER_ALG, HEADER_KID, HEADER_KIND}


@dataclass(frozen=True, slots=True, kw_only=True)
class Parts:
    """A COSE_Sign1 taken apart; nothing about it is verified."""

    protected_bytes: bytes
    protected: dict[int, Any]
    unprotected: dict[int, Any]
    payload: bytes
    signature: bytes


@dataclass(frozen=True, slots=True, kw_only=True)
class Envelope:
    """A statement of the vault's own form whose signature has not been checked yet. key_id: 8 bytes."""

    kind: int
    key_id: bytes
    payload: bytes
    signature: bytes
    protected_bytes: bytes
    signed_bytes: bytes


def _byte_string(data: bytes) -> bytes:
    # The shortest head (RFC 8949 section 3), by hand: this runs for every statement that is verified.
    size = len(data)
    if size < 24:
        return bytes((0x40 | size,)) + data
    if size < 0x100:
        return bytes((0x58, size)) + data
    return cbor2.dumps(data)


def sig_structure(protected: bytes, external_aad: bytes, payload: bytes) -> bytes:
    """The bytes that are signed: Sig_structure of RFC 9052 section 4.4."""
    return b"\x84\x6aSignature1" + _byte_string(protected) + _byte_string(external_aad) + _byte_string(payload)


def sign1(
    protected: Mapping[int, Any],
    payload: bytes,
    private_key: Ed25519PrivateKey,
    external_aad: bytes,
    *,
    unprotected: Mapping[int, Any] | None = None,
    tagged: bool = False,
) -> bytes:
    """A COSE_Sign1; the algorithm is whatever `protected` says."""
    protected_bytes = cbor.encode(dict(protected), negative_keys=True)
    signature = private_key.sign(sig_structure(protected_bytes, external_aad, payload))
    body = cbor.encode([protected_bytes, dict(unprotected or {}), payload, signature], negative_keys=True)
    return bytes([TAG_SIGN1]) + body if tagged else body


def split1(data: bytes, max_bytes: int = MAX_STATEMENT_BYTES, *, tagged: bool = False) -> Parts:
    """Take a COSE_Sign1 apart. tagged: whether it must begin with tag 18; otherwise it must not.

    Raises VerificationError: what `cbor.decode` raises; unsigned (a bare map, or an empty signature);
    not-a-statement (any other shape).
    """
    if tagged:
        if data[:1] != bytes([TAG_SIGN1]):
            raise _not_a_statement("it does not begin with the tag of a signed message")
        data = data[1:]
    found = cbor.decode(data, max_bytes=max_bytes, negative_keys=True)
    if isinstance(found, dict):
        raise _unsigned("These are settings without any signature.")
    if not isinstance(found, list) or len(found) != 4:
        raise _not_a_statement("it is no array of four")
    protected_bytes, unprotected, payload, signature = found
    if not (isinstance(protected_bytes, bytes) and isinstance(unprotected, dict)
            and isinstance(payload, bytes) and isinstance(signature, bytes)):
        raise _not_a_statement("its four parts are not header, header, payload and signature")
    if not signature:
        raise _unsigned("The place of the signature is empty.")
    # RFC 9052 section 3: a protected header without entries is the empty byte string.
    protected = cbor.decode(protected_bytes, negative_keys=True) if protected_bytes else {}
    if not isinstance(protected, dict) or (protected_bytes and not protected):
        raise _not_a_statement("its protected header is no map")
    return Parts(protected_bytes=protected_bytes, protected=protected, unprotected=unprotected, payload=payload,
                 signature=signature)


def _unsigned(what: str) -> VerificationError:
    return VerificationError(what, kind="unsigned", hint="Do not use these figures: anybody could have written them.")


def _not_a_statement(why: str) -> VerificationError:
    return VerificationError(f"This is no signed statement: {why}.", kind="not-a-statement")


@lru_cache(maxsize=64)
def external_aad(format_version: int, log_id: bytes) -> bytes:
    """What ties a statement to its format and its log without lying inside it. log_id: 16 bytes."""
    if len(log_id) != LOG_ID_BYTES:
        raise ValueError(f"a log id has {LOG_ID_BYTES} bytes, not {len(log_id)}")
    return cbor.encode([format_version, log_id])


def digest(signed_bytes: bytes) -> bytes:
    """SHA-256(0x00 ‖ signed bytes): the leaf hash of RFC 9162, the one digest of a statement used everywhere."""
    return leaf_hash(signed_bytes)


def sign_statement(kind: int, payload: bytes, key: Ed25519PrivateKey, external_aad: bytes) -> bytes:
    """A statement of the vault's form."""
    protected = {HEADER_ALG: ALG_ED25519, HEADER_KID: key_id(public_bytes(key)), HEADER_KIND: kind}
    return sign1(protected, payload, key, external_aad)


def open_envelope(data: bytes) -> Envelope:
    """Check everything about a statement but its signature and its payload.

    Raises VerificationError: what `split1` raises; wrong-algorithm; unknown-header (one too many, or one missing);
    not-a-statement (a header of the wrong type).
    """
    quick = _quick_envelope(data)
    if quick is not None:
        return quick
    parts = split1(data)  # size, one encoding, shape
    header = parts.protected
    if header.get(HEADER_ALG) != ALG_ED25519:
        raise VerificationError(f"It is signed with algorithm {header.get(HEADER_ALG)!r}; the vault accepts "
                                f"{ALG_ED25519} (Ed25519) alone.", kind="wrong-algorithm")
    if parts.unprotected or header.keys() != _HEADERS:
        odd = sorted((header.keys() ^ _HEADERS) | parts.unprotected.keys())
        raise VerificationError(f"Its headers are not exactly those of a statement (see {odd}).", kind="unknown-header",
                                hint="A newer gearkeep may be able to read it.")
    kind, signer = header[HEADER_KIND], header[HEADER_KID]
    if not isinstance(kind, int) or kind < 0:
        raise _not_a_statement("its kind is no number")
    if not isinstance(signer, bytes) or len(signer) != KEY_ID_BYTES:
        raise _not_a_statement(f"its key id has not {KEY_ID_BYTES} bytes")
    if len(_seen_headers) >= _MOST_SEEN:
        _seen_headers.clear()
    _seen_headers[parts.protected_bytes] = kind, signer
    return Envelope(kind=kind, key_id=signer, payload=parts.payload, signature=parts.signature,
                    protected_bytes=parts.protected_bytes, signed_bytes=data)


# Protected headers that the careful way has accepted, with the kind and key id in them: a vault has few of them.
_seen_headers: dict[bytes, tuple[int, bytes]] = {}
_MOST_SEEN = 4096
_SIGNATURE_HEAD = b"\x58\x40"


def _quick_envelope(data: bytes) -> Envelope | None:
    """The envelope of bytes in the one shape that statements have, its header seen before; None for anything else.

    array(4), protected header under 24 bytes, empty map, payload with the shortest length, 64 bytes of signature.
    """
    if not 90 < len(data) <= MAX_STATEMENT_BYTES or data[0] != 0x84 or not 0x40 <= data[1] < 0x58:
        return None
    at = data[1] - 0x3E  # behind the protected header
    found = _seen_headers.get(data[2:at])
    if found is None or data[at] != 0xA0:
        return None
    head, end = data[at + 1], len(data) - 66
    if head == 0x58 and data[at + 2] >= 24:
        start = at + 3
        length = data[at + 2]
    elif head == 0x59 and data[at + 2]:
        start = at + 4
        length = data[at + 2] << 8 | data[at + 3]
    else:
        return None
    if start + length != end or data[end : end + 2] != _SIGNATURE_HEAD:
        return None
    return Envelope(kind=found[0], key_id=found[1], payload=data[start:end], signature=data[end + 2 :],
                    protected_bytes=data[2:at], signed_bytes=data)


def verify_envelope(envelope: Envelope, public_key: bytes, external_aad: bytes) -> None:
    """Check the signature. Raises VerificationError (bad-signature)."""
    signed = sig_structure(envelope.protected_bytes, external_aad, envelope.payload)
    verify_signature(public_key, signed, envelope.signature)
