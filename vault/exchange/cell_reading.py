"""What one cell of somebody else's schedule says in our columns, or why nobody can tell."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from dataclasses import field as a_field
from typing import TypeAlias

from vault.exchange.asked import Choice


@dataclass(frozen=True, slots=True, kw_only=True)
class ColumnFacts:
    """What is known of a column while its cells are read.

    field: one of `schedule_fields.FIELDS`. heading: as the file calls it. unit: what the heading or the unit row says
    ("mA", "h"), "" where they say none. answers: what was decided for this column, kind -> word of a choice (the
    answers of the mapping whose key begins with this heading, without it).
    """

    field: str
    heading: str
    unit: str = ""
    answers: Mapping[str, str] = a_field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """A cell that can be read. values: our column -> text as the strict schedule reader takes it; empty where the cell
    says nothing ("-", "n/a"). rule: how it was read, in words that a preview shows ("comma as decimal mark, A to mA").
    """

    values: Mapping[str, str]
    rule: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Unclear:
    """A cell with more than one reading. kind: the question's kind, one for the whole column ("decimal-mark",
    "numbering", "dates") or for this text ("is 03-Jan"). choices: the readings. likely: see FileQuestion.
    """

    kind: str
    says: str
    choices: tuple[Choice, ...]
    likely: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Unreadable:
    """A cell that says nothing that its field can hold."""

    problem: str
    allowed: str


Reading: TypeAlias = Said | Unclear | Unreadable
