"""Luminaires out of somebody else's COBie workbook."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import pytest
from workbooks import workbook

from vault.exchange.cobie_book import Left, told_in_groups
from vault.exchange.cobie_read import CobieRead, is_cobie, luminaire_table
from vault.exchange.files import FileProblem
from vault.exchange.tables import read_tables

MADE = ("a.person@example.com", "2026-01-01T00:00:00")
HEADINGS = {
    "Contact": ("Email", "CreatedBy", "CreatedOn", "Category", "Company", "Phone", "ExternalSystem", "GivenName", "FamilyName"),
    "Facility": ("Name", "CreatedBy", "CreatedOn"), "Floor": ("Name", "CreatedBy", "CreatedOn"),
    "Space": ("Name", "CreatedBy", "CreatedOn", "FloorName", "Description"),
    "Type": ("Name", "CreatedBy", "CreatedOn", "Category", "Description"),
    "Component": ("Name", "CreatedBy", "CreatedOn", "TypeName", "Space", "ExternalSystem", "SerialNumber", "TagNumber",
                  "Own column"),
    "System": ("Name", "CreatedBy", "CreatedOn", "Category", "ComponentNames"),
    "Attribute": ("Name", "CreatedBy", "CreatedOn", "SheetName", "RowName", "Value", "Unit"),
    "Spare": ("Name", "CreatedBy", "CreatedOn", "TypeName"),
}
SHEETS: dict[str, list[tuple[Any, ...]]] = {
    "Contact": [("a.person@example.com", *MADE, "n/a", "Firm", "123", "x", "Annabel", "Person")],
    "Facility": [("House", *MADE)], "Floor": [("Level 1", *MADE), ("Level 2", *MADE)],
    "Space": [("101", *MADE, "Level 1", "Foyer"), ("102", *MADE, "Level 1 ", "102"), ("201", *MADE, "Level 9", "n/a")],
    "Type": [("Downlight A", *MADE, "n/a", "n/a"), ("Light switch", *MADE, "n/a", "n/a"),
             ("Door Type D ", *MADE, "Doors", "n/a")],
    "Component": [
        ("Down 1", *MADE, "Downlight A", "101", "x", "n/a", "L-1", "own"),
        ("Down 2", *MADE, "Downlight A ", "102", "x", "n/a", "n/a", ""),
        ("Down 3", *MADE, "Downlight A", "101, 102", "x", "n/a", "L-3", ""),
        ("Down 4", *MADE, "Downlight A", "999", "x", "n/a", "L-4", ""),
        ("Door 1", *MADE, "Door Type D", "101", "x", "n/a", "n/a", ""),
        ("Switch 1", *MADE, "Light switch", "101", "x", "n/a", "n/a", ""),
        ("Lost 1", *MADE, "No such type", "101", "x", "n/a", "n/a", ""),
        ("Down 1", *MADE, "Downlight A", "101", "x", "n/a", "n/a", ""),
    ],
    "System": [("Circuit 5", *MADE, "n/a", "Down 1, Down 2,Nobody"), ("Doors", *MADE, "n/a", "Door 1")],
    "Attribute": [("Current", *MADE, "Type", "Downlight A", 700, "mA"), ("Current", *MADE, "Component", "Down 2", 350, "mA"),
                  ("current_ma", *MADE, "Component", "Down 1", 500, "mA"), ("Width", *MADE, "Space", "101", 5, "m"),
                  ("place", *MADE, "Component", "Down 1", "east", "n/a")],
    "Spare": [("Spare 1", *MADE, "Downlight A")],
}


def _read(tmp_path: Path, answers: dict[str, str] | None = None, only: Sequence[str] | None = None,
          **changed: list[tuple[Any, ...]]) -> CobieRead:
    sheets = {name: [HEADINGS[name], *rows] for name, rows in {**SHEETS, **changed}.items()}
    return luminaire_table(read_tables(workbook(tmp_path / "cobie.xlsx", sheets)), answers, only)


@pytest.fixture(scope="module")
def read(tmp_path_factory: pytest.TempPathFactory) -> CobieRead:
    """What is taken from the sheets above."""
    return _read(tmp_path_factory.mktemp("cobie"))


def test_components_of_lighting_types_become_rows_under_our_headings(read: CobieRead) -> None:
    """Reference, type, place, systems and attributes stand in their rows; row n is row n of the sheet Component."""
    assert list(read.table.rows) == [
        ("reference", "type", "place", "extra:System", "Current [mA]", "current_ma", "Attribute place"),
        ("L-1", "Downlight A", "Level 1, 101 Foyer", "Circuit 5", "700", "500", "east"),
        ("Down 2", "Downlight A", "Level 1, 102", "Circuit 5", "350", "", ""),
        ("L-3", "Downlight A", "Level 1, 101 Foyer", "", "700", "", ""),
        ("L-4", "Downlight A", "999", "", "700", "", "")]
    assert (read.table.sheet, read.counts["luminaires"], read.counts["Component"]) == ("Component", 4, 8)


@pytest.mark.parametrize(("sheet", "row", "why"), [
    ("Component", 6, "its type Door Type D is no luminaire"),
    ("Component", 7, "its type Light switch is perhaps no luminaire"),
    ("Component", 8, "its type 'No such type' is not in the sheet Type"),
    ("Component", 9, "row 2 has the same name"),
    ("System", 3, "it holds no luminaire"),
    ("Attribute", 5, "what it is of, in the sheet Space, is no luminaire"),
    ("Spare", 2, "spares are received with gearkeep stock receive"),
    ("Contact", 0, "1 rows: contacts are counted and never copied"),
    ("Type", 4, "neither its category nor its name speaks of a luminaire"),
])
def test_every_row_that_is_not_taken_is_told(read: CobieRead, sheet: str, row: int, why: str) -> None:
    """Nothing is dropped in silence: sheet, row and reason."""
    assert (sheet, row, why) in {(one.sheet, one.row, one.why) for one in read.left}


@pytest.mark.parametrize(("sheet", "row", "why"), [
    ("Component", 3, "TypeName and the name that it means differ in blanks at their ends: Downlight A"),
    ("Component", 6, "TypeName and the name that it means differ in blanks at their ends: Door Type D"),
    ("Component", 4, "it lies in several spaces (101, 102); the first counts"),
    ("Component", 5, "its space 999 is not in the sheet Space"),
    ("Space", 3, "FloorName and the name that it means differ in blanks at their ends: Level 1"),
    ("Space", 4, "its floor Level 9 is not in the sheet Floor"),
    ("System", 2, "it names Nobody, which is no component"),
    ("Component", 1, "of its columns Own column nothing is taken"),
])
def test_references_that_do_not_fit_are_told(read: CobieRead, sheet: str, row: int, why: str) -> None:
    """Blanks at the ends of names are forgiven and told, as a public sample has them; what does not resolve is told."""
    assert (sheet, row, why) in {(one.sheet, one.row, one.why) for one in read.noted}


def test_people_are_never_copied(read: CobieRead) -> None:
    """Neither names nor e-mail addresses stand in anything that comes out of a workbook."""
    said = repr(read)
    assert [word for word in ("Annabel", "Person", "example.com", "123") if word in said] == []


def test_a_doubtful_type_is_asked_and_the_answer_holds(read: CobieRead, tmp_path: Path) -> None:
    """A light switch is a question with its likely answer; what is answered is not asked again."""
    question, = read.questions
    answered = _read(tmp_path, {question.key: "luminaire"})
    assert (question.key, question.likely, question.count) == ("Light switch: is it a luminaire", "other", 1)
    assert (answered.questions, answered.counts["luminaires"]) == ((), 5)


def test_named_types_are_taken_and_no_others(tmp_path: Path) -> None:
    """Whoever names the types decides past every word."""
    read = _read(tmp_path, only=["Door Type D"])
    assert (read.counts["luminaires"], [one.name for one in read.types if one.taken], read.questions) == (1, ["Door Type D"], ())


LONG = "Pendant light with a long name:600 x 600:"


@pytest.mark.parametrize(("answers", "references", "asked"), [
    ({}, ["4711", "4712"], ["Component: reference"]),
    ({"Component: reference": "end-of-name"}, ["4711", "4712"], []),
    ({"Component: reference": "name"}, [f"{LONG}4711", f"{LONG}4712"], []),
])
def test_names_that_are_too_long_for_a_reference_are_asked_about(tmp_path: Path, answers: dict[str, str], references: list[str],
                                                                 asked: list[str]) -> None:
    """Model programs write the type and a number into a name; which part is the drawing reference is not guessed in silence."""
    read = _read(tmp_path, answers, Component=[
        (f"{LONG}{number}", *MADE, "Downlight A", "101", "x", "n/a", "n/a", "") for number in (4711, 4712)])
    assert [row[0] for row in read.table.rows[1:]] == references
    assert [one.key for one in read.questions if one.key.startswith("Component")] == asked


@pytest.mark.parametrize(("answers", "heading"), [
    ({}, "extra:SerialNumber"), ({"SerialNumber: whose": "driver"}, "serial"), ({"SerialNumber: whose": "ignore"}, "place")])
def test_whose_serial_number_it_is_is_asked(tmp_path: Path, answers: dict[str, str], heading: str) -> None:
    """A serial number of a luminaire is not signed as its driver's."""
    read = _read(tmp_path, answers, System=[], Attribute=[],
                 Component=[("Down 1", *MADE, "Downlight A", "101", "x", "SN 5", "n/a", "")])
    assert read.table.rows[0][-1] == heading
    assert any(one.key == "SerialNumber: whose" for one in read.questions) is not bool(answers)


