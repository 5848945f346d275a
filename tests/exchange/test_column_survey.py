"""Whole columns: what their cells decide together, and what is asked once for all of them."""

from __future__ import annotations

import datetime
from collections.abc import Mapping, Sequence

import pytest

from vault.exchange.cell_reading import ColumnFacts, Said, Unclear
from vault.exchange.column_survey import Surveyed, survey
from vault.exchange.raw_table import Oddity, Remark


def _survey(field: str, cells: Sequence[str], *, heading: str = "Spalte", unit: str = "", counts_from: int | None = None,
            remarks: Mapping[str, Remark] | None = None, **answers: str) -> Surveyed:
    """A column whose first cell stands in row 2."""
    texts = {cell: (cells.index(cell) + 2, cells.count(cell)) for cell in cells}
    facts = ColumnFacts(field=field, heading=heading, unit=unit,
                        answers={kind.replace("_", "-"): word for kind, word in answers.items()})
    return survey(texts, facts, remarks, counts_from=counts_from)


def _said(surveyed: Surveyed) -> dict[str, str]:
    return {text: " ".join(reading.values.values()) for text, reading in surveyed.readings.items() if isinstance(reading, Said)}


# Columns of two messy schedules, as they stand there without their ditto marks.
@pytest.mark.parametrize(("field", "heading", "unit", "cells", "said"), [
    ("current_ma", "Ausgangsstrom", "", ["700 mA", "0,7A", "1.050 mA", "350"],
     {"700 mA": "700", "0,7A": "700", "1.050 mA": "1050", "350": "350"}),
    ("voltage_window", "Flussspg.", "", ["27…54 V", "27-54", "30 bis 42", "s. DB"],
     {"27…54 V": "27 54", "27-54": "27 54", "30 bis 42": "30 42", "s. DB": ""}),
    ("protection_class", "SK (2)", "", ["I", "I", "II", "III"], {"I": "class-i", "II": "class-ii", "III": "class-iii"}),
    ("ip", "Schutzart", "", ["IP 20", "20", "20/44", "65"], {"IP 20": "IP20", "20": "IP20", "20/44": "IP20/44", "65": "IP65"}),
    ("address", "DALI-Adr.", "", ["00", "01", "02", "-"], {"00": "0", "01": "1", "02": "2", "-": ""}),
    ("groups", "Gruppe(n)", "", ["1+3", "1,3", "G01", "-"], {"1+3": "1+3", "1,3": "1+3", "G01": "1", "-": ""}),
    ("emergency_mode", "DS/BS", "", ["", "BS", "Dauer", "DS"],
     {"": "", "BS": "non-maintained", "Dauer": "maintained", "DS": "maintained"}),
    ("circuit", "SK", "", ["3L2", "3L2", "4L3", "SiBe"], {"3L2": "3L2", "4L3": "4L3", "SiBe": "SiBe"}),
    ("control", "Ctrl", "", ["DALI", "dali2", "1-10V", "SW"],
     {"DALI": "dali", "dali2": "dali", "1-10V": "analogue-1-10v", "SW": "switch"}),
    ("line", "DALI Line", "", ["1", "1", "n/a", "", "2"], {"1": "1", "n/a": "", "": "", "2": "2"}),
    ("duration", "Dur.", "h", ["3h", "180'", "3hr", "3"], {"3h": "180", "180'": "180", "3hr": "180", "3": "180"}),
    ("reference", "Tag No.", "", ["L-007", "L-008", "7"], {"L-007": "L-007", "L-008": "L-008", "7": "7"}),
])
def test_a_column_of_the_trade_reads_without_a_question(field: str, heading: str, unit: str, cells: list[str],
                                                        said: Mapping[str, str]) -> None:
    """What is certain is not asked."""
    surveyed = _survey(field, cells, heading=heading, unit=unit)
    assert surveyed.questions == ()
    assert _said(surveyed) == said


