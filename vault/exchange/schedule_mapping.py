"""What was decided about a schedule once: its sheet, its heading row, what its columns are, and the answers to its questions."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True, kw_only=True)
class ScheduleMapping:
    """Decisions that can be used again. columns: a heading as `heading_names` writes it -> one of
    `schedule_fields.FIELDS`, extra:NAME, or ignore. answers: FileQuestion.key -> the word of a choice.
    heading_row: as a spreadsheet counts.
    """

    sheet: str | None = None
    heading_row: int | None = None
    columns: Mapping[str, str] = field(default_factory=dict)
    answers: Mapping[str, str] = field(default_factory=dict)
