"""Single cells of somebody else's schedule: what each says in our columns, what is asked, what is refused."""

from __future__ import annotations

from collections.abc import Mapping

import pytest

from vault.exchange.cell_reading import ColumnFacts, Said, Unreadable
from vault.exchange.raw_table import Oddity, Remark
from vault.exchange.schedule_fields import FIELDS
from vault.exchange.values import is_ditto, read_cell
from vault.exchange.values_address import as_line_counts


def _facts(field: str, unit: str = "", heading: str = "Somebody's heading", **answers: str) -> ColumnFacts:
    return ColumnFacts(field=field, heading=heading, unit=unit,
                       answers={kind.replace("_", "-"): word for kind, word in answers.items()})


# Figures and signs are those of two schedules of the trade, and further ones of the same kinds in six languages
# (common practice, no source).
@pytest.mark.parametrize(("field", "unit", "cell", "values"), [
    ("current_ma", "", "700 mA", {"current_ma": "700"}),
    ("current_ma", "", "0,7A", {"current_ma": "700"}),
    ("current_ma", "", "0,7 A", {"current_ma": "700"}),
    ("current_ma", "", "700", {"current_ma": "700"}),
    ("current_ma", "mA", "350", {"current_ma": "350"}),
    ("current_ma", "A", "1.05", {"current_ma": "1050"}),
    ("current_ma", "", "1\u00a0050 mA", {"current_ma": "1050"}),
    ("current_ma", "", "1'050 mA", {"current_ma": "1050"}),
    ("current_2_ma", "", "0.35 A", {"current_2_ma": "350"}),
    ("emergency_current_ma", "mA", "60,0", {"emergency_current_ma": "60"}),
    ("voltage_window", "", "27-54V", {"voltage_min_v": "27", "voltage_max_v": "54"}),
    ("voltage_window", "", "27…54 V", {"voltage_min_v": "27", "voltage_max_v": "54"}),
    ("voltage_window", "V", "27 to 54", {"voltage_min_v": "27", "voltage_max_v": "54"}),
    ("voltage_window", "V", "27– 54 V", {"voltage_min_v": "27", "voltage_max_v": "54"}),
    ("voltage_window", "", "30 bis 42", {"voltage_min_v": "30", "voltage_max_v": "42"}),
    ("voltage_window", "", "27 à 54", {"voltage_min_v": "27", "voltage_max_v": "54"}),
    ("voltage_window", "", "da 27 a 54", {"voltage_min_v": "27", "voltage_max_v": "54"}),
    ("voltage_window", "", "van 27,5 tot 54,2 V", {"voltage_min_v": "27.5", "voltage_max_v": "54.2"}),
    ("voltage_window", "", "54-27 V", {"voltage_min_v": "27", "voltage_max_v": "54"}),
    ("voltage_window", "", "max. 42V", {"voltage_max_v": "42"}),
    ("voltage_window", "V", "max 54", {"voltage_max_v": "54"}),
    ("voltage_window", "V", "≥ 27", {"voltage_min_v": "27"}),
    ("voltage_max_v", "", "max. 54 V", {"voltage_max_v": "54"}),
    ("power_w", "W", "28,5", {"power_w": "28.5"}),
    ("power_w", "", "28.5 W", {"power_w": "28.5"}),
    ("power_w", "", "28,5W", {"power_w": "28.5"}),
    ("power_w", "", "max. 8 W", {"power_w": "8"}),
    ("power_w", "", "500 mW", {"power_w": "0.5"}),
    ("duration", "", "3h", {"duration_min": "180"}),
    ("duration", "", "3 h", {"duration_min": "180"}),
    ("duration", "h", "3hr", {"duration_min": "180"}),
    ("duration", "h", "180'", {"duration_min": "180"}),
    ("duration", "h", "180′", {"duration_min": "180"}),
    ("duration", "h", "3", {"duration_min": "180"}),
    ("duration", "", "8h", {"duration_min": "480"}),
    ("duration", "", "1:30", {"duration_min": "90"}),
    ("duration", "", "1h30", {"duration_min": "90"}),
    ("duration", "", "1,5 h", {"duration_min": "90"}),
    ("duration", "", "1½ h", {"duration_min": "90"}),
    ("duration", "", "90 mn", {"duration_min": "90"}),
    ("duration", "", "3 heures", {"duration_min": "180"}),
    ("duration", "", "1 ora", {"duration_min": "60"}),
    ("duration_min", "", "180", {"duration_min": "180"}),
    ("function_test_days", "", "wöchentlich", {"function_test_days": "7"}),
    ("duration_test_weeks", "", "annuel", {"duration_test_weeks": "52"}),
    ("prolong_s", "", "2 min", {"prolong_s": "120"}),
    ("test_delay_min", "", "1 h", {"test_delay_min": "60"}),
    ("emergency_level_percent", "%", "15,5", {"emergency_level_percent": "15.5"}),
    ("coolest_k", "", "6500K", {"coolest_k": "6500"}),
    ("fade_time", "", "0,7 s", {"fade_time": "1"}),  # IEC 62386-102 Table 4: 0.5 s times the root of 2
    ("control", "", "DALI", {"control": "dali"}),
    ("control", "", "dali2", {"control": "dali"}),
    ("control", "", "DT6", {"control": "dali"}),
    ("control", "", "DALI-2 DT8", {"control": "dali"}),
    ("control", "", "1-10V", {"control": "analogue-1-10v"}),
    ("control", "", "1…10 V", {"control": "analogue-1-10v"}),
    ("control", "", "Phase", {"control": "phase-cut"}),
    ("control", "", "SW", {"control": "switch"}),
    ("curve", "", "linéaire", {"curve": "linear"}),
    ("gear", "", "Notlichtelement", {"gear": "emergency-converter"}),
    ("central", "", "4/13", {"central_circuit": "4", "central_address": "13"}),
    ("central", "", "4.12", {"central_circuit": "4", "central_address": "12"}),
    ("central", "", "K4 / 07", {"central_circuit": "4", "central_address": "7"}),
    ("central_address", "", "A12", {"central_address": "12"}),
    ("protection_class", "", "I", {"protection_class": "class-i"}),
    ("protection_class", "", "CL2", {"protection_class": "class-ii"}),
    ("protection_class", "", "⧈", {"protection_class": "class-ii"}),
    ("protection_class", "", "SK II", {"protection_class": "class-ii"}),
    ("protection_class", "", "2", {"protection_class": "class-ii"}),
    ("ip", "", "20/44", {"ip": "IP20/44"}),
    ("ip", "", "IP 20", {"ip": "IP20"}),
    ("ip", "", "65", {"ip": "IP65"}),
    ("supply", "", "230V AC/DC", {"supply_v": "230", "supply_kind": "ac/dc"}),
    ("supply", "", "220–240 V 50/60 Hz", {"supply_v": "220-240", "supply_kind": ""}),
    ("supply", "", "24 V DC", {"supply_v": "24", "supply_kind": "dc"}),
    ("quantity", "", "1 Stk", {"quantity": "1"}),
    ("quantity", "", "x2", {"quantity": "2"}),
    ("groups", "", "1+3", {"groups": "1+3"}),
    ("groups", "", "1,3", {"groups": "1+3"}),
    ("groups", "", "3;1", {"groups": "1+3"}),
    ("groups", "", "1/3", {"groups": "1+3"}),
    ("groups", "", "G01", {"groups": "1"}),
    ("groups", "", "G1+G3", {"groups": "1+3"}),
    ("groups", "", "Gr. 1 und 3", {"groups": "1+3"}),
    ("groups", "", "aucun", {"groups": "none"}),
    ("scene_1", "", "229", {"scene_1": "229"}),
    ("scene_1", "", "MASK", {"scene_1": "mask"}),
    ("scene_1", "", "aus", {"scene_1": "0"}),
    ("scene_1", "Level", "50", {"scene_1": "50"}),
    ("power_on_level", "", "letzter Wert", {"power_on_level": "255"}),
    ("limits", "", "86-254", {"min_level": "86", "max_level": "254"}),
    ("scenes", "", "S1=off; S2=200", {"scenes": "1:0 2:200"}),
    ("reference", "", "7", {"reference": "7"}),
    ("type", "", "a12*", {"type": "a12*"}),
    ("circuit", "", "3L2", {"circuit": "3L2"}),
    ("room", "", "U.07", {"room": "U.07"}),
    ("floor", "", "-1", {"floor": "-1"}),
    ("line", "", "GW2.1", {"line": "GW2.1"}),
])
def test_a_cell_says_its_value(field: str, unit: str, cell: str, values: Mapping[str, str]) -> None:
    """What the trade writes comes out as the strict reader takes it, and says by what rule."""
    reading = read_cell(cell, _facts(field, unit))
    assert isinstance(reading, Said)
    assert reading.values == values
    assert reading.rule


