"""The paper of a handover pack as plain texts and tables; `pack_paper_pdf` sets it as pages."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class PaperTable:
    """Rows under headings that stand again on every page.

    widths: shares of the page's width, one for each heading. rows: cells as plain texts; they are broken into lines.
    loud: numbers of rows, from 0, that nobody may miss.
    """

    headings: tuple[str, ...]
    widths: tuple[int, ...]
    rows: Sequence[tuple[str, ...]]
    loud: frozenset[int] = frozenset()


@dataclass(frozen=True, slots=True, kw_only=True)
class PaperCode:
    """A code with the lines below it. matrix: its modules without the quiet zone, True is black."""

    matrix: tuple[tuple[bool, ...], ...]
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class PaperSection:
    """A heading with what stands below it, in this order: paragraphs, tables, codes, sections of the next level.

    key: its name inside the file, unique.
    """

    key: str
    title: str
    paragraphs: tuple[str, ...] = ()
    tables: Sequence[PaperTable] = ()
    codes: Sequence[PaperCode] = ()
    parts: Sequence[PaperSection] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Paper:
    """All that stands on the paper. running_head: on every page. facts: (label, value) of the title page.

    opening: paragraphs of the title page, below the facts.
    """

    title: str
    site: str
    running_head: str
    facts: tuple[tuple[str, str], ...]
    opening: tuple[str, ...]
    sections: Sequence[PaperSection]
