"""Levels: 50 %, 229, MASK, off, and dimming limits as 5-100 %. A share becomes a level by the dimming curve."""

from __future__ import annotations

import re
from collections.abc import Mapping
from decimal import Decimal
from functools import lru_cache

from vault.domain.levels import LEVEL_MAX, MASK, level_words, nearest_level
from vault.domain.settings import Curve
from vault.exchange.cell_reading import ColumnFacts, Said
from vault.exchange.values_number import figure, joined, nothing_taken, quantity, written
from vault.exchange.values_parts import AS_IT_STANDS, NOT_TAKEN, Option, alternatives, decide, decided, refuse
from vault.exchange.values_strict import is_own
from vault.exchange.values_voltage import halves

UNIT, ONE, SMALL = "level-unit", "level-of-1", "small-levels"
PERCENT, LEVEL, FRACTION = "percent", "level", "fraction"
_UNITS: Mapping[str, str] = {
    **dict.fromkeys(alternatives(
        "%|% pct|pct|percent|per cent|prozent|pour cent|pourcent|percento|por ciento|procent|proz"), PERCENT),
    **dict.fromkeys(alternatives(
        "level|lvl|lv|raw|stufe|dapc|niveau|livello|nivel|dali|arc level|0-254|0..254|dali level|wert|value"), LEVEL)}
_OFF = frozenset(alternatives("off|aus|arrêt|arret|éteint|eteint|spento|apagado|uit"))
_ON = frozenset(alternatives("on|ein|an|allumé|marche|acceso|encendido|aan|x"))
_FULL = frozenset(alternatives("full|voll|max|max.|plein|pieno|vol|maximum"))
_STAYS = frozenset(
    alternatives(
        "mask|last|last level|last value|letzter wert|letzter pegel|dernier niveau|dernier|ultimo|ultimo livello|"
        "último|último nivel|laatste|laatste niveau|memory|no change|unchanged|keine änderung|unverändert|inchangé|"
        "invariato|sin cambio|ongewijzigd"))
_HEX = re.compile(r"0x([0-9a-f]{1,2})", re.IGNORECASE)
# Limits have neither level 0 nor MASK (IEC 62386-102: minimum and maximum level are 1 to 254).
_LIMITS = ("min_level", "max_level")
ALLOWED = "a level 0 to 254, a share as 50 %, off or MASK"
ALLOWED_LIMIT = "a level 1 to 254, or a share as 5 %"


def curve_of(facts: ColumnFacts) -> Curve:
    """The curve that shares are turned into levels by: as answered, else the logarithmic one."""
    return Curve.LINEAR if facts.answers.get("curve") == "linear" else Curve.LOGARITHMIC


@lru_cache(maxsize=4096)
def level_of(share: Decimal, curve: Curve) -> int:
    """The level that gives a share of full output in per cent. share: 0 to 100."""
    return nearest_level(float(share), curve)


def read_level(plain: str, facts: ColumnFacts) -> Said:
    """{min_level: "170"}, {scene_3: "mask"}. Raises Ask."""
    limit = facts.field in _LIMITS
    low = plain.casefold().rstrip(".")
    for words, level in ((_STAYS, MASK), (_OFF, 0), (_FULL, LEVEL_MAX)):
        if low in words and not (limit and level in (0, MASK)):
            return _said(facts.field, level, f"{plain} is {level_words(level, curve_of(facts))}")
    if low in _ON and not limit:
        full = Option(word="full", says="switched on means full output", values={facts.field: _text(facts.field, LEVEL_MAX)})
        return decided(facts, plain, f"At what level is {plain}?", (full, NOT_TAKEN))
    level, rule = _taken(plain, facts)
    if not (1 if limit else 0) <= level <= (LEVEL_MAX if limit else MASK):
        raise refuse(f"{plain!r} is no level here", ALLOWED_LIMIT if limit else ALLOWED)
    return _said(facts.field, level, rule or (AS_IT_STANDS if str(level) == plain else f"level {level}"))


def _said(field: str, level: int, rule: str) -> Said:
    return Said(values={field: _text(field, level)}, rule=rule)


def _text(field: str, level: int) -> str:
    return "mask" if level == MASK and field.startswith("scene_") else str(level)


def _taken(plain: str, facts: ColumnFacts) -> tuple[int, str]:
    in_hex = _HEX.fullmatch(plain)
    if in_hex:
        return int(in_hex[1], 16), "hexadecimal"
    found = quantity(plain)
    if found is None:
        raise refuse(f"{plain!r} is no level", ALLOWED_LIMIT if facts.field in _LIMITS else ALLOWED)
    unit = _UNITS.get(found.unit.casefold().rstrip(".")) if found.unit else None
    if found.before and unit is None and not found.unit:
        unit = _UNITS.get(found.before.rstrip(".:= "))
    elif found.before:
        unit = None
    if (found.unit or found.before) and unit is None:
        raise refuse(f"{plain!r} is no level", ALLOWED_LIMIT if facts.field in _LIMITS else ALLOWED)
    value, rule = _value(found.body, facts, unit)
    level, said = leveled(plain, value, unit or stated(facts), facts)
    return level, joined(rule, said)


