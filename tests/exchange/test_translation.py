"""Other people's schedules in our columns: the right questions, no silent guess, no row lost."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path

import openpyxl
import pytest
from foreign_files import accounted, english, french, german, mixed, rows_of_file, seen, taken, workbook
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from workbooks import workbook as book_of

from vault.exchange.asked import FileQuestion
from vault.exchange.schedule_translation import Translation

GERMAN_ANSWERS = {
    "SK: column": "circuit", "SK (2): column": "protection_class", "DALI-Linie: line names": "D", "Leistung [W]: about": "exact",
    "Betriebsdauer: unit": "h", "ZB-Kreis/Nr.: dates": "D/M", "control": "dali", "min_level": "not set"}
ENGLISH_ANSWERS = {
    "Fitting: is a12*": "A12", "Fitting: is A-12": "A12", "DALI Line: line names": "D", "Room No.: dates": "M.DD",
    "Iout: unit": "A", "Vf range: single-voltage": "max", "DALI Addr.: numbering": "from-0", "EM: is NM?": "non-maintained",
    "min_level": "not set"}
FRENCH_ANSWERS = {"Ligne: column": "line", "Courant: unit": "A", "min_level": "not set"}
MIXED_ANSWERS = {"Stuks: several": "number", "Dirección: numbering": "from-1", "control": "dali", "min_level": "not set"}
BOOK_ANSWERS = {"Ref: column": "reference", "CBS addr.: dates": "D/M", "control": "dali",
                "min_level": "not set"}
FILES = [(german, GERMAN_ANSWERS), (english, ENGLISH_ANSWERS), (french, FRENCH_ANSWERS), (mixed, MIXED_ANSWERS),
         (workbook, BOOK_ANSWERS)]
EVERY_FILE = pytest.mark.parametrize(("make", "answers"), FILES, ids=[make.__name__ for make, _ in FILES])
Make = Callable[[Path], Path]


def _asked(make: Make, folder: Path, answers: Mapping[str, str]) -> set[str]:
    """Every question that comes up until there is none, each answered as given."""
    path, found = make(folder), dict[str, str]()
    for _ in range(5):
        translation = seen(path, found)
        found |= {one.key: answers.get(one.key, "") for one in translation.questions}
    return set(found)


@EVERY_FILE
def test_the_right_questions_are_asked(tmp_path: Path, make: Make, answers: Mapping[str, str]) -> None:
    """What a file cannot say by itself is asked, each thing once, and nothing else."""
    assert _asked(make, tmp_path, answers) == set(answers)


@EVERY_FILE
def test_a_mapping_answers_them_the_second_time(tmp_path: Path, make: Make, answers: Mapping[str, str]) -> None:
    """With the answers nothing is open."""
    assert seen(make(tmp_path), answers).questions == ()


@EVERY_FILE
def test_no_row_is_lost(tmp_path: Path, make: Make, answers: Mapping[str, str]) -> None:
    """Before and after the answers each row of the file is taken, rejected, asked about, or left out with a reason."""
    for given_answers in ({}, answers):
        translation = seen(make(tmp_path), given_answers)
        assert rows_of_file(translation) <= set().union(*accounted(translation).values())


GOOD = "reference,type,room,Iout,control,line,address\n"


def _read(folder: Path, text: str, answers: Mapping[str, str] | None = None) -> Translation:
    path = folder / "file.csv"
    path.write_text(text, encoding="utf-8")
    return seen(path, {"min_level": "not set", "control": "dali", **(answers or {})})


def _word(question: FileQuestion, answer: str) -> str:
    """The likely answer, or the first."""
    first = question.choices[0].word if question.choices else "60"
    return question.likely or first if answer == "likely" else first


def _keys(translation: Translation) -> list[str]:
    return [one.key for one in translation.questions]


@pytest.mark.parametrize(("make", "answers", "reference", "said"), [
    (german, GERMAN_ANSWERS, "3", ("1.OG, 1.03", "D1", "4L3", 1050, 2)),
    (german, GERMAN_ANSWERS, "2", ("EG, 0.12", "D1", "3L2", 700, 1)),
    (french, FRENCH_ANSWERS, "R2", ("RDC, Hall", "D1", None, 700, 1)),
    (mixed, MIXED_ANSWERS, "V1", ("PB, Aula 3", "D1", None, 700, 0)),
    (workbook, BOOK_ANSWERS, "F-2", ("Level 1, Hall", "D1", None, 700, 1)),
], ids=lambda held: held.__name__ if callable(held) else None)
def test_what_is_taken_says_what_the_file_says(tmp_path: Path, make: Make, answers: Mapping[str, str], reference: str,
                                               said: tuple[object, ...]) -> None:
    """Place, line, circuit, current in mA, address as it goes over the line."""
    [one] = [one for one in taken(seen(make(tmp_path), answers)).luminaires if one.reference == reference]
    settings_of = one.gears[0].settings
    address = settings_of.control.short_address if settings_of.control else None
    assert (one.place, one.line, one.circuit, settings_of.channels[0].current_ma, address) == said


@pytest.mark.parametrize(("row", "column"), [
    (8, "Tag No."), (9, "Tag No."),  # one reference, two luminaires
    (7, "DALI Addr."),  # 64 where addresses count from 0
    (10, "Tag No."),  # no reference
    (5, "DB + Cct"),  # a circuit that the vault does not know
    (9, "Iout"),  # "TBC"
])
def test_what_is_wrong_is_told_at_its_cell(tmp_path: Path, row: int, column: str) -> None:
    """Each fault of the English file, by the row and the heading that the file has."""
    translation = seen(english(tmp_path), ENGLISH_ANSWERS)
    assert (row, column) in {(one.row, one.column) for one in translation.retold(taken(translation).rejected)}


def test_a_problem_shows_the_cell_as_it_stands(tmp_path: Path) -> None:
    """The text of the file, and what it was read as where that differs."""
    translation = seen(english(tmp_path), ENGLISH_ANSWERS)
    told = {(one.row, one.column): one for one in translation.retold(taken(translation).rejected)}
    assert told[9, "Iout"].value == "TBC" and "'TBC'" in told[9, "Iout"].problem
    assert told[5, "DB + Cct"].value == "DB-L1 + L1/23"


def test_our_own_headings_are_not_interpreted(tmp_path: Path) -> None:
    """A file of ours is left to the strict reader, cell by cell; a current with a unit is refused there."""
    translation = _read(tmp_path, "reference,type,place,current_ma\nA1,A12,Hall,700 mA\n")
    assert translation.strict and translation.questions == ()
    assert [(one.row, one.column, one.value) for one in taken(translation).rejected] == [(2, "current_ma", "700 mA")]


@pytest.mark.parametrize(("text", "key"), [
    (GOOD + "X1,a12*,Hall,700,dali,D1,0\n", "type: is a12*"),
    (GOOD + "X1,A-12,Hall,700,dali,D1,0\n", "type: is A-12"),
    (GOOD + "X1,A12,Hall,700,dali,d-1,0\n", "line: is d-1"),
    (GOOD.replace("room", "room,Qty") + "X1,A12,Hall,3,700,dali,D1,0\n", "Qty: several"),
    (GOOD.replace("room", "room,driver") + "X1,A12,Hall,cc 40 700,700,dali,D1,0\n", "driver: is cc 40 700"),
    (GOOD.replace("room", "room,DB,Cct") + "X1,A12,Hall,A,2l2,700,dali,D1,0\n", "Cct: is A 2l2"),
])
def test_what_is_only_near_is_asked(tmp_path: Path, text: str, key: str) -> None:
    """A name that is not quite one of the vault's is never taken for it; its row waits."""
    translation = _read(tmp_path, text)
    assert key in _keys(translation) and translation.asked_rows == {2}
    assert taken(translation).luminaires == []


