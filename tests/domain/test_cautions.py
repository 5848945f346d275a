"""Cautions and tests after the work."""

from __future__ import annotations

from dataclasses import replace

import pytest
from any_settings import gear_strategy
from domain_examples import EMERGENCY_GEAR, GEAR, RATING, TAPE_GEAR
from hypothesis import given, settings
from hypothesis import strategies as st

from vault.domain.cautions import CAUTIONS, cautions_for, retests_for
from vault.domain.driver import Way
from vault.domain.rating import ProtectionClass, Rating
from vault.domain.settings import Duty, EmergencySupply, Gear

CENTRAL_GEAR = replace(EMERGENCY_GEAR, settings=replace(EMERGENCY_GEAR.settings, emergency=replace(
    EMERGENCY_GEAR.settings.emergency, supply=EmergencySupply.CENTRAL)))  # type: ignore[type-var]


def test_numbers_run_from_one() -> None:
    """Every caution has its number, once."""
    assert [caution.number for caution in CAUTIONS] == list(range(1, len(CAUTIONS) + 1))


@given(gear_strategy(), st.frozensets(st.sampled_from(list(Way))), st.none() | st.sampled_from(list(EmergencySupply)))
def test_persons_and_local_rules_come_first(gear: Gear, ways: frozenset[Way], supply: EmergencySupply | None) -> None:
    """Whatever the gear, competent persons and local rules come first, and the cautions for all are there."""
    found = cautions_for(gear.settings, ways, supply)
    assert "competent and authorised" in found[0]
    assert "local rules decide" in found[0]
    assert len(found) >= 8


@pytest.mark.parametrize("words", [
    "lock it off", "other sources of supply", "central battery that feeds direct current", "as mains",
    "stored charge", "Wait 5 minutes", "only while the driver is without supply", "falling", "earth connection",
])
def test_what_every_gear_is_told(words: str) -> None:
    """Dangers that every driver has (common practice, no source)."""
    assert words in " ".join(cautions_for(GEAR.settings, (Way.NFC,), None))


@pytest.mark.parametrize(("gear", "ways", "words", "there"), [
    (EMERGENCY_GEAR, (Way.BUS,), "tell the responsible person", True),
    (GEAR, (Way.BUS,), "tell the responsible person", False),
    (EMERGENCY_GEAR, (Way.BUS,), "Disconnect the battery", True),
    (CENTRAL_GEAR, (Way.BUS,), "Disconnect the battery", False),
    (CENTRAL_GEAR, (Way.BUS,), "tell the responsible person", True),
    (GEAR, (Way.BUS,), "Setting over the bus needs the supply on", True),
    (GEAR, (Way.SWITCHES,), "Setting over the bus needs the supply on", False),
    (GEAR, (Way.SWITCHES,), "Set switches", True),
    (GEAR, (Way.NFC,), "Set switches", False),
    (GEAR, (Way.PLUG,), "Set switches", True),
    (GEAR, (Way.RESISTOR,), "Set switches", True),
])
def test_what_some_are_told(gear: Gear, ways: tuple[Way, ...], words: str, there: bool) -> None:
    """Cautions for an emergency duty, a battery, a means of setting."""
    emergency = gear.settings.emergency
    found = cautions_for(gear.settings, ways, emergency.supply if emergency is not None else None)
    assert (words in " ".join(found)) is there


@pytest.mark.parametrize(("gear", "words", "there"), [
    (GEAR, "Earth continuity", True), (GEAR, "1 MΩ at 500 V", True), (GEAR, "700 mA", True), (GEAR, "Dimming", True),
    (GEAR, "exactly one gear answers", True), (GEAR, "24 h", False), (TAPE_GEAR, "Current of", False),
    (TAPE_GEAR, "Voltage of the output: 24.0 V", True),
    (EMERGENCY_GEAR, "24 h", True), (EMERGENCY_GEAR, "rated duration of 180 min", True),
    (EMERGENCY_GEAR, "log book", True), (CENTRAL_GEAR, "24 h", False),
    (CENTRAL_GEAR, "rated duration of 180 min", True),
    (replace(GEAR, duty=Duty.EMERGENCY_CONVERTER), "changes over", True),
])
def test_retests(gear: Gear, words: str, there: bool) -> None:
    """What is tested again depends on control and duty (common practice, no source)."""
    assert (words in " ".join(retests_for(gear))) is there


@pytest.mark.parametrize(("rating", "there"), [
    (None, True), (replace(RATING, protection_class=None), True),
    (replace(RATING, protection_class=ProtectionClass.CLASS_I), True),
    (replace(RATING, protection_class=ProtectionClass.CLASS_II), False),
    (replace(RATING, protection_class=ProtectionClass.CLASS_III), False),
])
def test_earth_by_class(rating: Rating | None, there: bool) -> None:
    """Class II and III have no protective earth (IEC 60598-1); where the class is not known the test stays."""
    found = " ".join(retests_for(GEAR, rating))
    assert ("Earth continuity" in found) is there
    assert "Insulation resistance" in found


@settings(max_examples=30, deadline=None)
@given(gear_strategy(), st.none() | st.sampled_from([None, *ProtectionClass]).map(
    lambda kind: replace(RATING, protection_class=kind)))
def test_every_gear_is_tested(gear: Gear, rating: Rating | None) -> None:
    """Whatever the gear: insulation, polarity and function in this order, and the log book last of an emergency duty."""
    found = " ".join(retests_for(gear, rating))
    assert 0 <= found.find("Insulation resistance") < found.find("Polarity") < found.find("Function: every")
    assert ("log book" in found) is (gear.duty is not Duty.GENERAL or gear.settings.emergency is not None)
