"""One setting changed by its dotted path and a text, as a command line gives them."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Any, TypeVar

from vault.domain.schema import Spec, plain, specs
from vault.domain.settings import Gear, Settings
from vault.errors import GearkeepError
from vault.exchange.plain import nearest, read_plain

T = TypeVar("T", Gear, Settings)

WHOLE = re.compile(r"-?[0-9]{1,15}")

# What an unused entry of a one-column table of 16 holds: MASK, by bytes of its column.
MASKS = {1: 0xFF, 2: 0xFFFF}


class ValueProblem(GearkeepError):
    """A value or its path is wrong. Kind: bad-value or unknown-setting."""


def whole_of_text(said: str) -> int | str:
    return int(said) if WHOLE.fullmatch(said) else said


def mask_of_groups(said: str) -> int | str:
    """A 16-bit mask from "1+3", 0 from "none"; what cannot be read comes back as it was.

    "3" is group 3, never the mask 3: nobody writes masks by hand, and a guess would join wrong groups.
    """
    if said.casefold() == "none":
        return 0
    numbers = [piece.strip() for piece in said.split("+")]
    if not all(re.fullmatch(r"[0-9]{1,2}", piece) and int(piece) < 16 for piece in numbers):
        return said
    return sum(1 << number for number in {int(piece) for piece in numbers})


def entries_of_scenes(said: str, mask: int = 255) -> list[int] | str:
    """All 16 entries from "0:254 1:120", the others MASK; all MASK from "none"; else what was said."""
    entries = [mask] * 16
    seen = set()
    for piece in [] if said.casefold() == "none" else said.replace(",", " ").split():
        found = re.fullmatch(r"([0-9]{1,2}):([0-9]{1,5}|mask)", piece, re.IGNORECASE)
        if found is None or int(found[1]) > 15 or found[1] in seen:
            return said
        seen.add(found[1])
        entries[int(found[1])] = mask if found[2].casefold() == "mask" else int(found[2])
    return entries


def _rows(spec: Spec, said: str) -> object:
    if len(spec.widths) == 1 and spec.most == 16 and (":" in said or said.casefold() == "none"):
        return entries_of_scenes(said, MASKS[spec.widths[0]])
    pieces = [re.split(r":", piece) for piece in said.split()]
    if not all(WHOLE.fullmatch(cell) for row in pieces for cell in row):
        return said
    rows = [[int(cell) for cell in row] for row in pieces]
    return [row[0] for row in rows] if all(len(row) == 1 for row in rows) else rows


def plain_of_text(name: str, spec: Spec, said: str) -> object:
    """The plain value (as `read_plain` takes it) that a text stands for; what cannot be read stays a text.

    Numbers are exact integers in the field's unit, groups also "1+3" or "none", tables "0:254 1:120" (all others
    MASK), "254 120 …" or rows "0:1000 50000:800", sets words with "+" between, yes or no for a flag.
    """
    said = said.strip()
    if name == "groups":
        return mask_of_groups(said) if said.casefold() != "not set" else said
    if spec.shape == "whole":
        return whole_of_text(said)
    if spec.shape == "flag":
        return {"yes": True, "true": True, "no": False, "false": False}.get(said.casefold(), said)
    if spec.shape == "table" and said.casefold() != "not set":
        return _rows(spec, said)
    if spec.shape == "choices":
        return [piece.strip() for piece in said.split("+")]
    return said


def leaf(kind: type, path: str) -> tuple[str, Spec]:
    """Name and Spec of the field that a dotted path ends at.

    Raises ValueProblem (unknown-setting) for a path that leads nowhere, or to a whole part.
    """
    steps = path.split(".")
    here: list[str] = []
    while True:
        fields = dict(specs(kind))
        name, *steps = steps
        if name not in fields:
            known = [".".join([*here, field]) for field in fields]
            hint = nearest(".".join([*here, name]), known) or f"known there: {', '.join(fields)}"
            raise ValueProblem(f"{path} is not a setting", hint=hint, kind="unknown-setting")
        spec = fields[name]
        here.append(name)
        if spec.shape == "names" and len(steps) == 1:
            return steps[0], spec
        if spec.shape == "parts" and len(steps) > 1 and re.fullmatch(r"[1-9][0-9]?", steps[0]):
            here.append(steps.pop(0))
        elif spec.shape == "part" and steps:
            pass
        elif spec.shape in ("part", "parts", "names") or steps:
            whole_part = spec.shape in ("part", "parts", "names")
            inside = f"{'.'.join(here)}.{'1.' if spec.shape == 'parts' else ''}…" if whole_part else ".".join(here)
            raise ValueProblem(f"{path} is not one setting", hint=f"write {inside}", kind="unknown-setting")
        else:
            return name, spec
        kind = spec.kind


def put(tree: dict[str, Any], path: str, value: object) -> None:
    """Write (or, for None, take away) a value in nested plain values, making the parts on its way."""
    *way, last = path.split(".")
    inside: Any = tree
    for step, following in zip(way, [*way, last][1:], strict=True):
        if isinstance(inside, list):
            number = int(step)
            if number > len(inside) + 1:
                raise ValueProblem(f"{path}: there are {len(inside)} of them",
                                   hint=f"use a number from 1 to {len(inside) + 1}", kind="unknown-setting")
            if number > len(inside):
                inside.append({})
            inside = inside[number - 1]
        else:
            inside = inside.setdefault(step, [] if following.isdigit() and step != "extras" else {})
    if value is None:
        inside.pop(last, None)
    else:
        inside[last] = value


def set_values(thing: T, changes: Iterable[tuple[str, str]]) -> T:
    """`thing` with every (dotted path, text) applied, then checked as a whole.

    Paths are those of `schema.flatten`; for a gear its settings may be named without "settings." before them. An
    empty text takes the field away (not recorded), "not set" leaves the driver as it is. Raises ValueProblem
    naming path, what was found and what is allowed, for all fields that are wrong.
    """
    kind = type(thing)
    tree = plain(thing)
    for path, said in changes:
        own = path.split(".")[0] in dict(specs(kind))
        full = path if own or kind is Settings else f"settings.{path}"
        name, spec = leaf(kind if own or kind is Settings else Settings, path)
        put(tree, full, plain_of_text(name, spec, said) if said.strip() else None)
    made, problems = read_plain(kind, tree)
    if made is None:
        said = "; ".join(str(problem).removeprefix("settings.") for problem in problems)
        raise ValueProblem(said, hint="nothing was changed", kind="bad-value")
    return made  # type: ignore[no-any-return]


def set_value(thing: T, dotted_path: str, text: str) -> T:
    """`thing` with one setting changed; see `set_values`."""
    return set_values(thing, [(dotted_path, text)])
