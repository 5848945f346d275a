"""Hypothesis strategies: classes and models that are plainly good together, with some figures spoilt or left out."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from domain_examples import (
    ABILITY,
    CIRCUIT,
    EMERGENCY_GEAR,
    EMERGENCY_RATING,
    EMERGENCY_SPARE,
    GEAR,
    LINE,
    ORIGINAL,
    RATING,
    SPARE,
    TAPE_GEAR,
    TAPE_RATING,
    TAPE_SPARE,
    TWO_GEAR,
    TWO_RATING,
    TWO_SPARE,
    WINDOW,
    changed,
    with_channel,
    with_control,
    with_emergency,
    with_module,
    with_position,
)
from hypothesis import strategies as st

from vault.domain.driver import DriverModel, Window
from vault.domain.rating import Hazard, Isolation, Mounting, ProtectionClass, Rating
from vault.domain.settings import Duty, EmergencyMode, EmergencySupply, Gear, Protocol
from vault.spares.coverage import Need, need_of

_LOW = Window(vertices=((100, 24_000), (900, 24_000), (900, 43_000), (100, 43_000)))
_BENT = Window(vertices=((200, 20_000), (500, 60_000), (900, 20_000), (500, 40_000)))
_SPARE: dict[str, list[Any]] = {
    "window": [_LOW, _BENT, replace(WINDOW, power_max_mw=25_000)],
    "current_min_ma": [650, 735, 800], "current_max_ma": [690, 600],
    "current_step_ma": [7, 90, 400], "power_total_max_mw": [31_000, 20_000], "isolation": list(Isolation),
    "output_voltage_max_mv": [25_000, 61_000, 119_000, 130_000], "classes": [frozenset({ProtectionClass.CLASS_III}), frozenset()],
    "mounting": list(Mounting), "ta_max_c": [33, 20], "tc_max_c": [60], "loss_mw": [4_100, 9_000], "supply_min_v": [230],
    "supply_max_v": [230], "protocols": [frozenset({Protocol.SWITCH}), frozenset()], "dali_device_types": [(8,), (1, 6), ()],
    "length_mm": [300], "width_mm": [60], "height_mm": [60], "model": ["ORIGINAL-40"],
    "tolerance_permille": [100], "channels": [2],
    "emergency": [replace(ABILITY, supply=EmergencySupply.CENTRAL), replace(ABILITY, durations_min=(60,)),
                  replace(ABILITY, modes=frozenset({EmergencyMode.NON_MAINTAINED})), ABILITY],
}
_RATING: dict[str, list[Any]] = {
    "protection_class": [ProtectionClass.CLASS_III], "ta_c": [60], "touchable": [False], "wet": [True],
    "hazards": [frozenset({Hazard.RAIL}), frozenset(Hazard)], "supply_min_v": [100], "supply_max_v": [277],
    "ambient_min_below_zero_c": [40],
}
_MODULE: dict[str, list[Any]] = {
    "current_min_ma": [697, 705], "current_max_ma": [701, 650], "module_max_ma": [740, 690], "voltage_low_mv": [19_000],
    "voltage_high_mv": [44_000, 58_000], "insulation_max_mv": [50_000], "tj_max_c": [120], "power_max_mw": [45_000],
}
_POSITION: dict[str, list[Any]] = {
    "dali_device_type": [8], "isolation": list(Isolation), "mounting": list(Mounting),
    "original": [replace(ORIGINAL, tc_max_c=80)],
    "dimmed": [False], "length_max_mm": [200], "width_max_mm": [20], "duty": [Duty.EMERGENCY_CONVERTER],
    "protocols": [frozenset({Protocol.SWITCH})],
}
_KINDS = ((GEAR, RATING, SPARE), (EMERGENCY_GEAR, EMERGENCY_RATING, EMERGENCY_SPARE), (TWO_GEAR, TWO_RATING, TWO_SPARE),
          (TAPE_GEAR, TAPE_RATING, TAPE_SPARE))
_PLACES: list[dict[str, Any]] = [{}, {"circuit": CIRCUIT}, {"line": LINE},
                                 {"circuit": replace(CIRCUIT, site_ta_c=55), "line": LINE}]
# A rating has to say these; the others may be missing.
_NEEDED = {"model", "channels", "duty"}


@st.composite
def _figures(draw: st.DrawFn, table: dict[str, list[Any]]) -> dict[str, Any]:
    names = draw(st.lists(st.sampled_from(sorted(table)), max_size=2))
    return {name: draw(st.sampled_from([*table[name], *([] if name in _NEEDED else [None])])) for name in names}


@st.composite
def spoilt_ratings(draw: st.DrawFn, rating: Rating) -> Rating:
    """A rating with some other figures."""
    spoilt = with_module(changed(rating, **draw(_figures(_RATING))), **draw(_figures(_MODULE)))
    return with_position(spoilt, **draw(_figures(_POSITION)))


@st.composite
def _gears(draw: st.DrawFn, gear: Gear) -> Gear:
    spoil: list[Callable[[Gear], Gear]] = [
        lambda one: one, lambda one: with_channel(one, current_ma=draw(st.integers(1, 2_000))),
        lambda one: with_control(one, protocol=draw(st.sampled_from(list(Protocol)))),
        lambda one: replace(one, settings=replace(one.settings, control=None)),
    ]
    if gear.settings.emergency is not None:
        spoil += [lambda one: with_emergency(one, rated_duration_min=draw(st.sampled_from([60, 120]))),
                  lambda one: with_emergency(one, mode=draw(st.sampled_from(list(EmergencyMode)))),
                  lambda one: with_emergency(one, supply=EmergencySupply.CENTRAL)]
    return draw(st.sampled_from(spoil))(gear)


@st.composite
def spoilt_needs(draw: st.DrawFn) -> Need:
    """A class under one rating or two."""
    gear, rating, _ = draw(st.sampled_from(_KINDS))
    _, other, _ = draw(st.sampled_from(_KINDS))
    ratings = [draw(spoilt_ratings(rating))]
    if draw(st.booleans()):
        ratings.append(draw(spoilt_ratings(draw(st.sampled_from([rating, rating, other])))))
    place = draw(st.sampled_from(_PLACES))
    return need_of(draw(_gears(gear)), tuple(ratings), place.get("line"), place.get("circuit"), pieces=1, tags=(),
                   named=("A12", 1))


@st.composite
def spoilt_models(draw: st.DrawFn) -> DriverModel:
    """A model with some other figures."""
    _, _, spare = draw(st.sampled_from(_KINDS))
    return changed(spare, **draw(_figures(_SPARE)))
