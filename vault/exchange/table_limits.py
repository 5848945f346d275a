"""How large a table may be that is read, and what is told while it is."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeAlias

# Rows read so far, and how many there are as far as is known (0: not yet).
Progress: TypeAlias = Callable[[int, int], None]

MOST_COLUMNS, MOST_ROWS, MOST_CELL = 1_000, 1_000_000, 32_767
MOST_BYTES = 400_000_000  # of a CSV file, or of a workbook when unpacked
SAVE_AS = "save it as XLSX or as CSV UTF-8 and try again"


def quiet(_done: int, _total: int) -> None:
    """No progress."""