# Shares by IEC 62386-102 9.3, 10^((level - 1) / (253/3) - 1): 229 is 50.5 % and 228 is 49.2 %; 144 is 4.96 %, 145 is 5.10 %.
@pytest.mark.parametrize(("field", "unit", "cell", "answers", "values"), [
    ("scene_1", "", "50%", {}, {"scene_1": "229"}),
    ("scene_1", "%", "50", {}, {"scene_1": "229"}),
    ("scene_1", "", "50", {"level_unit": "percent"}, {"scene_1": "229"}),
    ("scene_1", "", "50", {"level_unit": "level"}, {"scene_1": "50"}),
    ("scene_1", "", "50 %", {"curve": "linear"}, {"scene_1": "127"}),  # IEC 62386-207: level / 254
    ("min_level", "", "0,05", {"small_levels": "fraction"}, {"min_level": "144"}),
    ("limits", "", "5-100 %", {}, {"min_level": "144", "max_level": "254"}),
    ("limits", "%", "5/100", {}, {"min_level": "144", "max_level": "254"}),
    ("limits", "", "5–100", {"level_unit": "percent"}, {"min_level": "144", "max_level": "254"}),
    ("limits", "", "0,05", {"small_levels": "fraction", "lone_limit": "min"}, {"min_level": "144"}),
    ("limits", "", "max. 50 %", {}, {"max_level": "229"}),
])
def test_a_share_becomes_the_nearest_level(field: str, unit: str, cell: str, answers: Mapping[str, str],
                                           values: Mapping[str, str]) -> None:
    """Shares turn into levels over the dimming curve."""
    reading = read_cell(cell, _facts(field, unit, **answers))
    assert isinstance(reading, Said)
    assert reading.values == values


