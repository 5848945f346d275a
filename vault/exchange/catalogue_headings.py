"""The headings of catalogue spreadsheets: names of fields, and what data sheets and type lists call them."""

from __future__ import annotations

import functools
import re
from collections.abc import Mapping

from vault.domain.schema import Spec, specs
from vault.exchange.assign import ValueProblem, leaf
from vault.exchange.catalogue_windows import WINDOWS
from vault.exchange.lexicon import fold, split_unit

_DRIVER = {
    "model": "Driver; Driver Model; Type; Model No; Model Number", "revision": "Rev; Rev.", "title": "Description; Name",
    "output": "Output type; Kind of output", "channels": "Number of channels; Outputs; Output channels",
    "window": "Operating window", "dimming_window": "Operating window dimmed; Dimming window",
    "dc_window": "Operating window on d.c.; DC window; Operating window DC",
    "current_min_ma": "Min output current; Minimum output current; Output current min; I out min; Iout min",
    "current_max_ma": "Max output current; Maximum output current; Output current max; I out max; Iout max",
    "current_step_ma": "Current step; Step of current; Output current step",
    "constant_voltage_mv": "Constant voltage; Nominal output voltage",
    "power_total_max_mw": "Max output power; Maximum output power; Output power; Rated output power; P out max; Pout max",
    "tolerance_permille": "Current tolerance; Tolerance; Output current tolerance",
    "output_voltage_max_mv": "Max output voltage; Maximum output voltage; No-load voltage; U out max; Uout max; U-OUT",
    "classes": "Protection classes; Protection class; Classes of protection", "isolation": "Insulation; Output isolation",
    "mounting": "Installation", "ta_max_c": "ta; ta max; max ta; Ambient temperature max; Max ambient temperature",
    "tc_max_c": "tc; tc max; max tc; Max case temperature", "loss_mw": "Losses; Power loss; Loss; Power losses",
    "supply_min_v": "Min supply voltage; Supply voltage min; Supply min; Min input voltage",
    "supply_max_v": "Max supply voltage; Supply voltage max; Supply max; Max input voltage",
    "dc_min_v": "DC supply min; Min DC voltage; DC voltage min; DC min; Min DC supply voltage",
    "dc_max_v": "DC supply max; Max DC voltage; DC voltage max; DC max; Max DC supply voltage",
    "protocols": "Control; Controls; Dimming; Interfaces; Protocol", "dali_device_types": "DALI device type; DT; DALI DT",
    "dimming_floor_permille": "Dimming floor; Min dimming level; Lowest dimming level; Min dim level",
    "length_mm": "Length; L", "width_mm": "Width; W", "height_mm": "Height; H",
    "inrush_b16": "Max on B16; Drivers on B16; B16; Max number on B16; MCB B16; Drivers per B16",
    "leakage_ua": "Leakage current; Protective conductor current; Touch current; Leakage",
    "supply_current_ma": "Supply current; Input current; Mains current; Rated supply current", "note": "Remark; Remarks; Notes",
    "emergency.durations_min": "Emergency durations; Durations; Rated durations", "emergency.modes": "Emergency modes",
    "emergency.supply": "Emergency supply", "emergency.batteries": "Batteries; Battery types",
    "emergency.emergency_current_min_ma": "Min emergency current",
    "emergency.emergency_current_max_ma": "Max emergency current",
    "emergency.emergency_power_max_mw": "Max emergency power; Emergency power",
}
_FIRST = "gears.1."
_LED = "gears.1.modules.1."
_TYPE = {
    "code": "Type; Type code; Fixture type; Luminaire type; Typ; Fitting", "revision": "Rev", "title": "Description; Name",
    "protection_class": "Class; Protection class; Schutzklasse",
    "ta_c": "ta; ta max; Ambient temperature max; Max ambient temperature",
    "-ambient_min_below_zero_c": "ta min; Min ambient temperature; Ambient temperature min; Min ambient",
    "ip": "IP rating; IP code; Schutzart; Ingress protection", "hazards": "Hazard; Special places",
    "supply_min_v": "Min supply voltage; Supply voltage min; Supply min",
    "supply_max_v": "Max supply voltage; Supply voltage max; Supply max",
    "dc_min_v": "DC supply min; Min DC voltage; DC voltage min", "dc_max_v": "DC supply max; Max DC voltage; DC voltage max",
    "power_max_mw": "Max power; Power; System power; Rated power; Max luminaire power", "note": "Remark; Remarks; Notes",
    f"{_FIRST}duty": "Duty", f"{_FIRST}output": "Output; Output type", f"{_FIRST}protocols": "Control; Protocols; Protocol",
    f"{_FIRST}power_max_mw": "Max gear power; Max LED power; LED power", f"{_FIRST}dali_device_type": "DALI device type; DT",
    f"{_FIRST}isolation": "Isolation; Insulation", f"{_FIRST}mounting": "Mounting; Gear mounting",
    f"{_FIRST}dimmed": "Dimmed; Dimmable",
    f"{_FIRST}dimming_floor_permille": "Dimming floor; Min dimming level",
    f"{_FIRST}length_max_mm": "Max gear length; Gear length max",
    f"{_FIRST}width_max_mm": "Max gear width; Gear width max", f"{_FIRST}height_max_mm": "Max gear height; Gear height max",
    f"{_LED}current_min_ma": "Min LED current; LED current min; Min drive current",
    f"{_LED}current_max_ma": "Max LED current; LED current max; Max drive current",
    f"{_LED}module_max_ma": "Module max current; Max module current; Absolute max current",
    f"{_LED}voltage_low_mv": "Vf min; Min forward voltage; Forward voltage min; LED voltage min",
    f"{_LED}voltage_high_mv": "Vf max; Max forward voltage; Forward voltage max; LED voltage max",
    f"{_LED}junctions": "Junctions; LEDs in series; Junctions in series", f"{_LED}tj_max_c": "tj max; Max junction temperature",
    f"{_LED}insulation_max_mv": "Insulation voltage; Module insulation; Max insulation voltage",
    f"{_LED}nominal_voltage_mv": "Nominal voltage; Nominal module voltage", f"{_LED}power_max_mw": "Max module power",
    f"{_FIRST}original.model": "Driver; Original driver; Driver model",
    f"{_FIRST}original.tolerance_permille": "Driver tolerance",
    f"{_FIRST}original.loss_mw": "Driver losses; Driver loss", f"{_FIRST}original.tc_max_c": "Driver tc; Driver tc max",
    f"{_FIRST}emergency.modes": "Emergency mode; Emergency modes", f"{_FIRST}emergency.supply": "Emergency supply",
    f"{_FIRST}emergency.duration_min": "Duration; Rated duration; Emergency duration",
    f"{_FIRST}emergency.emergency_current_min_ma": "Min emergency current; Emergency current",
    f"{_FIRST}emergency.emergency_power_max_mw": "Max emergency power; Emergency power",
    f"{_FIRST}emergency.battery": "Battery; Battery type",
}
_CIRCUIT = {
    "name": "Circuit; Circuit No; Circuit name", "revision": "Rev", "title": "Description",
    "breaker": "MCB curve; Curve; Tripping curve",
    "rated_current_ma": "Rated current; Breaker rating; MCB rating", "central": "Central battery",
    "battery_min_v": "Min battery voltage; Battery voltage min", "battery_max_v": "Max battery voltage; Battery voltage max",
    "luminaires_max": "Max luminaires", "share_max_percent": "Max share", "leakage_max_ua": "Max leakage current; Max leakage",
    "site_ta_c": "Site ambient; ta; Max air temperature; Site ta",
}
_LINE = {
    "name": "Line; DALI line; Line No; Line name", "revision": "Rev", "title": "Description",
    "kind": "Line kind; Type of line; Bus",
    "addresses_from": "First address; Addresses begin at", "gear_max": "Max gear; Max devices",
    "site_ta_c": "Site ambient; ta; Max air temperature; Site ta",
}
_TRADE: Mapping[str, Mapping[str, str]] = {"driver": _DRIVER, "type": _TYPE, "circuit": _CIRCUIT, "line": _LINE}


