"""A user's own label sizes and sheets, from a TOML file in millimetres."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from labels.errors import LabelError
from labels.media import Medium, Sheet

_MEDIUM: Mapping[str, Any] = {"name": str, "width_mm": float, "height_mm": float, "margin_mm": float, "corner_mm": float,
                              "bleed_mm": float, "text_mm": float}
_SHEET: Mapping[str, Any] = {"name": str, "width_mm": float, "height_mm": float, "columns": int, "rows": int,
                             "left_mm": float, "top_mm": float, "across_mm": float, "down_mm": float}
_REQUIRED = {"medium": {"name", "width_mm", "height_mm"}, "sheet": set(_SHEET)}
MAX_ON_A_SIDE = 100


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnMedia:
    """What a file holds: sizes and sheets by name."""

    media: Mapping[str, Medium]
    sheets: Mapping[str, Sheet]


def read_media(path: Path) -> OwnMedia:
    """Tables [[medium]] (name, width_mm, height_mm, and if wanted margin_mm, corner_mm, bleed_mm, text_mm) and [[sheet]]
    (name, width_mm, height_mm, columns, rows, left_mm, top_mm, across_mm, down_mm; the last two from label to label).

    Raises LabelError (bad-media-file) naming the table and the key.
    """
    try:
        held = tomllib.loads(path.read_text(encoding="utf-8"))
    except OSError as problem:
        raise _bad(f"{path} cannot be read: {problem.strerror or problem}.", "Check the name.") from problem
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as problem:
        raise _bad(f"{path} is no TOML file: {problem}.", "Write tables [[medium]] with name, width_mm, height_mm.") from problem
    if not held or set(held) - {"medium", "sheet"}:
        found = ", ".join(sorted(set(held) - {"medium", "sheet"})) or "nothing"
        raise _bad(f"{path} holds {found}.", "It holds tables [[medium]] and [[sheet]].")
    media = [_medium(path, number, table) for number, table in enumerate(_tables(path, held, "medium"), 1)]
    sheets = [_sheet(path, number, table) for number, table in enumerate(_tables(path, held, "sheet"), 1)]
    return OwnMedia(media={one.name: one for one in media}, sheets={one.name: one for one in sheets})


def _bad(what: str, hint: str) -> LabelError:
    return LabelError(what, hint=hint, kind="bad-media-file")


def _tables(path: Path, held: Mapping[str, Any], name: str) -> list[Mapping[str, Any]]:
    tables = held.get(name, [])
    if not isinstance(tables, list) or not all(isinstance(table, dict) for table in tables):
        raise _bad(f"{path}: {name} is no list of tables.", f"Begin each with [[{name}]].")
    names = [table.get("name") for table in tables]
    twice = sorted({str(one) for one in names if names.count(one) > 1})
    if twice:
        raise _bad(f"{path}: the name {twice[0]} stands twice.", "Give every table a name of its own.")
    return tables


def _checked(path: Path, where: str, table: Mapping[str, Any], kinds: Mapping[str, Any], required: set[str]) -> dict[str, Any]:
    unknown = sorted(set(table) - set(kinds))
    if unknown:
        raise _bad(f"{path}, {where}: there is no {unknown[0]}.", f"There is: {', '.join(kinds)}.")
    missing = sorted(required - set(table))
    if missing:
        raise _bad(f"{path}, {where}: {missing[0]} is missing.", f"Needed are: {', '.join(sorted(required))}.")
    found: dict[str, Any] = {}
    for key, value in table.items():
        kind = kinds[key]
        allowed = (int, float) if kind is float else kind
        if isinstance(value, bool) or not isinstance(value, allowed):
            raise _bad(f"{path}, {where}: {key} is {value!r}.",
                       {str: "Give a text.", int: "Give a whole number."}.get(kind, "Give a number of millimetres."))
        if kind is not str and not 0 <= value <= 2_000:
            raise _bad(f"{path}, {where}: {key} is {value!r}.", "Give 0 to 2000.")
        if kind is float:
            found[key.removesuffix("_mm") + "_um"] = round(value * 1000)
        else:
            found[key] = value
    if not 1 <= len(found["name"]) <= 24:
        raise _bad(f"{path}, {where}: the name has {len(found['name'])} characters.", "Give 1 to 24.")
    return found


def _medium(path: Path, number: int, table: Mapping[str, Any]) -> Medium:
    found = _checked(path, f"medium {number}", table, _MEDIUM, _REQUIRED["medium"])
    try:
        return Medium(**found)
    except LabelError as problem:
        raise _bad(f"{path}, medium {number}: {problem.what}", problem.hint) from problem


def _sheet(path: Path, number: int, table: Mapping[str, Any]) -> Sheet:
    where = f"sheet {number}"
    found = _checked(path, where, table, _SHEET, _REQUIRED["sheet"])
    for key in ("columns", "rows"):
        if not 1 <= found[key] <= MAX_ON_A_SIDE:
            raise _bad(f"{path}, {where}: {key} is {found[key]}.", f"Give 1 to {MAX_ON_A_SIDE}.")
    return Sheet(**found)

