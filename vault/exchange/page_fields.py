"""The format's tables for the pack's page: what the page reads and shows follows the schema itself, and cannot drift from it."""

from __future__ import annotations

from enum import IntEnum
from typing import Any

from vault.domain.cautions import cautions_for
from vault.domain.fields import label_of
from vault.domain.levels import RESET_VALUES
from vault.domain.means import HELD_AS, Holds, Way
from vault.domain.record import MAY_FOLLOW
from vault.domain.schema import Spec, specs, words
from vault.domain.settings import Channel, EmergencySupply, Output, Settings
from vault.domain.tag import ALPHABET
from vault.trust.statements import BODY, FORMAT_VERSION, MAY_SIGN, Kind, Role

# How a figure is said where its unit alone does not tell.
_SAID = {"fade_time": "fade-time", "fade_rate": "fade-rate", "extended_fade": "extended-fade", "groups": "groups",
         "scenes": "scenes", "short_address": "address", "central_address": "central-address", "tag": "tag"}
_BY_ENDING = {"_mirek": "mirek", "time_s": "day", "until_s": "day"}

# Limits of fixture types as the trade says them; everything else is named as on the other screens.
_LABELS = {
    "ta_c": "highest ambient temperature ta", "ambient_min_below_zero_c": "lowest ambient temperature", "ip": "IP code",
    "touchable": "light source can be touched", "wet": "wet place", "supply_min_v": "lowest supply voltage",
    "supply_max_v": "highest supply voltage", "dc_min_v": "lowest d.c. supply voltage",
    "dc_max_v": "highest d.c. supply voltage", "current_min_ma": "lowest current", "current_max_ma": "highest current",
    "module_max_ma": "most that the module stands", "voltage_low_mv": "lowest forward voltage at 25 °C",
    "voltage_high_mv": "highest forward voltage at 25 °C", "junctions": "LED junctions in series",
    "tj_max_c": "highest junction temperature", "insulation_max_mv": "highest voltage of its insulation",
    "nominal_voltage_mv": "nominal voltage", "dali_device_type": "DALI device type",
    "dimming_floor_permille": "lowest dimming level", "length_max_mm": "room for the driver, length",
    "width_max_mm": "room for the driver, width", "height_max_mm": "room for the driver, height",
    "tolerance_permille": "tolerance", "loss_mw": "heat given off", "tc_max_c": "highest case temperature tc",
    "duration_min": "duration", "emergency_current_min_ma": "least emergency current",
    "emergency_power_max_mw": "emergency power limit"}


def page_fields() -> dict[str, Any]:
    """Classes of bodies and their parts, kinds with who may sign them, and the words and rules around them, as JSON values."""
    classes: dict[str, Any] = {}
    for body in BODY.values():
        _class(body, classes)
    return {
        "format_version": FORMAT_VERSION, "alphabet": ALPHABET, "classes": classes,
        "kinds": {int(kind): {"name": words(kind), "body": body.__name__,
                              "roles": [int(role) for role in Role if kind in MAY_SIGN[role]]} for kind, body in BODY.items()},
        "kind_numbers": {words(kind): int(kind) for kind in Kind},
        "roles": {int(role): words(role) for role in Role},
        "may_follow": {"none" if before is None else words(before): sorted(words(after) for after in allowed)
                       for before, allowed in MAY_FOLLOW.items()},
        "reset_values": {name: _plain(value) for name, value in RESET_VALUES.items()},
        "cautions": _cautions()}


def _plain(value: Any) -> Any:
    return words(value) if isinstance(value, IntEnum) else list(value) if isinstance(value, tuple) else value


def _class(kind: type[Any], classes: dict[str, Any]) -> str:
    if kind.__name__ not in classes:
        found: dict[str, Any] = {"form": kind.FORM, "fields": []}
        classes[kind.__name__] = found
        found["fields"] += [_field(name, spec, classes) for name, spec in specs(kind)]
    return kind.__name__


def _field(name: str, spec: Spec, classes: dict[str, Any]) -> dict[str, Any]:
    told: dict[str, Any] = {
        "key": spec.key, "name": name, "label": _LABELS.get(name) or label_of(name), "shape": spec.shape,
        "least": spec.least, "most": spec.most, "unit": spec.unit, "said": _said(name),
        "widths": list(spec.widths), "fill": spec.fill, "required": spec.required, "not_set": spec.may_be_not_set}
    if spec.shape in ("part", "parts"):
        told["kind"] = _class(spec.kind, classes)
    elif spec.kind is not None:
        told["words"] = {int(member): words(member) for member in spec.kind}
    return {key: value for key, value in told.items() if value not in ("", None, []) and value is not False}


def _said(name: str) -> str:
    if HELD_AS.get(name) is Holds.LEVELS:
        return "level"
    return _SAID.get(name, next((said for ending, said in _BY_ENDING.items() if name.endswith(ending)), ""))


def _cautions() -> dict[str, list[str]]:
    """Whoever reads the page may have any spare, so every setting means counts."""
    plain = Settings(output=Output.CONSTANT_CURRENT, channels=(Channel(current_ma=1),))
    return {name: list(cautions_for(plain, tuple(Way), supply))
            for name, supply in (("none", None), *((words(one), one) for one in EmergencySupply))}
