"""Which types of a COBie workbook are luminaires: by the codes and words of their category, then by words of their name.

Words are matched at the start of a word, or inside a compound (Langfeldleuchte). Codes from memory: Uniclass 2015
Ss_70_80 and Pr_70_70_48; OmniClass 23-35 47 and, in its 2006 edition, 23-80 70; UniFormat D5020 and D5040; MasterFormat 26 50
to 26 56; DIN 276 cost group 445.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from enum import StrEnum

_CODES = re.compile(r"(?<![0-9A-Za-z])(?:Ss[_ ]70[_ ]80|Pr[_ ]70[_ ]70[_ ]48|23[-.]35[ .]47|23[-.]80[ .]70|D5040|26 5[0-6])"
                    r"(?![0-9])|^445(?![0-9])")

# Without accents. Each is looked for anywhere in a word, so that compounds are found.
_INSIDE = ("luminair", "leuchte", "beleuchtung", "luminari", "armatuur", "armaturen", "verlichting", "eclairage", "illuminazion",
           "iluminacion", "downlight", "uplight", "spotlight", "floodlight", "troffer", "hublot", "notlicht", "plafoniera",
           "faretto", "chandelier")
# Whole words; a plural's s is forgiven.
_WORDS = ("light", "lighting", "lamp", "lampe", "lampara", "lampada", "luz", "luci", "luce", "lumiere", "licht", "lichtband",
          "sconce", "pendant", "batten", "bulkhead", "strahler", "spot", "projecteur", "reglette", "applique", "plafonnier",
          "regleta", "foco", "proyector", "baes")
_PHRASES = ("exit sign", "bloc de secours", "rettungszeichen", "segnale di uscita")
_EMERGENCY = ("emergency", "notbeleuchtung", "sicherheit", "secours", "emergenza", "emergencia", "nood")
# What has such a word in its name and is something else: whole words, and parts of compounds.
_OTHERWISE = re.compile(
    r"(?<![a-z])(?:door|window|switch|switche|sensor|dimmer|curtain|generator|eyewash|shower|heat lamp|traffic light|"
    r"emergency stop|light (?:well|weight|gauge|gage|duty|steel|concrete|beam|grey|gray|blue|green|brown|oak|wood))s?(?![a-z])|"
    "skylight|rooflight|sidelight|lightwell|lightweight|lightning|lightswitch|lichtschacht|lichtkuppel|lichthof|fenster|oberlicht|"
    "schalter|puits de lumiere|interrupteur|lucernario|interruttore|claraboya|interruptor|lichtkoepel|lichtstraat|schakelaar")
# Categories that hold luminaires among other things (UniFormat D5020).
_MIXED = ("wiring", "power", "switch", "control")


class Light(StrEnum):
    """Whether a type is a luminaire."""

    YES = "luminaire"
    DOUBT = "doubtful"
    NO = "something else"


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """Whether a type is a luminaire, and by what, as words for a reader."""

    light: Light
    because: str


def _plain(text: str) -> str:
    letters = unicodedata.normalize("NFD", text.casefold().replace("ß", "ss"))
    return "".join(letter for letter in letters if not unicodedata.combining(letter))


def _word_of_light(text: str) -> str:
    """The first word that speaks of a luminaire, "" for none."""
    phrase = next((one for one in _PHRASES if one in text), "")
    if phrase:
        return phrase
    for word in re.findall(r"[a-z]+", text):
        if any(part in word for part in _INSIDE) or word in _WORDS or word.removesuffix("s") in _WORDS:
            return str(word)
    return ""


def judge_type(name: str, category: str, description: str = "") -> Judged:
    """Whether a type is a luminaire. A word that speaks against it makes it doubtful, never decided in silence."""
    said, kind = _plain(f"{name} {description}"), _plain(category)
    found = _OTHERWISE.search(said)
    against = found[0] if found else ""
    mixed = next((word for word in _MIXED if word in kind), "")
    code, in_category, in_name = _CODES.search(category), _word_of_light(kind), _word_of_light(said)
    for_it = (f"its category has the code {code[0].strip()}" if code else f"its name says {in_name!r}" if in_name and mixed
              else f"its category says {in_category!r}" if in_category else f"its name says {in_name!r}" if in_name else "")
    if for_it and (against or (mixed and not in_name and not code)):
        where = "its name" if against else "it"
        return Judged(light=Light.DOUBT, because=f"{for_it}, and {where} says {against or mixed!r} too")
    if for_it:
        return Judged(light=Light.YES, because=for_it)
    emergency = next((word for word in _EMERGENCY if word in said), "")
    if emergency and not against:
        return Judged(light=Light.DOUBT, because=f"its name says {emergency!r} and not what it is")
    return Judged(light=Light.NO, because="neither its category nor its name speaks of a luminaire")
