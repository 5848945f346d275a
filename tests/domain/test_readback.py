"""A readback held against the settings, and its digest."""

from __future__ import annotations

import hashlib
from dataclasses import replace
from typing import Any

import pytest
from any_settings import gear_strategy
from domain_examples import EMERGENCY_GEAR, GEAR, TAPE_GEAR, with_control
from hypothesis import assume, given
from hypothesis import strategies as st

from vault.domain.findings import Finding, Severity, stops
from vault.domain.readback import canonical, compare, form, full_match, readback_digest, readback_findings
from vault.domain.readback_evidence import evidence_fields
from vault.domain.readback_form import asked_of, with_evidence
from vault.domain.readback_rows import comparison_rows
from vault.domain.schema import NOT_SET, flatten
from vault.domain.settings import Gear
from vault.errors import GearkeepError


def with_extras(gear: Gear, *extras: tuple[str, str | int]) -> Gear:
    """The gear with extras on record."""
    return replace(gear, settings=replace(gear.settings, extras=extras))


def read_of(gear: Gear) -> dict[str, Any]:
    """What a driver reads that is set as it shall be, with a photograph for its currents and voltages."""
    plain = flatten(gear.settings)
    return plain | {field: "photograph" for field, _ in evidence_fields(plain)}


def spoilt(gear: Gear, tolerance: Any = 50, **changes: object) -> tuple[Finding, ...]:
    """Findings about a readback that is right but for these fields, dots written as double underscores."""
    readback = read_of(gear) | {name.replace("__", "."): value for name, value in changes.items()}
    return readback_findings(compare(gear, readback, spare_tolerance_permille=tolerance))


def results(gear: Gear, readback: dict[str, Any], tolerance: int | None = 50) -> dict[str, str]:
    """Field -> result."""
    return {one.field: one.result for one in compare(gear, readback, spare_tolerance_permille=tolerance)}


@given(gear_strategy())
def test_equal_is_a_full_match(gear: Gear) -> None:
    """A readback equal to the settings is a full match without a serious finding, and has a digest."""
    compared = compare(gear, read_of(gear), spare_tolerance_permille=None)
    assert full_match(compared)
    assert readback_findings(compared) == ()
    assert len(readback_digest(read_of(gear))) == 8


@given(gear_strategy(), st.data())
def test_one_change_is_reported_there(gear: Gear, data: st.DataObject) -> None:
    """Changing any one field is reported on exactly that field."""
    readback = read_of(gear)
    field = data.draw(st.sampled_from(sorted(flatten(gear.settings))))
    assume(readback[field] != "not set")
    readback[field] = data.draw(st.integers(-5, 2**20) | st.text(max_size=5) | st.lists(st.integers(0, 9), max_size=3))
    assume(str(readback[field]) != str(flatten(gear.settings)[field]))
    compared = compare(gear, readback, spare_tolerance_permille=None)
    assert [one.field for one in compared if one.result != "same"] == [field]
    assert not full_match(compared)
    assert [finding.rule for finding in readback_findings(compared)] == ["readback-differs"]


@given(gear_strategy(), st.data())
def test_one_field_left_out_is_reported_there(gear: Gear, data: st.DataObject) -> None:
    """A field that was not read is reported on exactly that field, and the match is not full."""
    readback = flatten(gear.settings)
    field = data.draw(st.sampled_from(sorted(form(gear))))
    del readback[field]
    compared = compare(gear, readback, spare_tolerance_permille=None)
    assert [one.field for one in compared if one.result == "not-read"] == [field]
    assert not full_match(compared)


@given(gear_strategy())
def test_an_empty_readback_never_matches(gear: Gear) -> None:
    """Neither nothing nor the empty form is a full match."""
    assert not full_match(compare(gear, {}, spare_tolerance_permille=None))
    assert not full_match(compare(gear, form(gear), spare_tolerance_permille=None))
    assert not full_match(())


@given(gear_strategy())
def test_the_form_asks_for_all_that_is_stated(gear: Gear) -> None:
    """Every stated setting is to be read, but for what is left as the driver has it, and the kind of its output."""
    stated = {name for name, value in flatten(gear.settings).items() if value != "not set"} - {"output"}
    assert set(form(gear)) == stated
    assert set(form(gear).values()) == {None}