def test_the_rule_of_a_share_names_level_and_curve() -> None:
    """A reader of the preview sees which level was made of 50 %, and by which curve."""
    reading = read_cell("50%", _facts("scene_1"))
    assert isinstance(reading, Said)
    assert reading.rule == "50 % on the logarithmic curve is level 229 (50.5 %)"


@pytest.mark.parametrize(("cell", "mode"), [
    ("NM", "non-maintained"), ("BS", "non-maintained"), ("Bereitschaft", "non-maintained"), ("NP", "non-maintained"),
    ("SE", "non-maintained"), ("no permanente", "non-maintained"), ("niet-permanent", "non-maintained"),
    ("M", "maintained"), ("maint.", "maintained"), ("DS", "maintained"), ("Dauer", "maintained"), ("P", "maintained"),
    ("SA", "maintained"), ("continu", "maintained"), ("geschaltete Dauerschaltung", "switched-maintained"),
    ("switched maintained", "switched-maintained"),
])
def test_a_mode_is_known_in_six_languages(cell: str, mode: str) -> None:
    """Abbreviations and words for the switching mode (common practice, no source)."""
    reading = read_cell(cell, _facts("emergency_mode"))
    assert isinstance(reading, Said)
    assert reading.values == {"emergency_mode": mode}


@pytest.mark.parametrize(("cell", "mode", "minutes"), [
    ("M3", "maintained", "180"), ("NM/1h", "non-maintained", "60"), ("3h NM", "non-maintained", "180"),
    ("M 180'", "maintained", "180"),
])
def test_a_mode_may_bring_its_duration(cell: str, mode: str, minutes: str) -> None:
    """M3 is maintained for three hours."""
    reading = read_cell(cell, _facts("emergency_mode"))
    assert isinstance(reading, Said)
    assert reading.values == {"emergency_mode": mode, "duration_min": minutes}


@pytest.mark.parametrize("cell", ["", " ", "-", "–", "---", "?", "TBC", "tbd", "n/a", "N.A.", "offen", "k.A.", "n.c.", "s. DB",
                                  "s. Datenblatt", "see datasheet", "à définir", "n.v.t."])
@pytest.mark.parametrize("field", ["current_ma", "voltage_window", "address", "groups", "emergency_mode"])
def test_a_cell_of_nothing_says_nothing(cell: str, field: str) -> None:
    """Marks and words for not known or not yet leave the field to the strict reader, and the rule says so."""
    reading = read_cell(cell, _facts(field))
    assert isinstance(reading, Said)
    assert reading.values == {}
    assert reading.rule


