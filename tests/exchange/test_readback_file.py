"""Readback files in JSON and CSV."""

from __future__ import annotations

import json
import string
import sys
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

sys.path.append(str(Path(__file__).resolve().parents[1] / "domain"))

from any_settings import gear_strategy
from domain_examples import GEAR

from vault.domain.readback import compare, readback_digest
from vault.domain.readback_evidence import evidence_fields
from vault.domain.readback_form import Ask, asked_of, with_evidence
from vault.domain.schema import flatten
from vault.errors import GearkeepError
from vault.exchange.readback_file import Readback, read_readback, readback_json, typed_value, write_form, write_readback
from vault.exchange.readback_typed import fill


@pytest.mark.parametrize(("name", "text", "expected"), [
    ("r.json", '{"channels.1.current_ma": 700, "control.scenes": [1, 2], "serial": "S1"}',
     {"": {"channels.1.current_ma": 700, "control.scenes": [1, 2], "serial": "S1"}}),
    ("r.json", '{"gears": {"general": {"control.groups": 1}, "Emergency Converter": {"emergency.mode": "maintained"}}}',
     {"general": {"control.groups": 1}, "emergency-converter": {"emergency.mode": "maintained"}}),
    ("r.json", '\ufeff{"control.curve": "not set", "lumen_maintenance": [[0, 900]], "extras.a": "x"}',
     {"": {"control.curve": "not set", "lumen_maintenance": [[0, 900]], "extras.a": "x"}}),
    ("r.csv", "gear,field,value\ngeneral,channels.1.current_ma,700\ngeneral,control.groups,1+3\n",
     {"general": {"channels.1.current_ma": 700, "control.groups": 10}}),
    ("R.CSV", "Field,Value\ncontrol.fade_time,not set\nmodel,CC-1\n",
     {"": {"control.fade_time": "not set", "model": "CC-1"}}),
])
def test_a_readback_is_read(tmp_path: Path, name: str, text: str, expected: object) -> None:
    """Both forms give the gear, the dotted field and the exact value."""
    (tmp_path / name).write_text(text, encoding="utf-8")
    assert read_readback(tmp_path / name).gears == expected


@pytest.mark.parametrize(("name", "text", "words"), [
    ("r.json", '{"channels.1.current_ma": 700.0}', ["channels.1.current_ma", "700.0"]),
    ("r.json", '{"control.scenes": [1, 2e1]}', ["control.scenes", "2e1"]),
    ("r.json", '{"control.fade_time": NaN}', ["control.fade_time", "NaN"]),
    ("r.json", '{"control.fade_time": 1, "control.fade_time": 1}', ["control.fade_time", "twice"]),
    ("r.json", '{"gears": {"general": {"serial": "a"}, "GENERAL": {"serial": "a"}}}', ["general", "twice"]),
    ("r.json", '{"gears": {"genral": {"serial": "a"}}}', ["genral", "did you mean general?"]),
    ("r.json", '{"gears": {"general": {"control.fade_tme": 1}}}', ["general", "control.fade_tme"]),
    ("r.json", '{"gears": {}}', ["no gear"]),
    ("r.json", '{"gears": {"general": 5}}', ["general", "5"]),
    ("r.json", '{"control": {"fade_time": 1}}', ["control"]),
    ("r.json", '{"control.fade_time": null}', ["nothing was filled in"]),
    ("r.json", '{"control.scenes": [1, null]}', ["control.scenes", "nothing"]),
    ("r.json", '{"tag": "7K3D9QXW7", "serial": "a"}', ["tag"]),
    ("r.json", '{"version": 0, "serial": "a"}', ["version", "0", "1 to 100000"]),
    ("r.json", '{"version": true, "serial": "a"}', ["version", "true"]),
    ("r.json", '{"tag": null, "tag": null, "serial": "a"}', ["tag", "twice"]),
    ("r.json", '{"gears": {"general": {"serial": "a"}}, "note": 1}', ["note", "allowed tag, version, gears, asks"]),
    ("r.json", '{"firmware": "2.1"}', ["firmware", "extras.firmware"]),
    ("r.json", '{"bank256.serial": "a"}', ["bank256.serial"]),
    ("r.json", '{"channels.1.current_evidence": "hearsay"}', ["hearsay", "meter, photograph, parameter-sheet"]),
    ("r.json", '{"channels.1.photograph": "ab"}', ["channels.1.photograph", "SHA-256"]),
    ("r.csv", "field,value\nchannels.1.current_evidence,hearsay\n", ["row 2", "hearsay", "meter, photograph, parameter-sheet"]),
    ("r.csv", "field,value\nversion,two\nserial,a\n", ["version", "two"]),
    ("r.json", "{}", ["no field"]),
    ("r.json", "[]", ["an object"]),
    ("r.json", "{", ["JSON"]),
    ("r.csv", "gear,field,value\ngeneral,channels.1.current_ma,700.0\n", ["row 2", "channels.1.current_ma", "700.0"]),
    ("r.csv", "field,value\nserial,a\nserial,a\n", ["row 3", "serial", "twice"]),
    ("r.csv", "field,value\ncontrol.fade_tme,1\n", ["row 2", "control.fade_tme"]),
    ("r.csv", "field,value\nserial,\n", ["nothing was filled in"]),
    ("r.csv", "field,value\nserial\n", ["row 2", "1 cells"]),
    ("r.csv", "gear,field,value\n,serial,a\ngeneral,serial,a\n", ["some rows"]),
    ("r.csv", "gear,field\ngeneral,serial\n", ["headings"]),
    ("r.csv", "field,value\n", ["no field"]),
    ("r.txt", "", [".json"]),
])
def test_a_wrong_readback_is_refused(tmp_path: Path, name: str, text: str, words: list[str]) -> None:
    """Floats, doubles, unknown names and empty files are refused with the name of what is wrong."""
    (tmp_path / name).write_text(text)
    with pytest.raises(GearkeepError) as refused:
        read_readback(tmp_path / name)
    assert refused.value.kind == "bad-readback"
    assert [word for word in words if word not in refused.value.what] == []


