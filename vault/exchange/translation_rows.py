"""The rows of a file that speak of luminaires: without hidden ones that nobody wants, with what a row of its own says of the
rows below it, and one for each luminaire where a row stands for several.
"""

from __future__ import annotations

from bisect import bisect_right
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from vault.exchange.asked import Choice, FileQuestion
from vault.exchange.column_mapping import Mapped, MappedColumn
from vault.exchange.heading_rows import Headings, data_rows
from vault.exchange.raw_table import RawTable
from vault.exchange.schedule_mapping import ScheduleMapping
from vault.exchange.translation_columns import Ledger, ReadColumn
from vault.exchange.translation_result import COPY

SECTIONS, HIDDEN, SEVERAL = "sections", "hidden rows", "several"
_EXAMPLES = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Data:
    """Rows of luminaires. numbers: as a spreadsheet counts. skipped: row -> why it is none."""

    numbers: list[int]
    rows: list[tuple[str, ...]]
    skipped: Mapping[int, str]
    questions: tuple[FileQuestion, ...] = ()
    hidden: frozenset[int] = frozenset()


def data_of(raw: RawTable, headings: Headings, mapping: ScheduleMapping) -> Data:
    """The rows of luminaires. Rows that the sheet hides are asked for once, and read until they are left out by an answer."""
    numbers, rows = [], []
    for number, cells in data_rows(raw, headings):
        numbers.append(number)
        rows.append(cells)
    hidden = [number for number in numbers if number in raw.hidden]
    if not hidden:
        return Data(numbers=numbers, rows=rows, skipped=headings.skipped)
    word = mapping.answers.get(HIDDEN)
    if word == "leave-out":
        kept = [(number, cells) for number, cells in zip(numbers, rows, strict=True) if number not in raw.hidden]
        return Data(numbers=[number for number, _ in kept], rows=[cells for _, cells in kept],
                    skipped={**headings.skipped, **dict.fromkeys(hidden, "hidden in the sheet, and left out as answered")})
    question = FileQuestion(
        key=HIDDEN, says=f"The sheet hides {len(hidden)} of its rows; do they count?", count=len(hidden),
        choices=(Choice(word="read", says="they are luminaires like the others"),
                 Choice(word="leave-out", says="leave them out")),
        examples=tuple((number, " ".join(filter(None, raw.rows[number - 1]))[:40]) for number in hidden[:_EXAMPLES]))
    return Data(numbers=numbers, rows=rows, skipped=headings.skipped, hidden=raw.hidden,
                questions=() if word == "read" else (question,))


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """What rows of their own say of the rows below. cells: one for each row of luminaires; field: what they are, "" asked."""

    cells: list[str]
    field: str
    question: FileQuestion | None


def section_of(data: Data, headings: Headings, mapping: ScheduleMapping) -> Section | None:
    """The last section above each row, if the file has any."""
    if not headings.sections:
        return None
    at = sorted(headings.sections)
    cells = [headings.sections[at[place - 1]] if (place := bisect_right(at, number)) else "" for number in data.numbers]
    word = mapping.answers.get(SECTIONS)
    if word is not None:
        return Section(cells=cells, field="" if word == "ignore" else word, question=None)
    examples = tuple((row, headings.sections[row]) for row in at[:_EXAMPLES])
    choices = tuple(Choice(word=one, says=f"each names the {one} of the rows below it") for one in ("floor", "room", "building"))
    question = FileQuestion(
        key=SECTIONS, says="Some rows hold one text alone, over other rows; what does it say of those?", examples=examples,
        choices=(*choices, Choice(word="ignore", says="nothing that has to be kept")), count=len(at))
    return Section(cells=cells, field="", question=question)


def section_column(section: Section, place: int) -> MappedColumn:
    """The sections as a column behind the last."""
    return MappedColumn(place=place, heading=SECTIONS, field=section.field, unit="", confidence=100,
                        why="rows that stand over others, as answered")


def sure(mapped: Mapped) -> list[MappedColumn]:
    """The columns that are read."""
    return [one for one in mapped.columns if one.field]


def several(column: ReadColumn, references: ReadColumn, answers: Mapping[str, str], ledger: Ledger) -> dict[int, int]:
    """Row -> how many luminaires it stands for, of those that stand for more than one and are to be numbered.

    Rows by their place from 0. What the answer is not known for is asked; "refuse" rejects such rows.
    """
    counts = {text: int(value) for text in column.readings
              if (value := column.value(text, "quantity")).isdecimal() and value != "1"}
    if not counts:
        return {}
    rows = [at for at, cell in enumerate(column.cells) if cell in counts]
    word = answers.get(f"{column.heading}: {SEVERAL}")
    if word is None:
        first = rows[0]
        name, count = references.cells[first] or "REF", counts[column.cells[first]]
        ledger.ask(column.question(
            SEVERAL, f"Some rows of column {column.heading!r} stand for several luminaires, and each needs a name of its own. "
            "How are they named?", (
                Choice(word="number", says=f"{name}/1 to {name}/{count}, each with what the row says"),
                Choice(word="refuse", says="not here: the rows are rejected, to be written out one by one")), counts))
        for at in rows:
            ledger.wait(at, ["reference"])
        return {}
    zero = [at for at in rows if not counts[column.cells[at]]]
    for at in rows if word != "number" else zero:
        ledger.reject(at, heading=column.heading, text=column.cells[at], columns=["reference"],
                      problem="the row stands for no luminaire" if at in zero else "the row stands for several luminaires",
                      allowed="1: one row for each luminaire, with a name of its own")
    return {at: counts[column.cells[at]] for at in rows if counts[column.cells[at]]} if word == "number" else {}


def written_out(table: list[list[str]], counts: Mapping[int, int], reference: int,
                ledger: Ledger) -> tuple[list[list[str]], Sequence[int]]:
    """Our columns with a row for each luminaire, and for each of those its place before.

    A numbered name that stands in the file already, or twice among the new ones, is a problem of its row.
    """
    names = table[reference]
    if not counts:
        return table, range(len(names))
    old = set(names)
    new = Counter(f"{names[at]}/{one}" for at, count in counts.items() for one in range(1, count + 1))
    for at, count in counts.items():
        twice = [name for one in range(1, count + 1) if (name := f"{names[at]}/{one}") in old or new[name] > 1]
        if twice:
            ledger.reject(at, heading="reference", text=names[at], columns=["reference"],
                          problem=f"the numbered name {twice[0]} stands for another luminaire too", allowed="each name once")
    order = [(at, one) for at in range(len(names)) for one in range(1, counts.get(at, 1) + 1)]
    out = [[cells[at] for at, _ in order] for cells in table]
    out[reference] = [f"{names[at]}/{one}" if at in counts and names[at] else names[at] for at, one in order]
    return out, [at for at, _ in order]


def numbered(places: Sequence[int], numbers: Sequence[int]) -> Sequence[int]:
    """The row number in the file of each row of our table, the copies of a row told apart (see COPY)."""
    if len(places) == len(numbers):
        return numbers
    out, last, copy = [], -1, 0
    for at in places:
        copy = copy + 1 if at == last else 0
        last = at
        out.append(numbers[at] + COPY * copy)
    return out


def section_rows(headings: Headings, section: Section | None) -> dict[int, str]:
    """The rows that stand over others, as rows that are no luminaire."""
    says = f"names the {section.field} of the rows below it" if section and section.field else "stands over the rows below it"
    return {row: f"{text!r} {says}" for row, text in headings.sections.items()}


__all__ = ["Data", "Section", "data_of", "numbered", "section_column", "section_of", "section_rows", "several", "sure",
           "written_out"]
