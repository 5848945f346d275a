"""gearkeep handover."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from vault.cli.shell import Progress, command, desk, json_text, refuse_existing, say
from vault.errors import GearkeepError, UsageProblem

if TYPE_CHECKING:
    from vault.actions.desk import Desk
    from vault.exchange.schedule_mapping import ScheduleMapping
    from vault.exchange.schedule_translation import Translation


def _answers(given: tuple[str, ...]) -> dict[str, str]:
    found = {}
    for text in given:
        # A heading may hold an equals sign, the word of an answer does not.
        key, sign, word = text.rpartition("=")
        if not sign or not key.strip() or not word.strip():
            raise UsageProblem(f"--answer {text} cannot be read.", kind="bad-answer",
                               hint='Write it as --answer "KEY=WORD", with the key and the word as the question shows them.')
        found[key.strip()] = word.strip()
    return found


def _mapping(map_file: Path | None, sheet: str | None, answers: dict[str, str]) -> ScheduleMapping:
    from vault.actions.handover_questions import with_answers
    from vault.exchange.schedule_mapping import ScheduleMapping, read_mapping_file

    held = read_mapping_file(map_file) if map_file is not None else ScheduleMapping()
    return with_answers(replace(held, sheet=sheet or held.sheet), answers)


def _refuse_strange(seen: Translation, answers: dict[str, str]) -> None:
    strange = [key for key in answers if key in seen.strange]
    if strange:
        raise UsageProblem(f"No question about {seen.path.name} can be called {' or '.join(map(repr, strange))}; nothing was "
                           "signed.", kind="bad-answer",
                           hint="Copy the key as --preview shows it: the heading as the file has it, a colon, a space, and the "
                           "kind of question. A file under our own headings raises no questions.")


def _asked(at: Desk, seen: Translation, mapping: ScheduleMapping, save_map: Path | None) -> tuple[Translation, ScheduleMapping]:
    """Ask on the terminal until nothing is open: an answer may raise further questions about the cells below.

    When that ends early, what was answered so far is kept in the mapping file, if one was named.
    """
    from vault.actions.handover_questions import answered
    from vault.actions.handover_reading import look, save_mapping
    from vault.cli.guided import Terminal

    kept = [mapping]
    try:
        while seen.questions:
            mapping = answered(seen.questions, mapping, Terminal(), show=say, keep=kept.append)
            seen = look(at, seen.path, mapping=mapping, progress=Progress("Reading"))
    except GearkeepError:
        if save_map is not None:
            save_mapping(save_map, look(at, seen.path, mapping=kept[-1]), kept[-1])
        raise
    return seen, mapping


@command(example="gearkeep --key anna.key handover schedule.xlsx --map schedule.toml --rejected rejected.xlsx")
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--sheet", help="The sheet of a workbook that holds the schedule.")
@click.option("--map", "map_file", type=click.Path(path_type=Path),
              help="What was decided about this kind of file before: its columns and answers (TOML).")
@click.option("--save-map", "save_map", type=click.Path(path_type=Path),
              help="Write what was decided here, for the next time; open questions stand in it to be answered.")
@click.option("--answer", "answers", multiple=True, metavar="KEY=WORD", help="Answer one question; may be repeated.")
@click.option("--preview", is_flag=True, help="Show how the file is read and check everything; sign nothing.")
@click.option("--all", "show_all", is_flag=True, help="Show long lists whole.")
@click.option("--rejected", "rejected_file", type=click.Path(path_type=Path),
              help="Write rejected rows here, as a file of the same kind.")
@click.option("--provisional", is_flag=True, help="Sign luminaires with open stops too, as provisional.")
def handover(file: Path, sheet: str | None, map_file: Path | None, save_map: Path | None, answers: tuple[str, ...],
             preview: bool, show_all: bool, rejected_file: Path | None, provisional: bool, as_json: bool) -> int:
    """Check a luminaire schedule (CSV or XLSX) row by row and sign one record for each good luminaire.

    A schedule with other headings than ours is read too: what its columns are and what its cells say is shown by
    --preview, and what the file alone does not tell is asked. Nothing is signed while a question is open.
    The same file twice adds nothing; a corrected row revises its luminaire, found by its reference.
    """
    from vault.actions.handover import hand_over
    from vault.actions.handover_reading import look, save_mapping, write_back
    from vault.cli import handover_text as words_of

    refuse_existing(*(path for path in (rejected_file, save_map) if path is not None))
    given = _answers(answers)
    mapping = _mapping(map_file, sheet, given)
    at = desk()
    seen = look(at, file, mapping=mapping, progress=Progress("Reading"))
    _refuse_strange(seen, given)
    agreed = True
    if seen.questions and sys.stdin.isatty() and not as_json and not preview:
        say(*words_of.read_lines(seen))
        seen, mapping = _asked(at, seen, mapping, save_map)
        say("")
        words_of.say_handover(hand_over(at, seen, preview=True, allow_open=provisional, progress=Progress("Checking")),
                              preview=True, rejected_file=None, show_all=show_all, map_file=save_map or map_file)
        agreed = click.confirm("Sign these?", default=False, err=True)
    if save_map is not None:
        save_mapping(save_map, seen, mapping)
    if not agreed:
        say("Nothing was signed.")
        return 1
    result = hand_over(at, seen, preview=preview, allow_open=provisional,
                       progress=Progress("Checking and signing" if not preview else "Checking"))
    wrote = rejected_file is not None and write_back(rejected_file, seen, result)
    if as_json:
        say(json_text(words_of.handover_json(result)))
    else:
        words_of.say_handover(result, preview=preview, rejected_file=rejected_file if wrote else None, show_all=show_all,
                              map_file=save_map or map_file)
    return 1 if result.rejected or seen.questions else 0
