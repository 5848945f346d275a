"""What was decided about a schedule once: its sheet, its heading row, what its columns are, and the answers to its questions."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from vault.exchange.asked import FileQuestion
from vault.exchange.files import write_whole
from vault.exchange.plain import nearest, shown
from vault.exchange.schedule_columns import EXTRA
from vault.exchange.schedule_fields import FIELDS
from vault.exchange.schedule_headings import IGNORE, ScheduleProblem, plain_heading
from vault.exchange.toml_file import read_toml

SHEET, HEADING_ROW, COLUMN = "sheet", "heading_row", "column"
"""Keys of the questions that are asked of the whole file, and the kind of the question what a column is."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ScheduleMapping:
    """Decisions that can be used again. columns: a heading as `heading_rows.Headings.names` has it -> one of
    `schedule_fields.FIELDS`, extra:NAME, or ignore. answers: FileQuestion.key -> the word of a choice.
    heading_row: as a spreadsheet counts.
    """

    sheet: str | None = None
    heading_row: int | None = None
    columns: Mapping[str, str] = field(default_factory=dict)
    answers: Mapping[str, str] = field(default_factory=dict)


def question_key(heading: str, kind: str) -> str:
    """The key of a question about a column."""
    return f"{heading}: {kind}"


def field_said(said: str) -> str | None:
    """What a person wrote for a column as one of FIELDS, extra:NAME or ignore; None for anything else."""
    name = plain_heading(said)
    good = name in FIELDS or name == IGNORE or (name.startswith(EXTRA) and name != EXTRA)
    return name if good else None


def decided_column(mapping: ScheduleMapping, heading: str) -> str | None:
    """What a mapping says that a column is, in [columns] or as an answer; case, blanks and hyphens are forgiven."""
    said = mapping.columns.get(heading, mapping.answers.get(question_key(heading, COLUMN)))
    if said is None:
        plain = plain_heading(heading)
        said = next((ours for theirs, ours in mapping.columns.items() if plain_heading(theirs) == plain), None)
    return None if said is None else field_said(said)


def _no_field(said: str) -> str:
    return nearest(said, [*FIELDS, IGNORE]) or f"allowed: one of our fields, {EXTRA}NAME, or {IGNORE}"


class _Reader:
    """Reads a mapping file's tables and keeps all that is wrong with them."""

    def __init__(self, tables: Mapping[str, object]) -> None:
        self.wrong: list[str] = []
        # Files of one list without tables are older; a heading called "sheet" is a column there.
        flat = not any(isinstance(held, Mapping) for held in tables.values())
        self.sheet: str | None = None
        self.heading_row: int | None = None
        self.columns: dict[str, str] = {}
        self.answers: dict[str, str] = {}
        for name, held in tables.items():
            if name == "columns" and isinstance(held, Mapping):
                self._columns(held)
            elif name == "answers" and isinstance(held, Mapping):
                self._answers(held)
            elif name == HEADING_ROW and not (flat and isinstance(held, str)):
                self._row(held)
            elif name == SHEET and not (flat and isinstance(held, str) and field_said(held)):
                self._sheet(held)
            elif isinstance(held, Mapping):
                told = nearest(name, ("columns", "answers")) or "allowed: [columns] and [answers]"
                self.wrong.append(f"[{name}] is no table of a mapping file, {told}")
            else:
                self._columns({name: held})

    def _columns(self, held: Mapping[str, object]) -> None:
        for theirs, ours in held.items():
            name = field_said(ours) if isinstance(ours, str) else None
            if name is None:
                told = _no_field(ours) if isinstance(ours, str) else "write a field in quotation marks"
                self.wrong.append(f"{theirs!r} is mapped to {shown(ours)}, which is no field; {told}")
            else:
                self.columns[theirs] = name

    def _answers(self, held: Mapping[str, object]) -> None:
        for key, said in held.items():
            if not isinstance(said, str) or not said.strip():
                self.wrong.append(f"the answer {key!r} is {shown(said)}; write a word in quotation marks")
            elif key.endswith(f": {COLUMN}") and field_said(said) is None:
                self.wrong.append(f"the answer {key!r} is {shown(said)}, which is no field; {_no_field(said)}")
            else:
                self.answers[key] = said

    def _row(self, held: object) -> None:
        if isinstance(held, bool) or not isinstance(held, int) or held < 1:
            self.wrong.append(f"{HEADING_ROW} is {shown(held)}; write the row's number, 1 or more, without quotation marks")
        else:
            self.heading_row = held

    def _sheet(self, held: object) -> None:
        if not isinstance(held, str) or not held:
            self.wrong.append(f"{SHEET} is {shown(held)}; write the sheet's name in quotation marks")
        else:
            self.sheet = held


