"""What gearkeep handover prints, and its JSON."""

from __future__ import annotations

import shlex
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from vault.actions.handover_questions import in_its_column, seen_where
from vault.cli.shell import finding_lines, say, table
from vault.exchange.heading_rows import column_letter
from vault.exchange.rejected_rows import by_cell
from vault.exchange.translation_result import COPY

if TYPE_CHECKING:
    from vault.actions.handover_result import HandoverResult
    from vault.exchange.asked import FileQuestion
    from vault.exchange.schedule_translation import Translation

SHOWN = 20  # of a long list, where --all is not given


def _many(count: int, word: str) -> str:
    return f"{count:,} {word}" if count == 1 else f"{count:,} {word}s"


def _cut(items: Sequence[Any], show_all: bool) -> tuple[Sequence[Any], list[str]]:
    """The items that are shown, and a line that says how many more there are."""
    if show_all or len(items) <= SHOWN + 1:
        return items, []
    return items[:SHOWN], [f"  and {len(items) - SHOWN:,} more (--all shows them)"]


def read_lines(seen: Translation) -> list[str]:
    """How a file was read."""
    return [f"{seen.path.name} was read as {seen.raw.made_of or 'a table'}; "
            + (f"the headings stand in row {seen.heading_row}; " if seen.heading_row else "")
            + f"{_many(seen.data_rows, 'row')} of luminaires."]


def _say_columns(seen: Translation) -> None:
    say("", "Columns:")
    table(["column", "heading", "read as", "unit", "sure", "why"],
          [(column_letter(one.place), one.heading, one.field or ("not read" if one.confidence or not _asked(seen, one.heading)
                                                           else "asked below"),
            one.unit, f"{one.confidence} %", one.why) for one in seen.columns])


def _asked(seen: Translation, heading: str) -> bool:
    return any(question.heading == heading for question in seen.questions)


def _say_skipped(seen: Translation, show_all: bool) -> None:
    if not seen.skipped:
        return
    say("", f"{_many(len(seen.skipped), 'row')} {'is' if len(seen.skipped) == 1 else 'are'} no luminaire:")
    shown, more = _cut([(row, why) for row, why in sorted(seen.skipped.items())], show_all)
    say(*(f"  row {row}: {why}" for row, why in shown), *more)


def question_lines(question: FileQuestion) -> list[str]:
    """A question, where it comes from, its choices with the likely one marked, and its key."""
    where = seen_where(question)
    lines = [f"  {in_its_column(question)}", *([f"    seen in {where}"] if where else [])]
    width = max((len(one.word) for one in question.choices), default=0)
    lines += [f"    {one.word:{width}}  {one.says}{'  <- likely' if one.word == question.likely else ''}"
              for one in question.choices]
    if not question.choices and question.allowed:
        lines.append(f"    allowed: {question.allowed}")
    word = question.likely or (question.choices[0].word if question.choices else "WORD")
    return [*lines, f"    answer: --answer {shlex.quote(f'{question.key}={word}')}"]


def _say_questions(seen: Translation, map_file: Path | None, show_all: bool, preview: bool) -> None:
    if not seen.questions:
        return
    count = len(seen.questions)
    say("", f"The file leaves {_many(count, 'question')} open; nothing {'would be' if preview else 'was'} signed before "
        f"{'it' if count == 1 else 'each'} is answered:")
    shown, more = _cut(seen.questions, show_all)
    for question in shown:
        say(*question_lines(question))
    say(*more)
    kept = f"Write the answers into {map_file} and give it as --map" if map_file else \
        "--save-map FILE writes all questions into a file; answer them there and give it as --map"
    say(f"Run this on a terminal without --preview to be asked one by one, or give --answer. {kept}.")


_SILENT = ("What the file leaves out is taken from the type's rating where that has one figure for it: current, voltage window, "
           "power limit, control, emergency mode, supply and duration.")


def _say_notes(seen: Translation, show_all: bool) -> None:
    for title, lines in (("Decided by the mapping:", [f"{key}: {word}" for key, word in seen.decided if key not in seen.strange]),
                         ("Read so:", [f"{one.heading}: {one.text!r} is {one.value} ({one.rule})" for one in seen.readings]),
                         ("Decided, but nothing in this file asks for it:", list(seen.strange)),
                         ("Note:", [*seen.notes, _SILENT])):
        if lines:
            shown, more = _cut(lines, show_all)
            say("", title, *(f"  {line}" for line in shown), *more)


def say_handover(result: HandoverResult, *, preview: bool, rejected_file: Path | None, show_all: bool,
                 map_file: Path | None) -> None:
    """What became of a schedule, or would become of it. map_file: the mapping that was given or written."""
    seen = result.translation
    foreign = not seen.strict
    if foreign or preview:
        say(*read_lines(seen))
    if foreign and preview:
        _say_columns(seen)
        _say_skipped(seen, show_all)
        _say_notes(seen, show_all)
    _say_questions(seen, map_file, show_all, preview)
    if seen.questions and not preview:
        return
    if foreign:
        say("")
    _say_accepted(result, preview, show_all)
    _say_rejected(result, preview, rejected_file, show_all)


