"""The headings of a luminaire schedule, as a file writes them and as we know them."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from vault.errors import GearkeepError
from vault.exchange.plain import nearest
from vault.exchange.schedule_columns import EXTRA, GEAR_COLUMNS, LUMINAIRE_COLUMNS

ADDED = ("problem", "allowed")
# The third added column: the number that the row had in the file that it was rejected from.
ROW_IN = re.compile(r"row in (.+)", re.IGNORECASE)
IGNORE = "ignore"
TOLD = "as_built_"  # columns of a handover pack's table that only tell begin so
NEEDED = ("reference", "type", "place")


class ScheduleProblem(GearkeepError):
    """The schedule cannot be read at all: its headings are not ours. Kind: bad-schedule."""

    def __init__(self, what: str, hint: str) -> None:
        super().__init__(what, hint=hint, kind="bad-schedule")


def plain_heading(said: str) -> str:
    said = said.strip()
    if said.casefold().startswith(EXTRA):
        return EXTRA + said[len(EXTRA):].strip()
    return re.sub(r"[\s_-]+", "_", said.casefold()).strip("_")


def is_added(heading: str) -> bool:
    """Whether a column is one of those that a file of rejected rows has beside the schedule's own."""
    return plain_heading(_own_part(heading)) in ADDED or first_file(heading) is not None


def first_file(heading: str) -> str | None:
    """The file that a column of rejected rows counts rows of; None for any other column."""
    found = ROW_IN.match(_own_part(heading))
    return found[1] if found else None


def _own_part(heading: str) -> str:
    # Where headings stand over two rows, the last group of the schedule spreads over the columns behind it.
    return heading.rpartition(" / ")[2].strip()


def names_of(headings: Sequence[str], mapping: Mapping[str, str], filled: set[int]) -> list[str]:
    """Our name for every column, "" for one that is not read. Raises ScheduleProblem for all that are wrong."""
    known = (*LUMINAIRE_COLUMNS, *GEAR_COLUMNS)
    mapped = {plain_heading(theirs): ours for theirs, ours in mapping.items()}
    names, wrong = [], []
    for number, heading in enumerate(headings):
        plain = plain_heading(heading)
        name = plain_heading(mapped.get(plain, plain))
        if name == IGNORE or name.startswith(TOLD) or is_added(heading) or (not name and number not in filled):
            name = ""
        elif not name:
            wrong.append(f"column {number + 1} has no heading")
        elif name not in known and not (name.startswith(EXTRA) and name != EXTRA):
            wrong.append(f"{heading.strip()!r} is not a heading we know, {nearest(name, known)}".rstrip(", "))
        elif name in names:
            wrong.append(f"{heading.strip()!r} stands twice")
        names.append(name)
    wrong += [f"{name!r} is missing" for name in NEEDED if name not in names]
    if wrong:
        raise ScheduleProblem(
            f"the headings in row 1 cannot be read: {'; '.join(wrong)}",
            'map the file\'s headings to ours in a mapping file ("ignore" drops a column), or name a column '
            f"extra:NAME to keep it; our headings are {', '.join(known)}")
    return names
