"""Device type 6, LED modules (IEC 62386-207): dimming curve and fast fade."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from simulated_gear import SimulatedGear

SLOWEST_FAST_FADE = 27  # 27 x 25 ms = 675 ms
_QUERIES = {0xEE: "curve", 0xFD: "fast_fade", 0xFE: "least_fast_fade", 0xED: "led_gear_type", 0xF0: "led_features",
            0xF1: "led_failure", 0xFC: "led_mode", 0xFF: "led_version"}


class LedPart:
    """Curve 0 is the standard logarithmic one, 1 the linear one."""

    twice = frozenset(range(0xE0, 0xE5))

    def __init__(self, gear: SimulatedGear) -> None:
        self._gear = gear

    def defaults(self) -> dict[str, int]:
        """As they leave the factory."""
        return {"curve": 0, "fast_fade": 0, "least_fast_fade": 1, "led_gear_type": 0, "led_features": 0, "led_failure": 0,
                "led_mode": 0, "led_version": 1}

    def do(self, opcode: int) -> int | None:
        """SELECT DIMMING CURVE takes 0 and 1, STORE DTR AS FAST FADE TIME 0 and least to 27; the rest is passed over."""
        gear, given = self._gear, self._gear.ram["dtr0"]
        if opcode == 0xE3 and given <= 1:
            gear.store("curve", given)
        elif opcode == 0xE4 and given <= SLOWEST_FAST_FADE:
            gear.store("fast_fade", max(given, gear.held["least_fast_fade"]) if given else 0)
        return gear.read(_QUERIES[opcode]) if opcode in _QUERIES else None

    def reset(self) -> None:
        """Both are among the values of RESET."""
        self._gear.store("curve", 0)
        self._gear.store("fast_fade", 0)

    def power_cycle(self) -> None:
        """Both are kept."""

    def stored(self, opcode: int) -> None:
        """Nothing of it concerns this part."""

    def queried(self, opcode: int) -> None:
        """Nothing of it concerns this part."""
