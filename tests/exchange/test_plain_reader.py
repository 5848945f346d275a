"""The strict reader of plain names, and single settings by their path."""

from __future__ import annotations

import json
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vault.domain.driver import DriverModel, Window
from vault.domain.rating import GearRating, Rating
from vault.domain.schema import NOT_SET, Spec, check, flatten, plain, specs
from vault.domain.settings import (
    Channel,
    Control,
    Curve,
    Duty,
    Emergency,
    EmergencyMode,
    EmergencySupply,
    Gear,
    Output,
    Protocol,
    Settings,
)
from vault.domain.stock import MovementLine
from vault.errors import GearkeepError
from vault.exchange.assign import set_value, set_values
from vault.exchange.plain import read_plain

TEXT = st.text(st.sampled_from("abcXYZ019 .-é"), min_size=1)


def _leaf_strategy(spec: Spec) -> st.SearchStrategy[Any]:
    if spec.shape == "whole":
        return st.integers(spec.least, spec.most)
    if spec.shape == "text":
        return TEXT.map(lambda s: s.strip()[: spec.most].strip() or "x")
    if spec.shape == "choice":
        return st.sampled_from(list(spec.kind))
    if spec.shape == "choices":
        return st.frozensets(st.sampled_from(list(spec.kind)))
    if spec.shape == "flag":
        return st.booleans()
    if spec.shape == "raw":
        return st.binary(min_size=spec.least, max_size=spec.most)
    if spec.shape == "table":
        cells = [st.integers(0, 256**width - 1) for width in spec.widths]
        return st.lists(cells[0] if len(cells) == 1 else st.tuples(*cells), max_size=spec.most).map(tuple)
    held = st.one_of(TEXT.map(lambda s: s[:64]), st.integers(0, 2**32 - 1))
    return st.dictionaries(TEXT.map(lambda s: s[:24]), held, max_size=spec.most).map(lambda d: tuple(sorted(d.items())))


# Fields that a rule over several fields binds.
BOUND: dict[tuple[type, str], st.SearchStrategy[Any]] = {
    (Control, "min_level"): st.integers(1, 254) | st.just(NOT_SET),
    (Control, "scenes"): st.lists(st.integers(0, 255), min_size=16, max_size=16).map(tuple),
    (Emergency, "prolong_s"): st.integers(0, 255).map(lambda n: 30 * n),
    (Emergency, "test_delay_min"): st.integers(0, 65535).map(lambda n: 15 * n),
    (Channel, "current_ma"): st.integers(1, 20_000),
    (Channel, "voltage_mv"): st.integers(1, 1_000_000),
    (Window, "vertices"): st.lists(
        st.tuples(st.integers(0, 9999), st.integers(0, 99_999)), min_size=3, max_size=12, unique=True).map(tuple),
    (GearRating, "colours"): st.none(),
}
ALWAYS = {(Channel, "current_ma"), (Channel, "voltage_mv"), (Control, "min_level"), (Window, "vertices")}


def things(kind: type) -> st.SearchStrategy[Any]:
    """Any dataclass of the kind that keeps all of its rules."""
    fields: dict[str, st.SearchStrategy[Any]] = {}
    for name, spec in specs(kind):
        if spec.shape == "part":
            made = things(spec.kind)
        elif spec.shape == "parts":
            made = st.lists(things(spec.kind), min_size=spec.least, max_size=min(spec.most, 2)).map(tuple)
        else:
            made = BOUND.get((kind, name), _leaf_strategy(spec))
        if spec.may_be_not_set:
            made = made | st.just(NOT_SET) if spec.shape != "table" or name == "scenes" else made
        optional = not spec.required and (kind, name) not in ALWAYS and spec.shape not in ("parts", "names")
        fields[name] = st.none() | made if optional else made
    return st.builds(kind, **fields).filter(lambda thing: not list(check(thing)))


@settings(max_examples=60, deadline=None)
@given(st.one_of(things(Gear), things(MovementLine), things(Window)))
def test_plain_and_back(thing: Any) -> None:
    """What `schema.plain` writes, through JSON, is read back as the same thing."""
    assert read_plain(type(thing), json.loads(json.dumps(plain(thing)))) == (thing, [])


