"""Levels, fades, groups and scenes of control gear (IEC 62386-102), on the named values that a gear holds."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from simulated_gear import SimulatedGear

MASK = 0xFF
YES = 0xFF

# Opcode of a query: the value that it asks for (IEC 62386-102 clause 11.5).
QUERIES = {
    0x97: "version", 0x98: "dtr0", 0x9A: "physical_minimum", 0x9C: "dtr1", 0x9D: "dtr2", 0x9E: "operating_mode",
    0x9F: "light_source", 0xA0: "actual_level", 0xA1: "max_level", 0xA2: "min_level", 0xA3: "power_on_level",
    0xA4: "system_failure_level", 0xA8: "extended_fade", **{0xB0 + n: f"scene_{n}" for n in range(16)},
}


def reset_values(physical_minimum: int) -> dict[str, int]:
    """Values after RESET (IEC 62386-102 table of declared variables). The short address is not among them."""
    return {
        "max_level": 254, "min_level": physical_minimum, "power_on_level": 254, "system_failure_level": 254,
        "fade_time": 0, "fade_rate": 7, "extended_fade": 0, "groups": 0, "random_address": 0xFFFFFF,
        **{f"scene_{n}": MASK for n in range(16)},
    }


def _maximum(gear: SimulatedGear) -> None:
    wanted, low = gear.ram["dtr0"], gear.held["min_level"]
    gear.store("max_level", 254 if wanted == MASK else max(wanted, low))
    _keep_within(gear)


def _minimum(gear: SimulatedGear) -> None:
    wanted, high = gear.ram["dtr0"], gear.held["max_level"]
    gear.store("min_level", min(max(wanted, gear.held["physical_minimum"]), high))
    _keep_within(gear)


def _keep_within(gear: SimulatedGear) -> None:
    if gear.ram["actual_level"]:
        go_to(gear, gear.ram["actual_level"])


def go_to(gear: SimulatedGear, level: int) -> None:
    """Go to a level at once, clamped to minimum and maximum; 0 is off, MASK stays."""
    if level == MASK:
        return
    clamped = 0 if level == 0 else min(max(level, gear.held["min_level"]), gear.held["max_level"])
    gear.ram["limit_error"] = int(clamped != level)
    gear.ram["actual_level"] = clamped
    gear.ram["power_failure"] = 0
    if clamped:
        gear.ram["last_active"] = clamped


def _step(gear: SimulatedGear, by: int) -> None:
    actual = gear.ram["actual_level"]
    if actual:
        go_to(gear, min(max(actual + by, gear.held["min_level"]), gear.held["max_level"]))


def _step_down_and_off(gear: SimulatedGear) -> None:
    if gear.ram["actual_level"] == gear.held["min_level"]:
        go_to(gear, 0)
    else:
        _step(gear, -1)


def _on_and_step_up(gear: SimulatedGear) -> None:
    if gear.ram["actual_level"]:
        _step(gear, 1)
    else:
        go_to(gear, gear.held["min_level"])


# UP and DOWN run for 200 ms at the fade rate; one call stands for seven steps, which the standard rate of 44.7/s rounds to 9.
LEVEL_COMMANDS: dict[int, Callable[[SimulatedGear], None]] = {
    0x00: lambda gear: go_to(gear, 0),
    0x01: lambda gear: _step(gear, 9),
    0x02: lambda gear: _step(gear, -9),
    0x03: lambda gear: _step(gear, 1),
    0x04: lambda gear: _step(gear, -1),
    0x05: lambda gear: go_to(gear, gear.held["max_level"]),
    0x06: lambda gear: go_to(gear, gear.held["min_level"]),
    0x07: _step_down_and_off,
    0x08: _on_and_step_up,
    0x0A: lambda gear: go_to(gear, gear.ram["last_active"]),
}


def _short_address(gear: SimulatedGear) -> None:
    given = gear.ram["dtr0"]
    if given == MASK:
        gear.store("short_address", MASK)
    elif given & 0x81 == 0x01:
        gear.store("short_address", given >> 1)


def _operating_mode(gear: SimulatedGear) -> None:
    if gear.ram["dtr0"] == 0:  # this gear has none of the manufacturer's modes
        gear.store("operating_mode", 0)


def _actual_to_dtr0(gear: SimulatedGear) -> None:
    gear.ram["dtr0"] = gear.ram["actual_level"]


def _identify(gear: SimulatedGear) -> None:
    gear.identified += 1


# Commands that take effect only when they come twice (IEC 62386-102 clause 11.4), but for the scenes and groups below.
TWICE_COMMANDS: dict[int, Callable[[SimulatedGear], None]] = {
    0x20: lambda gear: gear.reset(),
    0x21: _actual_to_dtr0,
    0x22: lambda _: None,
    0x23: _operating_mode,
    0x24: lambda gear: gear.banks.reset(gear.ram["dtr0"]),
    0x25: _identify,
    0x2A: _maximum,
    0x2B: _minimum,
    0x2C: lambda gear: gear.store("system_failure_level", gear.ram["dtr0"]),
    0x2D: lambda gear: gear.store("power_on_level", gear.ram["dtr0"]),
    0x2E: lambda gear: gear.store("fade_time", min(gear.ram["dtr0"], 15)),
    0x2F: lambda gear: gear.store("fade_rate", min(max(gear.ram["dtr0"], 1), 15)),
    0x30: lambda gear: gear.store("extended_fade", gear.ram["dtr0"] if gear.ram["dtr0"] <= 0x4F else 0),
    0x80: _short_address,
    0x81: lambda gear: gear.banks.enable_writing(),
}


def store_scene_or_group(gear: SimulatedGear, opcode: int) -> None:
    """SET SCENE 40h, REMOVE FROM SCENE 50h, ADD TO GROUP 60h, REMOVE FROM GROUP 70h, each with a number 0 to 15."""
    number = opcode & 0x0F
    match opcode & 0xF0:
        case 0x40:
            gear.store(f"scene_{number}", gear.ram["dtr0"])
        case 0x50:
            gear.store(f"scene_{number}", MASK)
        case 0x60:
            gear.store("groups", gear.held["groups"] | 1 << number)
        case 0x70:
            gear.store("groups", gear.held["groups"] & ~(1 << number))


def status_byte(gear: SimulatedGear) -> int:
    """QUERY STATUS (IEC 62386-102): failure, lamp, lamp on, limit error, fade, reset state, no address, power cycle."""
    return (int(gear.lamp_failure) << 1 | int(gear.ram["actual_level"] > 0) << 2 | gear.ram["limit_error"] << 3
            | int(gear.in_reset_state()) << 5 | int(gear.held["short_address"] == MASK) << 6
            | gear.ram["power_failure"] << 7)
