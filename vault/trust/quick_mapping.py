"""The quick way from a decoded payload to its dataclass: one plan for each class, made once from its field table.

Answers only for what is good in every field; at the first doubt the careful reader of vault/trust/mapping.py looks, which
alone says which field is wrong. Parts that many statements share (settings, essentials, references to a rating) are built
once and kept by their content: they are frozen, so sharing them is safe.
"""

from __future__ import annotations

import marshal
from collections.abc import Callable
from functools import cache
from typing import Any

from vault.domain.schema import NOT_SET, Spec, check, specs
from vault.errors import VerificationError

Read = Callable[[Any], Any]

# Many times the different settings of a large estate; when it is full it begins anew.
MOST_KEPT = 20_000


class Doubt(Exception):
    """Something that the careful reader has to look at."""


def _whole(spec: Spec) -> Read:
    least, most = spec.least, spec.most

    def read(value: Any) -> Any:
        if type(value) is int and least <= value <= most:
            return value
        raise Doubt

    return read


def _text(spec: Spec) -> Read:
    least, most = spec.least, spec.most

    def read(value: Any) -> Any:
        if type(value) is str and least <= len(value) <= most and value.isprintable() and value == value.strip():
            return value
        raise Doubt

    return read


def _raw(spec: Spec) -> Read:
    least, most = spec.least, spec.most

    def read(value: Any) -> Any:
        if type(value) is bytes and least <= len(value) <= most:
            return value
        raise Doubt

    return read


def _member(spec: Spec) -> Read:
    members = {int(member): member for member in spec.kind}

    def read(value: Any) -> Any:
        if type(value) is int and value in members:
            return members[value]
        raise Doubt

    return read


def _members(spec: Spec) -> Read:
    one = _member(spec)
    kept: dict[int, frozenset[Any]] = {}

    def read(value: Any) -> Any:
        if type(value) is not int or not 0 <= value < 1 << 32:
            raise Doubt
        if value not in kept:
            kept[value] = frozenset(one(bit) for bit in range(32) if value >> bit & 1)
        return kept[value]

    return read


def _flag(_spec: Spec) -> Read:
    def read(value: Any) -> Any:
        if type(value) is int and 0 <= value <= 1:
            return value == 1
        raise Doubt

    return read


def _part(spec: Spec) -> Read:
    kept: dict[bytes, Any] = {}

    def read(value: Any) -> Any:
        # Unlike a hash or an equality, marshal tells 1 from True. Version 2 has no references: equal values, equal bytes.
        key = marshal.dumps(value, 2)
        found = kept.get(key)
        if found is None:
            if len(kept) >= MOST_KEPT:
                kept.clear()
            found = kept[key] = quick(spec.kind, value)
        return found

    return read


def _parts(spec: Spec) -> Read:
    least, most = max(1, spec.least), spec.most

    def read(value: Any) -> Any:
        if type(value) is not list or not least <= len(value) <= most:
            raise Doubt
        return tuple([quick(spec.kind, item) for item in value])

    return read


_READER: dict[str, Callable[[Spec], Read]] = {
    "whole": _whole, "text": _text, "raw": _raw, "choice": _member, "choices": _members, "flag": _flag, "part": _part,
    "parts": _parts,
}


def _reader(spec: Spec) -> Read:
    if spec.shape in _READER:
        return _READER[spec.shape](spec)

    from vault.trust.mapping import value_in

    def read(value: Any) -> Any:
        try:
            return value_in(spec, value, "")
        except VerificationError as problem:
            raise Doubt from problem

    return read


def _not_set_too(read: Read) -> Read:
    def read_or_not_set(value: Any) -> Any:
        return NOT_SET if value is None else read(value)

    return read_or_not_set


@cache
def _plan(kind: type) -> tuple[dict[int, tuple[str, Read]], tuple[tuple[str, Read], ...], frozenset[str], bool, bool]:
    """(by key, in order, names that have to be there, whether it is an array, whether it has rules of its own)."""
    readers = [(spec, name, _not_set_too(_reader(spec)) if spec.may_be_not_set else _reader(spec)) for name, spec in specs(kind)]
    return ({spec.key: (name, read) for spec, name, read in readers}, tuple((name, read) for _, name, read in readers),
            frozenset(name for spec, name, _ in readers if spec.required), kind.FORM == "array",  # type: ignore[attr-defined]
            hasattr(kind, "further_problems") or any(spec.shape in ("table", "names") for spec, _, _ in readers))


def quick(kind: type, value: Any) -> Any:
    """The dataclass that a decoded value stands for. Raises Doubt where it may not be good."""
    by_key, in_order, required, is_array, own_rules = _plan(kind)
    fields: dict[str, Any] = {}
    if is_array:
        if type(value) is not list or len(value) > len(in_order) or (value and value[-1] is None):
            raise Doubt
        for (name, read), item in zip(in_order, value, strict=False):
            if item is not None:
                fields[name] = read(item)
    else:
        if type(value) is not dict:
            raise Doubt
        for key, item in value.items():
            found = by_key.get(key)
            if found is None:
                raise Doubt
            name, read = found
            fields[name] = read(item)
    if not required <= fields.keys():
        raise Doubt
    made = kind(**fields)
    if own_rules:
        # Shapes without a quick reader of their own are held against the whole table again.
        for _ in (made.further_problems("") if not _has_tables(kind) else check(made)):
            raise Doubt
    return made


@cache
def _has_tables(kind: type) -> bool:
    return any(spec.shape in ("table", "names") for _, spec in specs(kind))
