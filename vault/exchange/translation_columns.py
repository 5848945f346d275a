"""The columns of somebody else's file while they are turned into ours: their cells, and what each distinct text says."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from vault.exchange.asked import Choice, FileQuestion
from vault.exchange.cell_reading import Reading, Said, Unclear, Unreadable
from vault.exchange.column_mapping import MappedColumn
from vault.exchange.schedule import Rejected

_EXAMPLES = 3

# Fields that are no columns of ours -> those that their cells fill.
TARGETS: Mapping[str, tuple[str, ...]] = {
    "building": ("place",), "floor": ("place",), "room": ("place",), "grid": ("place",), "board": ("circuit",), "quantity": (),
    "voltage_window": ("voltage_min_v", "voltage_max_v"), "supply": (), "protection_class": (), "ip": (),
    "line_address": ("line", "address"), "limits": ("min_level", "max_level"),
    "central": ("central_circuit", "central_address"), "duration": ("duration_min",),
    **{f"scene_{number}": ("scenes",) for number in range(16)},
}
PLACE_PARTS = ("building", "floor", "room", "grid")


def targets(field_name: str) -> tuple[str, ...]:
    """Our columns that a field fills."""
    return TARGETS.get(field_name, (field_name,) if field_name else ())


@dataclass(slots=True, kw_only=True)
class ReadColumn:
    """One column that is read. cells: one for each row of luminaires, as they stand but for what repeats the row above.

    readings: distinct cell -> what it says. numbers: the file's row number of each cell. numbering: from where its addresses
    count, as the answer says, "" where that is not known.
    """

    mapped: MappedColumn
    cells: Sequence[str]
    numbers: Sequence[int]
    readings: dict[str, Reading] = field(default_factory=dict)
    numbering: str = ""
    _where: dict[str, list[int]] = field(default_factory=dict)
    _count: dict[str, int] = field(default_factory=dict)

    @property
    def heading(self) -> str:
        """As the file calls it."""
        return self.mapped.heading

    def value(self, cell: str, name: str) -> str:
        """What a cell says for a column of ours, "" for nothing or for what nobody can tell yet."""
        reading = self.readings[cell]
        return reading.values.get(name, "") if isinstance(reading, Said) else ""

    def names(self) -> list[str]:
        """Every key that its cells fill."""
        found: dict[str, None] = {}
        for reading in self.readings.values():
            if isinstance(reading, Said):
                found.update(dict.fromkeys(reading.values))
        return list(found)

    def where(self, texts: Iterable[str]) -> tuple[tuple[tuple[int, str], ...], int]:
        """A few (row, cell) of some texts, and how many cells hold them."""
        if not self._count:
            for number, cell in zip(self.numbers, self.cells, strict=True):
                self._count[cell] = self._count.get(cell, 0) + 1
                rows = self._where.setdefault(cell, [])
                if len(rows) < _EXAMPLES:
                    rows.append(number)
        texts = list(texts)
        # Different texts first: three times the same one tells less.
        found = sorted((at, row, text) for text in texts[:200] for at, row in enumerate(self._where.get(text, ())))
        return tuple((row, text) for _, row, text in found[:_EXAMPLES]), sum(self._count.get(text, 0) for text in texts)

    def question(self, kind: str, says: str, choices: tuple[Choice, ...], texts: Iterable[str],
                 likely: str | None = None) -> FileQuestion:
        """A question about some of its cells."""
        examples, count = self.where(texts)
        return FileQuestion(key=f"{self.heading}: {kind}", says=says, choices=choices, likely=likely, heading=self.heading,
                            examples=examples, count=count)


@dataclass(slots=True, kw_only=True)
class Ledger:
    """What is wrong with rows, and what is asked about them; rows by their place among the rows of luminaires, from 0.

    silent: row -> columns of ours of which no more is said. asked: rows that wait for an answer.
    """

    numbers: Sequence[int]
    questions: dict[str, FileQuestion] = field(default_factory=dict)
    rejected: list[Rejected] = field(default_factory=list)
    silent: dict[int, set[str]] = field(default_factory=dict)
    asked: set[int] = field(default_factory=set)

    def reject(self, at: int, *, heading: str, text: str, problem: str, allowed: str, columns: Iterable[str]) -> None:
        """A cell that cannot stand."""
        self.rejected.append(Rejected(row=self.numbers[at], column=heading, value=text, problem=problem, allowed=allowed))
        self.silent.setdefault(at, set()).update(columns)

    def wait(self, at: int, columns: Iterable[str]) -> None:
        """A row that an open question is about."""
        self.asked.add(at)
        self.silent.setdefault(at, set()).update(columns)

    def ask(self, question: FileQuestion) -> None:
        """A question, kept once."""
        self.questions.setdefault(question.key, question)

    def enter(self, column: ReadColumn) -> None:
        """Every row whose cell cannot be read, or has more than one reading."""
        odd = {text: reading for text, reading in column.readings.items() if not isinstance(reading, Said)}
        if not odd:
            return
        own = targets(column.mapped.field)
        for text, reading in odd.items():
            # Whoever found two readings has asked already; a question that got lost would lose the row with it.
            if isinstance(reading, Unclear) and f"{column.heading}: {reading.kind}" not in self.questions:
                self.ask(column.question(reading.kind, reading.says, reading.choices, [text], reading.likely))
        for at, cell in enumerate(column.cells):
            found = odd.get(cell)
            if isinstance(found, Unreadable):
                self.reject(at, heading=column.heading, text=cell, problem=found.problem, allowed=found.allowed, columns=own)
            elif isinstance(found, Unclear):
                self.wait(at, own)
