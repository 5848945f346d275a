"""Every field that a column of a luminaire schedule can be: our own columns, and those that other people's files have."""

from __future__ import annotations

from collections.abc import Mapping

from vault.exchange.schedule_columns import GEAR_COLUMNS, LUMINAIRE_COLUMNS

# Fields that are not columns of ours: each is turned into some that are, or is held against the type's rating.
FOREIGN_FIELDS: Mapping[str, str] = {
    "building": "building or block; part of the place",
    "floor": "floor or level; part of the place",
    "room": "room or space; part of the place",
    "grid": "grid line or position; part of the place",
    "board": "distribution board; stands before the circuit's name where the vault's circuits are called so",
    "quantity": "how many luminaires the row stands for",
    "voltage_window": "forward voltage of the module, 27-54 V: voltage_min_v and voltage_max_v",
    "supply": "supply voltage; held against the rating",
    "protection_class": "protection class I, II, III (IEC 61140); held against the rating",
    "ip": "degree of protection (IEC 60529); held against the rating",
    "line_address": "line and address in one cell, L1/23",
    "limits": "dimming limits, 5-100 %: min_level and max_level",
    "central": "central battery circuit and address in one cell, 4/12: central_circuit and central_address",
    "duration": "rated duration of emergency operation: duration_min",
    **{f"scene_{number}": f"level of scene {number}: part of scenes" for number in range(16)},
}

FIELDS: tuple[str, ...] = (*LUMINAIRE_COLUMNS, *GEAR_COLUMNS, *FOREIGN_FIELDS)
