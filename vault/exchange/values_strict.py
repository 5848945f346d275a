"""Whether a cell stands already as the strict reader of schedules takes it, and whether its column is one of ours."""

from __future__ import annotations

import re
from functools import lru_cache

from vault.domain.schema import Spec, from_words
from vault.domain.settings import Gear
from vault.exchange.assign import leaf
from vault.exchange.cell_reading import ColumnFacts
from vault.exchange.schedule_columns import EXTRA, GEAR_COLUMNS, LUMINAIRE_COLUMNS, CellProblem

_UNITS = {"ma": "mA", "v": "V", "w": "W", "percent": "%", "min": "min", "k": "K", "days": "d", "weeks": "weeks", "s": "s"}
_ADDRESS = re.compile("[0-9]{1,3}")


def is_own(heading: str, field: str) -> bool:
    """Whether a column stands under our own heading, letter for letter: "Address" is anybody's, "address" ours."""
    return heading.strip() == field and field in GEAR_COLUMNS


def unit_of_column(facts: ColumnFacts) -> str:
    """What the heading or the unit row says, else what our own heading says, else ""."""
    if facts.unit or not is_own(facts.heading, facts.field):
        return facts.unit
    return _UNITS.get(facts.field.rpartition("_")[2], "")


@lru_cache(maxsize=256)
def _spec(field: str) -> Spec:
    return leaf(Gear, GEAR_COLUMNS[field].path)[1]


def is_strict(field: str, text: str) -> bool:
    """Whether the strict reader can read a text in this column; ranges are judged there."""
    if field in LUMINAIRE_COLUMNS or field.startswith(EXTRA):
        return True
    if field not in GEAR_COLUMNS:
        return False
    spec = _spec(field)
    if text.casefold().replace("_", " ") == "not set":
        return spec.may_be_not_set
    if spec.shape == "text":
        return True
    if field == "address":
        return _ADDRESS.fullmatch(text) is not None
    try:
        value = GEAR_COLUMNS[field].read(text)
    except CellProblem:
        return False
    if spec.shape == "choice":
        return from_words(spec.kind, text) is not None
    return not isinstance(value, str)