@functools.cache
def _trade_headings(catalogue: str) -> Mapping[str, str]:
    return {fold(word): path for path, listed in _TRADE[catalogue].items() for word in listed.split(";")}


def spec_of(kind: type, path: str) -> Spec | None:
    """The Spec of a dotted path, None for a window as a whole or in one of its further forms."""
    window, _, form = path.partition(".")
    if window in WINDOWS and window in dict(specs(kind)) and form in ("", "rectangle", "points"):
        return None
    return leaf(kind, path)[1]


def path_of(catalogue: str, kind: type, heading: str) -> tuple[str, str] | None:
    """(dotted path, unit that the heading says) of a column; None for an unknown heading.

    The unit of a field that is called by its own name is "own". A path with "-" before it holds the figure without its sign.
    """
    if _is_path(kind, named := re.sub(r"[\s-]+", "_", heading.strip().casefold())):
        return named, "own"
    bare, unit, _ = split_unit(heading)
    if unit and _is_path(kind, named := bare.casefold()):
        return named, unit
    trade = _trade_headings(catalogue)
    path = trade.get(fold(heading)) or (trade.get(fold(bare)) if unit else None)
    return None if path is None else (path, unit)


def _is_path(kind: type, path: str) -> bool:
    try:
        spec_of(kind, path)
    except ValueProblem:
        return False
    return True


def known_headings(catalogue: str) -> list[str]:
    """The trade's headings of one catalogue and the fields that they stand for, to find near ones in."""
    return [*(word.strip() for listed in _TRADE[catalogue].values() for word in listed.split(";")),
            *(path.removeprefix("-") for path in _TRADE[catalogue])]