@pytest.mark.parametrize(("field", "cell", "answers"), [
    ("current_ma", "seven hundred", {}), ("current_ma", "max. 700 mA", {}), ("current_ma", "-700 mA", {}),
    ("current_ma", "700 V", {}), ("current_ma", "0,7005 A", {}), ("current_ma", "1.05.0", {}), ("current_ma", "350 700", {}),
    ("power_w", "30 VA", {}), ("voltage_window", "27-54-60 V", {}), ("duration", "3 d", {}), ("duration", "0:00", {}),
    ("address", "65", {}), ("address", "-5", {}), ("address", "5,6", {}), ("address", "64", {"numbering": "from-0"}),
    ("address", "0", {"numbering": "from-1"}), ("groups", "x", {}), ("groups", "17", {"numbering": "from-1"}),
    ("scene_1", "120 %", {}), ("scene_1", "256", {}), ("min_level", "MASK", {}), ("central", "4/0", {}), ("central", "4/256", {}),
    ("control", "fish", {}), ("protection_class", "IV", {}), ("ip", "44 V", {}), ("fade_time", "3 s", {}),
    ("quantity", "2.000", {}), ("scenes", "1:50%:3", {}), ("supply", "230V AC / 24V DC", {}), ("room", '"', {}),
    ("current_ma", "7" * 300, {}),
])
def test_what_is_no_value_is_refused(field: str, cell: str, answers: Mapping[str, str]) -> None:
    """A cell that its field cannot hold says what is wrong, and what is allowed."""
    reading = read_cell(cell, _facts(field, **answers))
    assert isinstance(reading, Unreadable)
    assert reading.problem
    assert reading.allowed


@pytest.mark.parametrize(("field", "cell"), [
    ("power_w", "1.050"), ("min_level", "50"), ("duration_min", "3"), ("address", "7"), ("groups", "1"),
    ("scenes", "0:50 2:MASK"),
    ("fade_time", "4"), ("current_ma", "15"), ("emergency_level_percent", "1"), ("address", "not set"), ("control", "DALI"),
])
def test_under_our_own_heading_the_strict_texts_stand(field: str, cell: str) -> None:
    """A heading of ours says the unit, so that nothing is asked about what the strict reader takes."""
    assert read_cell(cell, _facts(field, heading=field)) == Said(values={field: cell}, rule="as it stands")


def test_a_number_of_a_workbook_has_a_point() -> None:
    """28.125 in a workbook is a number, whatever mark its author's country puts before the decimals."""
    reading = read_cell("28.125", _facts("power_w", "W", decimal_mark="comma"), Remark(oddity=Oddity.NUMBER))
    assert isinstance(reading, Said)
    assert reading.values == {"power_w": "28.125"}


@pytest.mark.parametrize("cell", ["dto.", "Dito", "idem", "id.", "do.", "ditto", '"', "″", "〃", "''", "w.o.", "wie oben",
                                  "vid. sup.", '-"-', "come sopra", "igual", "als boven"])
def test_a_ditto_mark_is_known(cell: str) -> None:
    """Marks and words for what stands above, in six languages (common practice, no source)."""
    assert is_ditto(cell)


@pytest.mark.parametrize("cell", ["", "-", "180'", "do", "ID", "s.o.", "A12", "do. 5"])
def test_what_is_no_ditto_mark(cell: str) -> None:
    """An empty cell is none, and "s.o." is one in German alone."""
    assert not is_ditto(cell)


def test_an_answer_makes_siehe_oben_a_ditto_mark() -> None:
    """s.o. stands for what is above once somebody has said so."""
    assert is_ditto("s.o.", _facts("room", **{"is s.o.": "above"}))
    assert not is_ditto("s.o.", _facts("room", **{"is s.o.": "nothing"}))


@pytest.mark.parametrize(("address", "numbering", "first", "on_line"), [
    ("0", "from-0", 0, "0"), ("0", "from-0", 1, "1"), ("64", "from-1", 0, "63"), ("64", "from-1", 1, "64"),
])
def test_an_address_is_turned_into_how_its_line_counts(address: str, numbering: str, first: int, on_line: str) -> None:
    """The same gear, whichever way file and line count."""
    assert as_line_counts(address, numbering, first) == on_line


@pytest.mark.parametrize("field", FIELDS)
def test_every_field_has_a_reader(field: str) -> None:
    """A cell of nothing says nothing, whatever field it stands in."""
    assert read_cell("-", _facts(field)) == Said(values={}, rule="- says nothing")