TAG = "7K3D9QXW6"
BOUND = Readback(tag=TAG, version=3, gears={"general": {"channels.1.current_ma": 700}})


@pytest.mark.parametrize(("name", "text", "expected"), [
    ("r.json", '{"tag": "7k3d 9qxw 6", "version": 3, "gears": {"general": {"channels.1.current_ma": 700}}, "asks": {"x": 1.5}}',
     BOUND),
    ("r.json", '{"tag": "7K3D9QXW6", "channels.1.current_ma": 700}',
     Readback(tag=TAG, version=None, gears={"": {"channels.1.current_ma": 700}})),
    ("r.json", '{"gears": {"general": {"serial": "a", "model": null}, "emergency-converter": {"serial": null}}}',
     Readback(tag=None, version=None, gears={"general": {"serial": "a"}})),
    ("r.csv", "gear,field,asks,value\n,tag,Which?,7K3D9QXW6\n,version,,3\ngeneral,channels.1.current_ma,Current,700\n"
     "general,serial,Serial number,\n", BOUND),
    ("r.csv", "field;value\ntag;7K3D9QXW6\nversion;\nchannels.1.current_ma;700 mA\n",
     Readback(tag=TAG, version=None, gears={"": {"channels.1.current_ma": 700}})),
    ("r.csv", "field,value\nbus.status,4\nbank0.serial,00123\nbank1.firmware,\"\"\"12\"\"\"\ntests.1,passed\n"
     "old_driver.fate,kept\n",
     Readback(tag=None, version=None, gears={"": {"bus.status": 4, "bank0.serial": "00123", "bank1.firmware": "12",
                                                  "tests.1": "passed", "old_driver.fate": "kept"}})),
])
def test_a_readback_says_what_it_was_read_from(tmp_path: Path, name: str, text: str, expected: Readback) -> None:
    """Tag and version are there when the file says them; what was not read is left out; unknown groups are kept."""
    (tmp_path / name).write_text(text, encoding="utf-8")
    assert read_readback(tmp_path / name) == expected


