"""Setting means of driver models: by what a driver is set, and what each position of it gives."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from enum import IntEnum
from types import MappingProxyType
from typing import ClassVar

from vault.domain.positions import rotary_digits, switch_states
from vault.domain.schema import Problem, choice, choices, flag, table, text, whole, words


class Way(IntEnum):
    """The setting means of the trade."""

    FIXED = 0
    BUS = 1
    NFC = 2
    SWITCHES = 3
    ROTARY = 4
    RESISTOR = 5
    JUMPER = 6
    PLUG = 7


class Holds(IntEnum):
    """What a setting means can set."""

    CURRENT = 0
    ADDRESS = 1
    LEVELS = 2
    FADES = 3
    GROUPS_AND_SCENES = 4
    CURVE = 5
    COLOUR = 6
    EMERGENCY = 7
    LUMEN_MAINTENANCE = 8
    THERMAL = 9
    PRESENCE = 10
    VOLTAGE = 11
    DC_LEVEL = 12


class ResistorSeries(IntEnum):
    """Preferred values of IEC 60063 that the maker of a driver names."""

    E24 = 0
    E96 = 1
    E192 = 2


HAND_WAYS = (Way.SWITCHES, Way.ROTARY, Way.JUMPER, Way.PLUG)
HELD_AS: Mapping[str, Holds] = MappingProxyType({
    "current_ma": Holds.CURRENT,
    **dict.fromkeys(("voltage_mv", "voltage_min_mv", "voltage_max_mv", "power_max_mw"), Holds.VOLTAGE),
    **dict.fromkeys(("short_address", "central_address"), Holds.ADDRESS),
    **dict.fromkeys(("min_level", "max_level", "power_on_level", "system_failure_level"), Holds.LEVELS),
    **dict.fromkeys(("fade_time", "fade_rate", "extended_fade"), Holds.FADES),
    **dict.fromkeys(("groups", "scenes"), Holds.GROUPS_AND_SCENES),
    "curve": Holds.CURVE,
    **dict.fromkeys(("coolest_mirek", "warmest_mirek", "default_mirek", "scene_mirek"), Holds.COLOUR),
    **dict.fromkeys(("mode", "rated_duration_min", "emergency_level_permille", "function_test_days",
                     "duration_test_weeks", "test_delay_min", "prolong_s", "test_timeout_days",
                     "emergency_current_ma", "emergency_power_mw"), Holds.EMERGENCY),
    "dc_level_permille": Holds.DC_LEVEL,
    "lumen_maintenance": Holds.LUMEN_MAINTENANCE,
    "thermal_derating": Holds.THERMAL,
    **dict.fromkeys(("hold_s", "absence_level_permille", "absence_s"), Holds.PRESENCE),
})
# Fields of the record that are lists of figures; no position stands for one of them. The current is the default.
_NO_POSITION = frozenset({"current_ma", "scenes", "scene_mirek", "lumen_maintenance", "thermal_derating"})
POSITION_FIELDS = tuple(name for name in HELD_AS if name not in _NO_POSITION)


@dataclass(frozen=True, slots=True, kw_only=True)
class Means:
    """One setting means of a driver model, and what it can set.

    positions: for switches, rotary, jumper and plug, rows (position, mA): the position as a number (switches: the
    sum of the weights that count), what it gives. sets: field of the record that the rows give instead of the
    current; a mode or curve as its number of vault/FORMAT.md. Without rows the position is the value itself.
    weights: weight of each switch in the order of `switches`; of a rotary: of each dial, the highest first.
    switches: numbers as printed of the switches that this means uses; left out, 1, 2, 3 … as many as there are weights.
    The other switches of the bank, of bank_size in all, mean something else. bank: its name as printed, also of a
    rotary, a jumper or a row of plugs. off_counts: the weights of the switches at OFF add up, not those at ON.
    on_is_down: switches whose ON is the lower place. hexadecimal: rotary with 16 places.
    marks: what stands at the places of a jumper, round a dial or on the plugs, with blanks between: one for each row
    of positions, or one for each position number from 0. channel: the one output channel that it sets, else all.
    resistor_ma_ohm: current = resistor_ma_ohm / R. resistor_series: left out, E96; resistor_min_ohm,
    resistor_max_ohm: what may be fitted. distance_mm and write_ms: NFC. mains_off: the means must be used without
    supply. dali_parts: parts of IEC 62386 served over the bus.
    """

    FORM: ClassVar[str] = "map"
    way: Way = choice(1, Way, required=True)
    holds: frozenset[Holds] = choices(2, Holds, required=True)
    positions: tuple[tuple[int, int], ...] | None = table(3, (2, 3), 64)
    weights: tuple[int, ...] | None = table(4, (2,), 10)
    on_is_down: bool | None = flag(5)
    hexadecimal: bool | None = flag(6)
    resistor_ma_ohm: int | None = whole(7, 1, 2**32 - 1, "mA·Ω")
    resistor_tolerance_permille: int | None = whole(8, 0, 200, "‰")
    distance_mm: int | None = whole(9, 0, 500, "mm")
    write_ms: int | None = whole(10, 1, 60_000, "ms")
    mains_off: bool | None = flag(11)
    dali_parts: tuple[int, ...] | None = table(12, (2,), 12)
    switches: tuple[int, ...] | None = table(13, (1,), 10)
    bank_size: int | None = whole(14, 1, 16)
    bank: str | None = text(15, 16)
    off_counts: bool | None = flag(16)
    marks: str | None = text(17, 240)
    sets: str | None = text(18, 32)
    channel: int | None = whole(19, 1, 4)
    resistor_series: ResistorSeries | None = choice(20, ResistorSeries)
    resistor_min_ohm: int | None = whole(21, 1, 2**32 - 1, "Ω")
    resistor_max_ohm: int | None = whole(22, 1, 2**32 - 1, "Ω")

    @property
    def rows(self) -> tuple[tuple[int, int], ...]:
        """The rows of positions, none for a means without."""
        return self.positions if isinstance(self.positions, tuple) else ()

    @property
    def numbers(self) -> tuple[int, ...]:
        """Printed numbers of the switches used, in the order of the weights."""
        if self.switches:
            return self.switches
        return tuple(range(1, len(self.weights or ()) + 1))

    @property
    def base(self) -> int:
        """Places round one dial of a rotary."""
        return 16 if self.hexadecimal else 10

    @property
    def dials(self) -> int:
        """Dials of a rotary: as many as it has weights, else as many as show its highest row or, without rows, 63."""
        highest = max((position for position, _ in self.rows), default=63)
        return len(self.weights) if self.weights else len(f"{highest:{'X' if self.hexadecimal else 'd'}}")

    def mark(self, position: int) -> str | None:
        """What stands at a position, None where the model does not say."""
        marks = self.marks.split() if self.marks else []
        positions = [row for row, _ in self.rows]
        if len(marks) == len(positions) and position in positions:
            return marks[positions.index(position)]
        return marks[position] if position < len(marks) else None

    def states(self, position: int) -> tuple[bool, ...] | None:
        """Which switches stand at ON for a position, in the order of the weights; None where none give it."""
        counted = switch_states(position, self.weights or ())
        if counted is None or not self.weights:
            return None
        return tuple(counts is not bool(self.off_counts) for counts in counted)

    def can_show(self, position: int) -> bool:
        """Whether the weights of the switches, or the dials, can form a position."""
        if self.way is Way.SWITCHES and self.weights:
            return self.states(position) is not None
        if self.way is Way.ROTARY:
            return rotary_digits(position, hexadecimal=bool(self.hexadecimal), dials=self.dials) is not None
        return True

    def further_problems(self, path: str) -> Iterator[Problem]:
        """Weights, switches, marks and positions go together."""
        for field, found, allowed in (*_bank_problems(self), *_position_problems(self), *_other_problems(self)):
            yield Problem(path=f"{path}.{field}".lstrip("."), found=found, allowed=allowed)


def _twice(figures: tuple[int, ...]) -> Iterator[str]:
    return (f"{figure} twice" for figure, times in Counter(figures).items() if times > 1)


def _bank_problems(means: Means) -> Iterator[tuple[str, str, str]]:
    if not all(isinstance(figures, tuple | None) for figures in (means.weights, means.switches)):
        yield "weights", "not set", "numbers, or left out"
        return
    weights, switches, size = means.weights or (), means.switches or (), means.bank_size
    if 0 in weights:
        yield "weights", "0", "1 or more for each switch"
    if switches and len(switches) != len(weights):
        yield "switches", f"{len(switches)} numbers", f"one for each of the {len(weights)} weights"
    yield from (("switches", found, "each switch once") for found in _twice(switches))
    if size is not None and means.numbers:
        out = [number for number in means.numbers if not 1 <= number <= size]
        yield from (("switches", str(number), f"1 to {size}, the switches of the bank") for number in out)
    elif 0 in switches:
        yield "switches", "0", "1 or more, as printed"
    if means.way is Way.ROTARY and weights:
        due = tuple(means.base ** place for place in reversed(range(len(weights))))
        if weights != due:
            yield "weights", " ".join(map(str, weights)), f"{' '.join(map(str, due))} for these dials"


def _position_problems(means: Means) -> Iterator[tuple[str, str, str]]:
    if means.way not in HAND_WAYS:
        return
    positions = tuple(position for position, _ in means.rows)
    yield from (("positions", f"position {found}", "each position once") for found in _twice(positions))
    for position in positions:
        if not means.can_show(position):
            yield "positions", f"position {position}", "a position that the switches or dials can form"
    marks = means.marks.split() if means.marks else []
    if marks and positions and len(marks) != len(positions) and len(marks) <= max(positions):
        yield ("marks", f"{len(marks)} marks", f"{len(positions)}, one for each row, or {max(positions) + 1}, one for "
               "each position from 0")
    if len(set(marks)) != len(marks):
        yield "marks", "a mark twice", "each mark once"


def _other_problems(means: Means) -> Iterator[tuple[str, str, str]]:
    if means.sets is not None:
        if means.sets not in POSITION_FIELDS:
            yield "sets", repr(means.sets), ", ".join(POSITION_FIELDS)
        elif HELD_AS[means.sets] not in means.holds:
            yield "sets", repr(means.sets), f"a field of what it holds: {', '.join(sorted(map(words, means.holds)))}"
        elif not means.rows and HELD_AS[means.sets] is not Holds.ADDRESS:
            yield "sets", repr(means.sets), "rows of positions beside it, which say what each position gives"
    least, most = means.resistor_min_ohm, means.resistor_max_ohm
    if least is not None and most is not None and least > most:
        yield "resistor_min_ohm", f"{least} Ω", f"at most {most} Ω"
