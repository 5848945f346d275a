"""Which field of ours each column of somebody else's schedule is, and what is asked."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vault.exchange.column_mapping import Mapped, map_columns
from vault.exchange.heading_rows import Headings
from vault.exchange.schedule_columns import GEAR_COLUMNS, LUMINAIRE_COLUMNS
from vault.exchange.schedule_fields import FIELDS
from vault.exchange.schedule_mapping import ScheduleMapping

NOTHING = ScheduleMapping()
NEEDED = {"Tag No.": "L-1", "Fitting": "A12", "Room": "1.03"}


def _mapped(columns: dict[str, str], mapping: ScheduleMapping = NOTHING, units: tuple[str, ...] | None = None) -> Mapped:
    """Columns as heading -> their cells with bars between, mapped; the headings stand in row 1."""
    cells = [said.split("|") for said in columns.values()]
    rows = [(number + 2,
             [column[number] if number < len(column) else "" for column in cells]) for number in range(max(map(len, cells)))]
    headings = Headings(row=1, names=tuple(columns), units=units or ("",) * len(columns), first_row=2)
    return map_columns(headings, rows, mapping)


def _fields(mapped: Mapped) -> dict[str, tuple[str, int]]:
    return {column.heading: (column.field, column.confidence) for column in mapped.columns}


def test_a_file_under_our_own_headings_raises_no_question() -> None:
    """Every column of ours is itself, with full confidence."""
    mapped = _mapped(dict.fromkeys((*LUMINAIRE_COLUMNS, *GEAR_COLUMNS, "extra:lot"), ""))
    assert _fields(mapped) == {name: (name, 100) for name in (*LUMINAIRE_COLUMNS, *GEAR_COLUMNS, "extra:lot")}
    assert (mapped.questions, mapped.problems) == ((), ())


def test_known_headings_are_mapped_with_their_units() -> None:
    """Headings of the trade are taken, with the unit of the heading or of the row below it."""
    mapped = _mapped({**NEEDED, "Iout": "700", "Leistung [W]": "28,5", "Dur.": "3"}, units=("", "", "", "mA", "", "h"))
    assert _fields(mapped) == {"Tag No.": ("reference", 95), "Fitting": ("type", 95), "Room": ("room", 95),
                               "Iout": ("current_ma", 95),
                               "Leistung [W]": ("power_w", 95), "Dur.": ("duration", 95)}
    assert [column.unit for column in mapped.columns] == ["", "", "", "mA", "W", "h"]
    assert mapped.questions == ()


@pytest.mark.parametrize(("heading", "cells", "likely", "choices"), [
    ("SK", "I|II|III", "protection_class", ["circuit", "protection_class", "extra:SK", "ignore"]),
    ("SK", "", None, ["circuit", "protection_class", "extra:SK", "ignore"]),
    ("SK", "-|n/a", None, ["circuit", "protection_class", "extra:SK", "ignore"]),
    ("SK", "I|somewhere in the attic behind the plant", None, ["circuit", "protection_class", "extra:SK", "ignore"]),
    ("L", "1|2", "line", ["circuit", "line", "extra:L", "ignore"]),
    ("Location", "B/4|C/5", "grid", ["place", "room", "grid", "extra:Location", "ignore"]),
    ("Spannung", "24|24", None, ["voltage_window", "supply", "extra:Spannung", "ignore"]),
    ("Remarks", "dented", "extra:Remarks", ["extra:Remarks", "ignore"]),
    ("Kaffeemaschine", "yes", None, ["extra:Kaffeemaschine", "ignore"]),
    ("Ausgangstrom", "700", "current_ma", ["current_ma", "extra:Ausgangstrom", "ignore"]),
    ("Adresse (0-63)", "12", "address", ["address", "extra:Adresse (0-63)", "ignore"]),
    ("Adresse", "L1/23|L1/24", "line_address", ["address", "line_address", "extra:Adresse", "ignore"]),
    ("Cct No.", "L1/23|L1/24", None, ["circuit", "line_address", "extra:Cct No.", "ignore"]),
    ("column F", "x", None, ["extra:column F", "ignore"]),
])
def test_what_is_not_sure_is_asked(heading: str, cells: str, likely: str | None, choices: list[str]) -> None:
    """A column that may be several things, or nothing that we know, is not read but asked, with what its cells point to."""
    mapped = _mapped({**NEEDED, heading: cells})
    (question,) = mapped.questions
    assert (question.key, question.heading, question.likely) == (f"{heading}: column", heading, likely)
    assert [choice.word for choice in question.choices] == choices
    assert _fields(mapped)[heading] == ("", 0)


def test_a_gear_of_other_people_is_asked_for() -> None:
    """Our own word for the duty is other people's word for the driver."""
    (question,) = _mapped({**NEEDED, "Gear": "CC 700"}).questions
    assert ({"gear", "driver"} <= {choice.word for choice in question.choices}, question.likely) == (True, "driver")
    assert _mapped({"reference": "L-1", "gear": "general"}).questions == ()


def test_a_question_shows_cells_with_their_rows() -> None:
    """The first different cells stand in the question, and how many cells the answer is about."""
    (question,) = _mapped({**NEEDED, "SK": "I|I|II|I|III|II|I"}).questions
    assert (question.examples, question.count) == (((2, "I"), (4, "II"), (6, "III")), 7)


