"""Settings, ratings and the facts of a record as attributes of COBie: name, value, unit."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from vault.domain.rating import Rating
from vault.domain.schema import flatten, words
from vault.domain.settings import Gear
from vault.domain.site import Line
from vault.exchange.schedule_columns import EXTRA, NAME_OF_PATH
from vault.exchange.schedule_written import cell_of

SETTING, FURTHER, RECORD, RATING = "Setting", "Further setting", "Record", "Rating"
# The categories of attributes that no reader of ours takes back: they are not settings, or no schedule has a column for them.
NOT_TAKEN = frozenset({FURTHER, RECORD, RATING})

_UNITS = {"_ma": "mA", "_mv": "mV", "_mw": "mW", "_v": "V", "_w": "W", "_percent": "%", "_permille": "‰", "_k": "K",
          "_min": "min", "_days": "d", "_weeks": "weeks", "_s": "s", "_c": "°C", "_mm": "mm", "_mirek": "mirek", "_ua": "µA"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Attribute:
    """One attribute. unit: "" where it has none. category: one of those above."""

    name: str
    value: str
    unit: str
    category: str


def unit_of(name: str) -> str:
    """The unit that a field's or column's name bears, "" for none."""
    return next((unit for ending, unit in _UNITS.items() if name.endswith(ending)), "")


def _plain(value: Any) -> str:
    if isinstance(value, list):
        return " ".join(":".join(map(str, one)) if isinstance(one, list) else str(one) for one in value) or "none"
    return ("no", "yes")[value] if isinstance(value, bool) else str(value)


def gear_attributes(gear: Gear, line: Line | None, *, first: bool) -> Iterator[Attribute]:
    """Every setting of a gear: under our columns' names, and what has no column under its path.

    first: whether it is the luminaire's first; the names and categories of another's begin or end with its duty.
    """
    flat = flatten(gear)
    duty = "" if first else words(gear.duty)
    further, category = (f"{duty} ", f"{SETTING}: {duty}") if duty else ("", SETTING)
    for path, value in flat.items():
        if path == "readback_digest":
            continue
        name = NAME_OF_PATH.get(path)
        if path.startswith("settings.extras."):
            name = EXTRA + path.removeprefix("settings.extras.")
        if name is None:
            short = path.removeprefix("settings.")
            yield Attribute(name=further + short, value=_plain(value), unit=unit_of(path), category=FURTHER)
        else:
            yield Attribute(name=further + name, value=cell_of(path, value, line), unit=unit_of(name), category=category)


def duty_of_category(category: str) -> str:
    """The duty of the further gear that an attribute of this category is of, "" for the first gear's."""
    return category.removeprefix(f"{SETTING}: ") if category.startswith(f"{SETTING}: ") else ""


def rating_attributes(rating: Rating) -> Iterator[Attribute]:
    """Every figure of a type's rating, in its own unit."""
    for path, value in flatten(rating).items():
        if path not in ("code", "title"):
            yield Attribute(name=path, value=_plain(value), unit=unit_of(path), category=RATING)