@pytest.mark.parametrize(("field", "heading", "unit", "cells", "key", "likely", "examples", "count"), [
    ("power_w", "Leistung [W]", "W", ["28,5", "28,5", "~30", "8"], "Leistung [W]: about", None, ((4, "~30"),), 1),
    ("duration", "Betriebsdauer", "", ["", "1", "3 h", "8h"], "Betriebsdauer: unit", "h", ((3, "1"),), 1),
    ("central", "ZB-Kreis/Nr.", "", ["", "04.Dez", "4/13", "4/14"], "ZB-Kreis/Nr.: dates", "D/M", ((3, "04.Dez"),), 1),
    ("current_ma", "Iout", "mA", ["700mA", "0,7 A", "700", "0.7", "TBC", "1050 mA"], "Iout: unit", "A", ((5, "0.7"),), 1),
    ("voltage_window", "Vf range", "V", ["27-54V", "27 to 54", "27– 54 V", "max 54", "?", "30V"],
     "Vf range: single-voltage", None, ((7, "30V"),), 1),
    ("room", "Room No.", "", ["1.03", "1.03", "B.01", "B.01", "03-Jan"], "Room No.: dates", "M.DD", ((6, "03-Jan"),), 1),
    ("address", "DALI Addr.", "", ["1", "1", "64", "-", "A5", "12"], "DALI Addr.: numbering", "from-1",
     ((2, "1"), (4, "64"), (6, "A5"), (7, "12")), 5),
    ("emergency_mode", "EM", "", ["", "NM", "maint.", "M3", "NM?"], "EM: is NM?", "non-maintained", ((6, "NM?"),), 1),
    ("current_ma", "I", "", ["1.050 mA", "700 mA", "1.050 mA"], "I: decimal-mark", "comma", ((2, "1.050 mA"),), 2),
    ("scene_1", "Scene 1", "", ["50%", "229", "MASK", "50"], "Scene 1: level-unit", "percent", ((5, "50"),), 1),
    ("address", "A", "", ["0", "64", "5"], "A: numbering", None, ((2, "0"), (3, "64"), (4, "5")), 3),
    ("groups", "G", "", ["1", "16", "none"], "G: numbering", "from-1", ((2, "1"), (3, "16")), 2),
])
def test_a_column_raises_its_one_question(field: str, heading: str, unit: str, cells: list[str], key: str, likely: str | None,
                                          examples: tuple[tuple[int, str], ...], count: int) -> None:
    """One question for the whole column, with the cells that it is about and the answer that the column points to."""
    surveyed = _survey(field, cells, heading=heading, unit=unit)
    assert [(one.key, one.likely, one.examples, one.count) for one in surveyed.questions] == [(key, likely, examples, count)]
    assert [text for text, reading in surveyed.readings.items() if isinstance(reading, Unclear)] == [text for _, text in examples]


@pytest.mark.parametrize(("field", "cells", "kind", "word"), [
    ("power_w", ["28,5", "1.050"], "decimal-mark", "comma"),
    ("power_w", ["28.5", "1,050"], "decimal-mark", "point"),
    ("current_ma", ["0,7 A", "1.050 mA"], "decimal-mark", "comma"),
    ("address", ["0", "1", "63"], "numbering", "from-0"),
    ("scene_1", ["229", "50", "100"], "level-unit", "level"),
])
def test_what_a_column_makes_certain(field: str, cells: list[str], kind: str, word: str) -> None:
    """Cells that can be read in one way decide for those that could be read in two, and a note says so."""
    surveyed = _survey(field, cells)
    assert surveyed.facts.answers[kind] == word
    assert len(surveyed.notes) == 1
    assert surveyed.questions == ()


@pytest.mark.parametrize(("field", "cells", "key"), [
    ("power_w", ["28,5", "30.5", "1.050"], "Spalte: decimal-mark"),
    ("address", ["1", "2", "3"], "Spalte: numbering"),
    ("scene_1", ["229", "50", "30 %"], "Spalte: level-unit"),
    ("voltage_window", ["27...54 V", "1.050-1.100 mV"], "Spalte: decimal-mark"),
])
def test_what_a_column_leaves_open(field: str, cells: list[str], key: str) -> None:
    """Cells that speak against each other, or not at all, decide nothing."""
    assert [question.key for question in _survey(field, cells).questions] == [key]


def test_an_answer_is_never_overruled() -> None:
    """A column that looks as if it counted from 0 counts from 1 where somebody has said so; what cannot be is told."""
    surveyed = _survey("address", ["0", "5"], numbering="from-1")
    assert surveyed.facts.answers["numbering"] == "from-1"
    assert _said(surveyed) == {"5": "5"}
    assert surveyed.questions == ()


