"""Figures as people write them: which mark stands before the decimals, which between thousands, and the unit behind."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from decimal import Decimal

from vault.exchange.cell_reading import ColumnFacts, Said
from vault.exchange.values_parts import NOT_TAKEN, NOTHING, Option, decide, refuse

COMMA, POINT = "comma", "point"
MARK = "decimal-mark"
_SIGNS = {COMMA: ",", POINT: "."}
ABOUT = "about"
# Digits with marks between them; spaces and apostrophes only between groups of three.
BODY = r"[0-9]+(?:(?:[.,]|[ '](?=[0-9]{3}(?![0-9])))[0-9]+)*|[.,][0-9]+"
_BODY = re.compile(BODY)
_WHOLE = re.compile("[0-9]{1,9}")
_GROUPS = {mark: re.compile(rf"[1-9][0-9]{{0,2}}(?:{re.escape(mark)}[0-9]{{3}})+") for mark in ". ,'"}
_FRACTION = re.compile("[0-9]{1,6}")
_QUANTITY = re.compile(
    rf"(?P<before>(?:[^0-9.,]|[.,](?![0-9]))*?)(?P<body>{BODY})(?P<half> ?½)? ?(?P<unit>[^0-9]*?)\.?")
_ABOUT = re.compile(r"(?:~|ca\.?|circa|approx\.?|about|env\.?|environ|etwa|aprox\.?|ungefähr|around|ong\.?|ongeveer|±|\+/-|"
                    r"cca\.?)")


@dataclass(frozen=True, slots=True, kw_only=True)
class Quantity:
    """A cell taken apart. before: words in front ("max."), in lower case. body: the digits and marks. unit: as written."""

    before: str
    body: str
    unit: str


def numbers(body: str) -> Mapping[str, Decimal]:
    """Every way to read digits and marks: the mark before the decimals -> the figure; empty where there is none.

    A figure that reads alike both ways has both marks. Marks between thousands stand between groups of three digits,
    the first of which does not begin with 0.
    """
    found = {}
    for mark, other, name in ((",", ".", COMMA), (".", ",", POINT)):
        whole, has_mark, fraction = body.partition(mark)
        if has_mark and not _FRACTION.fullmatch(fraction):
            continue
        if not whole and has_mark:
            whole = "0"
        for between in (other, " ", "'"):
            if between in whole and _GROUPS[between].fullmatch(whole):
                whole = whole.replace(between, "")
                break
        if _WHOLE.fullmatch(whole):
            found[name] = Decimal(f"{whole}.{fraction}" if fraction else whole)
    return found


def mark_shown(body: str) -> str | None:
    """Which mark a figure shows to be the decimal one, None where it shows neither."""
    found = numbers(body)
    if len(found) != 1:
        return None
    return next(iter(found))


def quantity(plain: str) -> Quantity | None:
    """One figure with what stands around it, None where a cell is no such thing."""
    found = _QUANTITY.fullmatch(plain)
    if found is None:
        return None
    body = found["body"]
    if found["half"]:
        if not body.isdecimal():
            return None
        body += ",5"
    return Quantity(before=found["before"].strip().casefold(), body=body, unit=found["unit"].strip())


def written(value: Decimal) -> str:
    """A figure as the strict reader takes it: no exponent, no zeros at its end."""
    said = f"{value:f}"
    return said.rstrip("0").rstrip(".") if "." in said else said


def figure(body: str, facts: ColumnFacts, show: Callable[[Decimal], str], fits: Callable[[Decimal], bool]) -> tuple[Decimal, str]:
    """The figure, and how its marks were read ("" where there was nothing to tell).

    show: what a reading comes to, in words. fits: whether a reading is likely in this field; the likely one is shown
    as such, never taken. Raises Ask.
    """
    found = numbers(body)
    if not found:
        raise refuse(f"{body!r} is no number", "digits, with one mark before the decimals")
    values = set(found.values())
    if len(values) == 1:
        value = values.pop()
        if len(found) == 2:
            return value, "" if body.isdecimal() else "marks between thousands taken out"
        mark = next(iter(found))
        other = facts.answers.get(MARK) not in (mark, None)
        return value, _marks(body, mark) + (", unlike other cells of this column" if other else "")
    options = [Option(word=name, says=f"{name} before the decimals: {body} is {show(found[name])}") for name in (COMMA, POINT)]
    fitting = [name for name in (COMMA, POINT) if fits(found[name])]
    picked = decide(facts, MARK, f"Which mark stands before the decimals? {body} reads as {show(found[COMMA])} with a comma "
                    f"there, and as {show(found[POINT])} with a point.", options, fitting[0] if len(fitting) == 1 else None)
    return found[picked.word], _marks(body, picked.word)


def _marks(body: str, mark: str) -> str:
    """How the marks of a figure were read whose decimal mark is known."""
    other = POINT if mark == COMMA else COMMA
    before = f"{mark} before the decimals" if _SIGNS[mark] in body else ""
    return joined(before, f"{other} between thousands" if _SIGNS[other] in body else "")


def is_about(before: str) -> bool:
    return _ABOUT.fullmatch(before) is not None


def about(facts: ColumnFacts, plain: str) -> str | None:
    """The rule by which a figure with "about" before it is taken, None where it is to say nothing. Raises Ask."""
    exact = Option(word="exact", says="the figure is taken as it stands, without the word or sign for about")
    picked = decide(facts, ABOUT, f"Some figures are given as about, like {plain}. Are they to be taken?", (exact, NOT_TAKEN))
    return None if picked.word == NOTHING else '"about" left out, as answered'


def nothing_taken(plain: str) -> Said:
    return Said(values={}, rule=f"{plain} is not taken, as answered")


def joined(*rules: str) -> str:
    """Parts of a rule as one."""
    return ", ".join(rule for rule in rules if rule)