@pytest.mark.parametrize(("heading", "cells", "field"), [
    ("SK", "3L2|4L3|SiBe", "circuit"), ("Spannung", "27-54 V|30-42 V", "voltage_window"), ("Volts", "230 V AC", "supply"),
    ("Cct", "2L2|F12", "circuit"), ("Mode", "NM|M", "emergency_mode"), ("Mode", "DALI|1-10V", "control"),
])
def test_cells_that_allow_one_meaning_alone_decide(heading: str, cells: str, field: str) -> None:
    """A heading of several meanings whose cells can have only one of them is that, and less sure than a clear heading."""
    mapped = _mapped({**NEEDED, heading: cells})
    assert (_fields(mapped)[heading], mapped.questions) == ((field, 90), ())


def test_a_heading_that_stands_twice_is_asked_twice() -> None:
    """Two columns of one name are both asked, however plain the cells of one are."""
    mapped = _mapped({**NEEDED, "SK": "3L2|4L3", "SK (2)": "I|II"})
    assert [(question.key, question.likely) for question in mapped.questions] == [("SK: column", "circuit"),
                                                                                  ("SK (2): column", "protection_class")]


def test_two_columns_of_one_field_are_both_asked() -> None:
    """Nobody but a person knows which of two columns is the type."""
    mapped = _mapped({**NEEDED, "Typ": "B2"})
    assert [question.key for question in mapped.questions] == ["Fitting: column", "Typ: column"]
    assert _fields(mapped)["Fitting"] == ("", 0)
    decided = _mapped({**NEEDED, "Typ": "B2"}, ScheduleMapping(columns={"Typ": "ignore"}))
    assert (decided.questions, _fields(decided)["Fitting"]) == ((), ("type", 95))


@pytest.mark.parametrize("mapping", [
    ScheduleMapping(columns={"SK": "circuit"}), ScheduleMapping(columns={"sk": "Circuit"}),
    ScheduleMapping(answers={"SK: column": "circuit"}),
])
def test_a_decision_is_taken_and_not_asked_again(mapping: ScheduleMapping) -> None:
    """What a mapping says of a column counts, as a column or as an answer."""
    mapped = _mapped({**NEEDED, "SK": "I|II"}, mapping)
    assert (mapped.questions, _fields(mapped)["SK"]) == ((), ("circuit", 100))


@pytest.mark.parametrize(("decided", "field"), [("ignore", ""), ("extra:Lot", "extra:Lot"), ("voltage window", "voltage_window")])
def test_columns_can_be_left_out_or_kept(decided: str, field: str) -> None:
    """A column can be ignored, kept as an extra, or be any field."""
    assert _fields(_mapped({**NEEDED, "Foo": "x"}, ScheduleMapping(columns={"Foo": decided})))["Foo"] == (field, 100)


@pytest.mark.parametrize(("columns", "mapping", "problems"), [
    ({"Iout": "700"}, NOTHING, ["reference", "type", "where a luminaire is"]),
    ({"Tag No.": "1", "Fitting": "A"}, NOTHING, ["where a luminaire is"]),
    ({"Tag No.": "1", "Floor": "EG"}, NOTHING, ["type"]),
    # What a question may still bring is not missing yet.
    ({"Pos.": "1", "Désignation": "A", "Location": "EG"}, NOTHING, []),
    ({**NEEDED, "Foo": "x", "Bar": "y"}, ScheduleMapping(columns={"Foo": "line", "Bar": "line"}),
     ["'Foo' and 'Bar' that they are line"]),
    (NEEDED, ScheduleMapping(columns={"Fitting": "ignore"}), ["type"]),
])
def test_what_makes_a_file_unusable_is_told_at_once(columns: dict[str, str], mapping: ScheduleMapping,
                                                    problems: list[str]) -> None:
    """Missing columns and decisions that contradict each other come together."""
    told = _mapped(columns, mapping).problems
    assert [wanted in said for said, wanted in zip(told, problems, strict=True)] == [True] * len(problems)


def test_a_heading_and_the_row_below_that_disagree_are_told() -> None:
    """Watts in the heading and kilowatts below it are nothing to choose from in silence."""
    assert "says W in its heading and kW" in _mapped({**NEEDED, "Load (W)": "30"}, units=("", "", "", "kW")).problems[0]


def test_columns_that_a_list_of_rejected_rows_added_are_not_read() -> None:
    """A corrected list of rejected rows can be read again."""
    mapped = _mapped({**NEEDED, "problem": "x", "allowed": "y", "": ""})
    assert (mapped.questions, _fields(mapped)["problem"], _fields(mapped)[""]) == ((), ("", 100), ("", 100))


@settings(max_examples=60)
@given(st.text(max_size=30), st.text(max_size=12))
def test_any_heading_is_ours_known_or_asked(heading: str, cell: str) -> None:
    """No heading breaks the mapping: it is read as a field, or asked, or empty."""
    name = " ".join(heading.split())
    mapped = _mapped({name: cell})
    (column,) = mapped.columns
    assert column.field in (*FIELDS, "") or column.field.startswith("extra:")
    assert bool(column.field) + len(mapped.questions) + (column.why != "asked" and not column.field) == 1
