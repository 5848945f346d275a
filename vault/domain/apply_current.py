"""How a spare is set to a current: which means comes nearest, and its exact position."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from vault.domain.apply_words import position_words
from vault.domain.driver import DriverModel
from vault.domain.means import HAND_WAYS, Holds, Means, Way
from vault.domain.positions import nearest_position, switch_sums
from vault.domain.resistor import NoResistor, ResistorChoice, set_resistor
from vault.domain.units import ma, percent, permille

_FIXED = Means(way=Way.FIXED, holds=frozenset({Holds.CURRENT}))


@dataclass(frozen=True, slots=True, kw_only=True)
class CurrentWay:
    """One way to a current: what it gives, and the position or resistor for it; neither where a tool sets a figure.

    refused: why it may not be used although nothing comes nearer, or "".
    """

    means: Means
    wanted_ma: int
    gives_ma: Fraction
    position: int | None = None
    resistor: ResistorChoice | None = None
    refused: str = ""

    @property
    def own_permille(self) -> int:
        """Tolerance that the means adds to the driver's own: the resistor's."""
        return self.resistor.tolerance_permille if self.resistor is not None else 0

    @property
    def text(self) -> str:
        """What to do; "" where a parameter sheet carries it (bus, NFC) or where the way is refused."""
        if self.refused:
            return ""
        if self.position is not None:
            return position_words(self.means, self.position)[0]
        if self.resistor is not None:
            return f"Fit a resistor of {self.resistor.ohms_words} ({self.resistor.series})."
        return f"Nothing to set: the driver gives {ma(self.gives_ma)}." if self.means.way is Way.FIXED else ""

    @property
    def detail(self) -> str:
        """Where ON is, what it gives and how far that is from the recorded current; lines, or ""."""
        gives, wanted, lines = self.gives_ma, self.wanted_ma, []
        if self.position is not None:
            lines += position_words(self.means, self.position)[1]
            lines.append(f"This gives {ma(gives)}." if gives == wanted else
                         f"{ma(wanted)} is not among the positions of this driver. The nearest gives {ma(gives)}, "
                         f"{off_words(gives, wanted)}.")
        elif self.resistor is not None:
            chosen = self.resistor
            if chosen.bands:
                lines.append(f"Its colours: {', '.join(chosen.bands)} (IEC 60062).")
            lines.append(f"It gives {ma(gives)}; with its own tolerance of ±{permille(chosen.tolerance_permille)} "
                         f"{ma(chosen.low_ma)} to {ma(chosen.high_ma)}.")
        if self.position is None and self.text and gives != wanted:
            lines.append(f"That is {off_words(gives, wanted)} the recorded {ma(wanted)}.")
        return "\n".join(lines)


def off_words(gives_ma: Fraction, wanted_ma: int) -> str:
    """ "20 mA (2.9 %) below"."""
    off = abs(gives_ma - wanted_ma)
    return f"{ma(off)} ({percent(off * 100 / wanted_ma)}) {'below' if gives_ma < wanted_ma else 'above'}"


def current_rows(means: Means) -> Sequence[tuple[int, int]]:
    """Rows (position, mA) of a means set by hand; without a table the weights of switches are milliamperes."""
    if means.sets not in (None, "current_ma"):
        return ()
    if means.rows or means.way is not Way.SWITCHES or not means.weights:
        return means.rows
    return [(total, total) for total in switch_sums(means.weights) if total]


def _by_position(means: Means, wanted_ma: int) -> CurrentWay | None:
    near = nearest_position(current_rows(means), wanted_ma)
    if near is None:
        return None
    return CurrentWay(means=means, wanted_ma=wanted_ma, gives_ma=Fraction(near[1]), position=near[0])


def _by_resistor(means: Means, spare: DriverModel, wanted_ma: int) -> CurrentWay | None:
    found = set_resistor(means, wanted_ma, least_ma=spare.current_min_ma, most_ma=spare.current_max_ma)
    choice, refused = (found.nearest, found.reason) if isinstance(found, NoResistor) else (found, "")
    if choice is None:
        return None
    if refused and spare.current_min_ma is not None and spare.current_max_ma is not None:
        refused += f", which is {ma(spare.current_min_ma)} to {ma(spare.current_max_ma)}"
    return CurrentWay(means=means, wanted_ma=wanted_ma, gives_ma=choice.gives_ma, resistor=choice, refused=refused)


def _by_number(means: Means, spare: DriverModel, wanted_ma: int) -> CurrentWay | None:
    least, most, step = spare.current_min_ma, spare.current_max_ma, spare.current_step_ma
    if least is None or most is None or (step is None and least < wanted_ma < most):
        return None
    below = wanted_ma if step is None else least + max(0, wanted_ma - least) // step * step
    options = {max(least, min(most, value)) for value in (below, below + (step or 0))}
    gives = min(options, key=lambda value: (abs(value - wanted_ma), value))
    return CurrentWay(means=means, wanted_ma=wanted_ma, gives_ma=Fraction(gives))


def _fixed(means: Means, spare: DriverModel, wanted_ma: int) -> CurrentWay | None:
    gives = spare.current_min_ma
    if gives is None or gives != spare.current_max_ma:
        return None
    return CurrentWay(means=means, wanted_ma=wanted_ma, gives_ma=Fraction(gives))


def ways_to(spare: DriverModel, wanted_ma: int, channel: int | None = None) -> Iterator[CurrentWay]:
    """Every way of the spare that can be told, in the order in which its means are listed.

    channel: number of the output channel; None looks at the means of every channel.
    """
    setting = [means for means in spare.means if Holds.CURRENT in means.holds
               and (channel is None or means.channel in (None, channel))]
    for means in setting or (_FIXED,):
        if means.way in HAND_WAYS:
            found = _by_position(means, wanted_ma)
        elif means.way is Way.RESISTOR:
            found = _by_resistor(means, spare, wanted_ma)
        elif means.way is Way.FIXED:
            found = _fixed(means, spare, wanted_ma)
        else:
            found = _by_number(means, spare, wanted_ma)
        if found is not None:
            yield found


def nearest_way(spare: DriverModel, wanted_ma: int, channel: int | None = None) -> CurrentWay | None:
    """The way whose current is nearest; the lower current of two as near, one not refused, the means listed first."""
    return min(ways_to(spare, wanted_ma, channel), default=None,
               key=lambda way: (abs(way.gives_ma - wanted_ma), way.gives_ma, bool(way.refused)))


def settable(spare: DriverModel, wanted_ma: int, channel: int | None = None) -> CurrentWay | None:
    """What a fit is judged by: the nearest way; a model that lists no means at all is taken at its range of currents."""
    found = nearest_way(spare, wanted_ma, channel)
    return _by_number(_FIXED, spare, wanted_ma) if found is None and not spare.means else found


def settable_mv(spare: DriverModel, wanted_mv: int | None, channel: int | None = None) -> int | None:
    """The output voltage a fit is judged by: nearest to the wanted one of those that a means gives, else the model's."""
    rows = [row for means in spare.means if means.way in HAND_WAYS and means.sets == "voltage_mv"
            and (channel is None or means.channel in (None, channel)) for row in means.rows]
    if not rows or wanted_mv is None:
        return spare.constant_voltage_mv
    return min((given for _, given in rows), key=lambda given: (abs(given - wanted_mv), given))
