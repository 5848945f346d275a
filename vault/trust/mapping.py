"""Dataclasses with Specs to deterministic CBOR values and back (FORMAT.md, section Payloads).

A class with FORM "map" becomes a map of unsigned keys, left-out fields absent. One with FORM "array" becomes an
array by ascending key, left-out fields null, nulls at the end cut off. NOT_SET is null in a map.
In an array no field may be NOT_SET.
"""

from __future__ import annotations

import enum
from typing import Any, TypeVar

from vault.domain.schema import NOT_SET, Spec, check, specs
from vault.errors import VerificationError
from vault.trust.quick_mapping import Doubt, quick

T = TypeVar("T")


def _bad(path: str, found: object, allowed: str) -> VerificationError:
    return VerificationError(f"{path}: found {found!r}, allowed {allowed}", kind="bad-payload",
                             hint="The statement was written by something that does not follow the format.")


def _pack_table(rows: tuple[Any, ...], widths: tuple[int, ...]) -> bytes:
    cells = (((row,) if len(widths) == 1 else row) for row in rows)
    return b"".join(cell.to_bytes(width, "big") for row in cells for cell, width in zip(row, widths, strict=True))


def _unpack_table(packed: bytes, widths: tuple[int, ...], path: str) -> tuple[Any, ...]:
    step = sum(widths)
    if len(packed) % step:
        raise _bad(path, packed.hex(), f"whole rows of {step} bytes")
    rows = []
    for start in range(0, len(packed), step):
        cells, at = [], start
        for width in widths:
            cells.append(int.from_bytes(packed[at : at + width], "big"))
            at += width
        rows.append(cells[0] if len(widths) == 1 else tuple(cells))
    return tuple(rows)


def _without_fill(rows: tuple[Any, ...], fill: int | None) -> tuple[Any, ...]:
    while fill is not None and rows and rows[-1] == fill:
        rows = rows[:-1]
    return rows


def _value_out(spec: Spec, value: Any) -> Any:
    if value is NOT_SET:
        return None
    shape = spec.shape
    if shape in ("whole", "flag", "choice"):
        return int(value)
    if shape == "choices":
        return sum(1 << int(member) for member in value)
    if shape == "part":
        return to_plain_cbor(value)
    if shape == "parts":
        return [to_plain_cbor(item) for item in value]
    if shape == "table":
        return _pack_table(_without_fill(value, spec.fill), spec.widths)
    if shape == "names":
        return [piece for pair in sorted(value) for piece in pair]
    return value


def to_plain_cbor(thing: Any) -> Any:
    """A dataclass as maps, arrays, integers, texts and byte strings."""
    pairs = [(spec, getattr(thing, name)) for name, spec in specs(type(thing))]
    if thing.FORM == "array":
        row = [None if value is None else _value_out(spec, value) for spec, value in pairs]
        while row and row[-1] is None:
            row.pop()
        return row
    return {
        spec.key: _value_out(spec, value)
        for spec, value in pairs
        if value is not None and not (value == () and spec.shape in ("parts", "names"))
    }


def _member(kind: type[enum.IntEnum], number: object, path: str) -> enum.IntEnum:
    if isinstance(number, int) and number in kind._value2member_map_:
        return kind(number)
    raise _bad(path, number, f"a number of {kind.__name__}")


def _names_in(value: Any, path: str) -> tuple[tuple[str, Any], ...]:
    if not isinstance(value, list) or len(value) % 2 or not all(isinstance(name, str) for name in value[::2]):
        raise _bad(path, value, "name, value, name, value …")
    pairs = tuple(zip(value[::2], value[1::2], strict=True))
    if [name for name, _ in pairs] != sorted({name for name, _ in pairs}):
        raise _bad(path, value, "different names in order")
    return pairs


def value_in(spec: Spec, value: Any, path: str) -> Any:
    """One field's value from its decoded form. Raises VerificationError (bad-payload)."""
    shape = spec.shape
    if value is None:
        if spec.may_be_not_set:
            return NOT_SET
        raise _bad(path, "null", "a value")
    if shape == "choice":
        return _member(spec.kind, value, path)
    if shape == "flag":
        if value not in (0, 1):
            raise _bad(path, value, "0 or 1")
        return bool(value)
    if shape == "choices":
        if not isinstance(value, int) or value < 0 or value >> 32:
            raise _bad(path, value, "a bit mask")
        return frozenset(_member(spec.kind, bit, path) for bit in range(32) if value >> bit & 1)
    if shape == "part":
        return _careful(spec.kind, value, path)
    if shape == "parts":
        if not isinstance(value, list) or not value:
            raise _bad(path, value, "a list that is not empty")
        return tuple(_careful(spec.kind, item, f"{path}.{n}") for n, item in enumerate(value, 1))
    if shape == "table":
        if not isinstance(value, bytes):
            raise _bad(path, value, "a packed table")
        rows = _unpack_table(value, spec.widths, path)
        if spec.fill is None:
            return rows
        if rows and rows[-1] == spec.fill:
            raise _bad(path, value.hex(), f"no {spec.fill} at its end")
        return rows + (spec.fill,) * (spec.most - len(rows))
    if shape == "names":
        return _names_in(value, path)
    return value


def _array_to_map(kind: type, value: Any, path: str) -> dict[int, Any]:
    fields = specs(kind)
    if not isinstance(value, list) or len(value) > len(fields) or (value and value[-1] is None):
        raise _bad(path or kind.__name__, value, f"an array of at most {len(fields)}, no null at its end")
    return {spec.key: item for (_, spec), item in zip(fields, value, strict=False) if item is not None}


def from_plain_cbor(kind: type[T], value: Any, path: str = "") -> T:
    """The dataclass that a decoded CBOR value stands for.

    Raises VerificationError (bad-payload) naming the first dotted field that is wrong. Unknown keys are refused:
    within one format version there are none.
    """
    try:
        made: T = quick(kind, value)
        return made
    except Doubt:
        return _careful(kind, value, path)


def _careful(kind: type[T], value: Any, path: str) -> T:
    found = _array_to_map(kind, value, path) if kind.FORM == "array" else value  # type: ignore[attr-defined]
    if not isinstance(found, dict):
        raise _bad(path or kind.__name__, value, "a map")
    fields: dict[str, Any] = {}
    known = set()
    for name, spec in specs(kind):
        known.add(spec.key)
        here = f"{path}.{name}" if path else name
        if spec.key in found:
            fields[name] = value_in(spec, found[spec.key], here)
        elif spec.required:
            raise _bad(here, "nothing", "a value")
    for key in found:
        if key not in known:
            raise _bad(path or kind.__name__, f"key {key}", "the keys of the format")
    made = kind(**fields)
    for problem in check(made, path):
        raise _bad(problem.path, problem.found, problem.allowed)
    return made