def read_mapping_file(path: Path) -> ScheduleMapping:
    """A mapping file in TOML: sheet, heading_row, [columns] heading = field, [answers] question = word.

    The older form, lines `"heading in the file" = "our heading"` without a table, is read too. Raises ScheduleProblem
    naming every wrong entry, each with the nearest that is right, GearkeepError (unreadable-file) for no TOML.
    """
    read = _Reader(read_toml(path))
    if read.wrong:
        raise ScheduleProblem(f"{path.name}: {'; '.join(read.wrong)}", f"our fields are: {', '.join(FIELDS)}")
    return ScheduleMapping(sheet=read.sheet, heading_row=read.heading_row, columns=read.columns, answers=read.answers)


def _text(said: str) -> str:
    """A TOML basic string (TOML 1.0, section String)."""
    escaped = said.replace("\\", "\\\\").replace('"', '\\"')
    return '"' + "".join(f"\\u{ord(c):04x}" if ord(c) < 0x20 or ord(c) == 0x7F else c for c in escaped) + '"'


def _comment(said: str) -> str:
    """A text in one line of a comment; TOML allows no control characters there."""
    return "".join(c if c.isprintable() else " " for c in said)


def _question_lines(question: FileQuestion) -> Iterator[str]:
    yield ""
    yield f"# {_comment(question.says)}"
    if question.examples:
        yield "# " + _comment("; ".join(f"row {row}: {cell!r}" for row, cell in question.examples))
    if question.count:
        yield f"# {question.count} cells." if question.count != 1 else "# One cell."
    column = question.key.endswith(f": {COLUMN}")
    key = _text(question.key.removesuffix(f": {COLUMN}") if column else question.key)
    if question.key in (SHEET, HEADING_ROW):
        key = question.key
    for choice in question.choices:
        word = choice.word if question.key == HEADING_ROW else _text(choice.word)
        likely = "  LIKELY" if choice.word == question.likely else ""
        yield f"# {key} = {word}  # {_comment(choice.says)}{likely}"
    if question.allowed or not question.choices:
        yield f"# {'or: ' if question.choices else ''}{_comment(question.allowed)}".rstrip()
    if not question.choices:
        yield f"# {key} = {'1' if question.key == HEADING_ROW else _text('')}"


def _lines(mapping: ScheduleMapping, questions: Sequence[FileQuestion]) -> Iterator[str]:
    whole = [question for question in questions if question.key in (SHEET, HEADING_ROW)]
    columns = [question for question in questions if question.key.endswith(f": {COLUMN}")]
    others = [question for question in questions if question not in whole and question not in columns]
    yield "# What the columns and cells of a luminaire schedule mean; gearkeep handover takes it with --map."
    if questions:
        yield f"# {len(questions)} open. At each, take away the # before the answer that is right, and run the command again."
    if columns:
        yield f"# Our fields: {', '.join(FIELDS)}."
    if mapping.sheet is not None:
        yield f"{SHEET} = {_text(mapping.sheet)}"
    if mapping.heading_row is not None:
        yield f"{HEADING_ROW} = {mapping.heading_row}"
    for title, held, asked in (("", {}, whole), ("columns", mapping.columns, columns), ("answers", mapping.answers, others)):
        if title:
            yield from ("", f"[{title}]")
        yield from (f"{_text(key)} = {_text(said)}" for key, said in held.items())
        for question in asked:
            yield from _question_lines(question)


def mapping_text(mapping: ScheduleMapping, open_questions: Sequence[FileQuestion]) -> str:
    """The TOML that `write_mapping_file` writes."""
    return "\n".join(_lines(mapping, open_questions)) + "\n"


def write_mapping_file(path: Path, mapping: ScheduleMapping, open_questions: Sequence[FileQuestion]) -> None:
    """Every decision, and every open question as lines of which one # is to be deleted. Written whole or not at all."""
    write_whole(path, mapping_text(mapping, open_questions).encode())
