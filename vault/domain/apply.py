"""How a spare is set to the settings of a gear: cautions, what it cannot hold, exact steps, bus frames."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from vault.domain.apply_current import CurrentWay, nearest_way, off_words
from vault.domain.apply_means import controls_of, means_for, not_held, wanted_of
from vault.domain.apply_pictures import pictures_of
from vault.domain.apply_sheets import figures_of, placed_of
from vault.domain.apply_steps import Chosen, steps_of
from vault.domain.cautions import cautions_for
from vault.domain.driver import DriverModel
from vault.domain.frames import Frame, frames_for
from vault.domain.means import Holds, Means, Way
from vault.domain.plan import Plan, Step
from vault.domain.rating import Rating
from vault.domain.schema import NOT_SET, words
from vault.domain.settings import Control, Duty, EmergencySupply, Gear, Output, Protocol
from vault.domain.site import Line
from vault.domain.units import ma


def plan_for(gear: Gear, spare: DriverModel, *, line: Line | None, alone: bool = False, rating: Rating | None = None) -> Plan:
    """The plan for one spare and one gear. line: gives the site's numbering of addresses.

    alone: the spare is the only gear on the bus while it is set (on a bench), so that its address may be broadcast.
    Whether the spare may be used at all is for `fit_spare` to say.
    """
    settings = gear.settings
    wanted = [one for one in wanted_of(settings) if one.holds is not Holds.CURRENT]
    stated = [one for one in wanted if one.field.value is not NOT_SET]
    chosen = Chosen(
        gear=gear, spare=spare, line=line, alone=alone, rating=rating,
        currents=_currents(gear, spare), left=[one for one in wanted if one.field.value is NOT_SET],
        taken=[(one, means) for one in stated if (means := means_for(spare, one, settings)) is not None],
        missing=[one for one in stated if means_for(spare, one, settings) is None])
    ways = {means.way for _, means in chosen.taken} | {
        way.means.way for way in chosen.currents if way is not None and not way.refused}
    supply = settings.emergency.supply if settings.emergency is not None else None
    if supply is None and gear.duty is not Duty.GENERAL:
        # Nobody recorded it: then there may be a battery inside.
        supply = EmergencySupply.SELF_CONTAINED
    frames = tuple(_frames(chosen))
    return Plan(cautions=cautions_for(settings, ways, supply), cannot_hold=tuple(_cannot_hold(chosen)), frames=frames,
                pictures=(*pictures_of(list(placed_of(chosen))), *figures_of(chosen)),
                steps=tuple(Step(number=number, means=means, text=text, detail=detail)
                            for number, (means, text, detail) in enumerate(steps_of(chosen, bool(frames)), 1)))


def _currents(gear: Gear, spare: DriverModel) -> list[CurrentWay | None]:
    """For each channel with a current: the nearest way to it, or None where that cannot be told."""
    return [nearest_way(spare, channel.current_ma, number) for number, channel in enumerate(gear.settings.channels, 1)
            if channel.current_ma is not None and gear.settings.output is Output.CONSTANT_CURRENT]


def _cannot_hold(chosen: Chosen) -> Iterator[str]:
    settings, spare = chosen.gear.settings, chosen.spare
    if spare.output is not settings.output:
        yield f"Output: {words(settings.output)}; the spare gives {words(spare.output)}."
    if spare.channels < len(settings.channels):
        yield f"{len(settings.channels)} output channels; the spare has {spare.channels}."
    for protocol in sorted({control.protocol for _, control in controls_of(chosen.gear.settings)} - {Protocol.NONE}):
        if spare.protocols is not None and protocol not in spare.protocols:
            yield f"Control by {words(protocol)}; the spare is not made for it."
    for label, wanted_ma, way in chosen.current_rows():
        if way is None:
            yield f"{label}: {ma(wanted_ma)}. It cannot be told how this spare is set to it."
        elif way.refused:
            yield f"{label}: {ma(wanted_ma)}. No resistor: {way.refused}."
        elif round(way.gives_ma) != wanted_ma:
            yield (f"{label}: {ma(wanted_ma)}. The nearest that this spare gives is {ma(way.gives_ma)}, "
                   f"{off_words(way.gives_ma, wanted_ma)}.")
    if _clashing(chosen.currents):
        yield ("Different currents on its channels, unless each channel has its own switch, jumper or resistor: the "
               "driver model does not say so.")
    yield from (text[:1].upper() + text[1:] for text in not_held(spare, chosen.gear, chosen.missing, chosen.said))


def _clashing(currents: Iterable[CurrentWay | None]) -> bool:
    """Whether one means set by hand would have to stand at two places at once."""
    placed: dict[Means, set[str]] = {}
    for way in currents:
        if way is not None and way.text and way.means.way is not Way.FIXED:
            placed.setdefault(way.means, set()).add(way.text)
    return any(len(texts) > 1 for texts in placed.values())


def _holds_on_bus(chosen: Chosen, control: Control) -> frozenset[Holds]:
    own = chosen.gear.settings.control
    return frozenset(one.holds for one, means in chosen.taken if means.way is Way.BUS
                     and (one.control if one.control is not None else own) is control)


def _frames(chosen: Chosen) -> Iterable[Frame]:
    settings = chosen.gear.settings
    paths = ["control", *(f"channels.{number}.control" for number in range(1, len(settings.channels) + 1))]
    for path, control in zip(paths, (settings.control, *(channel.control for channel in settings.channels)), strict=True):
        holds = _holds_on_bus(chosen, control) if control is not None else frozenset()
        if control is not None and holds:
            emergency = settings.emergency if control is settings.control else None
            yield from frames_for(control, emergency, holds=holds, alone=chosen.alone, path=path)


__all__ = ["Plan", "Step", "plan_for"]
