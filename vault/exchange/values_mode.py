"""Switching modes of emergency luminaires: NM, BS, DS, maint., P, NP, M3; and where their power comes from."""

from __future__ import annotations

import re
from collections.abc import Mapping

from vault.domain.schema import from_words, words
from vault.domain.settings import EmergencyMode, EmergencySupply
from vault.exchange.cell_reading import ColumnFacts, Said
from vault.exchange.values_duration import read_duration
from vault.exchange.values_number import joined
from vault.exchange.values_parts import NOT_TAKEN, Ask, Option, alternatives, decided, refuse

# Common practice, no source: abbreviations in lists; the words are those of EN 1838, EN 50172 and DIN EN 60598-2-22.
_MODES: Mapping[EmergencyMode, frozenset[str]] = {
    EmergencyMode.MAINTAINED: frozenset(
        alternatives(
            "m|maint|maintained|mtd|ds|dl|dauer|dauerschaltung|dauerlicht|dauerbetrieb|in dauerschaltung|p|perm|"
            "permanent|permanente|permanence|sa|sempre accesa|sempre acceso|continu|continuverlichting|"
            "permanente verlichting|permanentie|encendido permanente")),
    EmergencyMode.NON_MAINTAINED: frozenset(
        alternatives(
            "nm|n/m|n.m|non-maint|non maint|nonmaint|non-maintained|non maintained|nonmaintained|bs|bl|bereitschaft|"
            "bereitschaftsschaltung|bereitschaftslicht|in bereitschaftsschaltung|np|n.p|n/p|non permanent|"
            "non-permanent|non permanente|no permanente|se|solo emergenza|niet-permanent|niet permanent|niet-continu|"
            "niet continu|noodbedrijf|emergenza|non perm|no perm")),
    EmergencyMode.SWITCHED_MAINTAINED: frozenset(
        alternatives(
            "sm|swm|sw. maint|sw maint|switched maintained|switched-maintained|maintained switched|gds|g-ds|gesch. ds|"
            "geschaltete dauerschaltung|geschaltetes dauerlicht|geschaltet ds|schaltbare dauerschaltung|ds geschaltet|"
            "permanent commandé|permanent télécommandé|sa commutabile|permanente conmutado|geschakeld permanent")),
}
_MODE_OF = {word: mode for mode, said in _MODES.items() for word in said}
_NO_EMERGENCY = frozenset(alternatives(
    "no|nein|non|nee|none|kein|keine|0|false|without|ohne|sans|senza|sin|zonder"))
_YES = frozenset(alternatives(
    "yes|y|ja|j|oui|o|sì|si|sí|s|x|1|true|em|e|emergency|notlicht|nl|sibe|secours|baes|emergencia|nood|✓|✔|☑|•|"
    "sustained|combined|kombiniert|combiné|combinato|ds/bs|bs/ds|m/nm|nm/m|p/np|np/p|sa/se"))
# In a list that writes DS and BS, M says neither.
_NO_ENGLISH = re.compile(r"\b(?:ds|bs)\b|schaltungsart|sibe|notlicht|betriebsart|bereitschaft|dauer", re.IGNORECASE)
_WITH_TIME = re.compile(r"(?P<mode>\D*[^\d\W]\.?)[ /,;-]*(?P<time>[0-9].*)")
_TIME_FIRST = re.compile(r"(?P<time>[0-9]+ ?(?:h|hr|hrs|std|min|')\.?)[ /,;-]*(?P<mode>[^\d\W].*)", re.IGNORECASE)
_FEW = re.compile("[0-9](?![0-9])")
ALLOWED = "maintained, non-maintained, switched-maintained; as M, NM, DS, BS, P, NP"

_SUPPLIES: Mapping[str, EmergencySupply] = {
    **dict.fromkeys(
        alternatives(
            "self-contained|self contained|s/c|eb|einzelbatterie|einzelbatt|einzelbatterieleuchte|akku|baes|"
            "bloc autonome|autonome|autonoma|autonomo|autónoma|autónomo|decentraal|own battery"), EmergencySupply.SELF_CONTAINED),
    **dict.fromkeys(
        alternatives(
            "central|cb|cbs|cps|lps|zb|zb-anlage|zentralbatterie|zentral|gb|gruppenbatterie|source centrale|"
            "source centralisée|soccorritore|cpss|centrale|centralizada|centralizado|centraal|centrale batterij"),
        EmergencySupply.CENTRAL)}

# SC is self-contained in English and a central source in French.
_EITHER_SUPPLY = frozenset(alternatives("sc|battery|batterie|batteria|batería|batterij|batt"))


def _low(plain: str) -> str:
    return plain.casefold().rstrip(".").strip()


def _mode_options(facts: ColumnFacts) -> list[Option]:
    return [*(Option(word=words(mode), says=f"the mode is {words(mode)}", values={facts.field: words(mode)})
              for mode in EmergencyMode), NOT_TAKEN]


def read_mode(plain: str, facts: ColumnFacts) -> Said:
    """{emergency_mode: "maintained"}, with duration_min where the cell says it as M3. Raises Ask."""
    low = _low(plain)
    if low == "not set":
        return Said(values={facts.field: low}, rule="not set")
    if low in _NO_EMERGENCY:
        return Said(values={}, rule=f"{plain}: no emergency luminaire")
    mode = _mode(low, facts)
    if mode is not None:
        return Said(values={facts.field: words(mode)}, rule=f"{plain} is {words(mode)}")
    guess = _mode(_low(low.strip("?() ")), facts) if "?" in low else None
    if guess is not None or low in _YES or low == "m":
        return decided(facts, plain, f"Which mode is {plain}?", _mode_options(facts), words(guess) if guess is not None else None)
    timed = _WITH_TIME.fullmatch(plain) or _TIME_FIRST.fullmatch(plain)
    mode = _mode(_low(timed["mode"]), facts) if timed else None
    if timed is None or mode is None:
        raise refuse(f"{plain!r} is no mode", ALLOWED)
    # Common practice, no source: the number behind a mode is the rated duration in hours.
    hours = ColumnFacts(field="duration_min", heading=facts.heading, unit="h" if _FEW.match(timed["time"]) else "min")
    try:
        time = read_duration(timed["time"], hours)
    except Ask:
        raise refuse(f"{plain!r} is no mode and duration", "mode and hours like M3 or NM/1h") from None
    rule = joined(f"{timed['mode'].strip()} is {words(mode)}", f"{timed['time']} is {time.values['duration_min']} min")
    return Said(values={facts.field: words(mode), **time.values}, rule=rule)


def _mode(low: str, facts: ColumnFacts) -> EmergencyMode | None:
    if low == "m" and _NO_ENGLISH.search(facts.heading) and "nm" not in facts.heading.casefold():
        return None
    return _MODE_OF[low] if low in _MODE_OF else from_words(EmergencyMode, low)


def read_emergency_supply(plain: str, facts: ColumnFacts) -> Said:
    """{emergency_supply: "central"}. Raises Ask."""
    found = _SUPPLIES[_low(plain)] if _low(plain) in _SUPPLIES else from_words(EmergencySupply, plain)
    if _low(plain) in _EITHER_SUPPLY:
        return decided(facts, plain, f"Where does the power come from in an emergency: {plain}?", [
            *(Option(word=words(supply), says=f"the supply is {words(supply)}", values={facts.field: words(supply)})
              for supply in EmergencySupply), NOT_TAKEN])
    if found is None:
        raise refuse(f"{plain!r} is no kind of emergency supply", "self-contained or central")
    return Said(values={facts.field: words(found)}, rule=f"{plain} is {words(found)}")
