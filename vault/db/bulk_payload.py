"""Payloads of many bodies: checked and encoded field by field, what bodies share just once.

This is a short cut to what `vault.trust.verify.sign` does first. It takes the plain case alone: exact types, values in
range, parts that pass their own check. Whatever else there may be goes the long way, which decides.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache
from typing import Any
from unicodedata import is_normalized

import cbor2

from vault.domain.schema import Problem, Spec, check, specs
from vault.errors import GearkeepError
from vault.trust import cbor
from vault.trust.mapping import to_plain_cbor

MOST_SHARED = 20_000
_PART_DEPTH = cbor.MAX_DEPTH - 3  # a part stands inside the body, a list and a gear


class Unusual(Exception):
    """Not the plain case."""


@dataclass(frozen=True, slots=True)
class _Field:
    name: str
    key: int
    required: bool
    write: Callable[[Any], Any]


def _writer(spec: Spec, part: Callable[[Any, type], Any]) -> Callable[[Any], Any]:
    """What turns a field's value into its plain form, or raises Unusual."""
    least, most, kind = spec.least, spec.most, spec.kind

    def whole(value: Any) -> Any:
        if type(value) is int and least <= value <= most:
            return value
        raise Unusual

    def text(value: Any) -> Any:
        if (type(value) is str and least <= len(value) <= most and value.isprintable() and value == value.strip()
                and (value.isascii() or is_normalized("NFC", value))):
            return value
        raise Unusual

    def raw(value: Any) -> Any:
        if type(value) is bytes and least <= len(value) <= most:
            return value
        raise Unusual

    def choice(value: Any) -> Any:
        if type(value) is kind:
            return int(value)
        raise Unusual

    def unusual(_value: Any) -> Any:
        raise Unusual

    known: dict[str, Callable[[Any], Any]] = {"whole": whole, "text": text, "raw": raw, "choice": choice,
                                              "part": lambda value: part(value, kind)}
    return known.get(spec.shape, unusual)


@cache
def _names(kind: type) -> tuple[tuple[str, Spec], ...]:
    return tuple(specs(kind))


class Payloads:
    """Encodes bodies of one vault's statements. Holds what it has seen of shared parts."""

    def __init__(self) -> None:
        # By identity: a part is kept as long as its number stands here, so the number stays its own.
        self._shared: dict[int, tuple[Any, Any]] = {}
        self._fields: dict[type, tuple[tuple[_Field, ...], Callable[[Any, str], Iterator[Problem]] | None]] = {}

    def plain_case(self, body: Any) -> bytes:
        """The payload of a body that is plainly good. Raises Unusual."""
        return cbor2.dumps(self._body(body))

    def _part(self, part: Any, kind: type) -> Any:
        held = self._shared.get(id(part))
        if held is not None:
            return held[1]
        if type(part) is not kind or any(True for _ in check(part)):
            raise Unusual
        plain = to_plain_cbor(part)
        try:
            cbor.encode(plain, max_depth=_PART_DEPTH)
        except GearkeepError:
            raise Unusual from None
        if len(self._shared) >= MOST_SHARED:
            self._shared.clear()
        self._shared[id(part)] = part, plain
        return plain

    def _several(self, kind: type, least: int, most: int) -> Callable[[Any], Any]:
        def write(value: Any) -> Any:
            if type(value) is not tuple or not least <= len(value) <= most or any(type(item) is not kind for item in value):
                raise Unusual
            return [self._body(item) for item in value]

        return write

    def _table(self, kind: type) -> tuple[tuple[_Field, ...], Callable[[Any, str], Iterator[Problem]] | None]:
        fields = tuple(
            _Field(name, spec.key, spec.required,
                   self._several(spec.kind, spec.least, spec.most) if spec.shape == "parts" else _writer(spec, self._part))
            for name, spec in _names(kind))
        found = self._fields[kind] = fields, getattr(kind, "further_problems", None)
        return found

    def _body(self, thing: Any) -> Any:
        kind = type(thing)
        fields, further = self._fields.get(kind) or self._table(kind)
        row: list[Any] = []
        keyed: dict[int, Any] = {}
        for field in fields:
            value = getattr(thing, field.name)
            if value is None or value == ():
                if field.required or value is not None:
                    raise Unusual
                row.append(None)
                continue
            plain = field.write(value)
            row.append(plain)
            keyed[field.key] = plain
        if further is not None and any(True for _ in further(thing, "")):
            raise Unusual
        if thing.FORM == "map":
            return keyed
        while row and row[-1] is None:
            row.pop()
        return row


__all__ = ["Payloads", "Unusual"]
