"""Plain stops of safety and of where the spare sits: isolation, voltages, class, mounting, heat, size, mains."""

from __future__ import annotations

from typing import Any

from vault.domain.driver import DriverModel
from vault.domain.fit_safety import SELV_MV, TOUCHABLE_MV, TOUCHABLE_WET_MV
from vault.domain.rating import Isolation, Mounting, OriginalGear
from vault.domain.schema import words
from vault.domain.units import celsius, mm, mv, volts
from vault.spares.coverage_row import Plain, Row, position_of


def _isolation(found: Any, model: DriverModel) -> str | None:
    touchable, need = found
    have = model.isolation
    if have is None:
        return None
    if touchable and have is not Isolation.SELV:
        return f"LED parts can be touched, and the isolation of the spare is {words(have)}, not SELV."
    if need is not None and have < need:
        return f"The isolation of the spare is {words(have)}, but the type needs {words(need)}."
    return None


def _touchable(limit: Any, model: DriverModel) -> str | None:
    highest = model.output_voltage_max_mv
    if highest is None or highest <= limit:
        return None
    return f"The spare gives up to {mv(highest)}, but parts that can be touched may have {mv(limit)}."


def _selv(found: Any, model: DriverModel) -> str | None:
    highest = model.output_voltage_max_mv
    if Isolation.SELV not in (*found, model.isolation) or highest is None or highest <= SELV_MV:
        return None
    return f"The spare gives up to {mv(highest)}; the SELV band ends at {mv(SELV_MV)}."


def _insulation(limit: Any, model: DriverModel) -> str | None:
    highest = model.output_voltage_max_mv
    if highest is None or highest <= limit:
        return None
    return f"The spare gives up to {mv(highest)}, but its light source is insulated for {mv(limit)}."


def _least_insulation(row: Row) -> int | None:
    known = [m.insulation_max_mv for m in position_of(row).modules if m.insulation_max_mv is not None]
    return min(known, default=None)


def _class(need: Any, model: DriverModel) -> str | None:
    if model.classes is None or need in model.classes:
        return None
    made_for = " or ".join(c.name.removeprefix("CLASS_") for c in sorted(model.classes)) or "none"
    return f"The spare is made for protection class {made_for}, but the type is of class {need.name.removeprefix('CLASS_')}."


def _mounting(_need: Any, model: DriverModel) -> str | None:
    return "The spare must be built in, but the gear sits outside the luminaire." if model.mounting is Mounting.BUILT_IN else None


def _touched(row: Row) -> int | None:
    if not row.rating.touchable:
        return None
    return TOUCHABLE_WET_MV if row.rating.wet else TOUCHABLE_MV


def _independent(row: Row) -> Mounting | None:
    return position_of(row).mounting if position_of(row).mounting is Mounting.INDEPENDENT else None


def _ambient(needed: Any, model: DriverModel) -> str | None:
    if model.ta_max_c is None or model.ta_max_c >= needed:
        return None
    return f"The spare bears {celsius(model.ta_max_c)} around it, but {celsius(needed)} is needed."


def _needed_ambient(row: Row) -> int | None:
    site = [place.site_ta_c for place in (row.line, row.circuit) if place is not None and place.site_ta_c is not None]
    return max(site) if site else row.rating.ta_c


def _tc(found: Any, model: DriverModel) -> str | None:
    original, needed = found
    if model.model == original or model.tc_max_c is None or model.tc_max_c >= needed:
        return None
    return f"The case of the spare may reach {celsius(model.tc_max_c)}, but that of the original {celsius(needed)}."


def _built_in_original(row: Row) -> OriginalGear | None:
    return position_of(row).original if position_of(row).mounting is not Mounting.INDEPENDENT else None


def _needed_tc(row: Row) -> tuple[str | None, int] | None:
    original = _built_in_original(row)
    return (original.model, original.tc_max_c) if original is not None and original.tc_max_c is not None else None


def _size(found: Any, model: DriverModel) -> str | None:
    original, rooms = found
    if model.model == original:
        return None
    sides = (("length", model.length_mm), ("width", model.width_mm), ("height", model.height_mm))
    for (side, have), room in zip(sides, rooms, strict=True):
        if have is not None and room is not None and have > room:
            return f"The {side} of the spare is {mm(have)}, but there is room for {mm(room)}."
    return None


def _room(row: Row) -> Any:
    place = position_of(row)
    if place.mounting is Mounting.INDEPENDENT:
        return None
    return place.original.model if place.original else None, (place.length_max_mm, place.width_max_mm, place.height_max_mm)


def _supply(found: Any, model: DriverModel) -> str | None:
    low, high = found
    if model.supply_min_v is not None and low is not None and model.supply_min_v > low:
        return f"The spare needs {volts(model.supply_min_v)} of mains or more, but the type may see {volts(low)}."
    if model.supply_max_v is not None and high is not None and model.supply_max_v < high:
        return f"The spare bears {volts(model.supply_max_v)} of mains, but the type may see {volts(high)}."
    return None


def _supply_range(row: Row) -> Any:
    found = row.rating.supply_min_v, row.rating.supply_max_v
    return None if found == (None, None) else found


SAFETY: tuple[Plain, ...] = tuple(Plain(rule=rule, figures=figures, stops=stops) for rule, figures, stops in (
    ("isolation", lambda row: (row.rating.touchable, position_of(row).isolation), _isolation),
    ("touchable-voltage", _touched, _touchable), ("selv-voltage", lambda row: (position_of(row).isolation,), _selv),
    ("insulation-voltage", _least_insulation, _insulation), ("protection-class", lambda row: row.rating.protection_class, _class),
    ("mounting", _independent, _mounting),
))
PLACE: tuple[Plain, ...] = tuple(Plain(rule=rule, figures=figures, stops=stops) for rule, figures, stops in (
    ("ambient", _needed_ambient, _ambient), ("case-temperature", _needed_tc, _tc), ("size", _room, _size),
    ("supply-ac", _supply_range, _supply),
))
