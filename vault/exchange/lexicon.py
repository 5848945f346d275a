"""What the headings of other people's luminaire schedules mean, in six languages, and the unit that stands in them."""

from __future__ import annotations

import functools
import re
import unicodedata
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from vault.exchange import lexicon_de, lexicon_en, lexicon_es, lexicon_fr, lexicon_it, lexicon_nl
from vault.exchange.schedule_columns import EXTRA, GEAR_COLUMNS, LUMINAIRE_COLUMNS
from vault.exchange.schedule_fields import FIELDS
from vault.exchange.schedule_headings import plain_heading

LANGUAGES = (lexicon_en, lexicon_de, lexicon_fr, lexicon_it, lexicon_es, lexicon_nl)
JOINT = " / "
"""Between a group's heading and the heading below it."""

OWN = frozenset({*LUMINAIRE_COLUMNS, *GEAR_COLUMNS})

# How units are written in headings, without case, blanks, dots and brackets -> as we write them.
_UNITS: Mapping[str, str] = {
    "ma": "mA", "a": "A", "μa": "µA", "ua": "µA",
    "v": "V", "mv": "mV", "kv": "kV", "vdc": "V DC", "vac": "V AC", "vcc": "V DC", "vca": "V AC",
    "w": "W", "mw": "mW", "kw": "kW", "va": "VA", "watt": "W", "watts": "W", "k": "K", "kelvin": "K", "%": "%", "‰": "‰",
    **dict.fromkeys(("h", "hr", "hrs", "hour", "hours", "std", "stunden", "heures", "ore", "horas", "uur", "uren"), "h"),
    **dict.fromkeys(("min", "mins", "minutes", "minuten", "minuti", "minutos"), "min"),
    **dict.fromkeys(("s", "sec", "secs", "sek", "sekunden", "seconds"), "s"), "ms": "ms",
    **dict.fromkeys(("d", "days", "tage", "jours", "giorni", "dagen"), "d"),
    **dict.fromkeys(("weeks", "wochen", "semaines", "weken"), "weeks"),
    **dict.fromkeys(("stk", "st", "pcs", "nos", "pz", "uds"), "pcs"),
    "lm": "lm", "mm": "mm", "cm": "cm", "m": "m", "hz": "Hz", "°c": "°C", "kg": "kg", "c": "°C",
}
_CURRENT, _TENSION, _POWER, _LEVEL = (
    re.compile(r"(emergency_)?current(_\d)?_ma"), re.compile(r"voltage_.*|supply"), re.compile(r"(emergency_)?power(_\d)?_w"),
    re.compile(r"limits|scenes|scene_\d+|.*_level|.*_percent|dimming"))
_MEASURES: Mapping[str, re.Pattern[str]] = {
    **dict.fromkeys(("mA", "A"), _CURRENT), **dict.fromkeys(("V", "mV", "kV", "V DC", "V AC"), _TENSION),
    **dict.fromkeys(("W", "mW", "kW", "VA"), _POWER), **dict.fromkeys(("%", "‰"), _LEVEL),
    "h": re.compile("duration"), "min": re.compile("duration(_min)?|test_delay_min"),
    "s": re.compile("fade_time|extended_fade|prolong_s"), "ms": re.compile("fade_time"), "K": re.compile("(cool|warm)est_k"),
    "d": re.compile("function_test_days"), "weeks": re.compile("duration_test_weeks"), "pcs": re.compile("quantity"),
}
# Over other headings these only gather: "Luminaire" over "Type" and "Room" adds nothing to them.
_OF_LUMINAIRES = frozenset(
    ("luminaire", "luminaires", "fixture", "fixtures", "fitting", "fittings", "leuchte", "leuchten", "leuchtendaten", "armatuur",
     "armaturen", "luminairedata", "apparecchio", "luminaria", "general", "allgemein", "generalites", "generale", "algemeen"))
GATHERING = _OF_LUMINAIRES | frozenset(
    ("place", "location", "standort", "ort", "lage", "emplacement", "localisation", "ubicazione", "ubicacion", "locatie",
     "plaats", "electrical", "elektrisch", "elektrischedaten", "electrique", "elettrico", "electrico", "technical",
     "technischedaten", "technicaldata", "dali", "dalidata", "settings", "einstellungen", "reglages"))
