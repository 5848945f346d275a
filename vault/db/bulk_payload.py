"""Payloads of many bodies: checked and encoded field by field, what bodies share just once.

This is a short cut to what `vault.trust.verify.sign` does first. It takes the plain case alone: exact types, values in
range, parts that pass their own check. Whatever else there may be goes the long way, which decides.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from operator import attrgetter
from typing import Any
from unicodedata import is_normalized

import cbor2

from vault.domain.schema import Spec, check, specs
from vault.errors import GearkeepError
from vault.trust import cbor
from vault.trust.mapping import to_plain_cbor

MOST_SHARED = 20_000
_PART_DEPTH = cbor.MAX_DEPTH - 3  # a part stands inside the body, a list and a gear
_FEW = 24  # so many entries have a head of one byte (RFC 8949 section 3)

# Heads of texts and byte strings by their length in bytes, of arrays and maps by their entries, as cbor2 writes them.
_TEXT_HEADS = [cbor2.dumps("x" * length)[: -length or None] for length in range(256)]
_BYTES_HEADS = [cbor2.dumps(bytes(length))[: -length or None] for length in range(256)]
_ARRAY_HEADS = [cbor2.dumps([0] * length)[: -length or None] for length in range(_FEW)]
_MAP_HEADS = [cbor2.dumps(dict.fromkeys(range(length), 0))[:1] for length in range(_FEW)]
_NULL = cbor2.dumps(None)

Write = Callable[[Any], bytes]


class Unusual(Exception):
    """Not the plain case."""


_number = lru_cache(4096)(cbor2.dumps)


@dataclass(frozen=True, slots=True)
class _Table:
    """A class's fields in the order of their keys: (encoded key, required, how its value is written)."""

    values: Callable[[Any], tuple[Any, ...]]
    fields: tuple[tuple[bytes, bool, Write], ...]
    further: Callable[[Any, str], Any] | None
    is_map: bool


def _writer(spec: Spec, part: Callable[[Any, type], bytes], several: Callable[[Any, Spec], bytes]) -> Write:
    """What encodes a field's value, or raises Unusual."""
    least, most, kind = spec.least, spec.most, spec.kind

    def whole(value: Any) -> bytes:
        if type(value) is int and least <= value <= most:
            return _number(value)
        raise Unusual

    def text(value: Any) -> bytes:
        if type(value) is str and least <= len(value) <= most and value.isprintable() and value == value.strip():
            written = value.encode()
            if len(written) < len(_TEXT_HEADS) and (len(written) == len(value) or is_normalized("NFC", value)):
                return _TEXT_HEADS[len(written)] + written
        raise Unusual

    def raw(value: Any) -> bytes:
        if type(value) is bytes and least <= len(value) <= most and len(value) < len(_BYTES_HEADS):
            return _BYTES_HEADS[len(value)] + value
        raise Unusual

    def choice(value: Any) -> bytes:
        if type(value) is kind:
            return _number(int(value))
        raise Unusual

    def unusual(_value: Any) -> bytes:
        raise Unusual

    known: dict[str, Write] = {"whole": whole, "text": text, "raw": raw, "choice": choice,
                               "part": lambda value: part(value, kind), "parts": lambda value: several(value, spec)}
    return known.get(spec.shape, unusual)


class Payloads:
    """Encodes bodies. Holds what it has seen of parts that are shared."""

    def __init__(self) -> None:
        # By identity: a part is kept as long as its number stands here, so the number stays its own.
        self._shared: dict[int, tuple[Any, bytes]] = {}
        self._tables: dict[type, _Table] = {}

    def plain_case(self, body: Any) -> bytes:
        """The payload of a body that is plainly good. Raises Unusual."""
        kind = type(body)
        table = self._tables.get(kind) or self._table(kind)
        is_map = table.is_map
        pieces: list[bytes] = [b""]
        count = 0
        for value, (key, required, write) in zip(table.values(body), table.fields, strict=True):
            if value is None:
                if required:
                    raise Unusual
                if not is_map:
                    pieces.append(_NULL)
                continue
            if is_map:
                pieces.append(key)
                count += 1
            else:
                count = len(pieces)
            pieces.append(write(value))
        if table.further is not None:
            for _problem in table.further(body, ""):
                raise Unusual
        if not is_map:
            del pieces[count + 1 :]
        pieces[0] = (_MAP_HEADS if is_map else _ARRAY_HEADS)[count]
        return b"".join(pieces)

    def _part(self, part: Any, kind: type) -> bytes:
        held = self._shared.get(id(part))
        if held is not None:
            return held[1]
        if type(part) is not kind or any(True for _ in check(part)):
            raise Unusual
        try:
            written = cbor.encode(to_plain_cbor(part), max_depth=_PART_DEPTH)
        except GearkeepError:
            raise Unusual from None
        if len(self._shared) >= MOST_SHARED:
            self._shared.clear()
        self._shared[id(part)] = part, written
        return written

    def _several(self, value: Any, spec: Spec) -> bytes:
        # What is empty is left out of the bytes, which is not the plain case.
        if type(value) is not tuple or not max(spec.least, 1) <= len(value) <= min(spec.most, _FEW - 1):
            raise Unusual
        if any(type(item) is not spec.kind for item in value):
            raise Unusual
        return _ARRAY_HEADS[len(value)] + b"".join([self.plain_case(item) for item in value])

    def _table(self, kind: type) -> _Table:
        found = specs(kind)
        if not 1 < len(found) < _FEW:
            raise Unusual
        fields = tuple((cbor2.dumps(spec.key), spec.required, _writer(spec, self._part, self._several)) for _, spec in found)
        self._tables[kind] = _Table(values=attrgetter(*(name for name, _ in found)), fields=fields,
                                    further=getattr(kind, "further_problems", None),
                                    is_map=getattr(kind, "FORM", "") == "map")
        return self._tables[kind]


__all__ = ["Payloads", "Unusual"]
