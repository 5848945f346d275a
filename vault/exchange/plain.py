"""From plain names and values (TOML, JSON) to the dataclasses of the domain, strictly.

The field tables of `vault.domain.schema` say what each name may hold, so this reader knows no field by name.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Mapping
from typing import Any

from vault.domain.schema import NOT_SET, Problem, Spec, check, from_words, specs, words


def nearest(said: str, known: Iterable[str]) -> str:
    """ "did you mean X?" when a known word is near to what was said, else the empty text."""
    written = {word.casefold(): word for word in sorted(known)}
    near = difflib.get_close_matches(said.casefold(), written, n=1, cutoff=0.6)
    return f"did you mean {written[near[0]]}?" if near else ""


def near_letters(said: str, known: Iterable[str]) -> str | None:
    """The known name that is one letter away from what was said (two, of eight letters or more), whatever its capitals; None
    where none is, or several are as near.
    """
    from rapidfuzz.distance import OSA

    most, wanted = 2 if len(said) >= 8 else 1, said.casefold()
    far = sorted((OSA.distance(wanted, name.casefold(), score_cutoff=most), name) for name in set(known))
    near = [one for one in far if one[0] <= most]
    return near[0][1] if near and (len(near) == 1 or near[0][0] < near[1][0]) else None


def allowed_of(spec: Spec) -> str:
    """What a field may hold, in words."""
    unit = f" {spec.unit}" if spec.unit else ""
    shape = spec.shape
    if shape == "whole":
        said = f"a whole number {spec.least} to {spec.most}{unit}"
    elif shape == "text":
        said = f"{spec.least} to {spec.most} printable characters"
    elif shape in ("choice", "choices"):
        said = ", ".join(words(member) for member in spec.kind)
        said = f"a list of: {said}" if shape == "choices" else said
    elif shape == "flag":
        said = "true or false"
    elif shape == "raw":
        said = f"{spec.least} to {spec.most} bytes in hexadecimal"
    elif shape == "part":
        said = f"a table of fields: {', '.join(name for name, _ in specs(spec.kind))}"
    elif shape == "parts":
        said = f"a list of {max(spec.least, 0)} to {spec.most} tables"
    elif shape == "table":
        row = "whole numbers" if len(spec.widths) == 1 else f"rows of {len(spec.widths)} whole numbers"
        said = f"a list of at most {spec.most} {row}"
    else:
        said = f"at most {spec.most} names with a text or a whole number each"
    return f"{said}, or not set" if spec.may_be_not_set else said


def shown(value: object) -> str:
    """A found value as an error message shows it; long ones are cut."""
    if isinstance(value, bool):
        return "true" if value else "false"
    said = repr(value)
    return said if len(said) <= 60 else f"{said[:57]}…"


class _Unreadable(Exception):
    """The value has the wrong kind; nothing can be made of it. Carries what is allowed instead."""


def _is_whole(value: object) -> bool:
    return isinstance(value, int) and not isinstance(value, bool)


def _choice(spec: Spec, value: object) -> Any:
    member = from_words(spec.kind, value) if isinstance(value, str) else None
    if member is None:
        hint = nearest(value, (words(m) for m in spec.kind)) if isinstance(value, str) else ""
        raise _Unreadable(f"{allowed_of(spec)}{f' ({hint})' if hint else ''}")
    return member


def _table(spec: Spec, value: object) -> Any:
    if not isinstance(value, list | tuple):
        raise _Unreadable(allowed_of(spec))
    if len(spec.widths) == 1:
        if not all(_is_whole(cell) for cell in value):
            raise _Unreadable(allowed_of(spec))
        return tuple(value)
    good = all(
        isinstance(row, list | tuple) and len(row) == len(spec.widths) and all(_is_whole(cell) for cell in row)
        for row in value
    )
    if not good:
        raise _Unreadable(allowed_of(spec))
    return tuple(tuple(row) for row in value)


def _names(spec: Spec, value: object) -> Any:
    if not isinstance(value, Mapping):
        raise _Unreadable(allowed_of(spec))
    if not all(isinstance(name, str) and (isinstance(held, str) or _is_whole(held)) for name, held in value.items()):
        raise _Unreadable(allowed_of(spec))
    return tuple(sorted(value.items()))


def _single(spec: Spec, value: object) -> Any:
    """The field's value from its plain form. Raises _Unreadable. Ranges are left to `schema.check`."""
    if spec.may_be_not_set and isinstance(value, str) and value.strip().casefold().replace("_", " ") == "not set":
        return NOT_SET
    shape = spec.shape
    if shape == "choice":
        return _choice(spec, value)
    if shape == "table":
        return _table(spec, value)
    if shape == "names":
        return _names(spec, value)
    if shape == "raw":
        try:
            return bytes.fromhex(value) if isinstance(value, str) else _refuse(spec)
        except ValueError:
            raise _Unreadable(allowed_of(spec)) from None
    wanted: type = {"whole": int, "text": str, "flag": bool}[shape]
    if not isinstance(value, wanted) or (shape == "whole" and not _is_whole(value)):
        raise _Unreadable(allowed_of(spec))
    return value


