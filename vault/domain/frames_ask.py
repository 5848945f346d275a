"""Frames that ask one gear for what it has stored, each with the answer that the record asks for."""

from __future__ import annotations

from dali.gear import colour, general, led

from vault.domain.driver import Holds
from vault.domain.fields import groups_words
from vault.domain.frames_script import Script, scene_mirek
from vault.domain.levels import MASK, extended_fade_words, fade_rate_words, fade_time_words, level_words
from vault.domain.settings import Control, Curve


def ask_control(script: Script, control: Control, holds: frozenset[Holds]) -> None:
    """Ask for everything of `holds` that the record states."""
    curve = control.curve if isinstance(control.curve, Curve) else None
    if Holds.CURVE in holds and curve is not None:
        script.about("curve")
        script.ask(led.QueryDimmingCurve(script.to), "dimming curve", int(curve), curve.name.lower())
    levels = [(general.QueryMaxLevel, "max_level", "maximum level"),
              (general.QueryMinLevel, "min_level", "minimum level"),
              (general.QuerySystemFailureLevel, "system_failure_level", "system-failure level"),
              (general.QueryPowerOnLevel, "power_on_level", "power-on level")]
    for command, name, what in levels if Holds.LEVELS in holds else ():
        level = getattr(control, name)
        script.about(name)
        if isinstance(level, int):
            script.ask(command(script.to), what, level, level_words(level, curve))
    if Holds.FADES in holds:
        _ask_fades(script, control)
    if Holds.GROUPS_AND_SCENES in holds:
        if isinstance(control.groups, int):
            low, high = control.groups & 0xFF, control.groups >> 8
            script.about("groups.0")
            script.ask(general.QueryGroupsZeroToSeven(script.to), "groups 0 to 7", low, f"groups {groups_words(low)}")
            script.about("groups.8")
            script.ask(general.QueryGroupsEightToFifteen(script.to), "groups 8 to 15", high,
                       f"groups {groups_words(high << 8)}")
        for scene, level in enumerate(control.scenes if isinstance(control.scenes, tuple) else ()):
            script.about(f"scenes.{scene}")
            script.ask(general.QuerySceneLevel(script.to, scene), f"level of scene {scene}", level,
                       level_words(level, curve) if level != MASK else "not in the scene")
            mirek = scene_mirek(control, scene) if Holds.COLOUR in holds and level != MASK else None
            if mirek is not None:
                script.about(f"colour.scene_mirek.{scene}")
                script.ask_mirek(colour.QueryColourValueDTR.ReportColourTemperatureTc, f"colour of scene {scene}",
                                 mirek)
    if Holds.COLOUR in holds:
        _ask_colour(script, control)


def _ask_fades(script: Script, control: Control) -> None:
    time, rate = control.fade_time, control.fade_rate
    said = [fade_time_words(time)] if isinstance(time, int) else []
    said += [fade_rate_words(rate)] if isinstance(rate, int) else []
    script.about("fade_time" if isinstance(time, int) else "fade_rate")
    if isinstance(time, int) and isinstance(rate, int):
        script.ask(general.QueryFadeTimeFadeRate(script.to), "fade time and rate", time << 4 | rate, ", ".join(said))
    elif said:
        half, mask = ("high", 0xF0) if isinstance(time, int) else ("low", 0x0F)
        value = time if isinstance(time, int) else rate
        script.send(general.QueryFadeTimeFadeRate(script.to),
                    f"ask for the fade time and rate: the {half} digit must be {value:X} ({said[0]})",
                    time << 4 if isinstance(time, int) else rate if isinstance(rate, int) else None, mask)
    if isinstance(control.extended_fade, int):
        script.about("extended_fade")
        script.ask(general.QueryExtendedFadeTime(script.to), "extended fade time", control.extended_fade,
                   extended_fade_words(control.extended_fade))


def _ask_colour(script: Script, control: Control) -> None:
    held, which = control.colour, colour.QueryColourValueDTR
    if held is None:
        return
    for selector, name, what in ((which.ColourTemperatureTcCoolest, "coolest_mirek", "coolest colour temperature"),
                                 (which.ColourTemperatureTcWarmest, "warmest_mirek", "warmest colour temperature")):
        mirek = getattr(held, name)
        if isinstance(mirek, int):
            script.about(f"colour.{name}")
            script.ask_mirek(selector, what, mirek)
    if isinstance(held.default_mirek, int) and isinstance(control.power_on_level, int):
        script.about("colour.default_mirek")
        script.ask(general.QueryPowerOnLevel(script.to), "power-on level, which fetches its colour",
                   control.power_on_level)
        script.ask_mirek(which.ReportColourTemperatureTc, "power-on colour temperature", held.default_mirek)
