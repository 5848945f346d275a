"""How a spare is set to a current: which means comes nearest, and its exact position."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from vault.domain.driver import DriverModel, Holds, Means, Way
from vault.domain.positions import nearest_position, on_words, rotary_digits, switch_states, switches_drawn
from vault.domain.resistor import NoResistor, set_resistor
from vault.domain.units import ma, percent, permille


@dataclass(frozen=True, slots=True, kw_only=True)
class CurrentWay:
    """One way to a current. text is empty where a parameter sheet carries it (bus, NFC)."""

    means: Means
    gives_ma: Fraction
    text: str
    detail: str = ""


def off_words(gives_ma: Fraction, wanted_ma: int) -> str:
    """ "20 mA (2.9 %) below"."""
    off = abs(gives_ma - wanted_ma)
    return f"{ma(off)} ({percent(off * 100 / wanted_ma)}) {'below' if gives_ma < wanted_ma else 'above'}"


def position_words(means: Means, position: int, *, highest: int | None = None) -> tuple[str, str]:
    """(what to do, where ON is or "") for a position of switches, a rotary switch or a jumper.

    highest: the highest position there is, which tells how many dials a rotary switch has; default: of its table.
    """
    if means.way is Way.SWITCHES:
        states = switch_states(position, means.weights) if means.weights is not None else None
        if states is None:
            return f"Set the switches to position {position}, as the table on the driver draws it.", ""
        return f"Set the switches: {switches_drawn(states)}", on_words(means.on_is_down)
    if means.way is Way.ROTARY:
        hexadecimal = bool(means.hexadecimal)
        if highest is None:
            highest = max((p for p, _ in means.positions or ()), default=position)
        dials = len(means.weights) if means.weights else len(f"{highest:{'X' if hexadecimal else 'd'}}")
        digits = rotary_digits(position, hexadecimal=hexadecimal, dials=dials)
        if digits is None:
            return f"Set the rotary switches to position {position}, as the table on the driver shows it.", ""
        kind = "hexadecimal" if hexadecimal else "decimal"
        if len(digits) == 1:
            return f"Turn the rotary switch to {digits[0]} ({kind} marks).", ""
        return f"Turn the rotary switches to {' '.join(digits)}, the highest digit first ({kind} marks).", ""
    return f"Put the jumper at position {position}.", ""


def _by_position(means: Means, wanted_ma: int) -> CurrentWay | None:
    near = nearest_position(means.positions or (), wanted_ma)
    if near is None:
        return None
    position, gives = near
    text, where_on = position_words(means, position)
    detail = [where_on] if where_on else []
    if gives == wanted_ma:
        detail.append(f"This gives {ma(gives)}.")
    else:
        detail.append(f"{ma(wanted_ma)} is not among the positions of this driver. The nearest gives {ma(gives)}, "
                      f"{off_words(Fraction(gives), wanted_ma)}.")
    return CurrentWay(means=means, gives_ma=Fraction(gives), text=text, detail="\n".join(detail))


def _by_resistor(means: Means, spare: DriverModel, wanted_ma: int) -> CurrentWay | None:
    least, most = spare.current_min_ma or wanted_ma, spare.current_max_ma or wanted_ma
    choice = set_resistor(means, max(least, min(most, wanted_ma)))
    if isinstance(choice, NoResistor):
        return None
    gives = choice.gives_ma
    detail = (f"It gives {ma(gives)}; with its own tolerance of ±{permille(choice.tolerance_permille)} "
              f"{ma(choice.low_ma)} to {ma(choice.high_ma)}.")
    if gives != wanted_ma:
        detail += f"\nThat is {off_words(gives, wanted_ma)} the recorded {ma(wanted_ma)}."
    return CurrentWay(means=means, gives_ma=gives, detail=detail,
                      text=f"Fit a resistor of {choice.ohms_words} ({choice.series}).")


def _by_number(means: Means, spare: DriverModel, wanted_ma: int) -> CurrentWay | None:
    least, most, step = spare.current_min_ma, spare.current_max_ma, spare.current_step_ma
    if least is None or most is None or (step is None and least < wanted_ma < most):
        return None
    below = wanted_ma if step is None else least + max(0, wanted_ma - least) // step * step
    options = {max(least, min(most, value)) for value in (below, below + (step or 0))}
    gives = min(options, key=lambda value: (abs(value - wanted_ma), value))
    return CurrentWay(means=means, gives_ma=Fraction(gives), text="")


def _fixed(means: Means, spare: DriverModel, wanted_ma: int) -> CurrentWay | None:
    gives = spare.current_min_ma
    if gives is None or gives != spare.current_max_ma:
        return None
    off = f"That is {off_words(Fraction(gives), wanted_ma)} the recorded {ma(wanted_ma)}."
    return CurrentWay(means=means, gives_ma=Fraction(gives), text=f"Nothing to set: the driver gives {ma(gives)}.",
                      detail="" if gives == wanted_ma else off)


def ways_to(spare: DriverModel, wanted_ma: int) -> Iterator[CurrentWay]:
    """Every way of the spare that can be told, in the order in which its means are listed."""
    for means in spare.means:
        if Holds.CURRENT not in means.holds:
            continue
        if means.way in (Way.SWITCHES, Way.ROTARY, Way.JUMPER):
            found = _by_position(means, wanted_ma)
        elif means.way is Way.RESISTOR:
            found = _by_resistor(means, spare, wanted_ma)
        elif means.way is Way.FIXED:
            found = _fixed(means, spare, wanted_ma)
        else:
            found = _by_number(means, spare, wanted_ma)
        if found is not None:
            yield found


def nearest_way(spare: DriverModel, wanted_ma: int) -> CurrentWay | None:
    """The way whose current is nearest; the lower current of two as near, then the means listed first."""
    return min(ways_to(spare, wanted_ma), key=lambda way: (abs(way.gives_ma - wanted_ma), way.gives_ma), default=None)