@pytest.mark.parametrize(("floor", "space", "description", "place"), [
    ("Level 1", "101", "Foyer", "Level 1, 101 Foyer"),
    ("Level 1", "101", "A foyer with a very long description", "Level 1, 101"),
    ("A floor with a very long name of its own", "101", "Foyer", "101 Foyer"),
    ("Level 1", "Level 1, 101", "n/a", "Level 1, 101"),
    ("Level 1", "s" * 41, "n/a", "s" * 39 + "…"),
])
def test_a_place_is_floor_and_space_in_forty_letters(tmp_path: Path, floor: str, space: str, description: str,
                                                     place: str) -> None:
    """A record's place has 40 letters (vault/FORMAT.md): the description goes first, the space last."""
    read = _read(tmp_path, Floor=[(floor, *MADE)], Space=[(space, *MADE, floor, description)],
                 Component=[("Down 1", *MADE, "Downlight A", space, "x", "n/a", "n/a", "")])
    assert read.table.rows[1][2] == place


def test_rows_with_one_reason_are_told_together() -> None:
    """A thousand rows with the same reason make one line."""
    told = [Left(sheet="Attribute", row=row, name="x", why="no") for row in range(2, 1003)] + [
        Left(sheet="Zone", row=0, name="", why="other")]
    assert told_in_groups(told) == ["Attribute, row 2 and 1,000 more: no", "Zone: other"]


@pytest.mark.parametrize("lacking", [["Type"], ["Component"], ["Facility", "Floor", "Space"]])
def test_a_workbook_without_its_sheets_is_no_cobie(tmp_path: Path, lacking: list[str]) -> None:
    """It is known by its sheets and their headings, and another workbook is refused with what to do."""
    sheets = {name: [HEADINGS[name], *rows] for name, rows in SHEETS.items() if name not in lacking}
    tables = read_tables(workbook(tmp_path / "a.xlsx", sheets))
    with pytest.raises(FileProblem, match="no COBie workbook") as caught:
        luminaire_table(tables)
    assert (is_cobie(tables), caught.value.hint) == (False, "give it to handover as a schedule")
