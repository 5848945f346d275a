"""gearkeep handover with somebody else's schedule: the preview, the answers, the mapping, the file of rejected rows."""

from __future__ import annotations

import json

import pytest
from small_vault import Cli, SmallVault

# Type T1, lines D1 to D3 of demo/types.toml and demo/lines.toml.
SCHEDULE = """\
Bauteil C;;;;;;;
Leuchten-Nr.;Leuchtentyp;Geschoss;Raum-Nr.;Ausgangsstrom;Flussspg.;DALI-Linie;DALI-Adr.
X-1;T1;EG;0.12;0,7 A;30-44 V;1;40
X-2;t1*;EG;0.13;700 mA;30…44;1;41
X-3;T1;EG;0.14;1,05 A;30-44;1;42
Summe;;;;;;;
"""
ANSWERS = {"DALI-Linie: line names": "D", "Leuchtentyp: is t1*": "T1", "min_level": "not set", "DALI-Adr.: numbering": "from-0"}
GIVEN = [word for key, answer in ANSWERS.items() for word in ("--answer", f"{key}={answer}")]


@pytest.fixture(autouse=True)
def schedule(ready: SmallVault) -> None:
    """A schedule with German headings, in cp1252."""
    (ready.folder / "leuchten.csv").write_bytes(SCHEDULE.replace("\n", "\r\n").encode("cp1252"))


def test_a_preview_shows_how_the_file_is_read(cli: Cli) -> None:
    """How it is written, each column with its field, the rows that are left out and why, the questions with their choices."""
    done = cli("handover", "leuchten.csv", "--preview")
    assert done.exit_code == 1
    for text in ("cp1252", "semicolons", "row 2", "DALI-Adr.", "row 6: a total", "t1*", "--answer", "3 rows wait for an answer"):
        assert text in done.stdout


def test_json_tells_the_same(cli: Cli) -> None:
    """Questions with keys, choices and examples; columns, skipped rows, and what each distinct text was read as."""
    told = json.loads(cli("handover", "leuchten.csv", "--preview", "--json").stdout)
    assert set(told) >= {"read_as", "columns", "questions", "decided", "skipped", "readings", "accepted", "rejected", "findings"}
    assert {one["key"] for one in told["questions"]} >= set(ANSWERS) - {"min_level"}
    assert set(told["questions"][0]) == {"key", "says", "choices", "allowed", "likely", "examples", "count"}
    assert [(one["column"], one["field"]) for one in told["columns"]][:3] == [("A", "reference"), ("B", "type"), ("C", "floor")]
    assert [one["row"] for one in told["skipped"]] == [1, 2, 6]
    assert {"heading": "Ausgangsstrom", "text": "0,7 A", "value": "current_ma 700"}.items() <= next(
        one for one in told["readings"] if one["text"] == "0,7 A").items()


def test_open_questions_sign_nothing(cli: Cli) -> None:
    """Without a terminal to ask on, every question is told with what to type, and the exit code is 1."""
    done = cli("handover", "leuchten.csv", key="I01")
    assert done.exit_code == 1 and "nothing was signed" in done.stdout and "--answer 'Leuchtentyp: is t1*=T1'" in done.stdout
    assert "not in this vault" not in done.stdout and cli("find", "X-1").exit_code == 1


def test_answers_are_kept_and_then_it_runs_unattended(cli: Cli, ready: SmallVault) -> None:
    """Answers given once stand in the mapping file; with it nothing is asked, and the good rows are signed."""
    assert cli("handover", "leuchten.csv", "--preview", *GIVEN, "--save-map", "map.toml").exit_code == 1  # X-3 is rejected
    done = cli("handover", "leuchten.csv", "--map", "map.toml", "--rejected", "again.csv", key="I01")
    assert done.exit_code == 1 and "2 new luminaires signed" in done.stdout and "question" not in done.stdout
    rejected = (ready.folder / "again.csv").read_text(encoding="utf-8-sig")
    assert "row in leuchten.csv" in rejected and "X-3" in rejected and "X-1" not in rejected
    (ready.folder / "again.csv").write_text(rejected.replace("1,05 A", "0,65 A"), encoding="utf-8")
    done = cli("handover", "again.csv", "--map", "map.toml", key="I01")
    assert done.exit_code == 0 and "1 new luminaires signed" in done.stdout


@pytest.mark.parametrize(("typed", "word"), [
    (("--answer", "nonsense"), "KEY=WORD"), (("--answer", "min_level=low"), "min_level"),
    (("--map", "garbage.txt"), "garbage.txt"), (("--save-map", "schedule.csv"), "schedule.csv"),
    (("--rejected", "schedule.csv"), "schedule.csv"),
])
def test_what_cannot_be_taken_is_named(cli: Cli, typed: tuple[str, ...], word: str) -> None:
    """A wrong answer, a mapping that is none, a file that is there already: nothing is signed, and the word is in the message."""
    given = [one for one in GIVEN if "min_level" not in one] if "min_level=low" in typed else GIVEN
    pairs = [one for one in given if one != "--answer"]
    done = cli("handover", "leuchten.csv", *[word for pair in pairs for word in ("--answer", pair)], *typed, key="I01")
    assert done.exit_code in (1, 2) and word in done.stderr


def test_long_lists_are_cut(cli: Cli, ready: SmallVault) -> None:
    """Twenty of many problems and the count of the others; --all shows them."""
    rows = "".join(f"Z-{number};T1;EG;0.12;9 A;30-44 V;D1;{number}\n" for number in range(20, 60))
    (ready.folder / "many.csv").write_text(SCHEDULE.splitlines()[1] + "\n" + rows, encoding="utf-8")
    words = ("handover", "many.csv", "--preview", "--answer", "min_level=not set", "--answer", "DALI-Adr.: numbering=from-0")
    assert "--all shows them" in cli(*words).stdout and "Z-59" not in cli(*words).stdout
    assert "--all shows them" not in cli(*words, "--all").stdout


@pytest.mark.parametrize("answer", [
    "DALI-Adr.: numbering=from-9",  # no such word
    "Adr.: numbering=from-1",  # no such heading
    "DALI-Adr.: numbring=from-1",  # no such kind
    "nonsense=foo",
])
def test_an_answer_to_nothing_is_refused(cli: Cli, answer: str) -> None:
    """A misspelt key or word would leave the file read otherwise than somebody said; it is named, and nothing is signed."""
    done = cli("--key", "keys/I01.key", "handover", "leuchten.csv", *GIVEN, "--answer", answer)
    assert done.exit_code == 2 and answer.partition("=")[0] in done.stderr and "hint:" in done.stderr


def test_a_file_under_our_own_headings_takes_no_answers(cli: Cli) -> None:
    """It raises no question, so that an answer would change nothing."""
    done = cli("--key", "keys/I01.key", "handover", "schedule.csv", "--answer", "address: numbering=from-1")
    assert done.exit_code == 2 and "address: numbering" in done.stderr
