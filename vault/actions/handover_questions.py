"""Questions about a schedule file, asked of a person; the answers go into the mapping."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

from vault.actions.questions import Asker, GivenAnswers, Question
from vault.errors import UsageProblem
from vault.exchange.asked import FileQuestion
from vault.exchange.plain import shown
from vault.exchange.schedule_mapping import HEADING_ROW, SHEET, ScheduleMapping
from vault.exchange.translation_missing import ASKED, checked

_SHOWN = 5


def seen_where(question: FileQuestion) -> str:
    """Where in the file a question comes from: a few cells with their rows, and how many there are."""
    cells = ", ".join(f"row {row}: {shown(cell)}" for row, cell in question.examples[:_SHOWN])
    more = question.count - min(len(question.examples), _SHOWN)
    return cells + (f" and {more} more" if cells and more > 0 else "")


def in_its_column(question: FileQuestion) -> str:
    """The question, with the column's name before it where it does not say it."""
    return f"{question.heading}: {question.says}" if question.heading and question.heading not in question.says else question.says


def as_question(question: FileQuestion) -> Question:
    """The same question as one that a terminal can ask. What the file points to is told, and never taken by itself."""
    says = in_its_column(question)
    likely = f" The file points to {question.likely}." if question.likely else ""

    def check(said: str) -> None:
        if question.key in ASKED:
            checked(question.key, said)
        elif not said:
            raise UsageProblem(f"Nothing was answered to: {question.says}", kind="bad-answer",
                               hint=f"Allowed: {question.allowed}.")

    return Question(key=question.key, text=f"{says}{likely}", choices=question.choices, allowed=question.allowed, check=check)


def answered(questions: Sequence[FileQuestion], mapping: ScheduleMapping, asker: Asker, *, show: Callable[[str], None],
             keep: Callable[[ScheduleMapping], None]) -> ScheduleMapping:
    """The mapping with every question answered by somebody. keep: gets it after each answer, so that none is lost.

    Raises UsageProblem (no-answer) where nobody answers.
    """
    at = GivenAnswers(answers={}, then=asker, show=show)
    for number, question in enumerate(questions, 1):
        where = seen_where(question)
        show(f"\nQuestion {number} of {len(questions)}{f', {where}' if where else ''}")
        mapping = with_answers(mapping, {question.key: at.ask(as_question(question))})
        keep(mapping)
    return mapping


def with_answers(mapping: ScheduleMapping, answers: Mapping[str, str]) -> ScheduleMapping:
    """The mapping with further answers; the sheet and the heading row have places of their own in it.

    Raises UsageProblem (bad-answer) for a heading row that is no row.
    """
    others = {key: word for key, word in answers.items() if key not in (SHEET, HEADING_ROW)}
    row = answers.get(HEADING_ROW)
    if row is not None and not (row.isdecimal() and int(row)):
        raise UsageProblem(f"The heading row {row!r} is no row.", kind="bad-answer",
                           hint="Give its number, as the spreadsheet counts.")
    return replace(mapping, sheet=answers.get(SHEET, mapping.sheet), heading_row=int(row) if row else mapping.heading_row,
                   answers={**mapping.answers, **others})
