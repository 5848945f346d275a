"""One row of a luminaire schedule: its cells, and the gear that they describe under a type's rating."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from vault.domain.rating import GearRating, Rating
from vault.domain.schema import Problem, from_words, plain_value, words
from vault.domain.settings import Colour, Duty, EmergencyMode, Gear, Output
from vault.domain.site import Line
from vault.domain.voltage import hot_and_cold_mv
from vault.exchange.assign import put
from vault.exchange.plain import read_plain
from vault.exchange.schedule_columns import CONTROL, EMERGENCY, EXTRA, GEAR_COLUMNS, NAME_OF_PATH, CellProblem


@dataclass(frozen=True, slots=True, kw_only=True)
class Bad:
    """One cell that cannot stand: which column, what is wrong, what is allowed."""

    column: str
    problem: str
    allowed: str


def _address(cell: str, line: Line) -> int:
    """An address as the site writes it, as it goes over the bus."""
    first = line.addresses_from
    if not re.fullmatch(r"[0-9]{1,3}", cell):
        raise CellProblem("is not a whole number")
    if not first <= int(cell) <= first + 63:
        raise CellProblem(f"is out of range on line {line.name}, whose addresses count from {first}")
    return int(cell) - first


def read_cells(cells: Mapping[str, str], line: Line | None) -> tuple[dict[str, Any], list[Bad]]:
    """Dotted path in a gear -> plain value for every filled cell, and the cells that cannot be read.

    An address is left out when its line is not known: nobody could say how it counts.
    """
    values: dict[str, Any] = {}
    bad: list[Bad] = []
    for name, cell in cells.items():
        if name.startswith(EXTRA):
            if not cell.isprintable():
                bad.append(Bad(column=name, problem=f"{cell!r} holds characters that cannot be seen",
                               allowed="printable characters"))
                continue
            values[f"settings.extras.{name.removeprefix(EXTRA)}"] = cell
            continue
        column = GEAR_COLUMNS.get(name)
        if column is None or (name == "address" and line is None):
            continue
        allowed = column.allowed
        try:
            if cell.casefold().replace("_", " ") == "not set":
                values[column.path] = "not set"
            elif name == "address" and line is not None:
                allowed = f"{line.addresses_from} to {line.addresses_from + 63}, or not set"
                values[column.path] = _address(cell, line)
            else:
                values[column.path] = column.read(cell)
        except CellProblem as wrong:
            bad.append(Bad(column=name, problem=f"{cell!r} {wrong}", allowed=allowed))
    return values, bad


def duty_of(cells: Mapping[str, str], rating: Rating) -> tuple[Duty | None, list[Bad]]:
    """Which gear position of the type a row is about: as it says, else the only one there is."""
    known = ", ".join(words(gear.duty) for gear in rating.gears)
    said = cells.get("gear", "")
    if not said and len(rating.gears) == 1:
        return rating.gears[0].duty, []
    duty = from_words(Duty, said)
    if duty is None or rating.gear_for(duty) is None:
        problem = f"{said!r} is no gear of type {rating.code}" if said else f"type {rating.code} has several gears"
        return None, [Bad(column="gear", problem=problem, allowed=known)]
    return duty, []


def _only(members: frozenset[Any] | None) -> Any:
    return plain_value(next(iter(members))) if members is not None and len(members) == 1 else None


def _from_rating(gear: GearRating, ambient_min_c: int, paths: Mapping[str, Any]) -> dict[str, Any]:
    """What the rating says where the row is silent."""
    filled: dict[str, Any] = {"duty": words(gear.duty), "settings.output": words(gear.output)}
    for number, module in enumerate(gear.modules, 1):
        power = module.power_max_mw or (gear.power_max_mw if len(gear.modules) == 1 else None)
        # The window that the light source needs from the hottest to the coldest, not the one of its data sheet at 25 degrees.
        lowest_mv, highest_mv = hot_and_cold_mv(module, ambient_min_c=ambient_min_c)
        single = module.current_min_ma if module.current_min_ma == module.current_max_ma else None
        constant_voltage = gear.output is Output.CONSTANT_VOLTAGE
        for field, value in (
            ("current_ma", None if constant_voltage else single),
            ("voltage_min_mv", lowest_mv), ("voltage_max_mv", highest_mv),
            ("power_max_mw", power), ("voltage_mv", module.nominal_voltage_mv if constant_voltage else None),
            ("colour", words(Colour(gear.colours[number - 1])) if gear.colours else None),
        ):
            filled[f"settings.channels.{number}.{field}"] = value
    filled[f"{CONTROL}.protocol"] = _only(gear.protocols)
    if gear.duty is not Duty.GENERAL or any(path.startswith(EMERGENCY) for path in paths):
        limits = gear.emergency
        modes: frozenset[EmergencyMode] | None = limits.modes if limits else None
        filled[f"{EMERGENCY}.mode"] = _only(modes)
        filled[f"{EMERGENCY}.supply"] = plain_value(limits.supply) if limits and limits.supply is not None else None
        filled[f"{EMERGENCY}.rated_duration_min"] = limits.duration_min if limits else None
    return {path: value for path, value in filled.items() if value is not None}


def _told(problem: Problem, cells: Mapping[str, str]) -> Bad:
    path = problem.path
    while path and path not in NAME_OF_PATH:
        if path.startswith("settings.extras."):
            name = f"{EXTRA}{path.removeprefix('settings.extras.')}"
            return Bad(column=name, problem=f"{cells.get(name, '')!r} is too long", allowed=problem.allowed)
        path = path.rpartition(".")[0]
    name = NAME_OF_PATH.get(path, problem.path)
    cell = cells.get(name, "")
    if not cell:
        return Bad(column=name, problem="nothing stands here, and the type's rating does not say it",
                   allowed=problem.allowed)
    column = GEAR_COLUMNS[name]
    return Bad(column=name, problem=f"{cell!r} is not allowed",
               allowed=column.allowed if column.in_own_unit else problem.allowed)


def read_gear(
    cells: Mapping[str, str], values: Mapping[str, Any], gear: GearRating, *, ambient_min_c: int
) -> tuple[Gear | None, list[Bad]]:
    """The gear that a row's values and, where they are silent, the rating describe; and what is wrong with it.

    ambient_min_c: the lowest ambient of the type in deg C (`vault.domain.voltage.coldest_c`).
    """
    count = len(gear.modules)
    bad: list[Bad] = []
    tree: dict[str, Any] = {"settings": {"channels": [{} for _ in range(count)]}}
    for path, value in {**_from_rating(gear, ambient_min_c, values), **values}.items():
        found = re.match(r"settings\.channels\.([0-9])\.", path)
        if found and int(found[1]) > count:
            name = NAME_OF_PATH[path]
            bad.append(Bad(column=name, problem=f"{cells[name]!r} is for a channel that the type does not have",
                           allowed=f"nothing: the type has {count} channel{'s' if count > 1 else ''}"))
        elif not path.startswith("settings.extras."):
            put(tree, path, value)
    extras = {path.removeprefix("settings.extras."): v for path, v in values.items() if "settings.extras." in path}
    if extras:
        tree["settings"]["extras"] = extras
    made, problems = read_plain(Gear, tree)
    bad += [_told(problem, cells) for problem in problems]
    return (None if bad else made), bad
