"""The settings of a gear one by one, each with a name that reads well aloud."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import Enum
from typing import Any

from vault.domain.schema import NOT_SET, Spec, specs, words
from vault.domain.site import Line
from vault.domain.units import ma, mv, mw, permille

LEAVE = "leave as the driver has it"

_LABELS = {
    "current_ma": "current", "voltage_mv": "output voltage", "voltage_min_mv": "lowest voltage",
    "voltage_max_mv": "highest voltage", "power_max_mw": "power limit", "colour": "colour",
    "min_level": "minimum level", "max_level": "maximum level", "power_on_level": "power-on level",
    "system_failure_level": "system-failure level", "extended_fade": "extended fade time", "curve": "dimming curve",
    "groups": "member of groups",
    "coolest_mirek": "coolest colour temperature", "warmest_mirek": "warmest colour temperature",
    "default_mirek": "power-on colour temperature", "scene_mirek": "colour temperature of the scenes",
    "central_circuit": "central battery circuit", "central_address": "central battery address",
    "mode": "emergency mode", "supply": "emergency supply", "rated_duration_min": "rated duration",
    "emergency_level_permille": "emergency level", "function_test_days": "days between function tests",
    "duration_test_weeks": "weeks between duration tests", "test_delay_min": "delay before the first test",
    "prolong_s": "prolong time", "test_timeout_days": "test timeout", "dc_level_permille": "d.c. level",
    "emergency_current_ma": "emergency current", "emergency_power_mw": "emergency power",
    "hold_s": "presence hold time", "absence_level_permille": "level in absence", "absence_s": "absence time",
    "measured_current_ma": "measured current", "measured_voltage_mv": "measured voltage",
}
_SHOWN = {"_ma": ma, "_mv": mv, "_mw": mw, "_permille": permille}


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """One setting: its dotted path as in `schema.flatten`, its own name, what it may hold, and its value."""

    path: str
    name: str
    spec: Spec
    value: Any

    @property
    def label(self) -> str:
        """ "channel 1 current"."""
        return label_of(self.path)


def fields_of(thing: Any, path: str = "") -> Iterator[Field]:
    """Every stated setting in the order of `schema.flatten`, NOT_SET among them."""
    for name, spec in specs(type(thing)):
        value = getattr(thing, name)
        here = f"{path}.{name}" if path else name
        if value is None:
            continue
        if spec.shape == "part":
            yield from fields_of(value, here)
        elif spec.shape == "parts":
            for number, item in enumerate(value, 1):
                yield from fields_of(item, f"{here}.{number}")
        elif spec.shape == "names":
            for key, held in value:
                yield Field(path=f"{here}.{key}", name=key, spec=spec, value=held)
        else:
            yield Field(path=here, name=name, spec=spec, value=value)


def place_in(path: str) -> str:
    """ "channel 2" for a setting of a channel, else ""."""
    steps = path.split(".")
    return f"channel {steps[1]}" if steps[0] == "channels" and len(steps) > 2 else ""


def label_of(path: str) -> str:
    """A dotted path as people say it."""
    first, _, rest = path.partition(".")
    if first == "extras":
        return f"extra {rest}"
    name = path.rpartition(".")[2]
    return f"{place_in(path)} {_LABELS.get(name, name.replace('_', ' '))}".strip()


def groups_words(mask: int) -> str:
    """ "0 and 3" of a 16-bit mask."""
    return " and ".join(str(number) for number in range(16) if mask >> number & 1) or "none"


def address_words(address: int, line: Line | None) -> str:
    """A short address as the site writes it, always saying from where it is numbered."""
    if line is None:
        return f"address {address} (numbered from 0, as on the bus)"
    first = line.addresses_from
    return f"address {address + first} (numbered from {first}{f'; {address} on the bus' if first else ''})"


def value_words(name: str, unit: str, value: Any) -> str:
    """A value with its unit: 700 of current_ma is "700 mA"; anything that does not belong there as it stands."""
    if value is NOT_SET or value == "not set":
        return LEAVE
    if isinstance(value, list | tuple):
        rows = (":".join(map(str, row)) if isinstance(row, list | tuple) else str(row) for row in value)
        return " ".join(rows) or "none"
    if isinstance(value, Enum):
        return words(value)
    if not isinstance(value, int) or isinstance(value, bool):
        return str(value)
    show = next((show for ending, show in _SHOWN.items() if name.endswith(ending)), None)
    if show is not None:
        return show(value)
    if name == "groups":
        return groups_words(value)
    return f"{value} {unit}".strip()
