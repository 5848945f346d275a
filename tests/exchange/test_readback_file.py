"""Readback files in JSON and CSV."""

from __future__ import annotations

from pathlib import Path

import pytest

from vault.errors import GearkeepError
from vault.exchange.readback_file import read_readback


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
    assert read_readback(tmp_path / name) == expected


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
    ("r.json", '{"control.fade_time": null}', ["control.fade_time", "nothing"]),
    ("r.json", "{}", ["no field"]),
    ("r.json", "[]", ["an object"]),
    ("r.json", "{", ["JSON"]),
    ("r.csv", "gear,field,value\ngeneral,channels.1.current_ma,700.0\n", ["row 2", "channels.1.current_ma", "700.0"]),
    ("r.csv", "field,value\nserial,a\nserial,a\n", ["row 3", "serial", "twice"]),
    ("r.csv", "field,value\ncontrol.fade_tme,1\n", ["row 2", "control.fade_tme"]),
    ("r.csv", "field,value\nserial,\n", ["row 2", "serial", "empty"]),
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
