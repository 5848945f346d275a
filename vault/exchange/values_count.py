"""Counts and raw figures: 1 Stk, x2, 2700 K, fade times, and supply voltages as 220-240 V AC/DC."""

from __future__ import annotations

import re
from collections.abc import Mapping
from decimal import Decimal

from vault.domain.levels import fade_time_s
from vault.exchange.cell_reading import ColumnFacts, Said
from vault.exchange.values_measure import Measure, read_measure
from vault.exchange.values_number import figure, joined, quantity, written
from vault.exchange.values_parts import AS_IT_STANDS, Option, decide, refuse
from vault.exchange.values_strict import is_own
from vault.exchange.values_voltage import VOLTAGE, ends

_QUANTITY = re.compile(
    r"(?:x|qty|anz)?\.? ?([0-9]{1,6})(?:[.,]0{1,2})? ?(?:x|off|no|nr|pcs?|pieces?|pc|ea|each|units?|stk|stck|st|stück|pièces?|"
    r"pce|p|u|ud|uds|unités?|pz|pezzi|n|unidades|stuks?|ens)?\.?", re.IGNORECASE)
PERCENT = Measure(unit="%", units={"%": Decimal(1), "percent": Decimal(1), "prozent": Decimal(1), "‰": Decimal("0.1"),
                                   "fraction": Decimal(100)},
                  least=Decimal(0), most=Decimal(100), called="a share", allowed="0 to 100 %, as 15 %", bare=("%", "fraction"))
KELVIN = Measure(unit="K", units={"k": Decimal(1), "kelvin": Decimal(1), "°k": Decimal(1)}, least=Decimal(1000),
                 most=Decimal(25_000), called="a colour temperature", whole=True,
                 allowed="1,000 to 25,000 K in whole kelvin, as 2700 K")
_FADE_TIMES = {raw: round(Decimal(fade_time_s(raw) or 0), 1) for raw in range(16)}
_RAW_MOST: Mapping[str, int] = {"fade_time": 15, "fade_rate": 15, "extended_fade": 79}
_SUPPLY_KIND = re.compile(r" ?(?:(ac ?/ ?dc|dc ?/ ?ac|ac ?\+ ?dc|uc|~/=|≂)|(ac|~|∿)|(dc|=|⎓))(?![a-z]) ?", re.IGNORECASE)
_HERTZ = re.compile(r"[ ,;/]*[0-9]{1,3}(?: ?(?:-|/) ?[0-9]{1,3})? ?hz", re.IGNORECASE)


def read_quantity(plain: str, facts: ColumnFacts) -> Said:
    """{quantity: "2"}. Raises Ask."""
    found = _QUANTITY.fullmatch(plain)
    if found is None:
        raise refuse(f"{plain!r} is no number of luminaires", "a whole number, as 2 or 2 Stk")
    said = str(int(found[1]))
    return Said(values={facts.field: said}, rule=AS_IT_STANDS if said == plain else f"{plain} is {said}")


def read_kelvin(plain: str, facts: ColumnFacts) -> Said:
    """{coolest_k: "6500"}. Raises Ask."""
    return read_measure(plain, facts, KELVIN)


def read_percent(plain: str, facts: ColumnFacts) -> Said:
    """{emergency_level_percent: "15"}. Raises Ask."""
    return read_measure(plain, facts, PERCENT)


def read_fade(plain: str, facts: ColumnFacts) -> Said:
    """{fade_time: "7"}, the raw value of IEC 62386-102; times in seconds are looked up in its Table 4. Raises Ask."""
    most = _RAW_MOST[facts.field]
    found = quantity(plain)
    allowed = f"a raw value 0 to {most}" + (", or a time of the standard's table as 0.7 s" if facts.field == "fade_time" else "")
    if found is None or found.before:
        raise refuse(f"{plain!r} is no {facts.field.replace('_', ' ')}", allowed)
    value, rule = figure(found.body, facts, written, lambda each: each in _FADE_TIMES.values())
    unit = found.unit.casefold().rstrip(".") or facts.unit.casefold()
    seconds = unit in ("s", "sec", "sek", "sekunden", "seconds", "secondes", "secondi", "segundos")
    if facts.field == "fade_time" and not unit and value and not is_own(facts.heading, facts.field):
        options = [Option(word="s", says=f"times in seconds: {plain} is {written(value)} s"),
                   Option(word="raw", says=f"raw values 0 to 15: {plain} is raw value {written(value)}")]
        picked = decide(facts, "fade-unit", f"Fade times stand without a unit, such as {plain}. What are they?", options)
        seconds = picked.word == "s"
    if seconds and facts.field == "fade_time":
        raw = next((raw for raw, time in _FADE_TIMES.items() if time == value), None)
        if raw is None:
            times = ", ".join(written(time) for time in _FADE_TIMES.values())
            raise refuse(f"{plain!r} is none of the fade times of IEC 62386-102", f"{times} s")
        return Said(values={facts.field: str(raw)}, rule=joined(rule, f"{written(value)} s is fade time {raw}"))
    if unit not in ("", "raw") or value != value.to_integral_value() or value > most:
        raise refuse(f"{plain!r} is no {facts.field.replace('_', ' ')}", allowed)
    said = written(value)
    return Said(values={facts.field: said}, rule=AS_IT_STANDS if said == plain else joined(rule, f"raw value {said}"))


def read_supply(plain: str, facts: ColumnFacts) -> Said:
    """{supply_v: "220-240", supply_kind: "ac/dc"}. Raises Ask."""
    bare = _HERTZ.sub("", plain)
    kinds = {"ac/dc" if found[1] else "ac" if found[2] else "dc" for found in _SUPPLY_KIND.finditer(bare)}
    bare = _SUPPLY_KIND.sub("", bare).strip()
    if len(kinds) > 1:
        raise refuse(f"{plain!r} gives two supplies", "one voltage or range, as 220-240 V AC")
    kind = next(iter(kinds), "")
    pair = ends(bare, facts, VOLTAGE)
    if pair:
        said, rule = f"{written(pair[0])}-{written(pair[1])}", pair[2]
    else:
        taken = quantity(bare)
        factor = VOLTAGE.factor(taken.unit) if taken and taken.unit else Decimal(1)
        if taken is None or taken.before or factor is None:
            raise refuse(f"{plain!r} is no supply voltage", "one voltage or range, as 220-240 V AC")
        value, rule = figure(taken.body, facts, lambda each: f"{written(each)} V", lambda each: each <= 1000)
        said = written(value * factor)
    return Said(values={"supply_v": said, "supply_kind": kind}, rule=joined(rule, f"{said} V{f' {kind}' if kind else ''}"))
