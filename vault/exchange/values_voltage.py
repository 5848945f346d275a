"""Voltages: 24 V, and windows of forward voltage as 27-54V, 27…54, 30 bis 42, max. 42V."""

from __future__ import annotations

import re
from decimal import Decimal

from vault.exchange.cell_reading import ColumnFacts, Said
from vault.exchange.values_measure import Measure, read_measure, scaled
from vault.exchange.values_number import Quantity, joined, nothing_taken, quantity, written
from vault.exchange.values_parts import NOT_TAKEN, Option, alternatives, decide, refuse

_VOLT = Decimal(1)
_V = dict.fromkeys(("v", "v dc", "vdc", "v=", "v =", "v d.c", "vf", "volt", "volts", "voltios", "v⎓"), _VOLT)
VOLTAGE = Measure(unit="V", units={**_V, "mv": Decimal("0.001"), "kv": Decimal(1000)}, least=Decimal(0), most=Decimal(1000),
                  called="a voltage", allowed="0 to 1,000 V, as 36 V or 27-54 V")

UPPER = frozenset(alternatives(
    "max|maxi|maxim|maximum|maximal|massimo|máx|máximo|bis|up to|bis zu|jusqu'à|fino a|hasta|tot|u max|vf max|<|<=|≤"))
LOWER = frozenset(alternatives(
    "min|mini|minimum|minimal|minimo|mínimo|ab|from|von|dès|da|desde|vanaf|u min|vf min|>|>=|≥"))
_OPENS = re.compile(r"(?:from|between|von|zwischen|de|entre|du|da|dal|tra|desde|van|tussen|vf|uf|range|u) +(?=[0-9])",
                    re.IGNORECASE)
# Between two ends; a word needs spaces around it, a hyphen none.
_BETWEEN = re.compile(r" ?(?:-|\.{2,3}|~) ?|(?<=[0-9vV.]) (?:to|thru|through|and|bis|und|à|a|et|e|y|hasta|tot|en|au|al) (?=[0-9])"
                      r"|(?<=[0-9]) ?(?:bis|to|à) ?(?=[0-9])", re.IGNORECASE)
ENDS = ("voltage_min_v", "voltage_max_v")


def halves(plain: str) -> tuple[str, str] | None:
    """The two ends of a range as texts, None where a cell is no range of two figures."""
    parts = _BETWEEN.split(_OPENS.sub("", plain, count=1))
    if len(parts) != 2 or not all(quantity(part) for part in parts):
        return None
    return parts[0], parts[1]


def ends(plain: str, facts: ColumnFacts, measure: Measure) -> tuple[Decimal, Decimal, str] | None:
    """Lower end, upper end, and how they were read; None where a cell is no range. Raises Ask."""
    texts = halves(plain)
    if texts is None:
        return None
    taken = [quantity(text) for text in texts]
    first, last = taken
    if first is None or last is None or first.before or last.before:
        raise measure.refused(plain)
    if not first.unit and last.unit:  # 27-54 V: one unit for both
        first = Quantity(before="", body=first.body, unit=last.unit)
    (low, rule), (high, rule_high) = scaled(plain, first, facts, measure), scaled(plain, last, facts, measure)
    turned = "the higher figure stands first" if low > high else ""
    said = rule if rule == rule_high else joined(rule, rule_high)
    low, high = min(low, high), max(low, high)
    return low, high, joined(f"range of {written(low)} to {written(high)} {measure.unit}", said, turned)


def read_voltage(plain: str, facts: ColumnFacts) -> Said:
    """One voltage as {field: "36"}. Raises Ask."""
    name = facts.field
    before = UPPER if name.startswith("voltage_max") else LOWER if name.startswith("voltage_min") else frozenset[str]()
    return read_measure(plain, facts, VOLTAGE, before)


def read_voltage_window(plain: str, facts: ColumnFacts) -> Said:
    """{voltage_min_v: "27", voltage_max_v: "54"}, or one of them where the cell says one end alone. Raises Ask."""
    found = ends(plain, facts, VOLTAGE)
    if found:
        return Said(values=dict(zip(ENDS, (written(found[0]), written(found[1])), strict=True)), rule=found[2])
    taken = quantity(plain)
    if taken is None:
        raise refuse(f"{plain!r} is no voltage window", "27-54 V, max. 54 V, or one voltage")
    before = taken.before.rstrip(".: ")
    behind = re.fullmatch(r"(.*?)[ (]*\b(max|min)\.?\)?", taken.unit, re.IGNORECASE)
    if behind and not before:
        before, taken = behind[2].casefold(), Quantity(before="", body=taken.body, unit=behind[1].strip())
    value, rule = scaled(plain, taken, facts, VOLTAGE)
    said = written(value)
    if before in UPPER:
        return Said(values={ENDS[1]: said}, rule=joined("upper end alone", rule))
    if before in LOWER:
        return Said(values={ENDS[0]: said}, rule=joined("lower end alone", rule))
    if before:
        raise VOLTAGE.refused(plain)
    options = [Option(word="max", says=f"it is the upper end: at most {said} V", values={ENDS[1]: said}),
               Option(word="both", says=f"it is both ends: {said} V and no other", values={ENDS[0]: said, ENDS[1]: said}),
               NOT_TAKEN]
    picked = decide(facts, "single-voltage", f"One voltage stands where others have two, {plain}. What is it?", options)
    if not picked.values:
        return nothing_taken(plain)
    return Said(values=picked.values, rule=joined(f"read as answered: {picked.word}", rule))
