"""Cells of somebody else's schedule that can be read in two ways, and what an answer makes of them."""

from __future__ import annotations

from collections.abc import Mapping

import pytest

from vault.exchange.cell_reading import ColumnFacts, Said, Unclear
from vault.exchange.raw_table import Oddity, Remark
from vault.exchange.values import read_cell


def _facts(field: str, unit: str = "", heading: str = "Somebody's heading", **answers: str) -> ColumnFacts:
    return ColumnFacts(field=field, heading=heading, unit=unit,
                       answers={kind.replace("_", "-"): word for kind, word in answers.items()})


@pytest.mark.parametrize(("field", "unit", "cell", "kind", "words", "likely"), [
    ("current_ma", "", "1.050 mA", "decimal-mark", ["comma", "point"], "comma"),
    ("power_w", "W", "1,050", "decimal-mark", ["comma", "point"], None),
    ("current_ma", "mA", "0.7", "unit", ["mA", "A"], "A"),
    ("current_ma", "", "0.7", "unit", ["mA", "A"], "A"),
    ("current_ma", "", "15", "unit", ["mA", "A"], None),
    ("current_ma", "A", "700", "unit", ["mA", "A"], "mA"),
    ("current_ma", "", "~700", "about", ["exact", "nothing"], None),
    ("power_w", "W", "~30", "about", ["exact", "nothing"], None),
    ("power_w", "W", "ca. 30", "about", ["exact", "nothing"], None),
    ("power_w", "W", "2x14", "times", ["driver", "channels", "sum", "nothing"], None),
    ("current_ma", "", "350/700 mA", "several", ["channels", "sum", "nothing"], None),
    ("voltage_window", "V", "30V", "single-voltage", ["max", "both", "nothing"], None),
    ("duration", "", "1", "unit", ["min", "h"], None),
    ("scene_1", "", "50", "level-unit", ["percent", "level"], None),
    ("limits", "", "5–100", "level-unit", ["percent", "level"], "percent"),
    ("limits", "", "0,05", "small-levels", ["percent", "fraction"], "fraction"),
    ("limits", "", "5 %", "lone-limit", ["min", "max", "nothing"], "min"),
    ("address", "", "5", "numbering", ["from-0", "from-1"], None),
    ("line_address", "", "L1/23", "numbering", ["from-0", "from-1"], None),
    ("groups", "", "16", "numbering", ["from-0", "from-1"], "from-1"),
    ("groups", "", "0-3", "range", ["all", "two"], None),
    ("central", "", "4", "lone-number", ["circuit", "address", "nothing"], None),
    ("fade_time", "", "4", "fade-unit", ["s", "raw"], None),
    ("emergency_mode", "", "NM?", "is NM?", ["non-maintained", "maintained", "switched-maintained", "nothing"], "non-maintained"),
    ("emergency_mode", "", "Sustained", "is Sustained", ["non-maintained", "maintained", "switched-maintained", "nothing"], None),
    ("emergency_mode", "", "x", "is x", ["non-maintained", "maintained", "switched-maintained", "nothing"], None),
    ("emergency_supply", "", "SC", "is SC", ["self-contained", "central", "nothing"], None),
    ("room", "", "s.o.", "is s.o.", ["above", "nothing"], None),
    ("groups", "", "1-Mar", "dates", ["D/M", "M/D", "D.M", "M.D", "D-M", "M-D"], None),
    ("voltage_window", "", "12-Dec", "dates", ["D-M", "M-D"], None),
])
def test_what_can_be_read_in_two_ways_is_asked(field: str, unit: str, cell: str, kind: str, words: list[str],
                                               likely: str | None) -> None:
    """No cell with two readings is taken in silence; the likely one is shown as such."""
    reading = read_cell(cell, _facts(field, unit))
    assert isinstance(reading, Unclear)
    assert (reading.kind, [choice.word for choice in reading.choices], reading.likely) == (kind, words, likely)


