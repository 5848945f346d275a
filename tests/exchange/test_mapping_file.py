"""Mapping files: what was decided about a schedule, and what is still to be answered."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vault.errors import GearkeepError
from vault.exchange.asked import Choice, FileQuestion
from vault.exchange.schedule_fields import FIELDS
from vault.exchange.schedule_headings import ScheduleProblem
from vault.exchange.schedule_mapping import ScheduleMapping, decided_column, mapping_text, read_mapping_file, write_mapping_file

SK = FileQuestion(key="SK: column", says="Is column 'SK' circuit or protection_class?", heading="SK", likely="protection_class",
                  count=4,
                  choices=(Choice(word="circuit", says="the final circuit"),
                           Choice(word="protection_class", says="class I, II, III"),
                           Choice(word="ignore", says="not read")), examples=((2, "I"), (4, "II")),
                           allowed="any other of our fields")
MARK = FileQuestion(key='Iout "A": decimal-mark', says="Is 1.050 mA\n1,050 mA?", heading='Iout "A"',
                    choices=(Choice(word="thousands", says="1050 mA"), Choice(word="decimals", says="1.05 mA")))
SHEET = FileQuestion(key="sheet", says="Which sheet?",
                     choices=(Choice(word="L1", says="9 rows"), Choice(word="L2", says="8 rows")))
ROW = FileQuestion(key="heading_row", says="Which row?", choices=(Choice(word="3", says="Tag | Type"),), allowed="a row's number")
FREE = FileQuestion(key="Typ: type is A-12", says="What is the type A-12?", allowed="a fixture type of the vault")


def _read(path: Path, text: str) -> ScheduleMapping:
    path.write_text(text, encoding="utf-8")
    return read_mapping_file(path)


@pytest.mark.parametrize(("text", "mapping"), [
    ('"Tag No." = "reference"\nIout = "current_ma"\nRemarks = "ignore"\n',
     {"Tag No.": "reference", "Iout": "current_ma", "Remarks": "ignore"}),
    ('Rem = "extra:Remarks"\nPl = "Place"\n', {"Rem": "extra:Remarks", "Pl": "place"}),
    ('sheet = "ignore"\nheading_row = "line"\n', {"sheet": "ignore", "heading_row": "line"}),
    ('[columns]\n"Vf range" = "voltage window"\n', {"Vf range": "voltage_window"}),
    ('Iout = "current_ma"\n[columns]\nSK = "circuit"\n', {"Iout": "current_ma", "SK": "circuit"}), ("", {}),
])
def test_columns_are_read_from_both_forms(tmp_path: Path, text: str, mapping: dict[str, str]) -> None:
    """The plain list of older files and the table say the same."""
    assert _read(tmp_path / "map.toml", text) == ScheduleMapping(columns=mapping)


def test_a_whole_file_is_read(tmp_path: Path) -> None:
    """Sheet, row, columns and answers come out as they stand."""
    text = ('sheet = "line"\nheading_row = 3\n[columns]\nSK = "circuit"\n'
            '[answers]\n"Iout: decimal-mark" = "thousands"\n"X: column" = "line"\n')
    assert _read(tmp_path / "map.toml", text) == ScheduleMapping(
        sheet="line", heading_row=3, columns={"SK": "circuit"}, answers={"Iout: decimal-mark": "thousands", "X: column": "line"})


@pytest.mark.parametrize(("text", "told"), [
    ('Iout = "curent_ma"\n', ["'Iout' is mapped to 'curent_ma'", "did you mean current_ma?"]),
    ('[columns]\nA = "zzz"\nB = 7\n', ["'A' is mapped to 'zzz'", "'B' is mapped to 7", "extra:NAME, or ignore"]),
    ('[columns]\nA = "extra:"\n', ["'A' is mapped to 'extra:'"]),
    ('[column]\nA = "line"\n', ["[column] is no table", "did you mean columns?"]),
    ("heading_row = 0\n", ["heading_row is 0", "1 or more"]), ('heading_row = "x"\n[columns]\n', ["heading_row is 'x'"]),
    ("heading_row = true\n", ["heading_row is true"]), ("sheet = 1\n", ["sheet is 1"]),
    ('[answers]\n"A: x" = 1\n"B: y" = ""\n', ["'A: x' is 1", "'B: y' is ''"]),
    ('[answers]\n"A: column" = "lime"\n', ["'A: column' is 'lime'", "did you mean line?"]),
])
def test_every_wrong_entry_is_told(tmp_path: Path, text: str, told: list[str]) -> None:
    """All that is wrong in a mapping comes in one refusal, with the nearest that is right."""
    with pytest.raises(ScheduleProblem) as refused:
        _read(tmp_path / "map.toml", text)
    assert [wanted for wanted in told if wanted not in refused.value.what] == []
    assert refused.value.what.startswith("map.toml: ")


def test_a_file_that_is_no_toml_is_refused(tmp_path: Path) -> None:
    """A slip of the pen is told with its line."""
    with pytest.raises(GearkeepError, match="line 2"):
        _read(tmp_path / "map.toml", '[columns]\nSK = circuit\n')


def test_open_questions_are_comments_that_change_nothing(tmp_path: Path) -> None:
    """A file with every kind of open question reads as its decisions alone, which stand before the questions."""
    mapping = ScheduleMapping(columns={"Iout": "current_ma"}, answers={"Iout: numbering": "from-0"})
    write_mapping_file(tmp_path / "map.toml", mapping, (SK, MARK, SHEET, ROW, FREE))
    assert read_mapping_file(tmp_path / "map.toml") == mapping


def test_a_question_shows_its_sentence_its_cells_and_its_choices() -> None:
    """A person finds in the file what is asked, where it stands, what each answer means and which is likely."""
    text = mapping_text(ScheduleMapping(), (SK,))
    for said in ("# Is column 'SK' circuit or protection_class?", "# row 2: 'I'; row 4: 'II'",
                 '# "SK" = "circuit"  # the final circuit\n',
                 '# "SK" = "protection_class"  # class I, II, III  LIKELY\n', "# or: any other of our fields", "# 4 cells.",
                 "# Our fields: "):
        assert said in text
    assert [name for name in FIELDS if name not in text] == []


@pytest.mark.parametrize(("line", "mapping"), [
    ('# "SK" = "protection_class"', ScheduleMapping(columns={"SK": "protection_class"})),
    ('# "Iout \\"A\\": decimal-mark" = "decimals"', ScheduleMapping(answers={'Iout "A": decimal-mark': "decimals"})),
    ('# sheet = "L2"', ScheduleMapping(sheet="L2")), ("# heading_row = 3", ScheduleMapping(heading_row=3)),
])
def test_taking_one_mark_away_answers_a_question(tmp_path: Path, line: str, mapping: ScheduleMapping) -> None:
    """A person deletes one # and runs again."""
    text = mapping_text(ScheduleMapping(), (SK, MARK, SHEET, ROW, FREE))
    answered = re.sub(re.escape(line), line.removeprefix("# "), text, count=1)
    assert answered != text
    assert _read(tmp_path / "map.toml", answered) == mapping