def _say_accepted(result: HandoverResult, preview: bool, show_all: bool) -> None:
    counts = {change: sum(a.change == change for a in result.accepted) for change in ("new", "revised", "unchanged")}
    verb = "would be signed" if preview else "signed"
    asked = len(result.translation.asked_rows)
    say(f"{counts['new']} new luminaires {verb}, {counts['revised']} revised, {counts['unchanged']} unchanged"
        + (f"; {_many(asked, 'row')} {'waits' if asked == 1 else 'wait'} for an answer." if asked else "."))
    if preview and not result.translation.strict:
        _say_rows(result, show_all)
    shown, more = _cut([one for one in result.accepted if one.changes], show_all)
    for one in shown:
        said = "; ".join(f"{field}: {before if before is not None else '–'} → {after if after is not None else '–'}"
                         for field, before, after in one.changes)
        say(f"  {one.reference} version {one.version}: {said}")
    say(*more)
    provisional = [a.reference for a in result.accepted if a.provisional]
    if provisional:
        say(f"{len(provisional)} of them are provisional until a second signer approves: {', '.join(provisional)}.")
    if result.findings:
        say("Worth a look:")
        pairs, more = _cut(result.findings, show_all)
        for reference, finding in pairs:
            say(*(f"{reference}{line}" if number % 2 == 0 else line
                  for number, line in enumerate(finding_lines([finding]))))
        say(*more)


_SIGNED = ("reference", "type", "place", "line", "address", "circuit", "current_ma", "emergency_mode", "duration_min")


def _say_rows(result: HandoverResult, show_all: bool) -> None:
    """The luminaires that would be signed, as they were read."""
    headings, *rows = result.translation.table
    at = {name: headings.index(name) for name in _SIGNED if name in headings}
    good = {one.reference for one in result.accepted if one.change != "unchanged"}
    found = [(number % COPY, *(row[place] for place in at.values()))
             for number, row in zip(result.translation.row_numbers, rows, strict=True) if row[at["reference"]] in good]
    if found:
        shown, more = _cut(found, show_all)
        table(["row", *at], shown)
        say(*more)


def _say_rejected(result: HandoverResult, preview: bool, rejected_file: Path | None, show_all: bool) -> None:
    if not result.rejected:
        return
    cells = by_cell(result.rejected, gravest_alone=not show_all)
    verb = "would not be" if preview else "were not"
    say("", f"{_many(len(cells), 'problem')} in {_many(len({r.row for r in cells}), 'row')}; those luminaires {verb} signed:")
    shown, more = _cut(cells, show_all)
    table(["row", "column", "found", "problem", "allowed"], [(r.row, r.column, r.value, r.problem, r.allowed) for r in shown])
    say(*more)
    if rejected_file is not None:
        say(f"The rejected rows are in {rejected_file}. Correct them there and feed that file again.")
    else:
        say("Give --rejected FILE to get these rows as a file to correct and feed again.")


def handover_json(result: HandoverResult) -> dict[str, object]:
    """What became of a schedule, with how it was read."""
    seen = result.translation
    return {
        "read_as": {"file": seen.path.name, "made_of": seen.raw.made_of, "sheet": seen.raw.sheet,
                    "heading_row": seen.heading_row, "rows": seen.data_rows, "own_headings": seen.strict},
        "columns": [{"column": column_letter(one.place), "heading": one.heading, "field": one.field or None, "unit": one.unit,
                     "confidence": one.confidence, "why": one.why} for one in seen.columns],
        "questions": _questions_json(seen.questions),
        "decided": [{"key": key, "word": word} for key, word in seen.decided],
        "skipped": [{"row": row, "why": why} for row, why in sorted(seen.skipped.items())],
        "readings": [{"heading": one.heading, "text": one.text, "value": one.value, "rule": one.rule}
                     for one in seen.readings],
        "notes": list(seen.notes),
        "asked_rows": sorted(seen.asked_rows),
        "accepted": [{"reference": a.reference, "tag": a.tag, "version": a.version, "change": a.change,
                      "provisional": a.provisional,
                      "changes": [{"field": f, "before": b, "after": n} for f, b, n in a.changes]} for a in result.accepted],
        "rejected": [{"row": r.row, "column": r.column, "value": r.value, "problem": r.problem, "allowed": r.allowed}
                     for r in result.rejected],
        "findings": [{"reference": reference, **finding.as_json()} for reference, finding in result.findings],
    }


def _questions_json(questions: Iterable[FileQuestion]) -> list[dict[str, object]]:
    return [{"key": one.key, "says": one.says, "choices": [{"word": c.word, "says": c.says} for c in one.choices],
             "allowed": one.allowed, "likely": one.likely,
             "examples": [{"row": row, "cell": cell} for row, cell in one.examples], "count": one.count}
            for one in questions]
