"""One cell of a catalogue spreadsheet as the plain value of its field, exactly."""

from __future__ import annotations

import re
from collections.abc import Mapping
from decimal import Decimal
from fractions import Fraction

from vault.domain.schema import Spec, words
from vault.exchange.catalogue_windows import rows_of_text
from vault.exchange.lexicon import unit_named
from vault.exchange.plain import allowed_of

_NOTHING = ("", "-", "–", "—", "n/a")
_YES, _NO = ("yes", "true", "ja", "oui", "x", "wahr", "vrai", "sì", "sí"), ("no", "false", "nein", "non", "falsch", "faux", "nee")
# How many of a field's own unit one of the written unit is.
_FACTORS: Mapping[str, Mapping[str, Fraction]] = {
    "mA": {"mA": Fraction(1), "A": Fraction(1000), "µA": Fraction(1, 1000)}, "µA": {"µA": Fraction(1), "mA": Fraction(1000)},
    "mV": {"mV": Fraction(1), "V": Fraction(1000), "V DC": Fraction(1000), "kV": Fraction(1_000_000)},
    "mW": {"mW": Fraction(1), "W": Fraction(1000), "kW": Fraction(1_000_000)},
    "V a.c.": {"V": Fraction(1), "V AC": Fraction(1)}, "V d.c.": {"V": Fraction(1), "V DC": Fraction(1)},
    "‰": {"‰": Fraction(1), "%": Fraction(10)}, "%": {"%": Fraction(1)}, "min": {"min": Fraction(1), "h": Fraction(60)},
    "mm": {"mm": Fraction(1), "cm": Fraction(10), "m": Fraction(1000)}, "ms": {"ms": Fraction(1), "s": Fraction(1000)},
    "°C": {"°C": Fraction(1)}, "°C below zero": {"°C": Fraction(1)}, "": {"pcs": Fraction(1)},
}
# Where the unit cannot be another one, a heading of the trade need not say it.
_PLAIN_UNITS = ("°C", "°C below zero", "V a.c.", "V d.c.", "%", "", "mm")
_WORDS: Mapping[str, Mapping[str, str]] = {
    "ProtectionClass": {"i": "class-i", "ii": "class-ii", "iii": "class-iii", "1": "class-i", "2": "class-ii", "3": "class-iii",
                        "cl i": "class-i", "cl ii": "class-ii", "cl iii": "class-iii"},
    "Output": {"cc": "constant-current", "cv": "constant-voltage"},
    "Protocol": {"dali-2": "dali", "dali2": "dali", "dali 2": "dali", "on/off": "switch", "switched": "switch"},
    "EmergencyMode": {"m": "maintained", "nm": "non-maintained"},
}
_CELL_NUMBER = re.compile(r"([+-]?)\s*(\d{1,10})(?:([.,])(\d{1,6}))?\s*(\D{0,10})")


class CellWrong(Exception):
    """A cell that cannot be the field's; carries what is allowed."""


def says_nothing(cell: str) -> bool:
    """Whether a cell leaves its field out."""
    return cell.strip().casefold() in _NOTHING


def _own_unit(path: str, spec: Spec) -> str:
    # Lists carry their unit in their name alone.
    return "min" if spec.shape == "table" and path.endswith("_min") else spec.unit


def _number(cell: str, unit: str, own: str) -> int:
    """A figure in the field's own unit; `unit` is what the heading says, "own" for a field called by its name."""
    found = _CELL_NUMBER.fullmatch(cell.strip())
    if found is None:
        raise CellWrong(f"a number in {own or 'figures'}")
    sign, digits, mark, decimals, written = found.groups()
    if mark == "," and len(decimals) == 3:
        raise CellWrong("a number whose decimals stand after a point: with three of them a comma may mean thousands")
    in_cell = unit_named(written) if written.strip() else ""
    if written.strip() and not in_cell:
        raise CellWrong(f"a number in {own or 'figures'}")
    said = in_cell or (own if unit == "own" else unit)
    factors = _FACTORS.get(own, {own: Fraction(1)})
    if not said and own not in _PLAIN_UNITS:
        raise CellWrong(f"a number with its unit ({' or '.join(factors)}), in the cell or in the heading")
    factor = Fraction(1) if not said or said == own else factors.get(said)
    if factor is None:
        raise CellWrong(f"a figure in {' or '.join(factors)}, not in {said}")
    exact = Fraction(Decimal(f"{digits}.{decimals or 0}")) * factor
    if exact.denominator != 1:
        raise CellWrong(f"nothing finer than 1 {own}")
    return -int(exact) if sign == "-" else int(exact)


def _word(spec: Spec, said: str) -> str:
    return _WORDS.get(spec.kind.__name__, {}).get(said.strip().casefold(), said.strip())


def plain_of_cell(path: str, spec: Spec, cell: str, unit: str) -> object:
    """The plain value (as `read_plain` takes it) of a filled cell. Raises CellWrong; words are left to `read_plain`."""
    said = cell.strip()
    shape = spec.shape
    if spec.may_be_not_set and said.casefold() == "not set":
        return said
    if shape == "whole":
        return _number(said, unit, _own_unit(path, spec))
    if shape == "flag":
        return _flag(said)
    if shape == "choice":
        return _word(spec, said)
    if shape == "choices":
        if said == "[]" or (said.casefold() == "none" and "none" not in map(words, spec.kind)):
            return []
        return [_word(spec, piece) for piece in re.split(r"[+;,\n]", said) if piece.strip()]
    return _list(path, spec, said, unit) if shape == "table" else said


def _flag(said: str) -> bool:
    if said.casefold() in _YES:
        return True
    if said.casefold() in _NO:
        return False
    raise CellWrong("yes or no")


def _list(path: str, spec: Spec, said: str, unit: str) -> list[object]:
    if len(spec.widths) > 1:
        rows = rows_of_text(said)
        if rows is None or any(len(row) != len(spec.widths) for row in rows):
            raise CellWrong(f"{allowed_of(spec)}, written (1, 2) (3, 4) or 1/2; 3/4")
        return list(rows)
    own = _own_unit(path, spec)
    return [_number(piece, unit if own else "own", own) for piece in re.split(r"[+;,\n]", said) if piece.strip()]