@pytest.mark.parametrize(("heading", "decided"), [
    ("SK", "circuit"), ("sk", "circuit"), ("Tag-No.", "reference"), ("X", "line"), ("Y", None), ("SK (2)", None)])
def test_a_decision_is_found_by_its_heading(heading: str, decided: str | None) -> None:
    """Case, blanks and hyphens are forgiven; a second column of a name is another column."""
    mapping = ScheduleMapping(columns={"SK": "circuit", "tag no.": "reference"}, answers={"X: column": "line"})
    assert decided_column(mapping, heading) == decided


TEXTS = st.text(st.characters(exclude_categories=("Cs",)), min_size=1, max_size=20)
DECIDED = st.builds(
    ScheduleMapping, sheet=st.none() | TEXTS, heading_row=st.none() | st.integers(1, 10**6),
    columns=st.dictionaries(TEXTS, st.sampled_from([*FIELDS, "ignore", "extra:Lot 7"]), max_size=4),
    answers=st.dictionaries(TEXTS.filter(lambda key: not key.endswith(": column")), TEXTS.filter(str.strip), max_size=4))
ASKED = st.builds(FileQuestion, key=TEXTS, says=TEXTS, allowed=TEXTS, heading=TEXTS, count=st.integers(0, 9),
                  choices=st.lists(st.builds(Choice, word=TEXTS, says=TEXTS), max_size=3).map(tuple),
                  examples=st.lists(st.tuples(st.integers(1, 99), TEXTS), max_size=2).map(tuple))


@settings(max_examples=60)
@given(DECIDED, st.lists(ASKED, max_size=3))
def test_what_is_written_is_read_again(tmp_path_factory: pytest.TempPathFactory, mapping: ScheduleMapping,
                                       asked: list[FileQuestion]) -> None:
    """Whatever stands in headings, answers and questions, a round trip keeps every decision and adds none."""
    path = tmp_path_factory.getbasetemp() / "round.toml"
    assert _read(path, mapping_text(mapping, asked)) == mapping
