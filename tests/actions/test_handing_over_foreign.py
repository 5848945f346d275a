"""Handover of schedules that somebody else made: nothing is signed while a question is open, rejected rows come back as given."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping
from contextlib import nullcontext
from dataclasses import replace
from pathlib import Path

import pytest
from small_vault import SmallVault

from vault.actions.handover import hand_over
from vault.actions.handover_questions import answered, as_question, with_answers
from vault.actions.handover_reading import look, save_mapping, write_back
from vault.actions.handover_result import HandoverResult
from vault.actions.luminaire import view
from vault.actions.questions import Question
from vault.domain.record import Record
from vault.errors import GearkeepError, UsageProblem
from vault.exchange.asked import Choice, FileQuestion
from vault.exchange.rejected_rows import by_cell
from vault.exchange.schedule import Rejected
from vault.exchange.schedule_mapping import ScheduleMapping, read_mapping_file
from vault.exchange.schedule_translation import Translation

HEADINGS = "Leuchten-Nr.;Leuchtentyp;Geschoss;Raum-Nr.;Ausgangsstrom;Flussspg.;DALI-Linie;DALI-Adr."
# Type T1, lines D1 and D2 of demo/types.toml and demo/lines.toml; D1 counts from 0.
ROWS = ("X-1;T1;EG;0.12;0,7 A;30-44 V;1;40", "X-2;t1*;EG;0.13;700 mA;30…44;1;41", "X-3;T1;EG;0.14;1,05 A;30-44;1;42")
ANSWERS = {"DALI-Linie: line names": "D", "Leuchtentyp: is t1*": "T1", "min_level": "not set", "DALI-Adr.: numbering": "from-0"}


def _write(small: SmallVault, *rows: str) -> Path:
    path = small.folder / "leuchten.csv"
    path.write_bytes(("Bauteil C\r\n" + "\r\n".join([HEADINGS, *rows]) + "\r\n").encode("cp1252"))
    return path


def _seen(small: SmallVault, answers: Mapping[str, str], path: Path | None = None) -> Translation:
    return look(small.desk(), path or _write(small, *ROWS), mapping=ScheduleMapping(answers=answers))


def _record(small: SmallVault, tag: str) -> Record:
    with small.open().reading() as session:
        return view(session, tag).record


def _references(result: HandoverResult) -> list[str]:
    return [one.reference for one in result.accepted]


def test_nothing_is_signed_while_a_question_is_open(small: SmallVault) -> None:
    """Each answer but one is given: the journal stays as it was, and the question that is open is told."""
    before = small.sizes()
    for key in ANSWERS:
        seen = _seen(small, {other: word for other, word in ANSWERS.items() if other != key})
        result = hand_over(small.desk("I01"), seen)
        assert (result.accepted, small.sizes()) == ((), before) and key in [one.key for one in seen.questions]


def test_answers_sign_what_is_good(small: SmallVault) -> None:
    """With every question answered the good rows are signed as the file says, the one above the rating is rejected."""
    result = hand_over(small.desk("I01"), _seen(small, ANSWERS))
    assert _references(result) == ["X-1", "X-2"]
    record = _record(small, result.accepted[1].tag)
    assert (record.place, record.line, record.fixture_type.code) == ("EG, 0.13", "D1", "T1")
    assert record.gears[0].settings.channels[0].current_ma == 700


def test_a_bad_cell_is_told_as_the_file_has_it(small: SmallVault) -> None:
    """Row and heading of the file, the cell as it stands, and one line for one cell however many rules it breaks."""
    result = hand_over(small.desk("I01"), _seen(small, ANSWERS))
    cells = by_cell(result.rejected)
    assert [(one.row, one.column, one.value) for one in cells] == [(5, "Ausgangsstrom", "1,05 A")]


def test_several_reasons_of_one_cell_are_one_line() -> None:
    """Joined, the gravest first, the same sentence once."""
    said = ("Too high for the module.", "Not what the type is made for.", "Too high for the module.")
    [one] = by_cell(Rejected(row=4, column="Iout", value="1 A", problem=problem, allowed="700 mA") for problem in said)
    assert (one.problem, one.allowed) == ("Too high for the module; Not what the type is made for", "700 mA")
    [first] = by_cell([one, replace(one, problem="Third."), replace(one, problem="Fourth.")], gravest_alone=True)
    assert first.problem == f"{one.problem} (and 2 more reasons)"


def test_the_same_file_twice_adds_nothing(small: SmallVault) -> None:
    """Fed again under the same answers, nothing changes."""
    hand_over(small.desk("I01"), _seen(small, ANSWERS))
    before = small.sizes()
    result = hand_over(small.desk("I01"), _seen(small, ANSWERS))
    assert ({one.change for one in result.accepted}, small.sizes()) == ({"unchanged"}, before)


def test_rejected_rows_come_back_and_are_read_again(small: SmallVault) -> None:
    """The title and the headings stand where they stood, so the mapping still fits; the row's first number is carried along."""
    result = hand_over(small.desk("I01"), _seen(small, ANSWERS))
    first, second = small.folder / "first.csv", small.folder / "second.csv"
    assert write_back(first, result.translation, result)
    rows = list(csv.reader(io.StringIO(first.read_text(encoding="utf-8-sig"), newline=""), delimiter=";"))
    assert [row[:8] for row in rows[1:]] == [HEADINGS.split(";"), ROWS[2].split(";")]
    assert (rows[1][8:], rows[2][10]) == (["problem", "allowed", "row in leuchten.csv"], "5")
    again = hand_over(small.desk("I01"), _seen(small, ANSWERS, first))
    assert again.accepted == () and write_back(second, again.translation, again)
    assert second.read_bytes() == first.read_bytes()
    second.write_bytes(second.read_bytes().replace(b"1,05 A", b"0,6 A"))
    assert _references(hand_over(small.desk("I01"), _seen(small, ANSWERS, second))) == ["X-3"]