def test_one_question_serves_all_cells_that_say_the_same(tmp_path: Path) -> None:
    """Many rows with one text ask once and say how many they are."""
    rows = "".join(f"X{number},a12*,Hall,700,dali,D1,{number}\n" for number in range(40))
    [question] = _read(tmp_path, GOOD + rows).questions
    assert (question.key, question.count, question.likely) == ("type: is a12*", 40, "A12")


@pytest.mark.parametrize(("answer", "references"), [("number", ["X1/1", "X1/2", "X1/3", "X2"]), ("refuse", ["X2"])])
def test_a_row_for_several_luminaires(tmp_path: Path, answer: str, references: list[str]) -> None:
    """Numbered where that was answered, else rejected; never one record for three luminaires."""
    text = "Tag No.,Fitting,Room,Qty,Iout\nX1,A12,Hall,3,700\nX2,A12,Hall,1,700\n"
    translation = _read(tmp_path, text, {"Qty: several": answer})
    assert sorted(one.reference for one in taken(translation).luminaires) == references
    assert {one.row for one in translation.retold(taken(translation).rejected)} == ({2} if answer == "refuse" else set())


def test_a_numbered_name_that_is_taken_is_told(tmp_path: Path) -> None:
    """X1/1 stands in the file already: the row that would make a second one is rejected."""
    text = "Tag No.,Fitting,Room,Qty,Iout\nX1,A12,Hall,2,700\nX1/1,A12,Hall,1,700\n"
    translation = _read(tmp_path, text, {"Qty: several": "number"})
    assert [(one.row, one.column) for one in translation.retold(taken(translation).rejected) if "X1/1" in one.problem] == [
        (2, "Tag No.")]


