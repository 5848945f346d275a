"""A table as a file holds it: every cell as text, with what its reader has to say about odd ones."""

from __future__ import annotations

import datetime
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum


class Oddity(StrEnum):
    """Why a cell is not simply what stands in it."""

    DATE = "date"  # a spreadsheet holds a date where somebody may have typed 4/12
    NO_VALUE = "formula without a value"  # never calculated, or by a program that kept no value
    ERROR = "error"  # #REF!, #N/A …
    MERGED = "merged"  # filled in from the merged cell that it lies in
    NUMBER = "number"  # a number in the file, whose form on screen (leading zeros) is lost


@dataclass(frozen=True, slots=True, kw_only=True)
class Remark:
    """What is odd about one cell. date: of a date cell. says: one sentence part for a reader, "" where nothing helps."""

    oddity: Oddity
    says: str = ""
    date: datetime.date | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class RawTable:
    """One sheet of a file. rows: every row of the file from its first, so that row n as a spreadsheet counts is rows[n - 1].

    Cells are texts in composed form (NFC), with the spaces that they have; a row may be shorter than others. A date cell
    holds its ISO date, a number its shortest decimal form with a point. remarks: (row as a spreadsheet counts, column
    from 0) -> Remark. hidden: rows as a spreadsheet counts that the sheet hides. made_of: how the file was read, in words
    ("CSV in cp1252, separated by semicolons"). delimiter: "" for a workbook.
    """

    file: str
    sheet: str | None
    rows: Sequence[tuple[str, ...]]
    remarks: Mapping[tuple[int, int], Remark] = field(default_factory=dict)
    hidden: frozenset[int] = frozenset()
    made_of: str = ""
    delimiter: str = ""
