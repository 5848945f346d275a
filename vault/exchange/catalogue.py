"""Catalogues in TOML: fixture types, driver models, circuits, control lines."""

from __future__ import annotations

import tomllib
from collections.abc import Sequence
from pathlib import Path
from typing import Any, TypeVar

from vault.domain.driver import DriverModel
from vault.domain.rating import Rating
from vault.domain.schema import Problem
from vault.domain.site import Circuit, Line
from vault.errors import GearkeepError
from vault.exchange.plain import nearest, read_plain

T = TypeVar("T")

HEADINGS = ("type", "driver", "circuit", "line")


class CatalogueProblem(GearkeepError):
    """A catalogue file is wrong. `problems`: (entry, Problem) for each. Kind: bad-catalogue."""

    def __init__(self, path: Path, problems: Sequence[tuple[str, Problem]]) -> None:
        told = "\n".join(f"  {entry}: {problem}" for entry, problem in problems)
        super().__init__(f"{path.name} has {len(problems)} wrong entries, nothing was read:\n{told}"
                         if len(problems) != 1 else f"{path.name} is wrong, nothing was read: {told.strip()}",
                         hint="correct the file and load it again", kind="bad-catalogue")
        self.problems = tuple(problems)


def read_toml(path: Path) -> dict[str, Any]:
    """A TOML file's tables. Raises GearkeepError (unreadable-file) with the parser's line and column."""
    try:
        return tomllib.loads(path.read_bytes().decode("utf-8-sig"))
    except OSError as error:
        raise GearkeepError(f"{path} cannot be read: {error.strerror}", hint="check the file's name and rights",
                            kind="unreadable-file") from error
    except UnicodeDecodeError as error:
        raise GearkeepError(f"{path.name} is not text in UTF-8", hint="save it as UTF-8",
                            kind="unreadable-file") from error
    except tomllib.TOMLDecodeError as error:
        raise GearkeepError(f"{path.name} is not TOML: {error}", hint="look at the line named",
                            kind="unreadable-file") from error


def _entry_name(heading: str, name_field: str, number: int, entry: object) -> str:
    called = entry.get(name_field) if isinstance(entry, dict) else None
    return f"{heading} {called}" if isinstance(called, str) and called else f"{heading} number {number}"


def _read(path: Path, heading: str, kind: type[T], name_field: str) -> list[T]:
    tables = read_toml(path)
    problems: list[tuple[str, Problem]] = []
    for other in tables:
        # One file may hold several kinds; a heading that is none of them is a slip that would lose entries.
        if other not in HEADINGS:
            hint = nearest(other, HEADINGS) or f"one of {', '.join(HEADINGS)}"
            problems.append((path.name, Problem(path=other, found="an unknown heading", allowed=hint)))
    entries = tables.get(heading, [])
    if not isinstance(entries, list) or not entries:
        found = "nothing" if not entries else "a single table"
        problems.append((path.name, Problem(path=heading, found=found, allowed=f"one or more [[{heading}]]")))
        entries = []
    things: list[T] = []
    seen: set[tuple[object, object]] = set()
    for number, entry in enumerate(entries, 1):
        called = _entry_name(heading, name_field, number, entry)
        thing, wrong = read_plain(kind, entry)
        problems += [(called, problem) for problem in wrong]
        if isinstance(thing, kind):
            identity = (getattr(thing, name_field), getattr(thing, "revision", None))
            if identity in seen:
                problems.append((called, Problem(path="revision", found=f"{identity[1]} twice", allowed="each once")))
            seen.add(identity)
            things.append(thing)
    if problems:
        raise CatalogueProblem(path, problems)
    return things


def read_types(path: Path) -> list[Rating]:
    """The [[type]] entries of a TOML file. Raises CatalogueProblem naming every entry and dotted field."""
    return _read(path, "type", Rating, "code")


def read_drivers(path: Path) -> list[DriverModel]:
    """The [[driver]] entries of a TOML file. Raises CatalogueProblem."""
    return _read(path, "driver", DriverModel, "model")


def read_circuits(path: Path) -> list[Circuit]:
    """The [[circuit]] entries of a TOML file. Raises CatalogueProblem."""
    return _read(path, "circuit", Circuit, "name")


def read_lines(path: Path) -> list[Line]:
    """The [[line]] entries of a TOML file. Raises CatalogueProblem."""
    return _read(path, "line", Line, "name")
