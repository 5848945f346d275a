"""Field descriptions shared by everything that is signed.

A signed thing is a frozen dataclass whose fields carry a `Spec`: the CBOR key of FORMAT.md, the unit, the
range or length that is allowed. One table serves the byte codec, the file readers, the readback comparison
and the screens, so that a limit is written once.
"""

from __future__ import annotations

import dataclasses
import enum
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Literal, TypeAlias, TypeVar

T = TypeVar("T")


class NotSet(enum.Enum):
    """A setting deliberately left as the driver has it. A value of its own, not an absence."""

    NOT_SET = "not set"

    def __repr__(self) -> str:
        return "NOT_SET"


NOT_SET = NotSet.NOT_SET

# An integer setting: a value, "leave as it is", or not stated (what that means is the record's baseline).
Setting: TypeAlias = "int | NotSet | None"

Shape = Literal["whole", "text", "choice", "choices", "flag", "raw", "part", "parts", "table", "names"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Spec:
    """What one field may hold.

    key: CBOR map key. least, most: range of an integer, length of a text or byte string, count of parts.
    unit: shown behind the value. widths: bytes of each column of a packed table. fill: what rows at the end that are
    left out of the bytes hold; such a table always has `most` rows.
    """

    key: int
    shape: Shape
    least: int = 0
    most: int = 2**32 - 1
    unit: str = ""
    kind: Any = None
    may_be_not_set: bool = False
    widths: tuple[int, ...] = ()
    fill: int | None = None
    required: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """One thing wrong with one field: dotted path, what was found, what is allowed."""

    path: str
    found: str
    allowed: str

    def __str__(self) -> str:
        return f"{self.path}: found {self.found}, allowed {self.allowed}"


def _field(spec: Spec, default: Any) -> Any:
    if spec.required:
        return dataclasses.field(metadata={"spec": spec})
    return dataclasses.field(default=default, metadata={"spec": spec})


def whole(key: int, least: int, most: int, unit: str = "", *, not_set: bool = False, required: bool = False) -> Any:
    """An integer from least to most in `unit`."""
    spec = Spec(key=key, shape="whole", least=least, most=most, unit=unit, may_be_not_set=not_set, required=required)
    return _field(spec, None)


def text(key: int, most: int, *, required: bool = False) -> Any:
    """A text of 1 to `most` characters."""
    return _field(Spec(key=key, shape="text", least=1, most=most, required=required), None)


def choice(key: int, kind: type[enum.IntEnum], *, not_set: bool = False, required: bool = False) -> Any:
    """One member of an enumeration, stored as its number."""
    return _field(Spec(key=key, shape="choice", kind=kind, may_be_not_set=not_set, required=required), None)


def choices(key: int, kind: type[enum.IntEnum], *, required: bool = False) -> Any:
    """A set of members of an enumeration, stored as a bit mask (bit n is the member with number n)."""
    return _field(Spec(key=key, shape="choices", kind=kind, required=required), None)


def flag(key: int) -> Any:
    """Yes (1), no (0) or not known (left out)."""
    return _field(Spec(key=key, shape="flag"), None)


def raw(key: int, least: int, most: int, *, required: bool = False) -> Any:
    """A byte string of least to most bytes."""
    return _field(Spec(key=key, shape="raw", least=least, most=most, required=required), None)


def part(key: int, kind: type, *, required: bool = False) -> Any:
    """One nested dataclass."""
    return _field(Spec(key=key, shape="part", kind=kind, required=required), None)


def parts(key: int, kind: type, most: int, *, least: int = 0) -> Any:
    """A tuple of nested dataclasses."""
    spec = Spec(key=key, shape="parts", kind=kind, least=least, most=most, required=least > 0)
    return _field(spec, ())


def table(key: int, widths: tuple[int, ...], most: int, *, fill: int | None = None) -> Any:
    """A tuple of integer rows packed big-endian into one byte string, `widths` bytes a column.

    One column gives a tuple of integers, more give a tuple of tuples.
    """
    return _field(Spec(key=key, shape="table", widths=widths, most=most, may_be_not_set=True, fill=fill), None)


def names(key: int, most: int) -> Any:
    """A mapping name -> text or integer, kept verbatim and never understood."""
    return _field(Spec(key=key, shape="names", most=most), ())


# Asked for at every field of every statement, so kept.
_specs: dict[type, tuple[tuple[str, Spec], ...]] = {}


def specs(kind: type) -> tuple[tuple[str, Spec], ...]:
    """(field name, Spec) of a dataclass in the order of its CBOR keys."""
    if kind not in _specs:
        found = [(f.name, f.metadata["spec"]) for f in dataclasses.fields(kind) if "spec" in f.metadata]
        _specs[kind] = tuple(sorted(found, key=lambda pair: pair[1].key))
    return _specs[kind]


def _is_whole(value: object) -> bool:
    return isinstance(value, int) and not isinstance(value, (bool, enum.IntEnum))


def _check_table(path: str, spec: Spec, value: Any) -> Iterator[Problem]:
    if not isinstance(value, tuple) or len(value) > spec.most or (spec.fill is not None and len(value) != spec.most):
        allowed = f"at most {spec.most} rows" if spec.fill is None else f"all {spec.most}, {spec.fill} for unused"
        yield Problem(path=path, found=repr(value), allowed=allowed)
        return
    for number, row in enumerate(value, 1):
        cells = (row,) if len(spec.widths) == 1 else row
        good = isinstance(cells, tuple) and len(cells) == len(spec.widths)
        if not good or not all(_is_whole(c) and 0 <= c < 256**w for c, w in zip(cells, spec.widths, strict=True)):
            limits = " and ".join(f"0 to {256**w - 1}" for w in spec.widths)
            yield Problem(path=f"{path}.{number}", found=repr(row), allowed=limits)


def _check_names(path: str, spec: Spec, value: Any) -> Iterator[Problem]:
    pairs = value if isinstance(value, tuple) else ()
    if not isinstance(value, tuple) or len(pairs) > spec.most or len({name for name, _ in pairs}) != len(pairs):
        yield Problem(path=path, found=repr(value), allowed=f"at most {spec.most} different names")
    for name, held in pairs:
        good = (isinstance(held, str) and len(held) <= 64) or (_is_whole(held) and 0 <= held < 2**32)
        if not (isinstance(name, str) and 1 <= len(name) <= 24 and good):
            yield Problem(path=f"{path}.{name}", found=repr(held), allowed="text to 64 characters or 0 to 4294967295")


def _check_value(path: str, spec: Spec, value: Any) -> Iterator[Problem]:
    shape = spec.shape
    if shape == "whole":
        if not _is_whole(value) or not spec.least <= value <= spec.most:
            unit = f" {spec.unit}" if spec.unit else ""
            yield Problem(path=path, found=f"{value!r}", allowed=f"{spec.least} to {spec.most}{unit}")
    elif shape == "text":
        clean = isinstance(value, str) and spec.least <= len(value) <= spec.most and value == value.strip()
        if not clean or not value.isprintable():
            yield Problem(path=path, found=repr(value), allowed=f"{spec.least} to {spec.most} printable characters")
    elif shape == "raw":
        if not isinstance(value, bytes) or not spec.least <= len(value) <= spec.most:
            yield Problem(path=path, found=repr(value), allowed=f"{spec.least} to {spec.most} bytes")
    elif shape == "choice":
        if not isinstance(value, spec.kind):
            yield Problem(path=path, found=repr(value), allowed=", ".join(words(m) for m in spec.kind))
    elif shape == "choices":
        if not isinstance(value, frozenset) or not all(isinstance(m, spec.kind) for m in value):
            yield Problem(path=path, found=repr(value), allowed=", ".join(words(m) for m in spec.kind))
    elif shape == "flag":
        if not isinstance(value, bool):
            yield Problem(path=path, found=repr(value), allowed="yes or no")
    elif shape == "part":
        if isinstance(value, spec.kind):
            yield from check(value, path)
        else:
            yield Problem(path=path, found=repr(value), allowed=spec.kind.__name__)
    elif shape == "parts":
        if not isinstance(value, tuple) or not spec.least <= len(value) <= spec.most:
            yield Problem(path=path, found=f"{len(value)} of them", allowed=f"{spec.least} to {spec.most}")
        for number, item in enumerate(value, 1):
            yield from check(item, f"{path}.{number}")
    elif shape == "table":
        yield from _check_table(path, spec, value)
    else:
        yield from _check_names(path, spec, value)


def check(thing: Any, path: str = "") -> Iterator[Problem]:
    """Every problem of a dataclass that carries Specs, each with its dotted path."""
    for name, spec in specs(type(thing)):
        value = getattr(thing, name)
        here = f"{path}.{name}" if path else name
        if value is NOT_SET and spec.may_be_not_set:
            continue
        if value is None or (value == () and spec.shape in ("parts", "names") and not spec.required):
            if spec.required:
                yield Problem(path=here, found="nothing", allowed="a value")
            continue
        yield from _check_value(here, spec, value)
    yield from getattr(thing, "further_problems", lambda _path: ())(path)


def words(member: enum.Enum) -> str:
    """An enumeration member as people write it: SWITCHED_MAINTAINED -> switched-maintained."""
    return member.name.lower().replace("_", "-")


def from_words(kind: type[T], said: str) -> T | None:
    """The member of an enumeration that `said` names, forgiving case, spaces and underscores; else None."""
    wanted = said.strip().upper().replace("-", "_").replace(" ", "_")
    members: Mapping[str, T] = kind.__members__  # type: ignore[attr-defined]
    return members.get(wanted)


def flatten(thing: Any, path: str = "") -> dict[str, Any]:
    """Dotted field name -> plain value, left-out fields omitted.

    Enumeration members become words, sets sorted lists of words, NOT_SET the text "not set", bytes hex.
    """
    flat: dict[str, Any] = {}
    for name, spec in specs(type(thing)):
        value = getattr(thing, name)
        here = f"{path}.{name}" if path else name
        if value is None:
            continue
        if spec.shape == "part":
            flat |= flatten(value, here)
        elif spec.shape == "parts":
            for number, item in enumerate(value, 1):
                flat |= flatten(item, f"{here}.{number}")
        elif spec.shape == "names":
            flat |= {f"{here}.{key}": held for key, held in value}
        else:
            flat[here] = plain_value(value)
    return flat


def plain_value(value: Any) -> Any:
    """One field value as JSON can hold it."""
    if value is NOT_SET:
        return "not set"
    if isinstance(value, enum.Enum):
        return words(value)
    if isinstance(value, frozenset):
        return sorted(words(member) for member in value)
    if isinstance(value, bytes):
        return value.hex()
    if isinstance(value, tuple):
        return [list(row) if isinstance(row, tuple) else row for row in value]
    return value


def plain(thing: Any) -> dict[str, Any]:
    """A dataclass as nested JSON values, left-out fields omitted."""
    out: dict[str, Any] = {}
    for name, spec in specs(type(thing)):
        value = getattr(thing, name)
        if value is None or (value == () and spec.shape in ("parts", "names")):
            continue
        if spec.shape == "part":
            out[name] = plain(value)
        elif spec.shape == "parts":
            out[name] = [plain(item) for item in value]
        elif spec.shape == "names":
            out[name] = dict(value)
        else:
            out[name] = plain_value(value)
    return out
