"""The guided swap at a terminal: what is printed, and how questions are asked."""

from __future__ import annotations

import tomllib
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from vault.actions.questions import GivenAnswers, Question
from vault.cli import technician_text as words_of
from vault.cli.shell import finding_lines, say, table, visible
from vault.domain.findings import stops
from vault.domain.readback_evidence import is_evidence
from vault.domain.readback_rows import comparison_rows
from vault.domain.tag import shown
from vault.errors import GearkeepError, UsageProblem
from vault.exchange.readback_value import spec_of

if TYPE_CHECKING:
    from vault.actions.fitting import FitResult, Judged
    from vault.actions.guided_swap import Outcome
    from vault.actions.luminaire import View
    from vault.domain.findings import Finding
    from vault.domain.readback import Comparison
    from vault.domain.settings import Gear
    from vault.domain.site import Line


KEYS = ("right-luminaire", "seen-place", "seen-type", "cautions", "gear", "spare", "hands-done", "set-over-bus", "differs",
        "serial", "tests", "tests-failed", "tests-to-do", "change-class", "old-driver", "sign", "approve-because")


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
                raise UsageProblem(f"Interrupted before an answer to: {question.text}", kind="no-answer",
                                   hint="What was answered before is kept; run the same command again to go on.") from problem
            if str(said).strip() == "?":
                allowed = question.allowed or ", ".join(one.word for one in question.choices) or "a text"
                click.echo(visible(f"Allowed: {allowed}."), err=True)
                continue
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
    unknown = [key for key in held if key not in KEYS and not _is_field(key)]
    if unknown:
        raise UsageProblem(f"{path} answers what nobody asks: {', '.join(unknown)}.", kind="bad-answers",
                           hint=f"Keys are {', '.join(KEYS)}, and fields of a readback such as channels.1.current_ma.")
    return {key: str(value) for key, value in held.items()}


def _is_field(key: str) -> bool:
    try:
        return "." in key and (spec_of(key) is not None or is_evidence(key))
    except GearkeepError:
        return False


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
        others = []
        for one in result.spares:
            if one.fit.verdict.value in ("fits", "fits-with-care"):
                self._say("", words_of.spare_line(one), *([f"  Stock: {', '.join(one.places)}."] if one.places else []),
                          *finding_lines(one.fit.findings, notes=False))
            else:
                others.append(f"{one.fit.model} ({', '.join(sorted({f.rule for f in stops(one.fit.findings)}))})")
        if others:
            self._say("", f"Not to be fitted: {'; '.join(others)}.", f"Why: gearkeep fit {result.seen.tag}")

    def plan(self, gear: Gear, judged: Judged, line: Line | None, drawings: Sequence[Path]) -> None:
        """Cautions, what it cannot hold, steps."""
        self._say(f"{judged.fit.model} IS SET TO", *words_of.gear_lines(gear, line)[1:], "",
                  *words_of.step_lines(judged, with_frames=False), "",
                  *(["What goes over the bus, frame by frame: gearkeep bus set --dry-run"] if judged.plan.frames else []),
                  *([f"Drawn in {', '.join(map(str, drawings))}."] if drawings else []))

    def compared(self, comparisons: Sequence[Comparison], line: Line | None) -> None:
        """Field by field; what the record does not state is kept, and only counted here."""
        if self._quiet:
            return
        stated = [one for one in comparisons if one.result != "extra"]
        table(["setting", "set to", "read", ""], comparison_rows(stated, line))
        more = len(comparisons) - len(stated)
        say(*([f"{more} more {'value was' if more == 1 else 'values were'} read that the record does not state; all are kept."]
              if more else []))

    def findings(self, findings: Sequence[Finding]) -> None:
        """Findings with their sentences."""
        self._say(*finding_lines(findings))


def guided_json(outcome: Outcome) -> dict[str, Any]:
    """What a guided swap came to, as JSON."""
    return {"tag": outcome.tag, "version": outcome.version, "signed": True, "open_stops": sorted(outcome.open_stops),
            "matched": outcome.matched, "change_class": outcome.change_class, "serial": outcome.serial, "spare": outcome.spare,
            "folder": str(outcome.folder), "readback": str(outcome.readback)}


def outcome_lines(outcome: Outcome) -> list[str]:
    """What a guided swap came to, and what is left to do."""
    lines = ["", f"{shown(outcome.tag)} version {outcome.version} is signed: {outcome.spare}"
             f"{f', serial {outcome.serial}' if outcome.serial else ''}, as {outcome.change_class}.",
             "What was read agrees in every field." if outcome.matched else "What was read does not agree in every field.",
             f"Keep {outcome.readback} with the papers: the record bears its digest."]
    if outcome.open_stops:
        lines += [f"PROVISIONAL until a second signer approves: {', '.join(sorted(outcome.open_stops))}.",
                  f"  gearkeep --key THEIR.key approve {outcome.tag} --as {outcome.change_class} --because \"...\""]
        lines.append("Until then leave it without supply, unless a competent person decides otherwise.")
    return [*lines, "The label on the housing stays good: the settings on it are the newest still. One that names this version:",
            f"  gearkeep label {outcome.tag} --replace --out label.png"]
