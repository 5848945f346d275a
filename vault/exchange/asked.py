"""Questions that a file raises: what cannot be decided from it alone is asked once, and the answer kept in a mapping file."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """One answer among several. word: what is typed or written into a file; says: what it means."""

    word: str
    says: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FileQuestion:
    """One question. key: its name in a mapping file, "HEADING: kind" (see vault/exchange/schedule_mapping.py).

    says: the question in one plain sentence. choices: what may be answered; empty where any text is an answer, of which
    `allowed` speaks. likely: the word of the choice that the file points to, shown as such and never taken in silence.
    heading: the column as the file calls it, "" for the whole file. examples: (row as a spreadsheet counts, the cell).
    count: how many cells it touches.
    """

    key: str
    says: str
    choices: tuple[Choice, ...] = ()
    allowed: str = ""
    likely: str | None = None
    heading: str = ""
    examples: tuple[tuple[int, str], ...] = ()
    count: int = 0
