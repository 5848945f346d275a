"""What the cells below a heading look like, to tell which of its meanings they can have and which they speak for."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from fractions import Fraction

_I = re.IGNORECASE
_NUMBER = r"\d{1,6}(?:[.,]\d+)?"
_RANGE = rf"{_NUMBER}\s*\w{{0,2}}\s*(?:-|–|—|…|\.\.+|/|to|bis|à|a|tot|~)\s*{_NUMBER}"
_CONTROLS = r"dali.*|d4i|dmx.*|knx.*|.*1\s?-\s?10.*|0\s?-\s?10.*|switch.*|sw|push.*|zhaga.*|geschaltet|on/?off|tor|schalten|" \
            r"phase.*|triac.*|pwm|dsi|bluetooth.*|funk.*|radio.*|fix(?:ed)?|non[- ]?dim\w*|nicht dim\w*|corridor.*"
_MODES = r"nm|m|m[0-9]|ds|bs|p|np|sa|se|sm|maint\w*\.?|non[- ]?maint\w*\.?|perm\w*\.?|non[- ]?perm\w*\.?|dauer\w*|" \
         r"bereitschaft\w*|combined|kombiniert|niet[- ]permanent|no[- ]?permanente|yes|no|ja|nein|nee|oui|non|si|sí|sì|x|em|e"

# Nothing that is not matched here can be the field; what a field may be beyond is left to its reader.
_CAN: Mapping[str, re.Pattern[str]] = {
    "protection_class": re.compile(r"(?:(?:class|classe|klasse|clase|kl|cl|sk)\.?\s*)?(?:i{1,3}|[0-3]|[⏚⧈◇⎔□⟐])\.?", _I),
    "ip": re.compile(r"(?:ip\s*)?[0-6x][0-9x][a-d]?k?(?:\s*[/-]\s*(?:ip\s*)?[0-6x][0-9x])?", _I),
    "quantity": re.compile(rf"(?:x|×)?\s*{_NUMBER}\s*(?:x|×|stk\.?|st\.?|pcs\.?|off|nos?\.?|pz\.?|ud\.?s?|stück)?", _I),
    "address": re.compile(r"[A-Z]{0,3}\s?-?\d{1,3}(?:\s*(?:-|–|,|\+|bis|to|à)\s*[A-Z]{0,3}\s?\d{1,3})*", _I),
    "line_address": re.compile(r"[\w.]*\d\s*[/.:_-]\s*[A-Z]{0,2}\d{1,3}", _I),
    "central": re.compile(r".*\d\s*[/.:_-]\s*\w{0,2}\d{1,3}|\d{1,2}\.?\s?-?\s?\w{3,4}\.?", _I),
    "groups": re.compile(r"(?:g(?:r|rp)?\.?\s?)?\d{1,2}(?:\s*[+,;/&]\s*(?:g(?:r|rp)?\.?\s?)?\d{1,2})*", _I),
    "duration": re.compile(rf"{_NUMBER}\s*(h(r|rs|ours?)?|std\.?|stunden|min\.?|mins|minute[ns]|'|′|heures?|ore|uur)?", _I),
    "power_w": re.compile(rf"[~≈<>]?\s*(?:\d+\s*[x×]\s*)?{_NUMBER}\s*(?:w|watt|kw|va)?", _I),
    "current_ma": re.compile(rf"[~≈]?\s*{_NUMBER}\s*(?:ma|a)?(?:\s*[x×-].*)?", _I),
    "voltage_window": re.compile(rf"(?:max|min|<|≤|>|≥|~|up to|bis)?\.?\s*(?:{_RANGE}|{_NUMBER})\s*v?\s*(?:dc|=|⎓)?", _I),
    "voltage_v": re.compile(rf"{_NUMBER}\s*v?\s*(?:dc|=|⎓)?", _I),
    "supply": re.compile(rf"(?:ac|dc|~)?\s*(?:{_RANGE}|{_NUMBER})\s*v?\s*(?:ac|dc|~|=|/|\+|,|\d|-|hz|\s)*", _I),
    "coolest_k": re.compile(r"[1-9]\d{3,4}\s*k?(?:\s*-\s*\d{4,5}\s*k?)?", _I),
    "warmest_k": re.compile(r"[1-9]\d{3,4}\s*k?(?:\s*-\s*\d{4,5}\s*k?)?", _I),
    "control": re.compile(rf"(?!(?:{_MODES})$).*[a-z].*|.*1\s?-\s?10.*", _I),
    "emergency_mode": re.compile(rf"(?!(?:{_CONTROLS})$)(?:{_MODES}|[^\d]{{3,30}})\??", _I),
    "driver": re.compile(r"(?!\d+(?:[.,]\d+)?\s*v).*[a-z].*", _I),
    "board": re.compile(r".{1,24}"), "circuit": re.compile(r".{1,24}"), "line": re.compile(r".{1,16}"),
    "floor": re.compile(r".{1,24}"),
    "min_level": re.compile(rf"{_NUMBER}\s*%?"), "max_level": re.compile(rf"{_NUMBER}\s*%?"),
}
# Cells that speak for a field beside others that could be.
_SPEAKS: Mapping[str, re.Pattern[str]] = {
    **{name: _CAN[name] for name in ("protection_class", "ip", "quantity", "line_address", "duration", "coolest_k", "warmest_k")},
    "circuit": re.compile(r"\d{0,3}[LF]\d{1,3}([./-]\d{1,3})?|(sk|cct|c|f|q|k)\.?\s?\d{1,3}(\.\d{1,3})*|\d{1,2}\.\d{1,2}", _I),
    "line": re.compile(r"(?:l|d|dali|bus|line|linie|ligne|gw|[a-z])?[\s.-]?\d{1,2}(?:\.\d{1,2})?", _I),
    "address": re.compile(r"a?\d{1,2}", _I), "central": re.compile(r"\d{1,3}\s*/\s*\d{1,2}"),
    "groups": re.compile(r"g(?:r|rp)?\.?\s?\d{1,2}.*|\d{1,2}(?:\s*\+\s*\d{1,2})+", _I),
    "voltage_window": re.compile(rf"(?:max|min)?\.?\s*{_RANGE}.*|max.*", _I),
    "supply": re.compile(r".*(?:ac|~|hz).*|(?:110|115|120|127|220|230|240|277|400)\s*v?.*", _I),
    "control": re.compile(_CONTROLS, _I), "emergency_mode": re.compile(_MODES, _I),
    "floor": re.compile(r"(?:\d\.?\s?)?(?:eg|og|ug|dg|kg|rdc)\s?\d?|-?\d{1,2}|r\s?\+\s?\d|level.*|ground.*", _I),
    "room": re.compile(r"[a-z]{0,2}-?\d{1,2}[.-]\d{1,4}[a-z]?|[a-z]?\d{3,4}[a-z]?|.*(room|raum|office|bureau|salle|flur).*", _I),
    "grid": re.compile(r"[a-z]{1,2}['’]?(?:-[a-z])?\s*[/.-]?\s*\d{1,2}(?:-\d{1,2})?|\d{1,2}\s*/\s*[a-z]{1,2}", _I),
    "driver": re.compile(r".*(?:driver|cc|cv|evg|ecg|treiber|konverter)\b.*|[a-z]{2,}[-\s]?\d+.*", _I),
    "type": re.compile(r"[a-z]{1,3}[-.\s]?\d{1,3}[a-z*]?", _I),
}
_SAYS_NOTHING = re.compile(r"[-–—/.?]*|n/?a|n\.a\.|tb[cd]|dto\.?|ditto|id(em|\.)|[\"”″'〃]+|s\..*|siehe.*|see.*|voir.*|none", _I)
_MAINS = re.compile(r".*(?:ac|~|hz).*", _I)


def telling(cells: Iterable[str]) -> list[str]:
    """The cells that say something, without "-", "n/a", "dto.", "TBC"."""
    return [cell for cell in (cell.strip() for cell in cells) if not _SAYS_NOTHING.fullmatch(cell)]


def can_be(name: str, cell: str) -> bool:
    """Whether a cell may be of a field at all; fields that no pattern is known of can hold everything."""
    if name == "voltage_window" and _MAINS.fullmatch(cell):
        return False
    if name == "supply" and _low_window(cell):
        return False
    return name not in _CAN or _CAN[name].fullmatch(cell) is not None


def _low_window(cell: str) -> bool:
    """A range below 90 V is a window of LED modules: no supply is as wide as that."""
    found = re.search(_RANGE, cell, _I)
    return found is not None and not _MAINS.fullmatch(cell) and all(
        float(number.replace(",", ".")) < 90 for number in re.findall(_NUMBER, found[0]))


def possible(fields: Sequence[str], cells: Sequence[str]) -> tuple[str, ...]:
    """The fields that every cell can be."""
    return tuple(name for name in fields if all(can_be(name, cell) for cell in cells))


def spoken_for(fields: Sequence[str], cells: Sequence[str]) -> str | None:
    """The one field that most cells speak for, None where none stands out."""
    if not cells:
        return None
    shares = sorted(((Fraction(sum(1 for cell in cells if name in _SPEAKS and _SPEAKS[name].fullmatch(cell)), len(cells)), name)
                     for name in fields if name), reverse=True)
    if not shares or shares[0][0] * 2 <= 1 or (len(shares) > 1 and shares[0][0] == shares[1][0]):
        return None
    return shares[0][1]
