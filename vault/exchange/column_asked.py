"""The questions about columns: what may this be, with what it would mean, and cells of it to look at."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from vault.exchange.asked import Choice, FileQuestion
from vault.exchange.lexicon_cells import possible, spoken_for
from vault.exchange.schedule_columns import EXTRA, GEAR_COLUMNS
from vault.exchange.schedule_fields import FOREIGN_FIELDS
from vault.exchange.schedule_headings import IGNORE
from vault.exchange.schedule_mapping import COLUMN, question_key

_SAYS = {
    "reference": "the luminaire's own number on the drawings, different for each",
    "type": "the fixture type, as the vault's catalogue calls it",
    "place": "where the luminaire is, in one cell",
    "line": "the control line (DALI line) that it hangs on",
    "circuit": "the final circuit that feeds it",
    "gear": "the duty of this driver: general, emergency-converter …",
    "driver": "the driver model",
    "control": "how it is controlled: DALI, switch, 1-10 V …",
    "address": "the address on its control line",
    "groups": "the DALI groups",
    "current_ma": "the driver's output current",
    "power_w": "power",
    "emergency_mode": "maintained, non-maintained or switched-maintained",
    "central_circuit": "the circuit of the central battery",
    "central_address": "the address on the central battery's circuit",
}
_MOST_EXAMPLES = 3


@dataclass(slots=True, kw_only=True)
class Column:
    """A column as it stands in the file. cells: each different text -> the first row that has it."""

    place: int
    heading: str
    cells: dict[str, int]
    filled: int

    @property
    def examples(self) -> tuple[tuple[int, str], ...]:
        """A few cells with their rows."""
        return tuple((row, cell) for cell, row in list(self.cells.items())[:_MOST_EXAMPLES])


def says_of(name: str) -> str:
    """What a field is, in words."""
    if name in _SAYS:
        return _SAYS[name]
    return FOREIGN_FIELDS[name] if name in FOREIGN_FIELDS else f"our column {name}: {GEAR_COLUMNS[name].allowed}"


def _extra_name(column: Column) -> str:
    """The name under which the column would be kept: an extra's name has 24 characters at most."""
    return EXTRA + " ".join("".join(c if c.isprintable() else " " for c in column.heading).split())[:24].strip()


def _choices(column: Column, fields: Sequence[str]) -> tuple[Choice, ...]:
    return (*(Choice(word=name, says=says_of(name)) for name in fields if name),
            Choice(word=_extra_name(column), says="kept with the record as it stands, and never understood"),
            Choice(word=IGNORE, says="not read"))


def _question(column: Column, says: str, fields: Sequence[str], likely: str | None) -> FileQuestion:
    return FileQuestion(key=question_key(column.heading, COLUMN), says=says, choices=_choices(column, fields), likely=likely,
                        allowed="any other of our fields",
                        heading=column.heading, examples=column.examples, count=column.filled)


def ask_column(column: Column, fields: Sequence[str], cells: Sequence[str]) -> FileQuestion:
    """What a column is. fields: what its heading may mean, "" for what we do not keep; cells: those that say something."""
    named = [name for name in fields if name]
    if not named:
        likely = _extra_name(column) if "" in fields else None
        return _question(column, f"What is column {column.heading!r}?", named, likely)
    left = possible(named, cells)
    likely = spoken_for(left, cells) or (left[0] if len(left) == 1 and cells else None)
    which = f"{', '.join(named[:-1])} or {named[-1]}" if len(named) > 1 else named[0]
    return _question(column, f"Is column {column.heading!r} {which}?", named, likely)


def ask_again(column: Column, field: str, others: Sequence[str]) -> FileQuestion:
    """What a column is that looks like the same field as others."""
    beside = " and ".join(repr(other) for other in others)
    says = f"Column {column.heading!r} and column {beside} both look like {field}. What is column {column.heading!r}?"
    return _question(column, says, [field], None)
