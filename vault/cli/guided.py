"""The guided swap at a terminal: what is printed, and how questions are asked."""

from __future__ import annotations

import tomllib
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from vault.actions.questions import GivenAnswers, Question
from vault.cli import technician_text as words_of
from vault.cli.shell import finding_lines, say, visible
from vault.errors import GearkeepError, UsageProblem

if TYPE_CHECKING:
    from vault.actions.fitting import FitResult, Judged
    from vault.actions.luminaire import View
    from vault.domain.findings import Finding
    from vault.domain.readback import Comparison
    from vault.domain.settings import Gear


class Terminal:
    """Asks on the terminal until an answer can be taken; the end of the input is no answer."""

    def ask(self, question: Question) -> str:
        """One answer. Raises UsageProblem (no-answer) when the input ends."""
        self._say_choices(question)
        while True:
            try:
                said = click.prompt(visible(question.text), default="", show_default=False,
                                    prompt_suffix=self._suffix(question), err=True)
            except click.Abort as problem:
                raise UsageProblem(f"Nobody answered {question.key}: {question.text}", kind="no-answer",
                                   hint="What was answered before is kept; run the same command again to go on.") from problem
            try:
                return question.taken(str(said))
            except GearkeepError as problem:
                click.echo(visible(f"{problem.what} {problem.hint}"), err=True)

    @staticmethod
    def _say_choices(question: Question) -> None:
        width = max((len(choice.word) for choice in question.choices), default=0)
        for number, choice in enumerate(question.choices, 1):
            click.echo(visible(f"  {number} {choice.word:{width}}  {choice.says}"), err=True)

    @staticmethod
    def _suffix(question: Question) -> str:
        return f" [{visible(question.default)}] " if question.default else " "


def read_answers(path: Path) -> dict[str, str]:
    """Answers by key from a TOML file: texts and whole numbers. Raises UsageProblem (bad-answers)."""
    try:
        held = tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as problem:
        raise UsageProblem(f"{path} cannot be read as a file of answers: {problem}", kind="bad-answers",
                           hint='Write one line for each answer, for example: right-luminaire = "yes"') from problem
    wrong = [key for key, value in held.items() if isinstance(value, bool) or not isinstance(value, str | int)]
    if wrong:
        raise UsageProblem(f"{path}: {', '.join(wrong)}: allowed are texts in quotes and whole numbers.", kind="bad-answers")
    return {key: str(value) for key, value in held.items()}


def asker_of(answers: dict[str, str], *, ask: bool, quiet: bool) -> GivenAnswers:
    """Given answers first; then the terminal, where there is one to ask on.

    quiet: nothing is printed beside the result (--json).
    """
    return GivenAnswers(answers=answers, then=Terminal() if ask else None, show=(lambda _: None) if quiet else say)


class Printed:
    """Prints what a guided swap shows. quiet: prints nothing, except what has to be read before an answer."""

    def __init__(self, *, quiet: bool) -> None:
        self._quiet = quiet

    def _say(self, *lines: str) -> None:
        if not self._quiet:
            say(*lines)

    def heading(self, title: str) -> None:
        """The next part of the swap begins."""
        self._say("", f"── {title}")

    def note(self, *lines: str) -> None:
        """Plain lines."""
        self._say(*lines)

    def luminaire(self, seen: View, neighbours: Sequence[str]) -> None:
        """What hangs where, and what hangs beside it."""
        self._say(*words_of.identity_lines(seen), *(["Beside it:"] if neighbours else []), *(f"  {one}" for one in neighbours))

    def cautions(self, cautions: Sequence[str]) -> None:
        """All of them."""
        self._say("Local rules and competent, authorised persons decide.",
                  *(f"  {number:2}. {caution}" for number, caution in enumerate(cautions, 1)))

    def spares(self, result: FitResult) -> None:
        """Spares ranked."""
        self._say(*words_of.fit_lines(result, detailed=False)[1:])

    def plan(self, gear: Gear, judged: Judged, drawing: Path) -> None:
        """Cautions, what it cannot hold, steps."""
        self._say(*words_of.gear_lines(gear, None), "", *words_of.step_lines(judged), "", f"Drawn in {drawing}.")

    def compared(self, comparisons: Sequence[Comparison]) -> None:
        """Field by field."""
        self._say(*words_of.comparison_lines(comparisons))

    def findings(self, findings: Sequence[Finding]) -> None:
        """Findings with their sentences."""
        self._say(*finding_lines(findings))


def guided_json(outcome: Any) -> dict[str, Any]:
    """What a guided swap came to, as JSON."""
    return {"tag": outcome.tag, "version": outcome.version, "signed": True, "open_stops": sorted(outcome.open_stops),
            "matched": outcome.matched, "change_class": outcome.change_class, "serial": outcome.serial, "spare": outcome.spare,
            "folder": str(outcome.folder), "readback": str(outcome.readback), "bus": outcome.bus}
