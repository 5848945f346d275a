"""A whole column looked at once: what its cells together decide, and what has to be asked."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from vault.exchange.asked import FileQuestion
from vault.exchange.cell_reading import ColumnFacts, Reading, Said, Unclear
from vault.exchange.raw_table import Oddity, Remark
from vault.exchange.values import NAMES, read_cell
from vault.exchange.values_address import NUMBERING
from vault.exchange.values_date import date_in, offered
from vault.exchange.values_evidence import certain, groups_in_doubt, pointed, zeros_in_doubt
from vault.exchange.values_number import joined
from vault.exchange.values_parts import nothing_said, plain_cell

_EXAMPLES = 5
OPEN = "open"  # no word of any choice, so that every cell asks


@dataclass(frozen=True, slots=True, kw_only=True)
class Surveyed:
    """A column. questions: what is open, keyed "HEADING: kind". facts: as given, with all that its cells made certain
    among the answers. readings: text -> how it is read under these facts; `Unclear` where one of the questions is open.
    notes: what the column made certain, in sentences that a preview shows.
    """

    questions: tuple[FileQuestion, ...]
    facts: ColumnFacts
    readings: Mapping[str, Reading]
    notes: tuple[str, ...] = ()


def survey(texts: Mapping[str, tuple[int, int]], facts: ColumnFacts, remarks: Mapping[str, Remark] | None = None, *,
           counts_from: int | None = None) -> Surveyed:
    """What a column says. texts: each different cell -> (the first row that it stands in, how often it stands).

    Cells that say "as above" are left out by the caller. remarks: text -> what is odd about it. counts_from: how the
    vault's lines count their addresses where all of them agree; alone it makes an answer likely, never certain.
    Answers in `facts.answers` are never overruled by what the cells look like. A question that is answered may uncover
    another (first the decimal mark of "1.050", then its unit): ask until there are none.
    """
    known = remarks or {}
    plain = {text: plain_cell(text) for text in texts}
    speaking = _speaking(plain, facts, known)
    found = certain(list(speaking.values()), facts, counts_from)
    settled = replace(facts, answers={**facts.answers, **{kind: answer for kind, (answer, _) in found.items()}})
    reading_facts = settled
    if groups_in_doubt(list(speaking.values()), settled):
        reading_facts = replace(settled, answers={**settled.answers, NUMBERING: OPEN})
    readings = {text: read_cell(text, reading_facts, known.get(text)) for text in texts}
    notes = [f"{facts.heading}: {said}" for _, said in found.values()]
    doubtful = zeros_in_doubt(texts, known) if facts.field in NAMES else {}
    for text, said in doubtful.items():
        reading = readings[text]
        if isinstance(reading, Said):
            readings[text] = replace(reading, rule=joined(reading.rule, said))
    if doubtful:
        text, said = next(iter(doubtful.items()))
        more = f" (and so on for {len(doubtful) - 1} more)" if len(doubtful) > 1 else ""
        notes.append(f"{facts.heading}: zeros may be lost: {text}: {said}{more}")
    asked: dict[str, list[str]] = {}
    for text, reading in readings.items():
        if isinstance(reading, Unclear):
            asked.setdefault(reading.kind, []).append(text)
    questions = []
    for kind, cells in asked.items():
        cells.sort(key=lambda text: texts[text][0])
        first = readings[cells[0]]
        if isinstance(first, Unclear):
            by_plain = {plain[text]: remark for text, remark in known.items() if text in plain}
            full = pointed(first, [plain[text] for text in cells], list(speaking.values()), by_plain, settled, counts_from)
            questions.append(_question(kind, full, cells, texts, facts.heading))
    questions.sort(key=lambda question: question.examples[0][0])
    return Surveyed(questions=tuple(questions), facts=settled, readings=readings, notes=tuple(notes))


def _speaking(plain: Mapping[str, str], facts: ColumnFacts, remarks: Mapping[str, Remark]) -> dict[str, str]:
    """The cells that can speak for others: no dates, no cells of nothing, no numbers whose form a workbook has lost."""
    names = facts.field in NAMES
    dates = bool(offered(facts.field))
    return {
        text: cell for text, cell in plain.items()
        if not nothing_said(cell, names=names, has_none=False) and not (dates and date_in(cell, remarks.get(text)))
        and (names or text not in remarks or remarks[text].oddity is not Oddity.NUMBER or cell.isdecimal())}


def _question(kind: str, unclear: Unclear, cells: Sequence[str], texts: Mapping[str, tuple[int, int]],
              heading: str) -> FileQuestion:
    return FileQuestion(
        key=f"{heading}: {kind}", says=unclear.says, choices=unclear.choices, likely=unclear.likely, heading=heading,
        examples=tuple((texts[text][0], text) for text in cells[:_EXAMPLES]), count=sum(texts[text][1] for text in cells))
