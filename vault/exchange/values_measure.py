"""A single figure with its unit: a current, a power, a voltage, a share, a colour temperature."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from vault.exchange.cell_reading import ColumnFacts, Said
from vault.exchange.values_number import Quantity, about, figure, is_about, joined, nothing_taken, quantity, written
from vault.exchange.values_parts import AS_IT_STANDS, Option, decide, refuse
from vault.exchange.values_strict import unit_of_column


@dataclass(frozen=True, slots=True, kw_only=True)
class Measure:
    """A kind of figure. unit: of our column. units: unit in lower case -> what one of it is in ours. bare: the units that
    a cell without any may be in. least, most: what the field holds, in our unit; whole: it holds no decimals there.
    called: "a driver's current". allowed: "1 to 20,000 mA, as 700 mA or 0.7 A".
    """

    unit: str
    units: Mapping[str, Decimal]
    least: Decimal
    most: Decimal
    called: str
    allowed: str
    bare: Sequence[str] = ()
    whole: bool = False

    def factor(self, unit: str) -> Decimal | None:
        """What one of a unit is in ours, None for a unit that is none of this kind."""
        return self.units.get(unit.casefold().rstrip("."))

    def fits(self, value: Decimal) -> bool:
        return self.least <= value <= self.most and (not self.whole or value == value.to_integral_value())

    def refused(self, plain: str) -> Exception:
        return refuse(f"{plain!r} is not {self.called}", self.allowed)


def read_measure(plain: str, facts: ColumnFacts, measure: Measure, before: frozenset[str] = frozenset()) -> Said:
    """One cell as {field: figure in our unit}. before: words that may stand in front ("max"). Raises Ask."""
    taken = quantity(plain)
    if taken is None:
        raise measure.refused(plain)
    rule_before = ""
    if taken.before and is_about(taken.before):
        said = about(facts, plain)
        if said is None:
            return nothing_taken(plain)
        rule_before = said
    elif taken.before:
        if taken.before.rstrip(".:= ") not in before:
            raise measure.refused(plain)
        rule_before = f'"{taken.before}" left out'
    value, rule = scaled(plain, taken, facts, measure)
    if not measure.fits(value):
        raise measure.refused(plain)
    text = written(value)
    rule = joined(rule_before, rule) or (AS_IT_STANDS if text == plain else f"{text} {measure.unit}")
    return Said(values={facts.field: text}, rule=rule)


def scaled(plain: str, taken: Quantity, facts: ColumnFacts, measure: Measure) -> tuple[Decimal, str]:
    """A quantity in our unit, and how it came there. Raises Ask."""
    unit = taken.unit
    if unit:
        factor = measure.factor(unit)
        if factor is None:
            raise measure.refused(plain)
        value, rule = _figure(taken, facts, measure, [unit])
        return value * factor, joined(rule, _turned(unit, measure))
    column = unit_of_column(facts)
    factor = measure.factor(column) if column else None
    if factor is not None:
        value, rule = _figure(taken, facts, measure, [column])
        if len(measure.bare) < 2 or measure.fits(value * factor):
            return value * factor, joined(rule, _turned(column, measure))
        why = f"The heading says {column}, but {written(value)} {column} is not {measure.called}."
        return _asked(plain, value, facts, measure, why, rule)
    value, rule = _figure(taken, facts, measure, measure.bare or [measure.unit])
    fitting = [bare for bare in measure.bare if measure.fits(value * measure.units[bare.casefold()])]
    if len(measure.bare) < 2:
        return value, joined(rule, f"no unit is said, {measure.unit} taken")
    if fitting == [measure.unit]:
        others = " and ".join(f"{written(value)} {bare}" for bare in measure.bare if bare != measure.unit)
        return value, joined(rule, f"no unit is said, {measure.unit} taken: {others} is not {measure.called}")
    return _asked(plain, value, facts, measure, "No unit is said.", rule)


def _figure(taken: Quantity, facts: ColumnFacts, measure: Measure, units: Sequence[str]) -> tuple[Decimal, str]:
    factors = [measure.factor(unit) or Decimal(1) for unit in units]
    shown = taken.unit or units[0] if len(units) == 1 else ""
    return figure(taken.body, facts, lambda value: f"{written(value)} {shown}".strip(),
                  lambda value: any(measure.fits(value * factor) for factor in factors))


def _turned(unit: str, measure: Measure) -> str:
    factor = measure.factor(unit)
    return f"{unit} to {measure.unit}" if factor not in (None, 1) else ""


def _asked(plain: str, value: Decimal, facts: ColumnFacts, measure: Measure, why: str, rule: str) -> tuple[Decimal, str]:
    by_unit = {bare: value * measure.units[bare.casefold()] for bare in measure.bare}
    options = [Option(word=bare, says=f"such figures are in {bare}: {plain} is {written(found)} {measure.unit}")
               for bare, found in by_unit.items()]
    fitting = [bare for bare, found in by_unit.items() if measure.fits(found)]
    if not fitting:
        raise measure.refused(plain)
    picked = decide(facts, "unit", f"{why} In which unit is {plain}?", options, fitting[0] if len(fitting) == 1 else None)
    found = by_unit[picked.word]
    if not measure.fits(found):
        raise refuse(f"{plain!r}, in {picked.word} as answered, is not {measure.called}", measure.allowed)
    return found, joined(rule, f"{picked.word} as answered")