@pytest.mark.parametrize(("gear", "field", "value", "severity"), [
    (GEAR, "channels__1__current_ma", 701, Severity.STOP),
    (GEAR, "channels__1__voltage_max_mv", 60_000, Severity.STOP),
    (GEAR, "channels__1__power_max_mw", 33_000, Severity.STOP),
    (TAPE_GEAR, "channels__1__voltage_mv", 12_000, Severity.STOP),
    (GEAR, "output", "constant-voltage", Severity.STOP),
    (GEAR, "control__protocol", "switch", Severity.STOP),
    (GEAR, "control__short_address", 6, Severity.STOP),
    (EMERGENCY_GEAR, "emergency__mode", "non-maintained", Severity.STOP),
    (EMERGENCY_GEAR, "emergency__supply", "central", Severity.STOP),
    (EMERGENCY_GEAR, "emergency__rated_duration_min", 60, Severity.STOP),
    (EMERGENCY_GEAR, "emergency__emergency_level_permille", 50, Severity.STOP),
    (GEAR, "control__groups", 3, Severity.CARE),
    (GEAR, "control__scenes", [255] * 16, Severity.CARE),
    (GEAR, "control__power_on_level", 255, Severity.CARE),
    (with_control(GEAR, fade_time=4), "control__fade_time", 5, Severity.CARE),
    (with_extras(GEAR, ("mode", "corridor")), "extras__mode", "ballroom", Severity.CARE),
])
def test_severity_of_a_difference(gear: Gear, field: str, value: object, severity: Severity) -> None:
    """What may burn a light source, break an escape route or answer for another is a stop; the rest asks for care."""
    assert [f.severity for f in spoilt(gear, **{field: value})] == [severity]


@pytest.mark.parametrize(("field", "severity"), [
    ("channels__1__current_ma", Severity.UNKNOWN), ("control__short_address", Severity.UNKNOWN),
    ("control__groups", Severity.CARE),
])
def test_severity_of_what_was_not_read(field: str, severity: Severity) -> None:
    """A figure not read is unknown where a wrong one would be a stop, else it asks for care."""
    assert [(f.rule, f.severity) for f in spoilt(GEAR, **{field: None})] == [("readback-not-read", severity)]


@pytest.mark.parametrize(("tolerance", "measured", "result", "severities"), [
    (50, 700, "same", []), (50, 735, "within-tolerance", []), (50, 665, "within-tolerance", []),
    (50, 736, "differs", [Severity.STOP]), (50, 664, "differs", [Severity.STOP]),
    (None, 714, "within-tolerance", []), (None, 715, "differs", [Severity.CARE]),
    (50, "700", "differs", [Severity.STOP]), (0, 701, "differs", [Severity.STOP]),
])
def test_measured_current(tolerance: int | None, measured: object, result: str, severities: list[Severity]) -> None:
    """A measurement is held against the set current: 5 % of 700 mA is 35 mA; undeclared 2 % is 14 mA (arithmetic)."""
    name = "channels.1.measured_current_ma"
    assert results(GEAR, flatten(GEAR.settings) | {name: measured}, tolerance)[name] == result
    assert [f.severity for f in spoilt(GEAR, tolerance, channels__1__measured_current_ma=measured)] == severities


def test_measured_voltage() -> None:
    """A measured voltage is held against the set one of a constant-voltage driver: 3 % of 24 V is 0.72 V."""
    found = results(TAPE_GEAR, flatten(TAPE_GEAR.settings) | {"channels.1.measured_voltage_mv": 24_700}, 30)
    assert found["channels.1.measured_voltage_mv"] == "within-tolerance"


def test_a_measurement_of_nothing_set_is_extra() -> None:
    """A constant-current driver has no set voltage to hold the measured one against."""
    found = results(GEAR, flatten(GEAR.settings) | {"channels.1.measured_voltage_mv": 40_000})
    assert found["channels.1.measured_voltage_mv"] == "extra"


@pytest.mark.parametrize("said", ["Constant-Current", "CONSTANT_CURRENT", " constant current "])
def test_words_forgive_case(said: str) -> None:
    """Words of a choice are read as people write them."""
    assert spoilt(GEAR, output=said) == ()


@pytest.mark.parametrize("value", ["700", True, 700.0, [700]])
def test_wrong_types_are_named(value: object) -> None:
    """A text, a truth value, a decimal or a list is not a whole number, and the finding says so."""
    (found,) = spoilt(GEAR, channels__1__current_ma=value)
    assert "not a whole number" in found.says


def test_true_is_not_one() -> None:
    """In a list as well, a truth value is not a number."""
    gear = with_control(GEAR, scenes=(1,) + (255,) * 15)
    assert len(spoilt(gear, control__scenes=[True] + [255] * 15)) == 1


@pytest.mark.parametrize("value", [0, 254, "anything"])
def test_not_set_takes_anything(value: object) -> None:
    """What was left to the driver matches whatever it reads, with a note."""
    gear = with_control(GEAR, power_on_level=NOT_SET)
    readback = read_of(gear) | {"control.power_on_level": value}
    compared = compare(gear, readback, spare_tolerance_permille=50)
    assert full_match(compared)
    assert [f.severity for f in readback_findings(compared)] == [Severity.NOTE]


