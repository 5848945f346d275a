"""Hours a year that gear burns or stands by, by its duty and its emergency mode."""

from __future__ import annotations

import pytest

from vault.domain.settings import Duty, Emergency, EmergencyMode, EmergencySupply
from vault.spares.burning_hours import FUNCTION_TESTS_H, HoursTable, YearHours, goes_by_circuit, year_hours

GENERAL, CONVERTER, BOTH = Duty.GENERAL, Duty.EMERGENCY_CONVERTER, Duty.GENERAL_AND_EMERGENCY
TESTS_H = 3 + FUNCTION_TESTS_H  # a yearly test of three hours


def _emergency(mode: EmergencyMode, supply: EmergencySupply = EmergencySupply.SELF_CONTAINED) -> Emergency:
    return Emergency(mode=mode, rated_duration_min=180, supply=supply)


MAINTAINED, SWITCHED, TESTED = (_emergency(mode) for mode in (
    EmergencyMode.MAINTAINED, EmergencyMode.SWITCHED_MAINTAINED, EmergencyMode.NON_MAINTAINED))
CENTRAL = _emergency(EmergencyMode.NON_MAINTAINED, EmergencySupply.CENTRAL)


@pytest.mark.parametrize(("duty", "emergency", "burning", "standby", "by_circuit"), [
    (GENERAL, None, 3000, 0, True),
    (BOTH, None, 3000, 5760, True),  # one gear for both, of which nobody said a mode: its light is switched all the same
    (BOTH, TESTED, 3000, 5760, True), (BOTH, CENTRAL, 3000, 0, True), (BOTH, MAINTAINED, 8760, 0, False),
    (CONVERTER, None, 0, 8760, False), (CONVERTER, TESTED, TESTS_H, 8760 - TESTS_H, False),
    (CONVERTER, SWITCHED, 3000, 5760, True), (CONVERTER, MAINTAINED, 8760, 0, False), (CONVERTER, CENTRAL, TESTS_H, 0, False),
])
def test_a_year_is_burnt_or_stood_by(duty: Duty, emergency: Emergency | None, burning: float, standby: float,
                                     by_circuit: bool) -> None:
    """A circuit of 3000 h in a year of 8760 h; without power only where nothing is under power between."""
    found = year_hours(HoursTable(by_circuit={"L1": 3000}), circuit="L1", type_code="T1", duty=duty, emergency=emergency)
    assert found == YearHours(burning=burning, standby=standby)
    assert goes_by_circuit(duty, emergency) is by_circuit
