"""Deterministic CBOR, the small part that statements need (RFC 8949 section 4.2.1).

Values: integers of 64 bits, byte strings, texts (NFC, no control characters), null, arrays, and maps with
integer keys. One value has one encoding: shortest heads, definite lengths, keys in bytewise order, no tag, no
float, no other simple value.

Writing is left to cbor2, on values checked and put in key order here (its own canonical mode sorts by the older
RFC 7049). Reading is done here in one strict pass: what arrives is hostile, a general decoder acts on tags and
hashes any key before it can be asked, and a strict reader can say what is wrong.
"""

from __future__ import annotations

from typing import Any
from unicodedata import is_normalized

import cbor2

from vault.errors import GearkeepError, VerificationError
from vault.trust.quick_cbor import is_plain, quick_value

MAX_BYTES = 65_536
MAX_DEPTH = 8

_UNSIGNED, _NEGATIVE, _BYTES, _TEXT, _ARRAY, _MAP = range(6)
_NULL = 0xF6


def _text_problem(text: str) -> str:
    if text.isascii() and text.isprintable():
        return ""
    if any(ord(character) < 0x20 or 0x7F <= ord(character) <= 0x9F for character in text):
        return "a control character"
    if any(0xD800 <= ord(character) <= 0xDFFF for character in text):
        return "half of a surrogate pair"
    return "" if is_normalized("NFC", text) else "characters that are not in composed form (NFC)"


def _key_order(key: int) -> tuple[bool, int]:
    # Bytewise order of the encodings: unsigned keys upwards, then -1, -2 … (RFC 8949 4.2.1).
    return key < 0, key if key >= 0 else -1 - key


def _unwritable(what: str) -> GearkeepError:
    return GearkeepError(what, kind="bad-payload")


def _plain(value: Any, depth: int, negative_keys: bool) -> Any:
    if value is None or isinstance(value, bytes):
        return value
    if isinstance(value, int) and not isinstance(value, bool):
        if not -(1 << 64) <= value < 1 << 64:
            raise _unwritable(f"The number {value} needs more than 64 bits.")
        return int(value)
    if isinstance(value, str):
        problem = _text_problem(value)
        if problem:
            raise _unwritable(f"The text {value[:40]!r} holds {problem}.")
        return value
    if not isinstance(value, list | tuple | dict):
        raise _unwritable(f"A {type(value).__name__} cannot be written into a statement.")
    if depth == 0:
        raise _unwritable("The value is nested too deep to be written.")
    if not isinstance(value, dict):
        return [_plain(item, depth - 1, negative_keys) for item in value]
    for key in value:
        if not isinstance(key, int) or isinstance(key, bool) or (key < 0 and not negative_keys):
            raise _unwritable(f"The map key {key!r} is not an allowed integer.")
    return {_plain(key, 0, negative_keys): _plain(value[key], depth - 1, negative_keys)
            for key in sorted(value, key=_key_order)}


def encode(value: object, *, max_depth: int = MAX_DEPTH, negative_keys: bool = False) -> bytes:
    """The one encoding of a value. Tuples are written as arrays.

    negative_keys: allow negative integers as map keys, as COSE headers have them.
    Raises GearkeepError (bad-payload) for a value outside the subset.
    """
    return cbor2.dumps(value if is_plain(value, max_depth, negative_keys) else _plain(value, max_depth, negative_keys))


def decode(data: bytes, *, max_bytes: int = MAX_BYTES, max_depth: int = MAX_DEPTH, negative_keys: bool = False) -> Any:
    """The value of exactly these bytes: int, bytes, str, None, list or dict.

    Raises VerificationError: too-large, truncated (the bytes end early), not-cbor (not well-formed), not-deterministic
    (well-formed, but not the one encoding of a value of the subset). Never anything else, whatever the bytes.
    """
    if len(data) > max_bytes:
        raise VerificationError(f"{len(data)} bytes are more than the {max_bytes} allowed here.", kind="too-large")
    quick = quick_value(data, max_depth, negative_keys)
    if quick is not None:
        return quick[0]
    value, end = _item(data, 0, max_depth, negative_keys)
    if end != len(data):
        raise _not_deterministic(f"{len(data) - end} bytes follow the end of the value")
    return value


def _not_deterministic(what: str) -> VerificationError:
    return VerificationError(f"Not in the one form that the format allows: {what}.", kind="not-deterministic")


def _truncated(at: int) -> VerificationError:
    return VerificationError(f"The data ends at byte {at}, before the value does.", kind="truncated",
                             hint="Part of the code or file is missing; scan or copy it again.")


def _head(data: bytes, at: int) -> tuple[int, int, int]:
    """Major type, argument and the place behind the head (RFC 8949 section 3)."""
    if at >= len(data):
        raise _truncated(at)
    first = data[at]
    major, argument = first >> 5, first & 31
    if argument > 27 and not (argument == 31 and _BYTES <= major <= _MAP):
        raise VerificationError(f"Byte {at} is no beginning of a CBOR value.", kind="not-cbor")
    if argument == 31:
        raise _not_deterministic(f"an indefinite length at byte {at}")
    if major > _MAP and first != _NULL:
        raise _not_deterministic(f"a tag, a float or a simple value other than null at byte {at}")
    at += 1
    if argument < 24:
        return major, argument, at
    width = 1 << (argument - 24)
    if at + width > len(data):
        raise _truncated(len(data))
    argument = int.from_bytes(data[at : at + width], "big")
    if argument < (24 if width == 1 else 1 << (4 * width)):  # a shorter head would have held it
        raise _not_deterministic(f"a number longer than it need be at byte {at - 1}")
    return major, argument, at + width


def _item(data: bytes, at: int, depth: int, negative_keys: bool) -> tuple[Any, int]:
    start = at
    major, argument, at = _head(data, at)
    if major == _UNSIGNED:
        return argument, at
    if major == _NEGATIVE:
        return -1 - argument, at
    if major in (_BYTES, _TEXT):
        end = at + argument
        if end > len(data):
            raise _truncated(len(data))
        return (data[at:end], end) if major == _BYTES else (_text(data[at:end], start), end)
    if major in (_ARRAY, _MAP):
        if depth == 0:
            raise _not_deterministic(f"it is nested too deep at byte {start}")
        if argument > len(data) - at:
            raise _truncated(len(data))
        if major == _ARRAY:
            items = []
            for _ in range(argument):
                item, at = _item(data, at, depth - 1, negative_keys)
                items.append(item)
            return items, at
        return _map(data, at, argument, depth - 1, negative_keys)
    return None, at


def _text(raw: bytes, start: int) -> str:
    try:
        text = raw.decode("utf-8")
    except UnicodeDecodeError:
        raise VerificationError(f"The text at byte {start} is not UTF-8.", kind="not-cbor") from None
    problem = _text_problem(text)
    if problem:
        raise _not_deterministic(f"the text at byte {start} holds {problem}")
    return text


def _map(data: bytes, at: int, pairs: int, depth: int, negative_keys: bool) -> tuple[dict[int, Any], int]:
    found: dict[int, Any] = {}
    last: tuple[bool, int] | None = None
    for _ in range(pairs):
        start = at
        key, at = _item(data, at, 0, negative_keys)
        if not isinstance(key, int) or (key < 0 and not negative_keys):
            raise _not_deterministic(f"a map key that is not an allowed integer at byte {start}")
        order = _key_order(key)
        if last is not None and order <= last:
            raise _not_deterministic(f"the map key {key} at byte {start} is out of order or there twice")
        last = order
        found[key], at = _item(data, at, depth, negative_keys)
    return found, at