def test_extras_are_compared() -> None:
    """An extra on record is held against the field of that name, with or without its prefix."""
    gear = with_extras(GEAR, ("corridor", 12))
    plain = flatten(gear.settings)
    del plain["extras.corridor"]
    assert results(gear, plain | {"corridor": 12})["extras.corridor"] == "same"
    assert results(gear, plain | {"corridor": 13})["extras.corridor"] == "differs"
    assert results(gear, plain | {"extras.corridor": 12})["extras.corridor"] == "same"


def test_what_the_record_does_not_state_is_kept() -> None:
    """An unknown field is kept verbatim and hinders no match."""
    compared = compare(GEAR, flatten(GEAR.settings) | {"serial": "88 213"}, spare_tolerance_permille=50)
    assert [(one.field, one.found) for one in compared if one.result == "extra"] == [("serial", "88 213")]
    assert full_match(compared)


def test_a_finding_reads_well() -> None:
    """The sentence has the figures with their units."""
    (found,) = spoilt(GEAR, channels__1__current_ma=500)
    assert found.says == "Channel 1 current reads 500 mA; the record says 700 mA."
    assert (found.found, found.allowed, found.unit, found.where) == ("500", "700", "mA", "channel 1")


def test_stops_leave_the_record_provisional() -> None:
    """Differences that stop, and unknown figures, are what a second signer has to accept."""
    found = spoilt(GEAR, channels__1__current_ma=500, control__groups=3, control__short_address=None)
    assert {f.rule for f in stops(found)} == {"readback-differs", "readback-not-read"}


@pytest.mark.parametrize(("readback", "text"), [
    ({}, "{}"),
    ({"b": 1, "a": "x"}, '{"a":"x","b":1}'),
    ({"Z": 1, "a": 2, "é": "µ"}, '{"Z":1,"a":2,"é":"µ"}'),
    ({"control.scenes": [254, 0]}, '{"control.scenes":"254 0"}'),
    ({"lumen_maintenance": [[0, 900], [50000, 1000]]}, '{"lumen_maintenance":"0:900 50000:1000"}'),
])
def test_canonical_form(readback: dict[str, object], text: str) -> None:
    """Names by code point, no white space, UTF-8; lists as texts (written by hand from FORMAT.md)."""
    assert canonical(readback) == text.encode()
    assert readback_digest(readback) == hashlib.sha256(text.encode()).digest()[:8]


@given(st.dictionaries(st.text(max_size=8), st.integers() | st.text(max_size=8)))
def test_canonical_form_knows_no_order(readback: dict[str, object]) -> None:
    """The order in which fields were read does not count."""
    assert canonical(readback) == canonical(dict(reversed(readback.items())))


@pytest.mark.parametrize("value", [1.0, True, None, {"a": 1}, [1.5], [True], ["x"], b"x"])
def test_what_cannot_be_signed_for(value: object) -> None:
    """A decimal, a truth value, nothing or a map is refused, naming the field."""
    with pytest.raises(GearkeepError, match=r"channels\.1\.current_ma") as caught:
        canonical({"channels.1.current_ma": value})
    assert caught.value.kind == "bad-readback"


def test_broken_text_is_refused() -> None:
    """Half a surrogate pair has no UTF-8."""
    with pytest.raises(GearkeepError, match="Unicode"):
        canonical({"note": "\ud800"})


def with_output(field: str, **said: object) -> dict[str, Any]:
    """A good readback of GEAR or TAPE_GEAR without its current or voltage, with what is said of that instead."""
    gear = TAPE_GEAR if "voltage" in field else GEAR
    return {name: value for name, value in flatten(gear.settings).items() if name != f"channels.1.{field}"} | {
        f"channels.1.{name}": value for name, value in said.items()}


@pytest.mark.parametrize(("said", "result", "evidence", "severities"), [
    ({"current_ma": 700, "current_evidence": "photograph"}, "same", "photograph", []),
    ({"current_ma": 700, "current_evidence": "parameter-sheet"}, "same", "parameter-sheet", []),
    ({"current_ma": 700, "current_evidence": "meter"}, "same", "meter", []),
    ({"current_ma": 735, "current_evidence": "meter"}, "within-tolerance", "meter", []),
    ({"current_ma": 736, "current_evidence": "meter"}, "differs", "meter", [Severity.STOP]),
    ({"current_ma": 701, "current_evidence": "photograph"}, "differs", "photograph", [Severity.STOP]),
    ({"measured_current_ma": 690}, "within-tolerance", "meter", []),
    ({"measured_current_ma": 600}, "differs", "meter", [Severity.STOP]),
    ({"current_ma": 700, "measured_current_ma": 690}, "same", "meter", []),
    ({"current_ma": 700}, "same", "", [Severity.CARE]),
    ({"current_ma": 700, "current_evidence": "hearsay"}, "same", "", [Severity.CARE]),
    ({"current_ma": 700, "current_evidence": None}, "same", "", [Severity.CARE]),
    ({}, "not-read", None, [Severity.UNKNOWN]),
    ({"current_evidence": "meter"}, "not-read", None, [Severity.UNKNOWN]),
])
def test_how_a_current_is_known(said: dict[str, object], result: str, evidence: str | None, severities: list[Severity]) -> None:
    """What a meter says is judged within 5 % of 700 mA, the rest exactly; a current that nobody says how they know is care."""
    compared = compare(GEAR, with_output("current_ma", **said), spare_tolerance_permille=50)
    (one,) = (row for row in compared if row.field == "channels.1.current_ma")
    assert (one.result, one.evidence) == (result, evidence)
    assert [finding.severity for finding in readback_findings(compared)] == severities