def _value(body: str, facts: ColumnFacts, unit: str | None) -> tuple[Decimal, str]:
    top = Decimal(LEVEL_MAX if unit == LEVEL else 100)
    return figure(body, facts, lambda value: f"{written(value)}{' %' if unit == PERCENT else ''}", lambda value: value <= top)


def stated(facts: ColumnFacts) -> str | None:
    """What the heading says that bare figures are."""
    if not facts.unit and is_own(facts.heading, facts.field):
        return LEVEL
    return _UNITS.get(facts.unit.casefold())


def leveled(plain: str, value: Decimal, unit: str | None, facts: ColumnFacts) -> tuple[int, str]:
    """The level of a figure, and how it came there. Raises Ask."""
    whole = value == value.to_integral_value()
    if unit is None and whole and value == 0:
        return 0, "no output, as a level and as a share"
    if unit is None and value > MASK:
        raise refuse(f"{plain!r} is no level", ALLOWED)
    if unit is None and whole and value > 100:
        return int(value), "above 100, so a level"
    if unit is None:
        unit = _asked(plain, value, facts, whole)
    share = value * 100 if unit == FRACTION else value
    if (unit == LEVEL and not (whole and value <= MASK)) or (unit != LEVEL and share > 100):
        raise refuse(f"{plain!r} as a {'share' if unit != LEVEL else 'level'} does not exist", ALLOWED)
    if unit == LEVEL:
        return int(value), ""
    curve = curve_of(facts)
    level = level_of(share, curve)
    return level, f"{written(share)} % on the {curve.name.lower()} curve is {level_words(level, curve)}"


def _asked(plain: str, value: Decimal, facts: ColumnFacts, whole: bool) -> str:
    """What a figure without a unit is. whole: it, or both of a pair, have no decimals, so that it can be a level."""
    percent = Option(word=PERCENT, says="shares in per cent, 50 for 50 %")
    level = Option(word=LEVEL, says="levels 0 to 254, 229 for about 50 % on the logarithmic curve")
    fraction = Option(word=FRACTION, says="shares of 1, 0.5 for 50 %")
    if value > 1 and not whole:
        return PERCENT
    if value > 1:
        return decide(facts, UNIT, f"Levels stand without a unit, such as {plain}. What are they?", (percent, level),
                      PERCENT if value == 100 else None).word
    if whole:
        return decide(facts, ONE, f"What is {plain}, without a unit?", (percent, level, fraction)).word
    return decide(facts, SMALL, f"Shares below 1 stand without a unit, such as {plain}. What are they?", (percent, fraction),
                  FRACTION).word


_LONE = "lone-limit"
_STROKE = re.compile(r" ?/ ?")


def read_limits(plain: str, facts: ColumnFacts) -> Said:
    """{min_level: "85", max_level: "254"} from 5-100 %, or one of them where one figure stands. Raises Ask."""
    texts: tuple[str, ...] | None = halves(plain)
    if texts is None and "/" in plain:
        texts = tuple(_STROKE.split(plain))
    if texts is None:
        return _lone(plain, facts)
    found = [quantity(text) for text in texts]
    unit_text = next((item.unit for item in reversed(found) if item and item.unit), "")
    unit = _UNITS.get(unit_text.casefold().rstrip("."))
    if len(found) != 2 or any(item is None or item.before for item in found) or (unit_text and unit is None):
        raise refuse(f"{plain!r} is no pair of limits", "5-100 %")
    read = [_value(item.body, facts, unit) for item in found if item]
    values = [value for value, _ in read]
    known = unit or stated(facts) or (LEVEL if max(values) > 100 else None)
    # Both figures of a pair are of one kind, and the higher one says more of it.
    known = known or _asked(plain, max(values), facts, all(value == value.to_integral_value() for value in values))
    levels = [leveled(plain, value, known, facts) for value in sorted(values)]
    if not all(1 <= level <= LEVEL_MAX for level, _ in levels):
        raise refuse(f"{plain!r} is no pair of limits", ALLOWED_LIMIT)
    rule = joined(*dict.fromkeys(said for _, said in read), *(said for _, said in levels))
    return Said(values=dict(zip(_LIMITS, (str(level) for level, _ in levels), strict=True)), rule=rule or "levels")


def _lone(plain: str, facts: ColumnFacts) -> Said:
    found = quantity(plain)
    before = found.before.rstrip(".:= ") if found else ""
    if found and before in ("min", "max", "mini", "maxi"):
        which = before[:3]
        level, rule = _taken(f"{found.body} {found.unit}".strip(), facts)
    else:
        level, rule = _taken(plain, facts)
        options = (Option(word="min", says=f"{plain} is the lower limit"),
                   Option(word="max", says=f"{plain} is the upper limit"), NOT_TAKEN)
        which = decide(facts, _LONE, f"One limit stands where others have two, {plain}. Which one is it?", options, "min").word
        if which == NOT_TAKEN.word:
            return nothing_taken(plain)
    if not 1 <= level <= LEVEL_MAX:
        raise refuse(f"{plain!r} is no limit", ALLOWED_LIMIT)
    return Said(values={f"{which}_level": str(level)}, rule=joined(f"{'lower' if which == 'min' else 'upper'} limit alone", rule))
