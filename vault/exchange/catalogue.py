"""Catalogues in TOML or spreadsheets: fixture types, driver models, circuits, control lines."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeVar

from vault.domain.driver import DriverModel
from vault.domain.rating import Rating
from vault.domain.schema import Problem
from vault.domain.site import Circuit, Line
from vault.exchange.catalogue_kinds import HEADINGS
from vault.exchange.catalogue_problem import CatalogueProblem
from vault.exchange.catalogue_windows import WINDOWS, spelt_out
from vault.exchange.plain import nearest, read_plain
from vault.exchange.toml_file import read_toml

T = TypeVar("T")

SUFFIXES = (".csv", ".tsv", ".txt", ".xlsx", ".xlsm", ".xls", ".ods")


@dataclass(frozen=True, slots=True, kw_only=True)
class _TomlEntry:
    """One table of a TOML file. plain: as it stands, whatever it is."""

    called: str
    plain: Any
    problems: tuple[Problem, ...] = ()

    @staticmethod
    def located(problem: Problem) -> Problem:
        """The problem under its dotted path, which a TOML file writes too."""
        return problem


def _entry_name(heading: str, name_field: str, number: int, entry: object) -> str:
    called = entry.get(name_field) if isinstance(entry, dict) else None
    return f"{heading} {called}" if isinstance(called, str) and called else f"{heading} number {number}"


def _toml_entries(path: Path, heading: str, name_field: str) -> tuple[list[_TomlEntry], list[tuple[str, Problem]]]:
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
    return [_TomlEntry(called=_entry_name(heading, name_field, number, entry), plain=entry)
            for number, entry in enumerate(entries, 1)], problems


def _with_windows(kind: type, plain: object) -> tuple[object, list[Problem]]:
    """The plain values with every window as corners and a limit of power."""
    if kind is not DriverModel or not isinstance(plain, Mapping):
        return plain, []
    made, problems = dict(plain), []
    for name in WINDOWS:
        if name in made:
            made[name], wrong = spelt_out(made[name], name)
            problems += wrong
            if wrong:
                # It is told what is wrong with the window; that there is none follows from it.
                del made[name]
    return made, problems


def _read(path: Path, heading: str, kind: type[T], name_field: str) -> list[T]:
    entries: Sequence[Any]
    if path.suffix.casefold() in SUFFIXES:
        from vault.exchange.catalogue_table import read_entries

        entries, problems = read_entries(path, heading, kind, name_field)
    else:
        entries, problems = _toml_entries(path, heading, name_field)
    things: list[T] = []
    seen: set[tuple[object, object]] = set()
    for entry in entries:
        plain, wrong = _with_windows(kind, entry.plain)
        thing, more = read_plain(kind, plain)
        located = [placed for problem in (*wrong, *more) if (placed := entry.located(problem)) is not None]
        problems += [(entry.called, problem) for problem in (*entry.problems, *located)]
        if isinstance(thing, kind):
            identity = (getattr(thing, name_field), getattr(thing, "revision", None))
            if identity in seen:
                twice = Problem(path="revision", found=f"{identity[1]} twice", allowed="each once")
                problems.append((entry.called, entry.located(twice) or twice))
            seen.add(identity)
            things.append(thing)
    if problems:
        raise CatalogueProblem(path, problems)
    return things


def read_types(path: Path) -> list[Rating]:
    """The [[type]] entries of a TOML file, or the rows of a spreadsheet. Raises CatalogueProblem naming every entry and field."""
    return _read(path, "type", Rating, "code")


def read_drivers(path: Path) -> list[DriverModel]:
    """The [[driver]] entries of a TOML file, or the rows of a spreadsheet. Raises CatalogueProblem."""
    return _read(path, "driver", DriverModel, "model")


def read_circuits(path: Path) -> list[Circuit]:
    """The [[circuit]] entries of a TOML file, or the rows of a spreadsheet. Raises CatalogueProblem."""
    return _read(path, "circuit", Circuit, "name")


def read_lines(path: Path) -> list[Line]:
    """The [[line]] entries of a TOML file, or the rows of a spreadsheet. Raises CatalogueProblem."""
    return _read(path, "line", Line, "name")
