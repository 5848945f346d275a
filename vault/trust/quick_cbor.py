"""The quick way to the value of good bytes: cbor2 decodes, and a pass over the result proves that nothing was forgiven.

Answers only where the strict reader of vault/trust/cbor.py would give the very same value; whatever else comes is left to
that reader, which alone says what is wrong.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any
from unicodedata import is_normalized

import cbor2


class _Refused(Exception):
    pass


def _refuse(*_arguments: Any) -> Any:
    raise _Refused


# Every tag that cbor2 acts on by itself; the hook refuses those that it does not know.
_TAGS: dict[int, Callable[[Any], Any]] = dict.fromkeys(
    (*range(6), 25, 28, 29, 30, 35, 36, 37, 52, 54, 100, 256, 258, 260, 261, 1004, 43000, 55799), _refuse)


def good_text(text: str) -> bool:
    """Whether a text holds no control character, no half of a surrogate pair, and is in composed form (NFC)."""
    if text.isascii() and text.isprintable():
        return True
    if any(ord(character) < 0x20 or 0x7F <= ord(character) <= 0x9F or 0xD800 <= ord(character) <= 0xDFFF for character in text):
        return False
    return is_normalized("NFC", text)


_LEAST, _BEYOND = -(1 << 64), 1 << 64


def is_plain(value: Any, depth: int, negative_keys: bool) -> bool:
    """Whether a value is surely of the subset, its map keys in order: what may be written as it stands."""
    kind = type(value)
    if kind is list:
        items = value
    elif kind is dict:
        if not _in_order(value, negative_keys):
            return False
        items = value.values()
    else:
        return _is_single(value)
    if depth == 0:
        return False
    for item in items:
        held = type(item)
        # The common ones first; a call for each would double the time.
        if held is int:
            if not _LEAST <= item < _BEYOND:
                return False
        elif held is list or held is dict:
            if not is_plain(item, depth - 1, negative_keys):
                return False
        elif held is not bytes and item is not None and not (held is str and good_text(item)):
            return False
    return True


def _is_single(value: Any) -> bool:
    if type(value) is int:
        return bool(_LEAST <= value < _BEYOND)
    return type(value) is bytes or value is None or (type(value) is str and good_text(value))


def _in_order(value: dict[Any, Any], negative_keys: bool) -> bool:
    last = -1
    for key in value:
        if type(key) is not int or key <= last:
            return negative_keys and _in_bytewise_order(value)
        last = key
    return True


def _in_bytewise_order(value: dict[Any, Any]) -> bool:
    # Unsigned keys upwards, then -1, -2 … (RFC 8949 4.2.1).
    keys = list(value)
    return all(type(key) is int and -(1 << 64) <= key < 1 << 64 for key in keys) and keys == sorted(
        keys, key=lambda key: (key < 0, abs(key)))


def quick_value(data: bytes, max_depth: int, negative_keys: bool) -> tuple[Any] | None:
    """(value,) where the bytes are surely in the one allowed form, None where the strict reader has to look."""
    try:
        value = cbor2.loads(data, tag_hook=_refuse, semantic_decoders=_TAGS, max_depth=max_depth + 1, allow_indefinite=False,
                            allow_duplicate_keys=False)
        # The same bytes again: no long heads, nothing behind the end.
        if cbor2.dumps(value) != data or not is_plain(value, max_depth, negative_keys):
            return None
    except Exception:
        # Whatever a general decoder trips over, the strict reader puts into words.
        return None
    return (value,)