_SCENE = re.compile(r"(?:dali|licht)?(?:scene|scenes|sc|szene|sz|scena|escena|esc|sce|scenario|ambiance)(?:no|nr|n)?0*(\d{1,2})")
_CHANNEL = re.compile(r"(.+?)[\s_.-]*(?:channel|kanal|canal|kan|ch|output|ausgang|sortie|k)?[\s_.-]*\(?([1-4])\)?", re.IGNORECASE)
_TWO_LETTERS = re.compile(r"[A-Za-z]/[A-Za-z]")
_NUMBERED = re.compile(r"(current|voltage_min|voltage_max|voltage|power)_(ma|v|w)")
_UNIT_AT_END = (
    (True, re.compile(r"(.+?)\s*[(\[{]\s*(?:in\s+|en\s+|em\s+)?([^()\[\]{}]{1,8})\s*[)\]}]\s*")),
    (True, re.compile(r"(.+?)\s*(?:/|,|;|\bin\b|\ben\b)\s*([^\s/,;]{1,8})\s*")),
    (False, re.compile(r"(.+?)\s+(\S{1,8})\s*")),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Meaning:
    """What a heading may mean. fields: of `schedule_fields.FIELDS`; "" stands for something that no field of ours keeps.

    unit: taken off the heading, "" where it says none. own: it is a heading of ours. exact: the heading itself is known;
    else only a part of it is, and nothing of this is sure.
    """

    fields: tuple[str, ...]
    unit: str = ""
    own: bool = False
    exact: bool = True

    @property
    def sure(self) -> bool:
        """Whether the heading means one field of ours and nothing else."""
        return self.exact and len(self.fields) == 1 and self.fields != ("",)


def words_of(heading: str) -> str:
    """A heading without case, accents, dots, hyphens and brackets; words with one blank between them."""
    said = re.sub(r"\b[Nn]\s?[°º]", "no ", heading.replace("№", "no "))
    plain = "".join(letter for letter in unicodedata.normalize("NFKD", said) if not unicodedata.combining(letter))
    return " ".join(re.sub(r"[^\w%‰]|_", " ", plain.casefold()).split())


def fold(heading: str) -> str:
    """A heading as the lexicon holds it: `words_of` without blanks, so that Raum-Nr. and Raumnr are one.

    A stroke between two letters stays: I/P is the input, and not IP.
    """
    letters = _TWO_LETTERS.fullmatch(heading.strip())
    return letters[0].casefold() if letters else words_of(heading).replace(" ", "")


def _spellings(word: str) -> Iterator[str]:
    yield fold(word)
    spelt_out = word.lower().replace("ä", "ae").replace("ö", "oe").replace("ü", "ue")
    if spelt_out != word.lower():
        yield fold(spelt_out)


@functools.cache
def lexicon() -> Mapping[str, tuple[str, ...]]:
    """Folded heading -> every field that it may be, "" for things that we do not keep."""
    held: dict[str, list[str]] = {}
    for name in FIELDS:
        held.setdefault(fold(name), []).append(name)
    for language in LANGUAGES:
        for name, listed in language.WORDS.items():
            for word in listed.split(";"):
                for spelling in _spellings(word.strip()):
                    fields = held.setdefault(spelling, [])
                    if name not in fields:
                        fields.append(name)
    # What we do not keep comes last: it is the last thing that anybody is offered.
    return {word: tuple(sorted(fields, key=lambda name: name == "")) for word, fields in held.items()}


@functools.cache
def written_words() -> Mapping[str, tuple[str, ...]]:
    """Every heading of the lexicon in words (`words_of`) -> its fields; what near misses are looked for in."""
    known = lexicon()
    return {words_of(word): known[fold(word)] for language in LANGUAGES
            for listed in language.WORDS.values() for word in listed.split(";")}


def unit_named(said: str) -> str:
    """The unit that a text is ("mA", "Std.", "[W]"), "" for anything else."""
    return _UNITS.get(re.sub(r"[\s.()\[\]{}]", "", said).casefold(), "")


def fits_unit(name: str, unit: str) -> bool:
    """Whether a field can be measured in a unit; every field can where no unit is said."""
    return not unit or (unit in _MEASURES and _MEASURES[unit].fullmatch(name) is not None)


def split_unit(heading: str) -> tuple[str, str, bool]:
    """(heading without its unit, the unit, whether brackets, a stroke or "in" mark it); "" where no unit is at the end."""
    for marked, pattern in _UNIT_AT_END:
        found = pattern.fullmatch(heading.strip())
        if found and unit_named(found[2]):
            return found[1].strip(), unit_named(found[2]), marked
    return heading, "", False


def _in_lexicon(heading: str) -> tuple[str, ...]:
    folded = fold(heading)
    known = lexicon().get(folded)
    if known:
        return known
    scene = _SCENE.fullmatch(folded)
    if scene and int(scene[1]) < 16:
        return (f"scene_{int(scene[1])}",)
    channel = _CHANNEL.fullmatch(heading.strip())
    if channel:
        of_first = [_NUMBERED.fullmatch(name) for name in lexicon().get(fold(channel[1]), ())]
        infix = "" if channel[2] == "1" else f"_{channel[2]}"
        return tuple(f"{found[1]}{infix}_{found[2]}" for found in of_first if found)
    return ()


def _measured(heading: str) -> Meaning | None:
    """A heading that is known without the unit that is marked in it, or whole, or without a last word that is a unit."""
    bare, unit, marked = split_unit(heading)
    known = _in_lexicon(bare) if unit else ()
    fitting = tuple(name for name in known if fits_unit(name, unit))
    # "U [V]" is a voltage and no distribution board (UV); "DALI min" is no duration.
    if fitting and marked:
        return Meaning(fields=fitting, unit=unit)
    whole = _in_lexicon(heading)
    if whole:
        return Meaning(fields=whole, unit=unit_named(heading))
    if fitting:
        return Meaning(fields=fitting, unit=unit)
    return Meaning(fields=known, unit=unit, exact=False) if known and marked else None


def _in_parts(heading: str) -> Meaning | None:
    """A heading of several parts: two languages ("Raum / Room"), or a group over a heading ("DALI / Line")."""
    parts = [part for part in (heading.split(JOINT) if JOINT in heading else re.split(r"\s*[/|\n]\s*", heading)) if part]
    if len(parts) < 2:
        return None
    found = [_measured(part) for part in parts]
    last = found[-1]
    if all(found):
        shared = [name for name in found[0].fields if all(name in one.fields for one in found if one)] if found[0] else []
        if shared:
            return Meaning(fields=tuple(shared), unit=next((one.unit for one in found if one and one.unit), ""),
                           exact=all(one.exact for one in found if one))
    group = fold(heading.rsplit(JOINT, 1)[0]) if JOINT in heading else ""
    # A type below "DALI" or "Electrical" need not be the luminaire's.
    if last and (group in _OF_LUMINAIRES or (group in GATHERING and {"type", "reference"}.isdisjoint(last.fields))):
        return last
    fields = dict.fromkeys(name for one in reversed(found) if one for name in one.fields)
    return Meaning(fields=tuple(fields), unit=last.unit if last else "", exact=False) if fields else None


@functools.lru_cache(maxsize=4096)
def look_up(heading: str) -> Meaning | None:
    """What a heading means by our own list and the lexicon; None where neither knows it or a part of it."""
    plain = plain_heading(heading)
    if plain in OWN or (plain.startswith(EXTRA) and plain != EXTRA):
        return Meaning(fields=(plain,), unit=split_unit(heading.replace("_", " "))[1], own=True)
    whole = _measured(heading) or _in_parts(heading)
    if whole:
        return whole
    # What stands in brackets is often a remark: "Adresse (0-63)".
    bare = re.sub(r"\s*[(\[{][^()\[\]{}]*[)\]}]\s*", " ", heading).strip()
    remarked = _measured(bare) if bare and bare != heading.strip() else None
    if remarked:
        return Meaning(fields=remarked.fields, unit=remarked.unit, exact=False)
    bare, unit, _ = split_unit(heading)
    return Meaning(fields=(), unit=unit, exact=False) if unit and bare != heading else None
