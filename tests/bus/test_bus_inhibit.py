"""A swap over the bus of an emergency luminaire whose spare was left inhibited: it would stay dark when its supply fails."""

from __future__ import annotations

from guided_bench import Told, swap_with
from simulated_gear import SimulatedGear
from simulated_line import SimulatedLine
from small_vault import SmallVault

from vault.exchange.readback_file import read_readback

# EX-001 of the demo's schedule: an exit sign with its own battery at address 0 of line E1, 60 mA.
LUMINAIRE, SPARE = "EX-001", "EM-6-180"
READ = {"channels.1.current_ma": "60", "emergency.emergency_current_ma": "60", "emergency.emergency_power_mw": "1000"}
INHIBIT = 0xE1  # IEC 62386-202


def test_an_inhibited_spare_is_signed_for_without_its_inhibit(small: SmallVault) -> None:
    """The inhibit is found, cleared and read again: the swap matches, nothing stays open, and the gear is not inhibited."""
    spare, told = SimulatedGear(seed=7, device_types=(1,)), Told()
    spare.parts[1].do(INHIBIT)
    done = swap_with(small, line=SimulatedLine([spare]), reference=LUMINAIRE, told=told, spare=SPARE, **READ)
    assert (done.matched, done.open_stops, spare.parts[1].status_byte() & 1) == (True, frozenset(), 0)
    assert read_readback(done.readback).gears["general-and-emergency"]["bus.emergency.inhibited"] == "no"
    assert "An inhibit was active; it is cleared." in told.lines
    assert "inhibit-active stop" not in told.lines