def test_a_place_too_long_is_told_and_not_cut(tmp_path: Path) -> None:
    """Four parts that make more than 40 letters are a problem that names the columns."""
    text = "Tag No.,Fitting,Building,Floor,Room,Iout\nX1,A12,Administration building,Second floor,Conference room,700\n"
    [one] = taken(_read(tmp_path, text)).rejected
    assert (one.column, "40" in one.allowed) == ("Building + Floor + Room", True)


def test_two_columns_that_differ_are_told(tmp_path: Path) -> None:
    """A duration that two columns say in two ways is decided by nobody here."""
    text = "Tag No.,Fitting,Room,Iout,EM,Dur.\nX1,A12,Hall,700,M3,1h\nX2,A12,Hall,700,M3,3h\n"
    translation = _read(tmp_path, text)
    assert [(one.row, one.value) for one in taken(translation).rejected] == [(2, "1h")]


@pytest.mark.parametrize(("numbering", "line", "address"), [("from-0", "D1", 5), ("from-1", "D1", 4), ("from-0", "D2", 5),
                                                            ("from-1", "D2", 4)])
def test_addresses_are_written_as_the_line_counts(tmp_path: Path, numbering: str, line: str, address: int) -> None:
    """D1 counts from 0 and D2 from 1; what goes over the bus follows from how the file counts."""
    text = f"Tag No.,Fitting,Room,Iout,DALI Line,DALI Addr.\nX1,A12,Hall,700,{line},5\n"
    [one] = taken(_read(tmp_path, text, {"DALI Addr.: numbering": numbering})).luminaires
    control = one.gears[0].settings.control
    assert control is not None and control.short_address == address


@pytest.mark.parametrize(("answer", "places"), [("floor", ["Ground floor, Hall", "First floor, Hall"]),
                                                ("ignore", ["Hall", "Hall"])])
def test_rows_that_stand_over_others(tmp_path: Path, answer: str, places: list[str]) -> None:
    """A row with one text alone is asked about; it then names the floor of the rows below it, or nothing."""
    text = "Tag No.,Fitting,Room,Iout\nGround floor,,,\nX1,A12,Hall,700\nFirst floor,,,\nX2,A12,Hall,700\n"
    assert _keys(_read(tmp_path, text)) == ["sections"] and taken(_read(tmp_path, text)).luminaires == []
    translation = _read(tmp_path, text, {"sections": answer})
    assert [one.place for one in taken(translation).luminaires] == places and {2, 4} <= set(translation.skipped)


@pytest.mark.parametrize(("answer", "references"), [("read", ["X1", "X2"]), ("leave-out", ["X1"])])
def test_hidden_rows_are_asked_about(tmp_path: Path, answer: str, references: list[str]) -> None:
    """Nobody can tell whether a row that a sheet hides is a luminaire of the building."""
    path = book_of(tmp_path / "hidden.xlsx", {"S": [("Tag No.", "Fitting", "Room", "Iout"), ("X1", "A12", "Hall", 700),
                                                    ("X2", "A12", "Hall", 700)]})
    book = openpyxl.load_workbook(path)
    book.active.row_dimensions[3].hidden = True
    book.save(path)
    assert _keys(seen(path)) == ["hidden rows"] and seen(path).asked_rows == {3}
    translation = seen(path, {"hidden rows": answer})
    assert [one.reference for one in taken(translation).luminaires] == references
    assert rows_of_file(translation) <= set().union(*accounted(translation).values())


def test_what_the_rating_says_otherwise_is_a_finding(tmp_path: Path) -> None:
    """Class, degree of protection and power beside those of the type: worth a look, and no stop."""
    text = "Tag No.,Fitting,Room,Iout,Class,IP,Load (W)\nX1,A12,Hall,700,II,IP65,45\nX2,A12,Hall,700,I,IP20,28\n"
    translation = _read(tmp_path, text)
    assert {one.rule for one in translation.findings["X1"]} == {"file-class", "file-ip", "file-power"}
    assert "X2" not in translation.findings and len(taken(translation).luminaires) == 2


