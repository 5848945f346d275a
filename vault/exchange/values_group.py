"""Groups and tables of scenes: 1+3, G01, 1,3, 0-3, none; 0:254 1:50 %."""

from __future__ import annotations

import re

from vault.exchange.cell_reading import ColumnFacts, Said
from vault.exchange.raw_table import Oddity, Remark
from vault.exchange.values_address import FROM, NUMBERING
from vault.exchange.values_level import read_level
from vault.exchange.values_number import joined
from vault.exchange.values_parts import AS_IT_STANDS, Option, alternatives, decide, decided, refuse
from vault.exchange.values_strict import is_own

GROUPS = 16
ALLOWED = "groups 0 to 15 with + between, or none"
_NONE = frozenset(alternatives(
    "none|no|no group|keine|keiner|kein|aucun|aucune|nessuno|ninguno|geen"))
_WORD = re.compile(r"\b(?:dali )?(?:groups?|gruppen?|groupes?|gruppi|gruppo|grupos?|groepen|groep|grp|gr|gpe|g)\.?[ :-]?"
                   r"(?=[0-9])", re.IGNORECASE)
_BETWEEN = re.compile(r" ?(?:[+,;/&|]| (?:and|und|et|e|y|en) ) ?| |\.", re.IGNORECASE)
_RANGE = re.compile(r"([0-9]{1,2}) ?(?:-|\.{2,3}|\bto\b|\bbis\b|à) ?([0-9]{1,2})", re.IGNORECASE)
_NUMBER = re.compile("[0-9]{1,2}")
_LOST_ZERO = re.compile(r"([0-9]{1,2})\.1")
SCENE = re.compile(r"(?:scene|szene|scène|scena|escena|sc|sz|s)?\.? ?([0-9]{1,2}) ?[:=] ?(.+)", re.IGNORECASE)


def group_numbers(plain: str) -> list[int] | None:
    """The numbers in a cell of groups, None where it is no list of them."""
    texts = [text for text in _BETWEEN.split(_WORD.sub("", plain).strip()) if text]
    if not texts or not all(_NUMBER.fullmatch(text) for text in texts):
        return None
    return [int(text) for text in texts]


def read_groups(plain: str, facts: ColumnFacts, remark: Remark | None = None) -> Said:
    """{groups: "1+3"} or "none". Raises Ask."""
    low = plain.casefold()
    if low.replace("_", " ") == "not set" or low in _NONE:
        said = "none" if low in _NONE else plain
        return Said(values={facts.field: said}, rule=AS_IT_STANDS if said == plain else "no group")
    lost = _LOST_ZERO.fullmatch(plain)
    if lost and remark is not None and remark.oddity is Oddity.NUMBER:
        # A spreadsheet shows 1,10 as the number 1.1.
        return _lost_zero(plain, int(lost[1]), facts)
    spread = _RANGE.fullmatch(_WORD.sub("", plain))
    if spread:
        return _range(plain, int(spread[1]), int(spread[2]), facts)
    numbers = group_numbers(plain)
    if numbers is None:
        raise refuse(f"{plain!r} is no list of groups", ALLOWED)
    return _said(plain, numbers, facts)


def _said(plain: str, numbers: list[int], facts: ColumnFacts, rule: str = "") -> Said:
    first = 0
    answered = facts.answers.get(NUMBERING)
    if answered in FROM:
        first = FROM[answered]
    elif answered is not None or (max(numbers) >= GROUPS and not is_own(facts.heading, facts.field)):
        options = [Option(word="from-0", says="from 0 to 15, as the gear has them"),
                   Option(word="from-1", says="from 1 to 16; each is set as one less")]
        first = FROM[decide(facts, NUMBERING, "Do the groups of this file count from 0 or from 1?", options,
                            "from-1" if max(numbers) == GROUPS and min(numbers) else None).word]
    groups = sorted({number - first for number in numbers})
    if not (groups[0] >= 0 and groups[-1] < GROUPS):
        raise refuse(f"{plain!r} names a group that does not exist where they count from {first}",
                     f"groups {first} to {first + GROUPS - 1}")
    said = "+".join(map(str, groups))
    if said == plain:
        return Said(values={facts.field: said}, rule=AS_IT_STANDS)
    shown = joined(rule, f"group{'s' if len(groups) > 1 else ''} {said}", "counted from 1 in the file" if first else "")
    return Said(values={facts.field: said}, rule=shown)


def _range(plain: str, first: int, last: int, facts: ColumnFacts) -> Said:
    low, high = min(first, last), max(first, last)
    options = [Option(word="all", says=f"all from the first to the last: {low} to {high}"),
               Option(word="two", says=f"these two: {low} and {high}")]
    picked = decide(facts, "range", f"Which groups are {plain}?", options)
    return _said(plain, list(range(low, high + 1)) if picked.word == "all" else [low, high], facts, "as answered")


def _lost_zero(plain: str, first: int, facts: ColumnFacts) -> Said:
    options = [Option(word=str(second), says=f"groups {first} and {second}", values={facts.field: _pair(first, second)})
               for second in (1, 10)]
    says = f"The spreadsheet holds a number, in which {first},1 and {first},10 look alike. Which groups are {plain}?"
    return decided(facts, plain, says, options)


def _pair(first: int, second: int) -> str:
    return "+".join(map(str, sorted({first, second})))


def read_scenes(plain: str, facts: ColumnFacts) -> Said:
    """{scenes: "0:254 1:229"} or "none". Raises Ask."""
    if plain.casefold() in _NONE:
        return Said(values={facts.field: "none"}, rule="no scene")
    entries, rules = [], []
    for text in re.split(r" ?[;,/] ?| (?=[a-zè]*\.? ?[0-9]+ ?[:=])", re.sub(r" ?([:=]) ?", r"\1", plain), flags=re.IGNORECASE):
        found = SCENE.fullmatch(text)
        if found is None or int(found[1]) >= GROUPS:
            raise refuse(f"{plain!r} is no list of scenes", "scene, colon, level: 0:254 1:50 %")
        own = ColumnFacts(field=f"scene_{int(found[1])}", heading=facts.heading, unit=facts.unit, answers=facts.answers)
        said = read_level(found[2], own)
        entries.append(f"{int(found[1])}:{said.values[own.field]}" if said.values else "")
        rules.append(f"scene {int(found[1])}: {said.rule}")
    text = " ".join(filter(None, entries)) or "none"
    return Said(values={facts.field: text}, rule=AS_IT_STANDS if text == plain else joined(*rules))