@pytest.mark.parametrize(("cells", "counts_from", "likely"), [
    (["1", "2"], 1, "from-1"), (["1", "2"], 0, "from-0"), (["1", "2"], None, None), (["1", "64"], 0, "from-1")])
def test_the_lines_make_a_numbering_likely(cells: list[str], counts_from: int | None, likely: str | None) -> None:
    """How the vault's lines count is shown as likely, and still asked."""
    assert [one.likely for one in _survey("address", cells, counts_from=counts_from).questions] == [likely]


def test_lines_and_a_64_make_the_numbering_certain() -> None:
    """An address 64, no 0, and lines that count from 1 leave no other way."""
    assert _survey("address", ["1", "64"], counts_from=1).facts.answers["numbering"] == "from-1"


@pytest.mark.parametrize(("cells", "words", "likely"), [
    (["03-Jan", "1.03"], ["D.MM", "M.DD"], "M.DD"),
    (["03-Jan", "3/12"], ["D/M", "M/D"], "D/M"),
    (["03-Jan", "3.12"], ["D.M", "M.D"], "D.M"),
    (["03-Jan", "02-Feb", "2-14"], ["D-M", "M-D"], None),
    (["03-Jan", "Hall"], ["D.MM", "M.DD", "D.M", "M.D", "D/M", "M/D", "D-M", "M-D"], None),
])
def test_dates_are_offered_as_the_other_cells_look(cells: list[str], words: list[str], likely: str | None) -> None:
    """The marks and zeros of the other rooms narrow down what may have been typed."""
    question = _survey("room", cells).questions[0]
    assert ([choice.word for choice in question.choices], question.likely) == (words, likely)


def test_a_date_cell_of_a_workbook_is_asked_about() -> None:
    """A workbook holds 3 January 2026 where somebody typed a room's number."""
    remark = Remark(oddity=Oddity.DATE, date=datetime.date(2026, 1, 3))
    surveyed = _survey("room", ["1.04", "2026-01-03"], remarks={"2026-01-03": remark}, dates="M.DD")
    assert _said(surveyed) == {"1.04": "1.04", "2026-01-03": "1.03"}


def test_a_date_that_is_none_keeps_the_number_that_was_typed() -> None:
    """4/45 has no day 45, so that a workbook holds 1 April 1945."""
    remark = Remark(oddity=Oddity.DATE, date=datetime.date(1945, 4, 1))
    assert _said(_survey("central", ["1945-04-01"], remarks={"1945-04-01": remark}, dates="M/D")) == {"1945-04-01": "4 45"}


@pytest.mark.parametrize(("cells", "remarks", "told"), [
    (["1.3", "1.03"], {}, ["1.3", "1.03"]),
    (["7", "07", "8"], {}, ["7", "07"]),
    (["1.1", "1.20"], {"1.1": Remark(oddity=Oddity.NUMBER)}, ["1.1"]),
    (["1.03", "1.04"], {}, []),
])
def test_lost_zeros_are_told(cells: list[str], remarks: Mapping[str, Remark], told: list[str]) -> None:
    """Names that differ in a zero alone, or that a workbook holds as numbers, are taken as they stand, and it is told."""
    surveyed = _survey("room", cells, remarks=remarks)
    rules = {text: reading.rule for text, reading in surveyed.readings.items() if isinstance(reading, Said)}
    assert [text for text in rules if rules[text] != "as it stands"] == told
    assert bool(surveyed.notes) == bool(told)


@pytest.mark.parametrize(("cells", "answers", "said"), [
    (["5–100", "0,05"], {"level_unit": "percent", "small_levels": "fraction", "lone_limit": "min"},
     {"5–100": "144 254", "0,05": "144"}),
])
def test_different_doubts_of_a_column_have_questions_of_their_own(cells: list[str], answers: Mapping[str, str],
                                                                  said: Mapping[str, str]) -> None:
    """Limits of 5-100 and of 0,05 in one column are of two kinds, and each has its answer."""
    assert [one.key for one in _survey("limits", cells).questions] == ["Spalte: level-unit", "Spalte: small-levels"]
    assert _said(_survey("limits", cells, **answers)) == said
