"""Signed notes and checkpoints in the open formats C2SP signed-note and C2SP tlog-checkpoint, signed by Ed25519."""

from __future__ import annotations

import re
from base64 import b64decode, b64encode
from binascii import Error as Base64Error
from dataclasses import dataclass
from hashlib import sha256
from typing import TYPE_CHECKING

from vault.errors import VerificationError
from vault.trust.keys import PUBLIC_KEY_BYTES, SIGNATURE_BYTES, check_public_key, public_bytes, verify_signature
from vault.trust.merkle import HASH_BYTES

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

MAX_NOTE_CHARACTERS = 65_536

_ED25519 = b"\x01"  # signed-note, section Signature types
_KEY_ID_BYTES = 4
_SIGNATURE_LINE = re.compile(r"— ([^\s+]+) ([A-Za-z0-9+/=]+)")
_VERIFIER_KEY = re.compile(r"([^\s+]+)\+([0-9a-f]{8})\+([A-Za-z0-9+/=]+)")
_FORBIDDEN = re.compile("[\x00-\x09\x0b-\x1f\ud800-\udfff]")  # the last range cannot be written as UTF-8
_SIZE = re.compile(r"0|[1-9][0-9]{0,18}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Checkpoint:
    """The state of a log: its name, how many statements it holds, the root over them, and any extension lines."""

    origin: str
    size: int
    root: bytes
    extensions: tuple[str, ...] = ()


def _bad_note(why: str) -> VerificationError:
    return VerificationError(f"This is no signed checkpoint or note: {why}.", kind="bad-note",
                             hint="Copy the whole text again, with its blank line and the line that begins with —.")


def _base64(text: str, length: int) -> bytes | None:
    # One encoding alone: what does not encode back to the same text is refused.
    try:
        data = b64decode(text, validate=True)
    except (Base64Error, ValueError):
        return None
    return data if len(data) == length and b64encode(data).decode() == text else None


def _check_name(name: str) -> None:
    if not name or "+" in name or any(character.isspace() for character in name):
        raise ValueError(f"{name!r} cannot name a key: no spaces, no plus sign")


def _note_key_id(name: str, public_key: bytes) -> bytes:
    return sha256(name.encode() + b"\n" + _ED25519 + public_key).digest()[:_KEY_ID_BYTES]


def verifier_key(name: str, public_key: bytes) -> str:
    """A public key with its name and key id as one word: NAME+HEX+BASE64."""
    _check_name(name)
    return f"{name}+{_note_key_id(name, public_key).hex()}+{b64encode(_ED25519 + public_key).decode()}"


def parse_verifier_key(text: str) -> tuple[str, bytes]:
    """Name and public key. Raises VerificationError (bad-key)."""
    found = _VERIFIER_KEY.fullmatch(text.strip())
    data = _base64(found[3], 1 + PUBLIC_KEY_BYTES) if found else None
    if not found or data is None or data[:1] != _ED25519:
        raise VerificationError("This is no verifier key of the form NAME+HEX+BASE64 for Ed25519.", kind="bad-key")
    name, public_key = found[1], data[1:]
    if _note_key_id(name, public_key).hex() != found[2]:
        raise VerificationError(f"The verifier key of {name} was mistyped: its key id does not match.", kind="bad-key")
    check_public_key(public_key)
    return name, public_key


def _check_text(text: str) -> None:
    if len(text) > MAX_NOTE_CHARACTERS:
        raise _bad_note("it is too long")
    if not text.endswith("\n") or _FORBIDDEN.search(text):
        raise _bad_note("its text must end with a line end and hold no other control character")


def sign_note(text: str, name: str, key: Ed25519PrivateKey) -> str:
    """The text, a blank line and one signature line. The text ends with a line end."""
    _check_name(name)
    _check_text(text)
    blob = _note_key_id(name, public_bytes(key)) + key.sign(text.encode())
    return f"{text}\n— {name} {b64encode(blob).decode()}\n"


def open_note(text: str, name: str, public_key: bytes) -> str:
    """The text of a note that this key signed, with its line end. Signature lines of other keys are ignored.

    Raises VerificationError: bad-note (the form), unknown-signer (no line of this key), bad-signature.
    """
    body, signatures = signatures_in(text, name, _note_key_id(name, public_key))
    for signature in signatures:
        if len(signature) != SIGNATURE_BYTES:
            raise VerificationError(f"The signature of {name} is cut short or too long.", kind="bad-signature")
        verify_signature(public_key, body.encode(), signature)
    return body


def signatures_in(text: str, name: str, wanted: bytes) -> tuple[str, list[bytes]]:
    """(a note's text, the signatures under a key name and 4-byte key id, whatever their algorithm); nothing is verified.

    Raises VerificationError: bad-note (the form), unknown-signer (no such line).
    """
    _check_text(text)
    # The last blank line parts text and signatures; the line end before it belongs to the text.
    body, blank, lines = text.rpartition("\n\n")
    if not blank or not lines:
        raise _bad_note("no signature line follows a blank line")
    body += "\n"
    signatures: list[bytes] = []
    for line in lines[:-1].split("\n"):
        found = _SIGNATURE_LINE.fullmatch(line)
        try:
            blob = b64decode(found[2], validate=True) if found else b""
        except (Base64Error, ValueError):
            blob = b""
        if not found or len(blob) <= _KEY_ID_BYTES:
            raise _bad_note("a signature line is not — NAME BASE64")
        if found[1] == name and blob[:_KEY_ID_BYTES] == wanted:
            signatures.append(blob[_KEY_ID_BYTES:])
    if not signatures:
        raise VerificationError(f"The note carries no signature of {name} by the key asked for.", kind="unknown-signer")
    return body, signatures


def checkpoint_text(checkpoint: Checkpoint) -> str:
    """The lines of a checkpoint, to be signed as a note. Raises VerificationError (bad-note) for what cannot be one."""
    text = "\n".join([checkpoint.origin, str(checkpoint.size), b64encode(checkpoint.root).decode(),
                      *checkpoint.extensions]) + "\n"
    if parse_checkpoint(text) != checkpoint:
        raise _bad_note("a line end stands where none may")
    return text


def parse_checkpoint(text: str) -> Checkpoint:
    """The checkpoint in a note's text: origin, size without leading zeros, 32-byte root, then any extension lines.

    Raises VerificationError (bad-note).
    """
    _check_text(text)
    lines = text[:-1].split("\n")
    if len(lines) < 3 or not all(lines):
        raise _bad_note("a checkpoint has at least three lines, none of them empty")
    origin, size, root, *extensions = lines
    if not _SIZE.fullmatch(size):
        raise _bad_note(f"the size {size[:40]!r} is no plain number")
    root_hash = _base64(root, HASH_BYTES)
    if root_hash is None:
        raise _bad_note(f"the root is not {HASH_BYTES} bytes in base64")
    return Checkpoint(origin=origin, size=int(size), root=root_hash, extensions=tuple(extensions))
