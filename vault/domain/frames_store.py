"""Frames that store control data in one gear."""

from __future__ import annotations

from dali.gear import colour, general, led

from vault.domain.driver import Holds
from vault.domain.frames_script import Script, scene_mirek
from vault.domain.levels import MASK
from vault.domain.settings import Control, Curve


def store_control(script: Script, control: Control, holds: frozenset[Holds]) -> None:
    """Store everything of `holds` that the record states. The curve goes first: levels are read on it."""
    with_colour = Holds.COLOUR in holds
    if Holds.CURVE in holds and isinstance(control.curve, Curve):
        script.about("curve")
        script.store(led.SelectDimmingCurve(script.to), int(control.curve),
                     f"take the {control.curve.name.lower()} dimming curve")
    if with_colour:
        _colour_limits(script, control)
    if Holds.LEVELS in holds:
        _levels(script, control)
    _power_on(script, control, with_colour, Holds.LEVELS in holds)
    if Holds.FADES in holds:
        _fades(script, control)
    if Holds.GROUPS_AND_SCENES in holds:
        _groups_and_scenes(script, control, with_colour)


def _levels(script: Script, control: Control) -> None:
    low, high = control.min_level, control.max_level
    if isinstance(high, int):
        script.about("max_level")
        script.store(general.SetMaxLevel(script.to), high, "store it as the maximum level")
    if isinstance(low, int):
        script.about("min_level")
        script.store(general.SetMinLevel(script.to), low, "store it as the minimum level")
        if isinstance(high, int):
            script.about("max_level")
            # A used spare clamps the first while its old minimum stands above it.
            script.store(general.SetMaxLevel(script.to), high, "store it as the maximum level again")
    if isinstance(control.system_failure_level, int):
        script.about("system_failure_level")
        script.store(general.SetSystemFailureLevel(script.to), control.system_failure_level,
                     "store it as the system-failure level")


def _temporary_colour(script: Script, mirek: int, what: str) -> None:
    script.load_mirek(mirek)
    script.send(colour.SetTemporaryColourTemperature(script.to), f"take it as the colour temperature for {what}")


def _power_on(script: Script, control: Control, with_colour: bool, with_level: bool) -> None:
    if not isinstance(control.power_on_level, int):
        return
    mirek = control.colour.default_mirek if control.colour is not None and with_colour else None
    script.about("power_on_level" if not isinstance(mirek, int) else "colour.default_mirek")
    if isinstance(mirek, int):
        _temporary_colour(script, mirek, "power-on")
    if with_level or isinstance(mirek, int):
        script.store(general.SetPowerOnLevel(script.to), control.power_on_level, "store it as the power-on level")


def _fades(script: Script, control: Control) -> None:
    for command, name, what in ((general.SetFadeTime, "fade_time", "fade time"),
                                (general.SetFadeRate, "fade_rate", "fade rate"),
                                (general.SetExtendedFadeTime, "extended_fade", "extended fade time")):
        value = getattr(control, name)
        if isinstance(value, int):
            script.about(name)
            script.store(command(script.to), value, f"store it as the {what}")


def _groups_and_scenes(script: Script, control: Control, with_colour: bool) -> None:
    if isinstance(control.groups, int):
        for group in range(16):
            script.about(f"groups.{group & 8}")
            if control.groups >> group & 1:
                script.send(general.AddToGroup(script.to, group), f"add it to group {group}")
            else:
                script.send(general.RemoveFromGroup(script.to, group), f"take it out of group {group}")
    for scene, level in enumerate(control.scenes if isinstance(control.scenes, tuple) else ()):
        script.about(f"scenes.{scene}")
        if level == MASK:
            script.send(general.RemoveFromScene(script.to, scene), f"take it out of scene {scene}")
            continue
        mirek = scene_mirek(control, scene) if with_colour else None
        if mirek is not None:
            _temporary_colour(script, mirek, f"scene {scene}")
        script.store(general.SetScene(script.to, scene), level, f"store it as the level of scene {scene}")


def _colour_limits(script: Script, control: Control) -> None:
    if control.colour is None:
        return
    limit = colour.StoreColourTemperatureTcLimitDTR2
    for which, name, what in ((limit.TcCoolest, "coolest_mirek", "coolest"),
                              (limit.TcWarmest, "warmest_mirek", "warmest")):
        mirek = getattr(control.colour, name)
        if isinstance(mirek, int):
            script.about(f"colour.{name}")
            script.load_mirek(mirek)
            script.send(general.DTR2(int(which)), f"load {int(which)} into DTR2: the {what} limit")
            script.send(colour.StoreColourTemperatureTcLimit(script.to), f"store it as the {what} colour temperature")