KEPT = st.dictionaries(
    st.sampled_from(["bus.", "bus.channels.1.", "bank0.", "bank255.", "old_driver.", "tests."]).flatmap(
        lambda group: st.text(string.ascii_lowercase + "0_-", min_size=1, max_size=8).map(lambda own: group + own)),
    st.integers(-10**6, 10**12) | st.text(st.characters(exclude_categories=["Cs"]), max_size=12)
    | st.lists(st.integers(0, 999), max_size=4), max_size=4)


@pytest.mark.parametrize("ending", [".json", ".csv"])
@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None, max_examples=25)
@given(gear=gear_strategy(), kept=KEPT, version=st.none() | st.integers(1, 100_000))
def test_what_is_written_is_read_again(tmp_path: Path, ending: str, gear: Any, kept: dict[str, object],
                                       version: int | None) -> None:
    """Equal, value by value and type by type, and of the same digest."""
    fields = flatten(gear.settings) | kept
    readback = Readback(tag=TAG if version else None, version=version, gears={"general": fields})
    write_readback(tmp_path / f"r{ending}", readback)
    held = read_readback(tmp_path / f"r{ending}")
    assert held == readback
    assert {name: type(value) for name, value in held.gears["general"].items()} == {
        name: type(value) for name, value in fields.items()}
    assert readback_digest(held.gears["general"]) == readback_digest(fields)


@pytest.mark.parametrize("ending", [".json", ".csv"])
@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None, max_examples=25)
@given(gear=gear_strategy(), data=st.data())
def test_every_planted_wrong_value_is_reported(tmp_path: Path, ending: str, gear: Any, data: st.DataObject) -> None:
    """A figure that is one off differs on exactly its field after it went through a file."""
    right = flatten(gear.settings)
    right |= {field: "photograph" for field, _ in evidence_fields(right)}
    figures = sorted(name for name, value in right.items() if isinstance(value, int))
    field = data.draw(st.sampled_from(figures))
    wrong = right | {field: right[field] + 1}
    write_readback(tmp_path / f"r{ending}", Readback(tag=None, version=None, gears={"general": wrong}))
    compared = compare(gear, read_readback(tmp_path / f"r{ending}").gears["general"], spare_tolerance_permille=None)
    assert [one.field for one in compared if one.result != "same"] == [field]


@pytest.mark.parametrize("value", [1.5, True, {"a": 1}])
def test_what_cannot_be_signed_for_is_not_written(tmp_path: Path, value: object) -> None:
    """A decimal, a truth value or a map is refused, and no file is left."""
    with pytest.raises(GearkeepError) as refused:
        write_readback(tmp_path / "r.json", Readback(tag=None, version=None, gears={"general": {"bus.x": value}}))
    assert refused.value.kind == "bad-readback" and list(tmp_path.iterdir()) == []


def test_the_json_form_is_that_of_the_file(tmp_path: Path) -> None:
    """Tag, version, gears."""
    write_readback(tmp_path / "r.json", BOUND)
    assert json.loads((tmp_path / "r.json").read_text()) == readback_json(BOUND) == {
        "tag": TAG, "version": 3, "gears": {"general": {"channels.1.current_ma": 700}}}


@pytest.mark.parametrize("name", ["form.json", "form.csv"])
def test_a_form_is_empty_and_says_what_it_asks(tmp_path: Path, name: str) -> None:
    """Every field stands there with its words and no value; fed back as it is, it is refused in one message."""
    asks = with_evidence(asked_of(GEAR))
    write_form(tmp_path / name, tag=TAG, version=3, asks={"general": asks})
    text = (tmp_path / name).read_text(encoding="utf-8-sig")
    assert [one.field for one in asks if one.field not in text or one.says not in text] == []
    with pytest.raises(GearkeepError) as refused:
        read_readback(tmp_path / name)
    assert refused.value.what == f"{name} cannot be taken as a readback: nothing was filled in"