def _refuse(spec: Spec) -> Any:
    raise _Unreadable(allowed_of(spec))


def _choices(spec: Spec, value: object, here: str, problems: list[Problem]) -> Any:
    if not isinstance(value, list | tuple):
        raise _Unreadable(allowed_of(spec))
    members = []
    for number, said in enumerate(value, 1):
        try:
            members.append(_choice(spec, said))
        except _Unreadable as wrong:
            problems.append(Problem(path=f"{here}.{number}", found=shown(said), allowed=str(wrong)))
    if len(set(members)) != len(members):
        problems.append(Problem(path=here, found="a word twice", allowed="each word once"))
    return frozenset(members)


def _field(spec: Spec, value: object, here: str, problems: list[Problem]) -> Any:
    if spec.shape == "choices":
        return _choices(spec, value, here, problems)
    if spec.shape == "part":
        if not isinstance(value, Mapping):
            raise _Unreadable(allowed_of(spec))
        return _build(spec.kind, value, here, problems)
    if spec.shape == "parts":
        if not isinstance(value, list | tuple) or not all(isinstance(item, Mapping) for item in value):
            raise _Unreadable(allowed_of(spec))
        return tuple(_build(spec.kind, item, f"{here}.{n}", problems) for n, item in enumerate(value, 1))
    return _single(spec, value)


def _build(kind: type, mapping: Mapping[Any, Any], path: str, problems: list[Problem]) -> Any:
    """The dataclass with None for what cannot be read; what cannot be read goes to `problems`."""
    fields = dict(specs(kind))
    values: dict[str, Any] = {}
    for name, value in mapping.items():
        here = f"{path}.{name}" if path else str(name)
        if name not in fields:
            allowed = nearest(str(name), fields) or f"one of {', '.join(fields)}"
            problems.append(Problem(path=here, found="an unknown name", allowed=allowed))
            continue
        try:
            values[name] = _field(fields[name], value, here, problems)
        except _Unreadable as wrong:
            problems.append(Problem(path=here, found=shown(value), allowed=str(wrong)))
    for name, spec in fields.items():
        if spec.required and name not in values:
            # A word that could not be read stands in as the first of its kind: rules over several fields then run,
            # and the broken field itself is told already.
            stands_in = next(iter(spec.kind)) if spec.shape == "choice" and name in mapping else None
            values[name] = () if spec.shape == "parts" else stands_in
    return kind(**values)


def _covered(path: str, reported: set[str]) -> bool:
    """Whether a problem at `path` follows from one already reported at it or above it."""
    return any(path == p or path.startswith(f"{p}.") for p in reported)


def read_plain(kind: type, mapping: object, path: str = "") -> tuple[Any | None, list[Problem]]:
    """The dataclass `kind` from a mapping of plain names, or None, with every problem found.

    The counterpart of `schema.plain`. Enumerations come as words (case, spaces, underscores forgiven), sets as lists
    of words, packed tables as lists, byte strings as hexadecimal, NOT_SET as the text "not set". Unknown names,
    floats, and true or false where a number belongs are problems. Problems that only follow from an unreadable field
    (a missing figure that is there but broken) are not told twice.
    """
    if not isinstance(mapping, Mapping):
        return None, [Problem(path=path or kind.__name__, found=shown(mapping), allowed="a table of fields")]
    problems: list[Problem] = []
    thing = _build(kind, mapping, path, problems)
    reported = {problem.path for problem in problems}
    problems += [problem for problem in check(thing, path) if not _covered(problem.path, reported)]
    return (None if problems else thing), problems
