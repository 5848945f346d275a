"""Where the headings of a sheet stand, and what the rows below them are."""

from __future__ import annotations

import pytest

from vault.exchange.asked import FileQuestion
from vault.exchange.heading_rows import Headings, choose_sheet, column_letter, data_rows, find_headings
from vault.exchange.raw_table import RawTable
from vault.exchange.schedule_mapping import ScheduleMapping

NOTHING = ScheduleMapping()


def _table(text: str, sheet: str | None = None) -> RawTable:
    """Rows on lines, cells between bars."""
    rows = [tuple(cell.strip() for cell in line.split("|")) for line in text.strip("\n").split("\n")]
    return RawTable(file="schedule.csv", sheet=sheet, rows=rows)


def _found(text: str, mapping: ScheduleMapping = NOTHING) -> Headings:
    found = find_headings(_table(text), mapping)
    assert isinstance(found, Headings)
    return found


@pytest.mark.parametrize(("text", "row", "first_row", "units"), [
    ("Tag No.|Fitting|Room\nL-1|A1|1.03", 1, 2, ("", "", "")),
    ("reference|type|place\nL-1|A1|Foyer", 1, 2, ("", "", "")),
    ("Luminaire schedule, Rev C||\n||\nTag No.|Fitting|Room\nL-1|A1|1.03", 3, 4, ("", "", "")),
    ("Project|Mill|\nDate|today|\nTag No.|Fitting|Iout\n||mA\nL-1|A1|700", 3, 5, ("", "", "mA")),
    ("Leuchten-Nr.|Leuchtentyp|Ausgangsstrom|Flussspg.\n-|-|[mA]|[V]\n1|A12|700|27-54", 1, 3, ("", "", "mA", "V")),
    # A lamp called A and one called V are no units.
    ("Tag No.|Fitting|Room\nA|V|\nL-1|A1|1.03", 1, 2, ("", "", "")),
    # A row of data may have more words of the trade than one of numbers, never more than the headings.
    ("Tag No.|Fitting|Ctrl|EM|Class\nL-1|A1|DALI|NM|I", 1, 2, ("",) * 5),
    # The headings printed on each page: the first are meant.
    ("Tag No.|Fitting|Room\nL-1|A1|1.03\nTag No.|Fitting|Room\nL-2|A1|1.03", 1, 2, ("", "", "")),
])
def test_the_heading_row_is_found(text: str, row: int, first_row: int, units: tuple[str, ...]) -> None:
    """Titles above the headings and units below them do not hide where the headings and the data are."""
    found = _found(text)
    assert (found.row, found.first_row, found.units) == (row, first_row, units)


@pytest.mark.parametrize(("text", "names"), [
    # Groups as a CSV file keeps merged cells: the text in the first, nothing in the others. Where one ends, nobody can tell.
    ("Luminaire||DALI||\nType|Tag No.|Line|Addr.|EM\nA1|L-1|1|0|NM",
     ("Luminaire / Type", "Luminaire / Tag No.", "DALI / Line", "DALI / Addr.", "DALI / EM")),
    # As a workbook is read: merged cells filled in, also those merged over two rows.
    ("Tag No.|Type|DALI|DALI|Emergency|Emergency\nTag No.|Type|Line|Addr.|Mode|Duration\nL-1|A1|1|0|NM|3h",
     ("Tag No.", "Type", "DALI / Line", "DALI / Addr.", "Emergency / Mode", "Emergency / Duration")),
    ("Tag No.|Fitting|DALI||Room\n||Line|Addr.|\nL-1|A1|1|0|1.03", ("Tag No.", "Fitting", "DALI / Line", "DALI / Addr.", "Room")),
])
def test_headings_may_stand_over_two_rows(text: str, names: tuple[str, ...]) -> None:
    """A group's heading is joined with the headings below it, whichever of the two rows a person names."""
    found = _found(text)
    assert (found.row, found.first_row, found.names) == (2, 3, names)
    assert [_found(text, ScheduleMapping(heading_row=row)) for row in (1, 2)] == [found, found]


def test_headings_that_stand_twice_or_nowhere_get_names() -> None:
    """A second heading of the same name is numbered; a column without one has its letter; an empty one has no name."""
    assert _found("Tag No.|Fitting|SK|SK|||SK\nL-1|A1|3L2|I||x|").names == ("Tag No.", "Fitting", "SK", "SK (2)", "",
                                                                            "column F", "SK (3)")


@pytest.mark.parametrize(("row", "why"), [
    ("TOTAL|||6", "a total"), ("|Summe||28,5 W", "a total"), ("Gesamt:|||12 Stk.", "a total"), ("Total général|||6", "a total"),
    ("Totaal|||6", "a total"), ("Zwischensumme|||6", "a total"), ("Total luminaires: 6|||", "a total"), ("|||", "empty"),
    ("Tag No.|Fitting|Room|W", "the headings once more"), ("TAG NO.|FITTING|ROOM|W", "the headings once more"),
])
def test_rows_that_are_no_luminaires_are_skipped_with_a_reason(row: str, why: str) -> None:
    """Totals, empty rows and headings once more are told by their row, wherever they stand."""
    found = _found(f"Tag No.|Fitting|Room|W\nL-1|A1|1.03|30\n{row}\nL-2|A1|1.03|30\n{row}")
    assert {number: found.skipped[number] for number in found.skipped if number > 1} == {3: why, 5: why}
    assert found.sections == {}


