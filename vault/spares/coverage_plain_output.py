"""Plain stops of what the spare gives out: kind of output, channels, current, window, power."""

from __future__ import annotations

from fractions import Fraction
from functools import lru_cache
from typing import Any

from vault.domain.apply_current import settable
from vault.domain.driver import DriverModel, Window
from vault.domain.fit_current import CARE_PERCENT, GOOD_PERCENT
from vault.domain.schema import words
from vault.domain.settings import Output
from vault.domain.units import ma, mv_range, mw
from vault.domain.voltage import coldest_c, hot_and_cold_mv
from vault.domain.window import voltage_span_at
from vault.spares.coverage_row import Plain, Row, position_of


def _hazard(found: Any, _model: DriverModel) -> str | None:
    return f"The type is approved for {words(found)} use; refer it to whoever answers for that approval."


def _duty(found: Any, _model: DriverModel) -> str | None:
    return f"The type has no {words(found)} gear."


def _output(found: Any, model: DriverModel) -> str | None:
    for wanted in found:
        if model.output is not wanted:
            return f"The spare gives {words(model.output).replace('-', ' ')}, not {words(wanted).replace('-', ' ')}."
    return None


def _channels(found: Any, model: DriverModel) -> str | None:
    have, want = found
    if have != want:
        return f"The record names {_channel_words(have)}, but the type has {want}."
    if model.channels >= want:
        return None
    return f"The spare has {_channel_words(model.channels)}, but {want} are needed."  # want is more than one then


def _channel_words(count: int) -> str:
    return "1 output channel" if count == 1 else f"{count} output channels"


@lru_cache(maxsize=65536)
def _near(model: DriverModel, wanted_ma: int, channel: int) -> Fraction | None:
    way = settable(model, wanted_ma, channel)
    return None if way is None else way.gives_ma


def _match(found: Any, model: DriverModel) -> str | None:
    for number, (wanted, _, _) in enumerate(found, 1):
        near = None if wanted is None else _near(model, wanted, number)
        if near is not None and abs(near - wanted) * 100 > CARE_PERCENT * wanted:
            return f"The spare can be set to {ma(near)}, more than {CARE_PERCENT} % off the recorded {ma(wanted)}."
    return None


def _permitted(found: Any, model: DriverModel) -> str | None:
    for number, (wanted, least, most) in enumerate(found, 1):
        near = None if wanted is None else _near(model, wanted, number)
        if near is None or ((least is None or near >= least) and (most is None or near <= most)):
            continue
        # A good match on the edge of the range may be a care: that is for the whole fit to say.
        if abs(near - wanted) * 100 > GOOD_PERCENT * wanted:
            return f"The spare will be set to {ma(near)}; the type permits {ma(least or 0)} to {ma(most) if most else 'any'}."
    return None


def _currents(row: Row) -> Any:
    if position_of(row).output is not Output.CONSTANT_CURRENT:
        return None
    return tuple((c.current_ma, m.current_min_ma, m.current_max_ma) for c, m in _pairs(row))


def _pairs(row: Row) -> Any:
    return zip(row.gear.settings.channels, position_of(row).modules, strict=False)


@lru_cache(maxsize=65536)
def _spans(window: Window, current_ma: Fraction) -> tuple[tuple[Fraction, Fraction], ...]:
    return tuple(voltage_span_at(window, current_ma))


def _window(found: Any, model: DriverModel) -> str | None:
    for number, (wanted, low, high) in enumerate(found, 1):
        if model.window is None or wanted is None or low is None or high is None:
            continue
        near = _near(model, wanted, number)
        current = Fraction(wanted) if near is None else near
        spans = _spans(model.window, current)
        if not any(span[0] <= low and high <= span[1] for span in spans):
            room = " or ".join(mv_range(*span) for span in spans) or "none"
            return f"At {ma(current)} the light source needs {mv_range(low, high)}, and the window of the spare is {room}."
    return None


def _points(row: Row) -> Any:
    if position_of(row).output is not Output.CONSTANT_CURRENT:
        return None
    coldest = coldest_c(row.rating)
    return tuple((c.current_ma, *hot_and_cold_mv(m, ambient_min_c=coldest)) for c, m in _pairs(row))


def _power(found: Any, model: DriverModel) -> str | None:
    total, most = Fraction(0), model.power_total_max_mw
    for number, (wanted, _, high) in enumerate(found, 1):
        if wanted is None or high is None or most is None:
            return None
        near = _near(model, wanted, number)
        total += (Fraction(wanted) if near is None else near) * high / 1000
    if most is None or total <= most:
        return None
    return f"The channels together take {mw(total)}, but the spare gives {mw(most)}."


SHAPE: tuple[Plain, ...] = tuple(Plain(rule=rule, figures=figures, stops=stops) for rule, figures, stops in (
    ("hazard", lambda row: min(row.rating.hazards or (), default=None), _hazard),
    ("duty", lambda row: row.gear.duty if row.position is None else None, _duty),
    ("output", lambda row: (row.gear.settings.output, position_of(row).output), _output),
    ("channels", lambda row: (len(row.gear.settings.channels), len(position_of(row).modules)), _channels),
))
CURRENT: tuple[Plain, ...] = tuple(Plain(rule=rule, figures=figures, stops=stops) for rule, figures, stops in (
    ("current-match", _currents, _match), ("current-permitted", _currents, _permitted), ("window", _points, _window),
    ("total-power", _points, _power),
))
