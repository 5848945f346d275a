"""What one gear says of its settings over the bus, under the field names of a readback.

Only what was answered. IEC 62386-102 can neither set nor read the drive current and the voltage window, so they never stand here.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from dali.gear import colour, general, led

from vault.bus.asking import Questions, bits_words
from vault.bus.bank_zero import bank_zero_fields, read_bank_zero
from vault.bus.emergency_state import read_emergency
from vault.bus.port import Port
from vault.domain.apply_means import controls_of
from vault.domain.frames_script import UNUSED_MIREK
from vault.domain.levels import MASK
from vault.domain.schema import words
from vault.domain.settings import Control, Curve, Emergency, EmergencySupply, Gear, Protocol

EMERGENCY_TYPE, LED_TYPE, COLOUR_TYPE = 1, 6, 8
SCENES = 16

_LEVELS = ((general.QueryMinLevel, "min_level"), (general.QueryMaxLevel, "max_level"),
           (general.QueryPowerOnLevel, "power_on_level"), (general.QuerySystemFailureLevel, "system_failure_level"))
_STATUS = ("control gear failure", "lamp failure", "lamp on", "limit error", "fade running", "reset state",
           "no short address", "power cycle seen")


def addresses_of(gear: Gear) -> dict[str, int]:
    """Where the gear's control data stand in the record ("control", "channels.2.control") -> its short address on record."""
    return {path: control.short_address for path, control in controls_of(gear.settings)
            if control.protocol is Protocol.DALI and isinstance(control.short_address, int)}


def control_at(gear: Gear, path: str) -> Control | None:
    """The control data at such a place."""
    if path == "control":
        return gear.settings.control
    return gear.settings.channels[int(path.split(".")[1]) - 1].control


def read_control(port: Port, address: int, control: Control, path: str = "control") -> dict[str, Any]:
    """Field -> plain value for every control setting that the gear at the address answers.

    control: what the record states; a scene that is not used has no colour to be read, so it keeps the record's figure.
    Raises GearkeepError: two-at-address, bus-lost.
    """
    questions = Questions(port, address)
    return _control(questions, control, path, questions.device_types())


def _control(questions: Questions, control: Control, path: str, types: tuple[int, ...] | None) -> dict[str, Any]:
    read: dict[str, Any] = {name: questions.ask(command(questions.to)) for command, name in _LEVELS}
    fades = questions.ask(general.QueryFadeTimeFadeRate(questions.to))
    if fades is not None:
        read |= {"fade_time": fades >> 4, "fade_rate": fades & 0x0F}
    read["extended_fade"] = questions.ask(general.QueryExtendedFadeTime(questions.to))
    low = questions.ask(general.QueryGroupsZeroToSeven(questions.to))
    high = questions.ask(general.QueryGroupsEightToFifteen(questions.to))
    read["groups"] = None if low is None or high is None else high << 8 | low
    scenes = [questions.ask(general.QuerySceneLevel(questions.to, scene)) for scene in range(SCENES)]
    read["scenes"] = None if None in scenes else scenes
    read["curve"] = _curve(questions, types)
    if types is not None and COLOUR_TYPE in types:
        read |= _colour(questions, control, scenes)
    if any(value is not None for value in read.values()):
        read |= {"protocol": words(Protocol.DALI), "short_address": questions.address}
    return {f"{path}.{name}": value for name, value in read.items() if value is not None}


def _curve(questions: Questions, types: tuple[int, ...] | None) -> str | None:
    if types is not None and LED_TYPE not in types:
        return words(Curve.LOGARITHMIC)  # the only one of IEC 62386-102
    value = questions.ask(led.QueryDimmingCurve(questions.to))
    return None if value is None else words(Curve(value)) if value in set(Curve) else str(value)


def _colour(questions: Questions, control: Control, scenes: list[int | None]) -> dict[str, Any]:
    which, query = colour.QueryColourValueDTR, colour.QueryColourValue(questions.to)
    read: dict[str, Any] = {
        "colour.coolest_mirek": questions.ask_word(query, which.ColourTemperatureTcCoolest),
        "colour.warmest_mirek": questions.ask_word(query, which.ColourTemperatureTcWarmest)}
    # Asking for a level fetches the colour that goes with it into the report (IEC 62386-209).
    if questions.ask(general.QueryPowerOnLevel(questions.to)) is not None:
        read["colour.default_mirek"] = questions.ask_word(query, which.ReportColourTemperatureTc)
    recorded = control.colour.scene_mirek if control.colour is not None else None
    listed = [_scene_colour(questions, query, scene, level, recorded[scene] if isinstance(recorded, tuple) else UNUSED_MIREK)
              for scene, level in enumerate(scenes)]
    read["colour.scene_mirek"] = None if None in listed else listed
    return {name: value for name, value in read.items() if value != UNUSED_MIREK}


def _scene_colour(questions: Questions, query: Any, scene: int, level: int | None, recorded: int) -> int | None:
    if level == MASK:
        return recorded
    if level is None or questions.ask(general.QuerySceneLevel(questions.to, scene)) is None:
        return None
    read = questions.ask_word(query, colour.QueryColourValueDTR.ReportColourTemperatureTc)
    return recorded if read == UNUSED_MIREK and not recorded else read


def _unit(questions: Questions, types: tuple[int, ...] | None, group: str) -> dict[str, Any]:
    """What the record does not know of, kept under names of its own."""
    status = questions.ask(general.QueryStatus(questions.to))
    version = questions.ask(general.QueryVersionNumber(questions.to))
    read: dict[str, Any] = {
        "status": None if status is None else bits_words(status, _STATUS),
        "version": None if version is None else f"{version >> 2}.{version & 3}" if version > 1 else str(version),
        "device_types": None if types is None else list(types),
        "physical_minimum_level": questions.ask(general.QueryPhysicalMinimum(questions.to)),
        "actual_level": questions.ask(general.QueryActualLevel(questions.to))}
    return {f"{group}.{name}": value for name, value in read.items() if value is not None}


def _tell_nothing(_done: int, _total: int) -> None:
    """Nobody is told."""


def read_gear(port: Port, gear: Gear, addresses: Mapping[str, int] | None = None,
              progress: Callable[[int, int], None] = _tell_nothing) -> dict[str, object]:
    """Everything that one gear answers: control data, emergency, and what the record does not know ("bus.…", "bank0.…").

    addresses: as addresses_of gives them, which is the default; the first one stands for the gear where it has several.
    Empty when nothing answers. Raises GearkeepError: two-at-address, bus-lost.
    """
    placed = dict(addresses if addresses is not None else addresses_of(gear))
    read: dict[str, object] = {}
    for done, (path, address) in enumerate(placed.items()):
        progress(done, len(placed))
        control = control_at(gear, path)
        questions = Questions(port, address)
        if control is None or questions.ask(general.QueryControlGearPresent(questions.to)) is None:
            continue
        types = questions.device_types()
        read |= _control(questions, control, path, types)
        group = "bus" if path == "control" or len(placed) == 1 else f"bus.{path.removesuffix('.control')}"
        read |= _unit(questions, types, group)
        if types is not None and EMERGENCY_TYPE in types:
            read |= _emergency(questions, gear.settings.emergency)
        if group == "bus" or path == next(iter(placed)):
            held = read_bank_zero(port, address)
            read |= bank_zero_fields(held) if held is not None else {}
    progress(len(placed), len(placed))
    return read


def _emergency(questions: Questions, recorded: Emergency | None) -> dict[str, Any]:
    read = read_emergency(questions, recorded)
    return {"emergency.supply": words(EmergencySupply.SELF_CONTAINED), **read} if read else {}