@pytest.mark.parametrize(("field", "said", "value"), [
    ("channels.1.current_ma", "700", 700), ("channels.1.current_ma", "700 mA", 700), ("channels.1.current_ma", "0.7 A", 700),
    ("channels.1.voltage_min_mv", "27.0 V", 27_000), ("channels.1.power_max_mw", "28.5W", 28_500),
    ("emergency.emergency_level_permille", "12.5 %", 125), ("emergency.rated_duration_min", "3 h", 180),
    ("control.groups", "0+3", 9), ("control.groups", "none", 0), ("control.short_address", "5", 5),
    ("control.scenes", "0:254 2:mask", [254] + [255] * 15), ("output", "Constant Current", "constant-current"),
    ("emergency.mode", "switched maintained", "switched-maintained"), ("serial", "00412", "00412"),
    ("lumen_maintenance", "0:900 50000:1000", [[0, 900], [50_000, 1000]]), ("extras.corridor", "12", 12),
    ("channels.1.current_evidence", "Parameter sheet", "parameter-sheet"), ("channels.2.measured_current_ma", "701 mA", 701),
    ("bus.status", "4", 4), ("bank0.serial", "0012", "0012"),
])
def test_values_as_people_type_them(field: str, said: str, value: object) -> None:
    """A figure with its unit counts where it comes to a whole number of the field's own unit (arithmetic)."""
    typed = typed_value(field, said)
    assert (typed, type(typed)) == (value, type(value))


@pytest.mark.parametrize(("field", "said", "allowed"), [
    ("channels.1.current_ma", "700.0", "1 to 20000 mA"), ("channels.1.current_ma", "0.7001 A", "1 to 20000 mA"),
    ("channels.1.current_ma", "700 mV", "1 to 20000 mA"), ("channels.1.current_ma", "seven", "1 to 20000 mA"),
    ("control.short_address", "64", "0 to 63"), ("control.groups", "16", "0 to 15"), ("control.min_level", "0", "1 to 254"),
    ("control.scenes", "0:256", "number:value"), ("control.scenes", "1 2", "16"), ("output", "current", "constant-current"),
    ("channels.1.current_evidence", "metre", "meter"), ("serial", "x" * 25, "1 to 24"), ("control.fade_tme", "1", "fade_time"),
    ("lumen_maintenance", "1:2:3", "rows"), ("control.curve", "", "logarithmic"),
])
def test_a_wrong_value_is_told_at_once(field: str, said: str, allowed: str) -> None:
    """With what is allowed."""
    with pytest.raises(GearkeepError) as refused:
        typed_value(field, said)
    assert allowed in f"{refused.value.what} {refused.value.hint}"


ASKS = [Ask(field="channels.1.current_ma", says="Current, in mA", allowed="1 to 20000 mA"),
        Ask(field="control.groups", says="Groups, as 0+3", allowed="0 to 15 with +")]


@pytest.mark.parametrize(("typed", "known", "expected", "kept"), [
    (["700 mA", "meter", "0+3"], None,
     {"channels.1.current_ma": 700, "channels.1.current_evidence": "meter", "control.groups": 9}, 3),
    (["", "1"], None, {"control.groups": 2}, 1),
    (["?", "x", "", ""], None, {}, 0),
    (["meter", "1"], {"channels.1.current_ma": 690},
     {"channels.1.current_ma": 690, "channels.1.current_evidence": "meter", "control.groups": 2}, 2),
    (["700", "photograph", ""], None, {"channels.1.current_ma": 700, "channels.1.current_evidence": "photograph",
                                       "channels.1.photograph": "ab" * 32}, 3),
])
def test_a_readback_is_typed_in(typed: list[str], known: Any, expected: dict[str, object], kept: int) -> None:
    """Enter is not read, a question mark and a wrong value ask again, and every answer is handed on at once."""
    answers, handed = iter(typed), []
    values = fill(ASKS, lambda _: next(answers), lambda so_far: handed.append(dict(so_far)), known=known, photograph="ab" * 32)
    assert (values, len(handed), list(answers)) == (expected, kept, [])


def test_what_is_allowed_is_shown_when_asked_again() -> None:
    """The question mark and a wrong value are answered before the question stands there again."""
    answers, shown = iter(["?", "x", ""]), []
    fill(ASKS[1:], lambda text: shown.append(text) or next(answers), lambda _: None)
    assert [text.split("\n")[0] for text in shown[1:]] == [
        "Allowed: 0 to 15 with +.",
        "'x' cannot be taken for: member of groups. Allowed: numbers of groups from 0 to 15 with + between, or none."]
    assert [text.rpartition("\n")[2] for text in shown] == ["Groups, as 0+3 (nothing: not read):"] * 3
