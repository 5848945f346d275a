"""Questions that an act asks on its way: to a person at a terminal, or to a file of answers."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Protocol

from vault.errors import GearkeepError, UsageProblem
from vault.exchange.asked import Choice


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """One question. key: its name in a file of answers. choices: none for free text, of which `allowed` speaks.

    default: what Enter means; None where somebody has to decide. refused: words that somebody may well say, and why they are
    none. check: raises GearkeepError for a text that cannot be.
    """

    key: str
    text: str
    choices: tuple[Choice, ...] = ()
    default: str | None = None
    allowed: str = ""
    refused: Mapping[str, str] = field(default_factory=dict)
    check: Callable[[str], object] | None = None

    def taken(self, said: str) -> str:
        """The answer that a text means. Raises GearkeepError (bad-answer) saying what is allowed."""
        said = said.strip()
        if not said and self.default is not None:
            return self.default
        if not self.choices:
            if self.check is not None:
                self.check(said)
            return said
        words = [choice.word for choice in self.choices]
        for word in words:
            if said.casefold() == word.casefold():
                return word
        if said.isdecimal() and 1 <= int(said) <= len(words):
            return words[int(said) - 1]
        why = next((why for word, why in self.refused.items() if word.casefold() == said.casefold()), None)
        if why is not None:
            raise GearkeepError(why, kind="bad-answer", hint=f"Allowed: {', '.join(words)}.")
        found = f"{said!r} is no answer" if said else "Nothing was answered"
        raise GearkeepError(f"{found} to: {self.text}", kind="bad-answer",
                            hint=f"Allowed: {', '.join(words)}.")


class Asker(Protocol):
    """Whoever answers."""

    def ask(self, question: Question) -> str:
        """One answer that the question takes. Raises GearkeepError when there is none to be had."""


@dataclass(slots=True, kw_only=True)
class GivenAnswers:
    """Answers by key, from a file or from options; what they do not hold is asked of `then`, if there is anybody.

    Without anybody, a question with a default takes it. show: gets each question with the answer that it took.
    """

    answers: Mapping[str, str]
    then: Asker | None
    show: Callable[[str], None]

    def ask(self, question: Question) -> str:
        """The given answer. Raises UsageProblem (no-answer, bad-answer) naming the key and what is allowed."""
        said = self.answers.get(question.key)
        if said is not None:
            try:
                taken = question.taken(said)
            except GearkeepError as problem:
                raise UsageProblem(f"The answer to {question.key}: {problem.what}", hint=problem.hint,
                                   kind="bad-answer") from problem
            self.show(f"{question.text} {taken}")
            return taken
        if self.then is not None:
            return self.then.ask(question)
        if question.default is not None:
            self.show(f"{question.text} {question.default}")
            return question.default
        allowed = ", ".join(choice.word for choice in question.choices) or question.allowed or "a text"
        raise UsageProblem(f"Nobody answered {question.key}: {question.text}", kind="no-answer",
                           hint=f"Allowed: {allowed}. Write it into the file of answers, or run this in a terminal.")