@settings(max_examples=15, deadline=None)
@given(things(DriverModel))
def test_a_driver_model_and_back(thing: DriverModel) -> None:
    """The largest of the catalogue's kinds goes out and comes back unchanged."""
    assert read_plain(DriverModel, json.loads(json.dumps(plain(thing)))) == (thing, [])


GOOD: dict[str, Any] = {
    "duty": "general",
    "settings": {"output": "constant-current", "channels": [{"current_ma": 700}],
                 "control": {"protocol": "dali", "min_level": 86}},
}


@pytest.mark.parametrize("said", ["switched-maintained", "Switched Maintained", "SWITCHED_MAINTAINED"])
def test_words_are_forgiven_their_case_and_joints(said: str) -> None:
    """Enumerations are read however people join their words."""
    thing, problems = read_plain(Emergency, {"mode": said, "supply": "Self contained", "rated_duration_min": 60})
    assert problems == [] and thing is not None
    assert (thing.mode, thing.supply) == (EmergencyMode.SWITCHED_MAINTAINED, EmergencySupply.SELF_CONTAINED)


@pytest.mark.parametrize(("kind", "mapping", "paths"), [
    (Channel, {"current_ma": True}, ["current_ma"]),
    (Channel, {"current_ma": 700.0}, ["current_ma"]),
    (Channel, {"current_ma": "700"}, ["current_ma"]),
    (Channel, {"current_ma": 0}, ["current_ma"]),
    (Channel, {"curent_ma": 700}, ["curent_ma"]),
    (Channel, {"colour": "mauve", "current_ma": 20_001}, ["colour", "current_ma"]),
    (Control, {"protocol": "dali", "min_level": 1, "groups": "not set", "short_address": 64}, ["short_address"]),
    (Control, {"protocol": 1, "min_level": 1}, ["protocol"]),
    (Control, {"protocol": "dali"}, ["min_level"]),
    (Control, {"protocol": "dali", "min_level": "low"}, ["min_level"]),
    (Control, {"protocol": "dali", "min_level": 1, "scenes": [1, 2.5]}, ["scenes"]),
    (Control, {"protocol": "dali", "min_level": 1, "scenes": [1, 2]}, ["scenes"]),
    (Control, [1], ["Control"]),
    (Settings, {"output": "constant-current", "channels": {"current_ma": 5}}, ["channels"]),
    (Settings, {"output": "constant-current", "channels": []}, ["channels"]),
    (Settings, {"output": "constant-current"}, ["channels"]),
    (Settings, {**GOOD["settings"], "channels": [{"current_ma": "x"}, {"voltage_mv": 1}]},
     ["channels.1.current_ma", "channels.2.current_ma"]),
    (Settings, {**GOOD["settings"], "extras": {"a": 1.5}}, ["extras"]),
    (Settings, {**GOOD["settings"], "lumen_maintenance": [[0, 1000], [5]]}, ["lumen_maintenance"]),
    (Gear, {**GOOD, "readback_digest": "xyz"}, ["readback_digest"]),
    (Gear, {**GOOD, "model": " padded "}, ["model"]),
    (Window, {"vertices": [[1, 1], [2, 2]]}, ["vertices"]),
    (MovementLine, {"quantity": -1}, ["quantity", "model"]),
    (Rating, {"code": "T", "revision": 1, "title": "t", "hazards": ["rail", "boat", "rail"],
              "gears": [{"duty": "genral", "output": "constant-current", "modules": [{"current_min_ma": 1}]}]},
     ["gears.1.duty", "hazards", "hazards.2"]),
])
def test_every_problem_has_its_path(kind: type, mapping: Any, paths: list[str]) -> None:
    """Each wrong field is told once, with its dotted path, and nothing is returned."""
    thing, problems = read_plain(kind, mapping)
    assert thing is None
    assert sorted(problem.path for problem in problems) == sorted(paths)
    assert all(problem.found and problem.allowed for problem in problems)