def test_a_mapping_is_kept_and_used_again(small: SmallVault) -> None:
    """What was decided stands in the file, and the next time nothing is asked."""
    mapping = ScheduleMapping(answers=ANSWERS)
    kept = small.folder / "map.toml"
    save_mapping(kept, look(small.desk(), _write(small, *ROWS), mapping=mapping), mapping)
    again = look(small.desk(), _write(small, *ROWS), mapping=read_mapping_file(kept))
    assert (again.questions, dict(again.decided), again.heading_row) == ((), ANSWERS, 2)


def test_open_questions_stand_in_a_kept_mapping(small: SmallVault) -> None:
    """They are there for somebody to decide, and decide nothing by themselves."""
    kept = small.folder / "map.toml"
    seen = _seen(small, {})
    save_mapping(kept, seen, ScheduleMapping())
    assert read_mapping_file(kept).answers == {}
    assert "Leuchtentyp: is t1*" in kept.read_text(encoding="utf-8")
    assert [one.key for one in look(small.desk(), seen.path, mapping=read_mapping_file(kept)).questions] == [
        one.key for one in seen.questions]


class _Person:
    """Answers every question with its second choice, and remembers what was asked."""

    def __init__(self) -> None:
        self.asked: list[str] = []

    def ask(self, question: Question) -> str:
        self.asked.append(question.text)
        return question.taken("2")


def test_questions_are_asked_with_where_they_come_from() -> None:
    """A person sees the cells, is told what is likely, and the answer goes into the mapping under the question's key."""
    person, shown = _Person(), list[str]()
    question = FileQuestion(key="SK: column", says="Is column 'SK' circuit or class?", likely="circuit", count=9,
                            choices=(Choice(word="circuit", says="c"), Choice(word="protection_class", says="p")),
                            examples=((2, "3L2"), (3, "4L3")))
    kept = list[ScheduleMapping]()
    mapping = answered([question], ScheduleMapping(), person, show=shown.append, keep=kept.append)
    assert mapping.answers == {"SK: column": "protection_class"} and kept == [mapping]
    assert shown == ["\nQuestion 1 of 1, row 2: '3L2', row 3: '4L3' and 7 more"]
    assert person.asked == ["Is column 'SK' circuit or class? The file points to circuit."]


@pytest.mark.parametrize(("said", "good"), [("not set", True), ("86", True), ("", False), ("low", False), ("255", False)])
def test_a_free_answer_is_checked_where_it_is_asked(said: str, good: bool) -> None:
    """The lowest level is 1 to 254, or not set (IEC 62386-102); anything else is asked again."""
    question = as_question(FileQuestion(key="min_level", says="Which level?", allowed="1 to 254, or not set"))
    outcome = nullcontext() if good else pytest.raises(GearkeepError)
    with outcome:
        assert question.taken(said) == said


def test_a_sheet_and_a_heading_row_are_answers_too() -> None:
    """They have places of their own in a mapping; a heading row that is no row is refused."""
    mapping = with_answers(ScheduleMapping(), {"sheet": "Level 1", "heading_row": "3", "SK: column": "circuit"})
    assert (mapping.sheet, mapping.heading_row, mapping.answers) == ("Level 1", 3, {"SK: column": "circuit"})
    with pytest.raises(UsageProblem):
        with_answers(ScheduleMapping(), {"heading_row": "third"})


def test_what_cannot_be_a_schedule_is_refused(small: SmallVault) -> None:
    """A table without a column for the luminaire's reference says so, by name."""
    path = small.folder / "none.csv"
    path.write_text("Leuchtentyp;Ausgangsstrom\nT1;700\n", encoding="utf-8")
    with pytest.raises(GearkeepError) as refused:
        look(small.desk(), path)
    assert refused.value.kind == "bad-schedule" and "reference" in refused.value.what


def test_as_above_is_written_out_in_the_file_of_rejected_rows(small: SmallVault) -> None:
    """Other rows stand above it there: corrected in its current alone, a row says the place that it said."""
    path = small.folder / "idem.csv"
    path.write_text("Tag No.,Fitting,Room,Vf range,Iout\nI-1,T1,Attic,30-44 V,1900 mA\nI-2,T1,Cellar,30-44 V,700 mA\n"
                    "I-3,idem,idem,idem,1900 mA\n")
    answers = {"min_level": "not set"}
    seen = look(small.desk(), path, mapping=ScheduleMapping(answers=answers))
    write_back(small.folder / "back.csv", seen, hand_over(small.desk(), seen, preview=True))
    back = list(csv.reader(io.StringIO((small.folder / "back.csv").read_text(encoding="utf-8-sig"))))
    assert [row[:4] for row in back[1:]] == [["I-1", "T1", "Attic", "30-44 V"], ["I-3", "T1", "Cellar", "30-44 V"]]


def test_a_schedule_without_voltages_is_good(small: SmallVault) -> None:
    """Few schedules say the light source's voltage: the window is then what the type needs from hot to cold, and no stop."""
    path = small.folder / "plain.csv"
    path.write_text("Tag No.,Fitting,Room,Iout\nP-1,T1,Attic,700 mA\n")
    result = hand_over(small.desk("I01"), look(small.desk(), path, mapping=ScheduleMapping(answers={"min_level": "not set"})))
    assert (result.rejected, _references(result)) == ((), ["P-1"])
