"""Plain stops of control and of emergency duty: protocol, DALI device type; supply, mode, duration."""

from __future__ import annotations

from typing import Any

from vault.domain.control_rules import controls_of
from vault.domain.driver import DriverModel, EmergencyAbility
from vault.domain.schema import words
from vault.domain.settings import Duty, EmergencyMode, EmergencySupply, Protocol
from vault.spares.coverage_row import Plain, Row, position_of


def _protocol(wanted: Any, model: DriverModel) -> str | None:
    have = model.protocols
    for protocol in wanted if have is not None else ():
        if have is not None and protocol not in have:
            return f"The gear is controlled by {words(protocol)}, and the spare is not made for that."
    return None


def _wanted_protocols(row: Row) -> tuple[Protocol, ...] | None:
    return tuple(sorted({c.protocol for c in controls_of(row.gear.settings) if c.protocol is not Protocol.NONE})) or None


def _device_type(need: Any, model: DriverModel) -> str | None:
    if model.dali_device_types is None or need in model.dali_device_types:
        return None
    found = " and ".join(str(kind) for kind in model.dali_device_types) or "none"
    return f"The spare is DALI device type {found}, but device type {need} is needed."


def _needed_device_type(row: Row) -> int | None:
    controls = controls_of(row.gear.settings)
    return position_of(row).dali_device_type if any(c.protocol is Protocol.DALI for c in controls) else None


def _emergency(found: Any, model: DriverModel) -> str | None:
    supply = (model.emergency or EmergencyAbility()).supply
    if supply is None or supply is found:
        return None
    return f"The spare is made for {words(supply)} supply, but the luminaire has {words(found)} supply."


def _mode(found: Any, model: DriverModel) -> str | None:
    modes = (model.emergency or EmergencyAbility()).modes
    return None if modes is None or found in modes else f"The luminaire is {words(found)}, and the spare cannot work so."


def _duration(found: Any, model: DriverModel) -> str | None:
    have = (model.emergency or EmergencyAbility()).durations_min
    if have is None or found in have:
        return None
    return f"The luminaire is rated for {found} min, and the spare for {' or '.join(map(str, have)) or 'none'} min."


def _emergency_of(row: Row, name: str) -> Any:
    emergency = row.gear.settings.emergency
    return None if emergency is None or row.gear.duty is Duty.GENERAL else getattr(emergency, name)


def _wanted_mode(row: Row) -> EmergencyMode | None:
    mode = _emergency_of(row, "mode")
    return mode if isinstance(mode, EmergencyMode) else None


def _wanted_duration(row: Row) -> int | None:
    own = _emergency_of(row, "supply") is EmergencySupply.SELF_CONTAINED
    return _emergency_of(row, "rated_duration_min") if own else None


EMERGENCY: tuple[Plain, ...] = tuple(Plain(rule=rule, figures=figures, stops=stops) for rule, figures, stops in (
    ("emergency-supply", lambda row: _emergency_of(row, "supply"), _emergency), ("emergency-mode", _wanted_mode, _mode),
    ("emergency-duration", _wanted_duration, _duration),
))
CONTROL: tuple[Plain, ...] = tuple(Plain(rule=rule, figures=figures, stops=stops) for rule, figures, stops in (
    ("protocol", _wanted_protocols, _protocol), ("device-type", _needed_device_type, _device_type),
))