def test_a_near_name_is_offered() -> None:
    """A misspelt name is answered with the nearest known one."""
    _, problems = read_plain(Channel, {"curent_ma": 700})
    assert problems[0].allowed == "did you mean current_ma?"


GEAR = Gear(duty=Duty.GENERAL, settings=Settings(
    output=Output.CONSTANT_CURRENT, channels=(Channel(current_ma=700),),
    control=Control(protocol=Protocol.DALI, min_level=86)))


@pytest.mark.parametrize(("path", "text", "flat"), [
    ("channels.1.current_ma", "650", 650),
    ("settings.channels.1.current_ma", "650", 650),
    ("channels.2.current_ma", " 300 ", 300),
    ("control.min_level", "not set", "not set"),
    ("control.groups", "1+3", 0b1010),
    ("control.groups", "3", 0b1000),
    ("control.groups", "none", 0),
    ("control.curve", "Linear", "linear"),
    ("control.scenes", "0:254 15:mask", [254] + [255] * 15),
    ("control.colour.default_mirek", "250", 250),
    ("lumen_maintenance", "0:900 50000:1000", [[0, 900], [50000, 1000]]),
    ("presence.hold_s", "600", 600),
    ("extras.panel", "west 4", "west 4"),
    ("extras.7", "seven", "seven"),
])
def test_one_setting_is_changed(path: str, text: str, flat: object) -> None:
    """A setting named as `flatten` names it takes the value that the text stands for."""
    changed = set_value(GEAR, path, text)
    assert flatten(changed.settings)[path.removeprefix("settings.")] == flat


@pytest.mark.parametrize(("path", "text", "kind", "words"), [
    ("channels.1.current_ma", "0.7", "bad-value", ["channels.1.current_ma", "0.7", "1 to 20000 mA"]),
    ("channels.1.current_ma", "70000", "bad-value", ["70000", "1 to 20000 mA"]),
    ("channels.1.current_ma", "", "bad-value", ["channels.1.current_ma", "nothing"]),
    ("channels.3.current_ma", "700", "unknown-setting", ["channels.3.current_ma", "1"]),
    ("channels.current_ma", "700", "unknown-setting", ["channels.current_ma"]),
    ("control", "dali", "unknown-setting", ["control"]),
    ("control.min_levl", "1", "unknown-setting", ["control.min_levl"]),
    ("control.min_level.x", "1", "unknown-setting", ["control.min_level.x"]),
    ("control.groups", "16", "bad-value", ["control.groups", "16"]),
    ("control.groups", "1+", "bad-value", ["control.groups"]),
    ("control.scenes", "16:254", "bad-value", ["control.scenes"]),
    ("control.scenes", "1:254 1:3", "bad-value", ["control.scenes"]),
    ("emergency.mode", "maintained", "bad-value", ["emergency.supply", "emergency.rated_duration_min"]),
])
def test_a_wrong_change_says_what_is_wrong(path: str, text: str, kind: str, words: list[str]) -> None:
    """A refused change names the path, what was found and what is allowed."""
    with pytest.raises(GearkeepError) as refused:
        set_value(GEAR, path, text)
    assert refused.value.kind == kind
    assert [word for word in words if word not in f"{refused.value.what} {refused.value.hint}"] == []


def test_changes_are_judged_together() -> None:
    """Settings that are only right together can be set together."""
    changed = set_values(GEAR, [("emergency.mode", "maintained"), ("emergency.supply", "central"),
                                ("emergency.rated_duration_min", "180")])
    assert changed.settings.emergency == Emergency(
        mode=EmergencyMode.MAINTAINED, supply=EmergencySupply.CENTRAL, rated_duration_min=180)


def test_settings_alone_take_the_same_paths() -> None:
    """`set_value` works on settings as on a gear, and an empty text takes a field away."""
    changed = set_value(set_value(GEAR.settings, "control.curve", "linear"), "control.curve", "")
    assert set_value(GEAR.settings, "control.curve", "linear").control == Control(
        protocol=Protocol.DALI, min_level=86, curve=Curve.LINEAR)
    assert changed == GEAR.settings