@pytest.mark.parametrize(("answers", "types"), [({}, []), ({"type: is Downlight A": "A12"}, ["A12", "A12"])])
def test_a_cobie_workbook_goes_the_same_way(tmp_path: Path, answers: Mapping[str, str], types: list[str]) -> None:
    """Its components are rows like others, by their rows in the sheet; a type that the vault does not know is told with what
    to do, or said to be one that it knows.
    """
    made = ("a.person@example.com", "2026-01-01T00:00:00")
    path = book_of(tmp_path / "cobie.xlsx", {
        "Facility": [("Name", "CreatedBy", "CreatedOn"), ("House", *made)],
        "Floor": [("Name", "CreatedBy", "CreatedOn"), ("Level 1", *made)],
        "Space": [("Name", "CreatedBy", "CreatedOn", "FloorName"), ("101", *made, "Level 1")],
        "Type": [("Name", "CreatedBy", "CreatedOn", "Category"), ("Downlight A", *made, "Lighting"), ("Door", *made, "Doors")],
        "Component": [("Name", "CreatedBy", "CreatedOn", "TypeName", "Space"), ("Door 1", *made, "Door", "101"),
                      ("Down 1", *made, "Downlight A", "101"), ("Down 2", *made, "Downlight A ", "101")],
        "Attribute": [("Name", "CreatedBy", "CreatedOn", "SheetName", "RowName", "Value", "Unit"),
                      ("Current", *made, "Type", "Downlight A", 700, "mA")]})
    translation = seen(path, answers)
    assert translation.questions == () and 2 in translation.skipped
    assert rows_of_file(translation) <= set().union(*accounted(translation).values())
    assert [one.type_code for one in taken(translation).luminaires] == types
    told = [(one.row, one.column) for one in translation.retold(taken(translation).rejected) if "type load" in one.allowed]
    assert told == [(3, "type"), (4, "type")][len(types):]


HEADINGS = ("Tag No.", "Fitting", "Room", "Iout", "Vf range", "Ctrl", "DALI Line", "DALI Addr.", "EM", "Dur.", "Qty", "Cct")
CELLS = st.sampled_from((
    "", "-", "dto.", '"', "A12", "a12*", "B9", "Hall", "1.03", "700", "0,7 A", "1.050 mA", "TBC", "27-54 V", "30V", "max 54",
    "DALI", "1-10V", "D1", "1", "0", "64", "A5", "NM", "M3", "3h", "180'", "2", "x3", "3L2", "L1/23", "03-Jan", "TOTAL", "=1+1",
    "~7", "?"))


@settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(rows=st.lists(st.lists(CELLS, min_size=len(HEADINGS), max_size=len(HEADINGS)), min_size=1, max_size=8),
       answer=st.sampled_from(("likely", "first", "none")))
def test_no_row_of_any_table_is_lost(tmp_path: Path, rows: list[list[str]], answer: str) -> None:
    """Whatever stands in the cells, and however questions are answered, each row is taken, rejected, asked about or left out."""
    path, found = tmp_path / "any.csv", dict[str, str]()
    path.write_text("\n".join(";".join(one.replace('"', '""""') for one in row) for row in (HEADINGS, *rows)), encoding="utf-8")
    for _ in range(4):
        translation = seen(path, found)
        assert rows_of_file(translation) <= set().union(*accounted(translation).values())
        found |= {one.key: _word(one, answer) for one in translation.questions if answer != "none"}


@pytest.mark.parametrize("own", [("reference", "type", "place", "current_ma"), ("Tag No.", "Fitting", "Room", "Iout")])
def test_a_formula_without_a_value_is_not_nothing(tmp_path: Path, own: tuple[str, ...]) -> None:
    """A workbook that was never calculated holds no figure: the rating's would be taken for it."""
    path = book_of(tmp_path / "formula.xlsx", {"S": [own, ("X1", "A12", "Hall", "=650+50"), ("X2", "A12", "Hall", 700)]})
    schedule = taken(seen(path, {"min_level": "not set", "control": "dali"} if own[0] != "reference" else {}))
    assert [(item.row, "formula" in item.problem) for item in schedule.rejected][:1] == [(2, True)]
    assert "X1" not in [one.reference for one in schedule.luminaires]


@pytest.mark.parametrize(("place", "good"), [('=HYPERLINK("x","Hall")', False), ("+SUM(1)", False), ("=A1+B2", True),
                                             ("-1.OG", True)])
def test_a_formula_is_no_place(tmp_path: Path, place: str, good: bool) -> None:
    """What a spreadsheet would run is refused; a designation with = or + before it (IEC 81346) is a text like others."""
    quoted = place.replace('"', '""')
    text = f'Tag No.,Fitting,Place,Iout\nX1,A12,"{quoted}",700\n'
    assert bool(taken(_read(tmp_path, text, {"min_level": "not set", "control": "dali"})).luminaires) is good