def test_how_a_voltage_is_known() -> None:
    """A tape's 24 V as well: 3 % of it are 0.72 V."""
    read = with_output("voltage_mv", voltage_mv=24_700, voltage_evidence="meter")
    compared = compare(TAPE_GEAR, read, spare_tolerance_permille=30)
    assert [row.result for row in compared if row.field == "channels.1.voltage_mv"] == ["within-tolerance"]


def test_evidence_is_nothing_to_compare() -> None:
    """Neither the word nor the photograph is a difference, or something that the record does not state; the digest holds them."""
    photograph = {"channels.1.current_evidence": "photograph", "channels.1.photograph": "ab" * 32}
    compared = compare(GEAR, flatten(GEAR.settings) | photograph, spare_tolerance_permille=50)
    assert full_match(compared) and {one.result for one in compared} == {"same"}
    assert readback_digest(flatten(GEAR.settings) | photograph) != readback_digest(flatten(GEAR.settings))


def test_the_missing_evidence_reads_well() -> None:
    """It says what may be said."""
    (found,) = readback_findings(compare(GEAR, flatten(GEAR.settings), spare_tolerance_permille=50))
    assert (found.rule, found.says) == (
        "current-evidence", "It is not said how the channel 1 current is known: meter, photograph of the switches, or the "
        "parameter sheet.")


@pytest.mark.parametrize(("gear", "readback", "row"), [
    (GEAR, {"channels.1.current_ma": 500, "channels.1.current_evidence": "photograph"},
     ("Channel 1 current", "700 mA", "500 mA", "DIFFERS, by photograph")),
    (GEAR, {"channels.1.current_ma": 735, "channels.1.current_evidence": "meter"},
     ("Channel 1 current", "700 mA", "735 mA", "within 5 %, by meter")),
    (GEAR, {"channels.1.current_ma": 800, "channels.1.current_evidence": "meter"},
     ("Channel 1 current", "700 mA", "800 mA", "DIFFERS, allowed within 5 %, by meter")),
    (GEAR, {}, ("Channel 1 current", "700 mA", "–", "NOT READ")),
    (GEAR, {"bus.status": 4}, ("bus.status", "–", "4", "kept; not on record")),
    (GEAR, {"control.short_address": 6}, ("Short address", "address 5 (numbered from 0, as on the bus)",
                                          "address 6 (numbered from 0, as on the bus)", "DIFFERS")),
])
def test_a_comparison_reads_well(gear: Gear, readback: dict[str, object], row: tuple[str, ...]) -> None:
    """Field, what it is set to, what was read, and the result with its tolerance, in words with units."""
    assert row in comparison_rows(compare(gear, readback, spare_tolerance_permille=50), None)


@given(gear_strategy())
def test_what_is_asked_reads_well(gear: Gear) -> None:
    """Each thing is asked once, in words, and says what may be answered."""
    asks = with_evidence(asked_of(gear))
    assert [one.field for one in asked_of(gear)] == list(form(gear))
    assert len({one.field for one in asks}) == len(asks)
    assert all(one.says[:1].isupper() and one.allowed for one in asks)


@pytest.mark.parametrize(("gear", "field", "says"), [
    (GEAR, "channels.1.current_ma", "Channel 1 current, in mA, or with its unit such as 0.7 A"),
    (GEAR, "channels.1.current_evidence", "Channel 1 current is known by: meter, photograph, parameter-sheet"),
    (GEAR, "control.short_address", "Short address, as on the bus, 0 to 63"),
    (GEAR, "control.groups", "Member of groups, as 0+3, or none"),
    (GEAR, "control.min_level", "Minimum level, 1 to 254"),
    (EMERGENCY_GEAR, "emergency.mode", "Emergency mode: non-maintained, maintained, switched-maintained"),
])
def test_what_is_asked(gear: Gear, field: str, says: str) -> None:
    """Each field in plain words with its unit."""
    assert says in [one.says for one in with_evidence(asked_of(gear)) if one.field == field]
