"""The columns of a luminaire schedule: which field of a gear each fills, and how its cells are read."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from decimal import Decimal

from vault.domain.schema import Spec
from vault.domain.settings import Gear
from vault.exchange.assign import leaf, plain_of_text
from vault.exchange.plain import allowed_of

DECIMAL = re.compile(r"[0-9]{1,9}(\.[0-9]{1,6})?")
KELVIN = re.compile(r"[0-9]{1,6}")


class CellProblem(Exception):
    """A cell that cannot be read; carries what is wrong with it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """A heading of the schedule: the field of a gear that it fills, how its cell is read, what it may hold."""

    name: str
    path: str
    read: Callable[[str], object]
    allowed: str
    in_own_unit: bool = False


def _figure(number: int, factor: int) -> str:
    return f"{Decimal(number) / factor:f}"


def _scaled(name: str, path: str, factor: int, unit: str) -> Column:
    """A decimal column held in a finer unit: volts in mV, watts in mW, per cent in per mille."""
    _, spec = leaf(Gear, path)

    def read(cell: str) -> object:
        if not DECIMAL.fullmatch(cell):
            comma = " (write the decimals after a point)" if "," in cell else ""
            raise CellProblem(f"is not a number in {unit}{comma}")
        exact = Decimal(cell) * factor
        if exact != exact.to_integral_value():
            raise CellProblem(f"is finer than {_figure(1, factor)} {unit}")
        return int(exact)

    allowed = f"{_figure(spec.least, factor)} to {_figure(spec.most, factor)} {unit}"
    return Column(name=name, path=path, read=read, allowed=allowed + _or_not_set(spec), in_own_unit=True)


def _kelvin(name: str, path: str) -> Column:
    """A colour temperature, held in mirek: 1e6 / kelvin, rounded to the nearest (IEC 62386-209)."""
    _, spec = leaf(Gear, path)

    def read(cell: str) -> object:
        if not KELVIN.fullmatch(cell) or int(cell) == 0:
            raise CellProblem("is not a whole number of kelvin")
        return (2_000_000 + int(cell)) // (2 * int(cell))

    allowed = f"{1_000_000 // spec.most} to {1_000_000 // spec.least} K{_or_not_set(spec)}"
    return Column(name=name, path=path, read=read, allowed=allowed, in_own_unit=True)


def _or_not_set(spec: Spec) -> str:
    return ", or not set" if spec.may_be_not_set else ""


def _plain(name: str, path: str, allowed: str = "") -> Column:
    field, spec = leaf(Gear, path)

    def read(cell: str) -> object:
        value = plain_of_text(field, spec, cell)
        if spec.shape in ("whole", "table") and isinstance(value, str):
            raise CellProblem("is not a whole number" if not allowed else "cannot be read")
        return value

    return Column(name=name, path=path, read=read, allowed=allowed or allowed_of(spec))


def _channel_columns(number: int) -> list[Column]:
    # The first channel needs no number: most luminaires have but one.
    infix = "" if number == 1 else f"_{number}"
    channel = f"settings.channels.{number}"
    return [
        _plain(f"current{infix}_ma", f"{channel}.current_ma"),
        _scaled(f"voltage_min{infix}_v", f"{channel}.voltage_min_mv", 1000, "V"),
        _scaled(f"voltage_max{infix}_v", f"{channel}.voltage_max_mv", 1000, "V"),
        _scaled(f"voltage{infix}_v", f"{channel}.voltage_mv", 1000, "V"),
        _scaled(f"power{infix}_w", f"{channel}.power_max_mw", 1000, "W"),
    ]


CONTROL, EMERGENCY = "settings.control", "settings.emergency"

LUMINAIRE_COLUMNS = ("reference", "type", "place", "line", "circuit")

GEAR_COLUMNS: Mapping[str, Column] = {
    column.name: column
    for column in [
        _plain("gear", "duty"), _plain("driver", "model"), _plain("serial", "serial"),
        _plain("control", f"{CONTROL}.protocol"),
        _plain("address", f"{CONTROL}.short_address"),
        _plain("central_circuit", f"{CONTROL}.central_circuit"),
        _plain("central_address", f"{CONTROL}.central_address"),
        _plain("groups", f"{CONTROL}.groups", "groups 0 to 15 with + between, none, or not set"),
        _plain("scenes", f"{CONTROL}.scenes", "scene 0 to 15, colon, level 0 to 254 or mask; none, or not set"),
        *(_plain(name, f"{CONTROL}.{name}") for name in (
            "min_level", "max_level", "power_on_level", "system_failure_level", "fade_time", "fade_rate",
            "extended_fade", "curve")),
        _kelvin("coolest_k", f"{CONTROL}.colour.coolest_mirek"),
        _kelvin("warmest_k", f"{CONTROL}.colour.warmest_mirek"),
        *(column for number in (1, 2, 3, 4) for column in _channel_columns(number)),
        _plain("emergency_mode", f"{EMERGENCY}.mode"), _plain("emergency_supply", f"{EMERGENCY}.supply"),
        _plain("duration_min", f"{EMERGENCY}.rated_duration_min"),
        _scaled("emergency_level_percent", f"{EMERGENCY}.emergency_level_permille", 10, "%"),
        _scaled("dc_level_percent", f"{EMERGENCY}.dc_level_permille", 10, "%"),
        _plain("emergency_current_ma", f"{EMERGENCY}.emergency_current_ma"),
        _scaled("emergency_power_w", f"{EMERGENCY}.emergency_power_mw", 1000, "W"),
        *(_plain(name, f"{EMERGENCY}.{name}") for name in (
            "function_test_days", "duration_test_weeks", "test_delay_min", "prolong_s")),
    ]
}

EXTRA = "extra:"

NAME_OF_PATH = {column.path: column.name for column in GEAR_COLUMNS.values()}
