"""Hours a year that a driver burns, or stands by under power. Nothing that is signed says them: they are assumptions."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from vault.domain.settings import Duty, Emergency, EmergencyMode, EmergencySupply

YEAR_H = 8760
# Of general lighting where nobody says otherwise (common practice, no source).
DEFAULT_H = 4000
# Twelve monthly function tests of half a minute (EN 50172, from memory); the yearly test lasts the rated duration.
FUNCTION_TESTS_H = 12 * 30 / 3600


@dataclass(frozen=True, slots=True, kw_only=True)
class YearHours:
    """Hours of one year. burning: its lamps are lit. standby: under power without light, charging or ready."""

    burning: float
    standby: float = 0.0

    @property
    def powered(self) -> float:
        """Hours in which electronics can fail: what a failure rate counts."""
        return self.burning + self.standby


@dataclass(frozen=True, slots=True, kw_only=True)
class HoursTable:
    """Burning hours of a year of general lighting. What is said of a circuit comes before what is said of a type. source: the
    file that says so."""

    by_circuit: Mapping[str, int] = field(default_factory=dict)
    by_type: Mapping[str, int] = field(default_factory=dict)
    default: int = DEFAULT_H
    source: str = field(default="", compare=False)

    def lit(self, circuit: str | None, type_code: str) -> int:
        """Hours a year of general lighting on a circuit."""
        if circuit is not None and circuit in self.by_circuit:
            return self.by_circuit[circuit]
        return self.by_type.get(type_code, self.default)

    def is_assumed(self, circuit: str | None, type_code: str) -> bool:
        """Whether nobody said them."""
        return circuit not in self.by_circuit and type_code not in self.by_type


def year_hours(hours: HoursTable, *, circuit: str | None, type_code: str, duty: Duty, emergency: Emergency | None) -> YearHours:
    """Hours of one gear.

    General: as its circuit burns, without power for the rest. Maintained emergency: the whole year. Switched maintained, or
    general light and emergency in one gear: as its circuit burns, standby for the rest. Non-maintained: it burns in its tests
    alone and stands by for the rest; from a central supply it has no power then. An unknown mode counts as non-maintained.
    """
    lit = hours.lit(circuit, type_code)
    if duty is Duty.GENERAL:
        return YearHours(burning=lit)
    if emergency is not None and emergency.mode is EmergencyMode.MAINTAINED:
        return YearHours(burning=YEAR_H)
    tests = 0.0 if emergency is None else emergency.rated_duration_min / 60 + FUNCTION_TESTS_H
    burning = float(lit) if goes_by_circuit(duty, emergency) else tests
    central = emergency is not None and emergency.supply is EmergencySupply.CENTRAL
    return YearHours(burning=burning, standby=0.0 if central else YEAR_H - burning)


def goes_by_circuit(duty: Duty, emergency: Emergency | None) -> bool:
    """Whether gear burns as its circuit is switched, so that its circuit's hours, or its type's, count."""
    if duty is Duty.EMERGENCY_CONVERTER:
        return emergency is not None and emergency.mode is EmergencyMode.SWITCHED_MAINTAINED
    return duty is Duty.GENERAL or emergency is None or emergency.mode is not EmergencyMode.MAINTAINED