@pytest.mark.parametrize("row", [
    "TOTAL|A1|1.03|6", "L-2|Total|1.03|6", "L-2|||", "L-2|A1||", "|A1|1.03|", "R12|||", "L7|||", "Sum-1|A1||30",
    "see note|below||",
    "TOTAL|Foyer||6", "dto.|dto.||30",
])
def test_no_row_that_may_be_a_luminaire_is_dropped(row: str) -> None:
    """A row with a reference and a type is data whatever they say; so is one that nothing is known of."""
    table = _table(f"Tag No.|Fitting|Room|W\nL-1|A1|1.03|30\n{row}")
    found = find_headings(table, NOTHING)
    assert isinstance(found, Headings)
    assert [number for number, _ in data_rows(table, found)] == [2, 3]


@pytest.mark.parametrize(("row", "text"), [
    ("Erdgeschoss|||", "Erdgeschoss"), ("1. Obergeschoss|||", "1. Obergeschoss"), ("Level 2|||", "Level 2"),
    ("|Raum 1.03 Foyer||", "Raum 1.03 Foyer"),
    ("R+1|||", "R+1"), ("UG1|||", "UG1"), ("Ground floor|||", "Ground floor"),
    ("East wing|East wing|East wing|East wing", "East wing"),
])
def test_rows_that_name_a_place_are_sections(row: str, text: str) -> None:
    """A row of one text that is a floor or a room, or that is merged over the sheet, is told as a section."""
    found = _found(f"Tag No.|Fitting|Room|W\n{row}\nL-1|A1|1.03|30")
    assert (found.sections, found.skipped) == ({2: text}, {1: "headings"})


@pytest.mark.parametrize("text", ["a|b|c\n1|2|3", "L-1|A1|1.03\nL-2|A1|1.03", "", "Room"])
def test_headings_that_are_not_known_are_asked_for(text: str) -> None:
    """A sheet without headings that we know gives the question which row they are, never a guess."""
    asked = find_headings(_table(text), NOTHING)
    assert isinstance(asked, FileQuestion)
    assert asked.key == "heading_row"


def test_an_answer_names_the_heading_row() -> None:
    """The row of a mapping is taken, also as the answer to the question; one that is not there is asked again."""
    text = "a|b|c\nd|e|f\nL-1|A1|1.03"
    assert _found(text, ScheduleMapping(heading_row=2)).names == ("d", "e", "f")
    assert _found(text, ScheduleMapping(answers={"heading_row": "1"})).first_row == 2
    assert isinstance(find_headings(_table(text), ScheduleMapping(heading_row=9)), FileQuestion)


def test_headings_of_a_mapping_count_as_known() -> None:
    """Headings that a person has decided are found though no lexicon has them."""
    assert _found("list\nxyzzy|plugh|plover\n1|2|3", ScheduleMapping(columns={"xyzzy": "reference", "plugh": "type"})).row == 2


SCHEDULE, OTHER = "Tag No.|Fitting|Room\nL-1|A1|1.03", "Revision history|\nC|checked"


@pytest.mark.parametrize(("sheets", "mapping", "chosen"), [
    ({"Cover": OTHER, "Lights": SCHEDULE}, NOTHING, "Lights"), ({"Only": OTHER}, NOTHING, "Only"),
    ({"L1": SCHEDULE, "L2": SCHEDULE}, ScheduleMapping(sheet="L2"), "L2"),
    ({"L1": SCHEDULE, "L2": SCHEDULE}, ScheduleMapping(answers={"sheet": "l1"}), "L1"),
    ({"L1": SCHEDULE, "L2": SCHEDULE}, NOTHING, None), ({"A": OTHER, "B": OTHER}, NOTHING, None),
    ({"L1": SCHEDULE}, ScheduleMapping(sheet="L9"), None),
])
def test_the_schedule_among_sheets_is_found_or_asked_for(sheets: dict[str, str], mapping: ScheduleMapping,
                                                         chosen: str | None) -> None:
    """One sheet that is a schedule is taken; of two, or of none, it is asked."""
    found = choose_sheet([_table(text, name) for name, text in sheets.items()], mapping)
    assert (found.sheet if isinstance(found, RawTable) else None) == chosen
    assert isinstance(found, RawTable) or (found.key, [choice.word for choice in found.choices]) == ("sheet", list(sheets))


@pytest.mark.parametrize(("place", "letter"), [(0, "A"), (25, "Z"), (26, "AA"), (701, "ZZ"), (702, "AAA")])
def test_columns_have_the_letters_of_a_spreadsheet(place: int, letter: str) -> None:
    """Columns are named as spreadsheets name them."""
    assert column_letter(place) == letter
