"""What the readers of single fields share: cells in plain letters, words for nothing and for "as above", and questions."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from dataclasses import field as a_field
from typing import TypeAlias

from vault.exchange.asked import Choice
from vault.exchange.cell_reading import ColumnFacts, Said, Unclear, Unreadable

AS_IT_STANDS = "as it stands"
NOTHING, ABOVE = "nothing", "above"

# One reader: the cell in plain letters (see `plain_cell`), what is known of its column.
FieldReader: TypeAlias = Callable[[str, ColumnFacts], Said]



def alternatives(said: str) -> list[str]:
    """The words of a list that is written with bars between: many words are read more easily so."""
    return said.split("|")


_SAME = str.maketrans({
    **dict.fromkeys("\u00a0\u1680\u2000\u2001\u2002\u2003\u2004\u2005\u2006\u2007\u2008\u2009\u200a\u202f\u205f\u3000\t\r\n",
                    " "),
    **dict.fromkeys("\u200b\u200c\u200d\u2060\ufeff\u00ad\u200e\u200f", ""),
    **dict.fromkeys("\u2010\u2011\u2012\u2013\u2014\u2015\u2212\ufe58\ufe63\uff0d", "-"),
    **dict.fromkeys("\u2018\u2019\u201a\u2032\u00b4\u0060\u02b9\u02bc", "'"),
    **dict.fromkeys("\u201c\u201d\u201e\u2033\u3003\u02ba\u00ab\u00bb", '"'),
    "\u2026": "...", "\u2044": "/", "\u2215": "/", "\u00d7": "x", "\u2248": "~", "\u223c": "~", "\u00f7": "-", "\uff0c": ",",
    "\u00b5": "\u03bc",
})
_SPACES = re.compile(" +")

# Common practice, no source. Cells that are no more than these marks say nothing in any column.
_NO_MARKS = re.compile(r"[-_./?* ]+")
_NO_WORDS = frozenset(
    alternatives(
        "n/a|n/a.|n.a.|n. a.|#n/a|tbc|tbd|tba|t.b.c.|t.b.d.|k.a.|k. a.|k/a|keine angabe|keine angaben|n.c.|n. c.|n.n.|"
        "n.v.t.|n/d|n.d.|n. d.|s/o|sans objet|not applicable|not known"))
# These may be names where a column holds names.
_NO_WORDS_IN_FIGURES = frozenset(
    alternatives(
        "na|nc|nd|nn|ka|nvt|ntb|n.b.|n.t.b.|open|offen|unbekannt|unknown|inconnu|sconosciuto|desconocido|onbekend|"
        "ungeklärt|à définir|a définir|da definire|a definir|por definir|en attente|pendiente|nader te bepalen|"
        "to follow|folgt|to be confirmed|to be advised"))
# Other columns have a meaning of their own for none (groups, scenes, control, mode).
_NONE = frozenset(alternatives(
    "none|keine|keiner|kein|aucun|aucune|nessuno|nessuna|ninguno|ninguna|geen|ohne|sans|without"))
_ELSEWHERE = re.compile(
    r"(?:s\.?|siehe|lt\.?|laut|gem\.?|nach|gemäß|see|as per|per|voir|v\.|selon|vedi|secondo|ver|según|zie|volgens|cf\.?) ?"
    r"(?:the )?(?:db|datenbl\.?|datenblatt|datasheet|data ?sheet|ds|spec\.?|catalogue|ft|"
    r"fiche(?: technique)?|scheda(?: tecnica)?|ficha(?: técnica)?|blad|hersteller|manufacturer|fabricant|typ|type|"
    r"zeichnung|drawing|plan|lv|notes?|anmerkung)")

# Common practice, no source: a mark or word for what stands above, in six languages.
_DITTO = frozenset(
    alternatives(
        "\"|''|-\"-|--\"--|- \" -|,,|dto|dto.|dito|ditto|do.|d.o.|idem|ídem|id.|w.o.|w. o.|wie oben|wie vor|w.v.|"
        "siehe oben|as above|same|same as above|vid. sup.|vide supra|v. s.|ci-dessus|voir ci-dessus|voir plus haut|"
        "come sopra|c.s.|igual|igual que arriba|ver arriba|als boven|zie boven|idem dito"))
SIEHE_OBEN = frozenset(("s.o.", "s. o.", "s.o"))


class Ask(Exception):
    """Carries an `Unclear` or an `Unreadable` out of the reader of a field."""

    def __init__(self, reading: Unclear | Unreadable) -> None:
        super().__init__()
        self.reading = reading


@dataclass(frozen=True, slots=True, kw_only=True)
class Option:
    """One reading of an unclear cell: the word that chooses it, what that means, and what it makes of the cell."""

    word: str
    says: str
    values: Mapping[str, str] = a_field(default_factory=dict)


NOT_TAKEN = Option(word=NOTHING, says="these cells say nothing")


def decide(facts: ColumnFacts, kind: str, says: str, options: Sequence[Option], likely: str | None = None) -> Option:
    """The option that was answered for this column. Raises Ask (Unclear) while none was."""
    for option in options:
        if option.word == facts.answers.get(kind):
            return option
    choices = tuple(Choice(word=option.word, says=option.says) for option in options)
    raise Ask(Unclear(kind=kind, says=says, choices=choices, likely=likely))


def decided(facts: ColumnFacts, text: str, says: str, options: Sequence[Option], likely: str | None = None) -> Said:
    """A single cell by its own question, "is TEXT". Raises Ask (Unclear) while that is open."""
    option = decide(facts, f"is {text}", says, options, likely)
    return Said(values=option.values, rule=f"answered: {option.says}")


def refuse(problem: str, allowed: str) -> Ask:
    return Ask(Unreadable(problem=problem, allowed=allowed))


def plain_cell(text: str) -> str:
    """The cell with one kind of each: spaces, hyphens, apostrophes, quotation marks; without letters that nobody sees."""
    return _SPACES.sub(" ", text.translate(_SAME)).strip()


def nothing_said(plain: str, *, names: bool, has_none: bool) -> str:
    """Why a cell says nothing, "" where it may say something. names: the column holds names. has_none: its field has a
    value for none."""
    low = plain.casefold()
    if not low:
        return "empty"
    if low in _NO_WORDS or _NO_MARKS.fullmatch(low) or (not names and low in _NO_WORDS_IN_FIGURES) or (
            not names and not has_none and low in _NONE):
        return f"{plain} says nothing"
    if _ELSEWHERE.fullmatch(low):
        return f"{plain} points elsewhere: nothing is said here"
    return ""


def is_ditto_mark(plain: str) -> bool:
    return plain.casefold() in _DITTO
