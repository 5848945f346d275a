"""Device type 8, colour control (IEC 62386-209), for gear whose colour is a colour temperature Tc in mirek."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulated_levels import MASK

if TYPE_CHECKING:
    from simulated_gear import SimulatedGear

UNUSED = 0xFFFF
_SCENES = tuple(f"scene_{n}_mirek" for n in range(16))
# STORE COLOUR TEMPERATURE Tc LIMIT by DTR2: 0 coolest, 1 warmest, 2 physical coolest, 3 physical warmest.
_LIMITS = ("coolest_mirek", "warmest_mirek", "physical_coolest_mirek", "physical_warmest_mirek")
# QUERY COLOUR VALUE by DTR0 (table of colour values): 2 actual, 128 to 131 limits, 194 temporary, 226 report.
_VALUES = {2: "actual_mirek", 128: "coolest_mirek", 129: "physical_coolest_mirek", 130: "warmest_mirek",
           131: "physical_warmest_mirek", 194: "temporary_mirek", 226: "report_mirek"}
# A query of a level copies its colour into the report.
_REPORTED = {0xA0: "actual_mirek", 0xA3: "power_on_mirek", 0xA4: "system_failure_mirek",
             **{0xB0 + n: name for n, name in enumerate(_SCENES)}}
# A store of a level takes the temporary colour along, and the temporary colour is then unused.
_STORED = {0x2C: "system_failure_mirek", 0x2D: "power_on_mirek", **{0x40 + n: name for n, name in enumerate(_SCENES)}}


class ColourPart:
    """Mirek values are 16 bits wide, 65535 for none."""

    twice = frozenset(range(0xF0, 0xF6))

    def __init__(self, gear: SimulatedGear) -> None:
        self._gear = gear
        gear.ram |= {"temporary_mirek": UNUSED, "report_mirek": UNUSED, "actual_mirek": 250}

    def defaults(self) -> dict[str, int]:
        """As they leave the factory: the whole range may be used, and nothing has a colour."""
        return {"physical_coolest_mirek": 1, "physical_warmest_mirek": 0xFFFE, "coolest_mirek": 1, "warmest_mirek": 0xFFFE,
                "power_on_mirek": UNUSED, "system_failure_mirek": UNUSED, **dict.fromkeys(_SCENES, UNUSED)}

    def do(self, opcode: int) -> int | None:
        """The commands and queries that concern Tc."""
        gear = self._gear
        match opcode:
            case 0xE7:
                gear.ram["temporary_mirek"] = self._sixteen_bits()
            case 0xE2:
                self._activate()
            case 0xF2 if gear.ram["dtr2"] < len(_LIMITS):
                self._limit(_LIMITS[gear.ram["dtr2"]])
            case 0xF7:
                return 0x01  # a level command activates the temporary colour
            case 0xF8:
                return 0x20  # colour type Tc is active
            case 0xF9:
                return 0x02  # capable of Tc alone
            case 0xFA:
                return self._value()
            case 0xFF:
                return 2
        return None

    def reset(self) -> None:
        """The stored colours go, the limits go back to what is physically possible."""
        self._gear.ram["temporary_mirek"] = UNUSED
        for name in ("power_on_mirek", "system_failure_mirek", *_SCENES):
            self._gear.store(name, UNUSED)
        self._gear.store("coolest_mirek", self._gear.held["physical_coolest_mirek"])
        self._gear.store("warmest_mirek", self._gear.held["physical_warmest_mirek"])

    def power_cycle(self) -> None:
        """Temporary and report are not kept; the light takes the power-on colour where one is stored."""
        ram, colour = self._gear.ram, self._gear.held["power_on_mirek"]
        ram["temporary_mirek"] = ram["report_mirek"] = UNUSED
        if colour != UNUSED:
            ram["actual_mirek"] = colour

    def stored(self, opcode: int) -> None:
        """A level was stored: its colour goes with it. REMOVE FROM SCENE takes the colour away."""
        if opcode in _STORED:
            self._gear.store(_STORED[opcode], self._gear.ram["temporary_mirek"])
            self._gear.ram["temporary_mirek"] = UNUSED
        elif 0x50 <= opcode < 0x60:
            self._gear.store(_SCENES[opcode & 0x0F], UNUSED)

    def queried(self, opcode: int) -> None:
        """A level is asked for: its colour goes into the report."""
        if opcode in _REPORTED:
            self._gear.ram["report_mirek"] = self._gear.read(_REPORTED[opcode])

    def _sixteen_bits(self) -> int:
        return self._gear.ram["dtr1"] << 8 | self._gear.ram["dtr0"]

    def _activate(self) -> None:
        held, ram = self._gear.held, self._gear.ram
        if ram["temporary_mirek"] != UNUSED:
            ram["actual_mirek"] = min(max(ram["temporary_mirek"], held["coolest_mirek"]), held["warmest_mirek"])
            ram["temporary_mirek"] = UNUSED

    def _limit(self, name: str) -> None:
        """The coolest stays between physical coolest and warmest, the warmest between coolest and physical warmest."""
        held, given = self._gear.held, self._sixteen_bits()
        bounds = {"coolest_mirek": ("physical_coolest_mirek", "warmest_mirek"),
                  "warmest_mirek": ("coolest_mirek", "physical_warmest_mirek")}
        if name in bounds:
            low, high = bounds[name]
            given = min(max(given, held[low]), held[high])
        self._gear.store(name, given)

    def _value(self) -> int | None:
        """QUERY COLOUR VALUE: the high byte is the answer, the low byte goes into DTR0 and the high one into DTR1."""
        name = _VALUES.get(self._gear.ram["dtr0"])
        if name is None:
            return None
        value = self._gear.read(name)
        self._gear.ram["dtr0"], self._gear.ram["dtr1"] = value & MASK, value >> 8
        return value >> 8
