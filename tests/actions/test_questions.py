"""Questions: what counts as an answer, and who gives it."""

from __future__ import annotations

import pytest

from vault.actions.questions import GivenAnswers, Question
from vault.errors import GearkeepError, UsageProblem
from vault.exchange.asked import Choice

CHOICE = Question(key="fate", text="What becomes of it?",
                  choices=(Choice(word="scrapped", says="waste"), Choice(word="GEN-50", says="a")))
WITH_DEFAULT = Question(key="fate", text="What becomes of it?", choices=CHOICE.choices, default="GEN-50")


def _two(said: str) -> None:
    if len(said) != 2:
        raise GearkeepError("It is not two letters long.", kind="bad-answer", hint="Allowed: two letters.")


TEXT = Question(key="letters", text="Which letters?", allowed="two letters", check=_two)


@pytest.mark.parametrize(("question", "said", "taken"), [
    (CHOICE, "scrapped", "scrapped"), (CHOICE, " Scrapped ", "scrapped"), (CHOICE, "gen-50", "GEN-50"), (CHOICE, "2", "GEN-50"),
    (WITH_DEFAULT, "", "GEN-50"), (WITH_DEFAULT, "1", "scrapped"), (TEXT, " ab ", "ab"),
])
def test_what_an_answer_means(question: Question, said: str, taken: str) -> None:
    """A word in any case, its number, or nothing where there is a default."""
    assert question.taken(said) == taken


@pytest.mark.parametrize(("question", "said"), [
    (CHOICE, ""), (CHOICE, "yes"), (CHOICE, "0"), (CHOICE, "3"), (CHOICE, "²"), (TEXT, ""), (TEXT, "abc")])
def test_what_is_no_answer(question: Question, said: str) -> None:
    """Anything else is refused and says what is allowed; nothing stands for yes by itself."""
    with pytest.raises(GearkeepError) as caught:
        question.taken(said)
    assert caught.value.kind == "bad-answer" and caught.value.hint


def test_given_answers_come_first() -> None:
    """What a file answers is not asked; each is shown with its question."""
    shown: list[str] = []
    assert GivenAnswers(answers={"fate": "2"}, then=None, show=shown.append).ask(CHOICE) == "GEN-50"
    assert shown == ["What becomes of it? GEN-50"]


def test_nobody_there_takes_the_default() -> None:
    """Without a terminal a question with a default takes it."""
    assert GivenAnswers(answers={}, then=None, show=lambda _: None).ask(WITH_DEFAULT) == "GEN-50"


@pytest.mark.parametrize(("answers", "kind", "named"), [
    ({}, "no-answer", "scrapped, GEN-50"), ({"fate": "burnt"}, "bad-answer", "scrapped, GEN-50")])
def test_a_missing_or_wrong_answer_names_its_key(answers: dict[str, str], kind: str, named: str) -> None:
    """With nobody to ask, the key and what is allowed are told."""
    with pytest.raises(UsageProblem) as caught:
        GivenAnswers(answers=answers, then=None, show=lambda _: None).ask(CHOICE)
    assert caught.value.kind == kind and "fate" in caught.value.what and named in caught.value.hint