@pytest.mark.parametrize(("field", "cell", "answers", "values"), [
    ("current_ma", "1.050 mA", {"decimal_mark": "comma"}, {"current_ma": "1050"}),
    ("power_w", "1.050 W", {"decimal_mark": "point"}, {"power_w": "1.05"}),
    ("current_ma", "0.7", {"unit": "A"}, {"current_ma": "700"}),
    ("current_ma", "~700", {"about": "exact"}, {"current_ma": "700"}),
    ("power_w", "~30 W", {"about": "nothing"}, {}),
    ("power_w", "2x14", {"times": "channels"}, {"power_w": "14", "power_2_w": "14"}),
    ("power_w", "2x14", {"times": "sum"}, {"power_w": "28"}),
    ("power_w", "2x14", {"times": "driver"}, {"power_w": "14"}),
    ("current_ma", "350/700 mA", {"several": "channels"}, {"current_ma": "350", "current_2_ma": "700"}),
    ("voltage_window", "30V", {"single_voltage": "both"}, {"voltage_min_v": "30", "voltage_max_v": "30"}),
    ("duration", "1", {"unit": "h"}, {"duration_min": "60"}),
    ("address", "00", {"numbering": "from-0"}, {"address": "0"}),
    ("address", "A5", {"numbering": "from-1"}, {"address": "5"}),
    ("line_address", "L1/23", {"numbering": "from-0"}, {"line": "L1", "address": "23"}),
    ("line_address", "GW2.1/64", {"numbering": "from-1"}, {"line": "GW2.1", "address": "64"}),
    ("groups", "1+16", {"numbering": "from-1"}, {"groups": "0+15"}),
    ("groups", "0-3", {"range": "all"}, {"groups": "0+1+2+3"}),
    ("central", "4", {"lone_number": "circuit"}, {"central_circuit": "4"}),
    ("fade_time", "4", {"fade_unit": "s"}, {"fade_time": "6"}),  # IEC 62386-102 Table 4: 0.5 s times 2 to the 3
    ("emergency_mode", "NM?", {"is NM?": "non-maintained"}, {"emergency_mode": "non-maintained"}),
    ("room", "03-Jan", {"dates": "D.MM"}, {"room": "3.01"}),
    ("room", "03-Jan", {"dates": "M.DD"}, {"room": "1.03"}),
    ("room", "Jan-45", {"dates": "M/D"}, {"room": "1/45"}),
    ("central", "04.Dez", {"dates": "D/M"}, {"central_circuit": "4", "central_address": "12"}),
    ("power_w", "28-May", {"dates": "D.M"}, {"power_w": "28.5"}),
    ("groups", "1-Mar", {"dates": "D/M"}, {"groups": "1+3"}),
])
def test_an_answer_settles_a_cell(field: str, cell: str, answers: Mapping[str, str], values: Mapping[str, str]) -> None:
    """What was answered for the column is how its cells are read."""
    reading = read_cell(cell, _facts(field, **answers))
    assert isinstance(reading, Said)
    assert reading.values == values


@pytest.mark.parametrize("cell", ["03-Jan", "04.Dez", "4. Dez", "Jan-03", "12-avr", "4-gen", "3-ene", "3-mrt", "1. März",
                                  "5-août", "2026-01-03", "2026-01-03 00:00:00"])
def test_a_date_in_a_room_column_is_asked_about(cell: str) -> None:
    """A spreadsheet made a date of a room's number, in whichever language it speaks."""
    reading = read_cell(cell, _facts("room"))
    assert isinstance(reading, Unclear)
    assert reading.kind == "dates"


@pytest.mark.parametrize(("word", "groups"), [("1", "1+2"), ("10", "2+10")])
def test_groups_that_a_workbook_took_for_a_number_are_asked_about(word: str, groups: str) -> None:
    """2,1 and 2,10 are the same number 2.1 in a workbook."""
    remark = Remark(oddity=Oddity.NUMBER)
    assert isinstance(read_cell("2.1", _facts("groups"), remark), Unclear)
    reading = read_cell("2.1", _facts("groups", **{"is 2.1": word}), remark)
    assert isinstance(reading, Said)
    assert reading.values == {"groups": groups}


@pytest.mark.parametrize(("heading", "kind"), [("DS/BS", Unclear), ("Schaltungsart", Unclear), ("M/NM", Said), ("EM", Said)])
def test_m_is_maintained_in_english_lists_alone(heading: str, kind: type) -> None:
    """A German list writes DS and BS; an M in it may be anything."""
    assert isinstance(read_cell("M", _facts("emergency_mode", heading=heading)), kind)
