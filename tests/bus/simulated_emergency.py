"""Device type 1, self-contained emergency gear (IEC 62386-202): its settings, tests and states."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulated_levels import MASK

if TYPE_CHECKING:
    from simulated_gear import SimulatedGear

INHIBIT_MS = 15 * 60 * 1000
MOST_WEEKS = 97
AUTO_TEST, ADJUSTABLE_LEVEL = 0x08, 0x10  # bits of the features
_QUERIES = {0xF1: "battery_charge", 0xF3: "duration_result", 0xF4: "lamp_emergency_time", 0xF5: "lamp_total_time",
            0xF6: "emergency_level", 0xF7: "emergency_min_level", 0xF8: "emergency_max_level", 0xF9: "rated_duration",
            0xFB: "emergency_features", 0xFC: "emergency_failure", 0xFF: "emergency_version"}
_DEFAULTS = {"function_test_days": 7, "duration_test_weeks": 52, "test_timeout_days": 7, "prolong": 0, "test_delay": 0}
# QUERY TEST TIMING by DTR0, 4 to 7.
_TIMING = {4: "function_test_days", 5: "duration_test_weeks", 6: "test_timeout_days", 7: "prolong"}


class EmergencyPart:
    """Times in the units of the standard: rated_duration 2 min, prolong 30 s, test_delay and next tests quarter-hours."""

    twice = frozenset({*range(0xE0, 0xF1), 0xFE})

    def __init__(self, gear: SimulatedGear) -> None:
        self._gear = gear
        self._inhibited_until_ms = -1.0
        self.mains, self.resting = True, False
        self.function_pending = self.duration_pending = False

    def defaults(self) -> dict[str, int]:
        """A maintained gear of three hours whose tests run by themselves; battery full, no test done yet."""
        return {**_DEFAULTS, "emergency_level": 254, "emergency_min_level": 1, "emergency_max_level": 254,
                "rated_duration": 90, "emergency_features": 0x02 | AUTO_TEST | ADJUSTABLE_LEVEL, "emergency_failure": 0,
                "battery_charge": 254, "duration_result": 0, "lamp_emergency_time": 0, "lamp_total_time": 0,
                "next_function_test": 7 * 96, "next_duration_test": 52 * 7 * 96, "function_done": 0, "duration_done": 0,
                "emergency_version": 1}

    def do(self, opcode: int) -> int | None:
        """One command or query."""
        gear = self._gear
        if opcode in _QUERIES:
            return gear.read(_QUERIES[opcode])
        match opcode:
            case 0xF2:
                return self._timing(gear.ram["dtr0"])
            case 0xFA:
                return gear.faults.reports.get("emergency_mode", self.mode_byte())
            case 0xFD:
                return gear.faults.reports.get("emergency_status", self.status_byte())
            case _ if opcode <= 0xE8:
                self._control(opcode)
            case _:
                self._configure(opcode, gear.ram["dtr0"])
        return None

    def mains_lost(self) -> None:
        """The supply fails: emergency mode, or rest mode while inhibited."""
        self.mains, self.resting = False, self.inhibited()
        self._inhibited_until_ms = -1.0

    def mains_back(self) -> None:
        """The supply is there again: normal mode."""
        self.mains, self.resting = True, False

    def inhibited(self) -> bool:
        """INHIBIT lasts fifteen minutes."""
        return self._gear.now_ms <= self._inhibited_until_ms

    def mode_byte(self) -> int:
        """Bit 0 rest, 1 normal, 2 emergency."""
        return 0x02 if self.mains else 0x01 if self.resting else 0x04

    def status_byte(self) -> int:
        """Bit 0 inhibited, 1 function test done, 2 duration test done, 3 battery full, 4 function and 5 duration pending."""
        held = self._gear.held
        return (int(self.inhibited()) | held["function_done"] << 1 | held["duration_done"] << 2
                | int(held["battery_charge"] == 254) << 3 | int(self.function_pending) << 4 | int(self.duration_pending) << 5)

    def reset(self) -> None:
        """RESET leaves the settings of tests: PERFORM DTR SELECTED FUNCTION 0 is their way back."""

    def power_cycle(self) -> None:
        """The bus and its supply went: an inhibit is over, the settings are kept."""
        self._inhibited_until_ms = -1.0

    def stored(self, opcode: int) -> None:
        """Nothing of it concerns this part."""

    def queried(self, opcode: int) -> None:
        """Nothing of it concerns this part."""

    def _control(self, opcode: int) -> None:
        gear = self._gear
        match opcode:
            case 0xE0 if not self.mains:
                self.resting = True
            case 0xE1 if self.mains:
                self._inhibited_until_ms = gear.now_ms + INHIBIT_MS
            case 0xE2:
                self._inhibited_until_ms, self.resting = -1.0, False
            case 0xE3:
                self.function_pending = True
            case 0xE4:
                self.duration_pending = True
            case 0xE5:
                self.function_pending = self.duration_pending = False
            case 0xE6:
                gear.store("function_done", 0)
            case 0xE7:
                gear.store("duration_done", 0)
            case 0xE8:
                gear.store("lamp_emergency_time", 0)
                gear.store("lamp_total_time", 0)

    def _configure(self, opcode: int, given: int) -> None:
        gear, features = self._gear, self._gear.held["emergency_features"]
        match opcode:
            case 0xE9 if features & ADJUSTABLE_LEVEL:
                gear.store("emergency_level", min(max(given, gear.held["emergency_min_level"]), gear.held["emergency_max_level"]))
            case 0xEA if features & AUTO_TEST:
                gear.store("test_delay", gear.held["test_delay"] & 0xFF | given << 8)
            case 0xEB if features & AUTO_TEST:
                gear.store("test_delay", gear.held["test_delay"] & 0xFF00 | given)
            case 0xEC if features & AUTO_TEST:
                gear.store("function_test_days", given)
                gear.store("next_function_test", gear.held["test_delay"] if given else 0xFFFF)
            case 0xED if features & AUTO_TEST:
                gear.store("duration_test_weeks", min(given, MOST_WEEKS))
                gear.store("next_duration_test", gear.held["test_delay"] if given else 0xFFFF)
            case 0xEE:
                gear.store("test_timeout_days", given)
            case 0xEF:
                gear.store("prolong", given)
            case 0xF0:
                gear.identified += 1
            case 0xFE if given == 0:
                for name, value in _DEFAULTS.items():
                    gear.store(name, value)
                gear.store("emergency_level", gear.held["emergency_max_level"])

    def _timing(self, selector: int) -> int | None:
        """The high byte of a time until a test puts the low byte into DTR1 (IEC 62386-202)."""
        gear = self._gear
        if selector in _TIMING:
            return gear.read(_TIMING[selector])
        if selector > 7:
            return None
        if not gear.held["emergency_features"] & AUTO_TEST:
            return MASK
        left = gear.read("next_function_test" if selector < 2 else "next_duration_test")
        if selector % 2 == 0:
            gear.ram["dtr1"] = left & 0xFF
            return left >> 8
        return left & 0xFF
