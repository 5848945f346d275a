"""What the rows below the headings are: luminaires, or totals, headings once more, sections, nothing."""

from __future__ import annotations

import re
from collections.abc import Sequence

from vault.exchange.lexicon import fold, look_up, unit_named, words_of
from vault.exchange.schedule_mapping import ScheduleMapping, decided_column

_TOTALS = re.compile(
    r"(grand|sub|zwischen|end|gesamt|sous|sotto)?"
    r"(total|totals|totaux|totale|totales|totali|totaal|summe|gesamt|somme|suma|sum|ubertrag|carriedforward)"
    r"(general|generale|generaal|qty|quantity|load|power|leistung|luminaires?|leuchten|anzahl|stuck|w|kw|ht)*\d*")
_FIGURE = re.compile(r"[~≈+-]?\s*\d[\d.,'\s]*\s*[^\W\d]{0,5}\.?|[~≈+-]?\s*\d[\d.,'\s]*\s*[%‰°]?")
# A row of one cell is a section only where the cell plainly names a place: it might else be a luminaire without its type.
_PLACE = re.compile(
    r"(\d{1,2} )?(eg|og|ug|dg|kg|zg|rdc|(ober|unter|erd|dach|keller)?geschoss|keller|etage|ebene"
    r"|stock|stockwerk|level|floor|storey|basement|roof|mezzanine|niveau|sous sol|rez de chaussee|combles|toiture|piano|interrato"
    r"|planta|sotano|piso|verdieping|begane grond|kelder|bouwlaag|room|raum|local|locale|sala|salle|ruimte|space|zimmer|stanza"
    r"|kamer|building|gebaude|batiment|block|haus|edificio|gebouw|zone|bereich|area)( \S+){0,4}"
    r"|(\d{1,2} ?(er|e|eme|st|nd|rd|th|a|o)?|ground|lower|upper|first|second|third|fourth|fifth|top) (ground |lower )?"
    r"(floor|level|etage|piso|planta|piano|verdieping|storey|niveau)( \S+){0,4}|(ug|og) ?\d{1,2}|\d{1,2} ?(ug|og)")
_FRENCH_FLOOR = re.compile(r"[rR] ?\+ ?\d{1,2}")


def is_figure(said: str) -> bool:
    """Whether a cell is a number, with or without a unit ("28,5 W", "~30")."""
    return _FIGURE.fullmatch(said.strip()) is not None


def _distinct(cells: Sequence[str]) -> list[str]:
    return list(dict.fromkeys(cell.strip() for cell in cells if cell and not cell.isspace()))


class RowKinds:
    """Tells the rows of one sheet apart. A row that has a reference and a type is always data."""

    def __init__(self, *, names: Sequence[str], mapping: ScheduleMapping, headings: Sequence[Sequence[str]],
                 units: Sequence[str]) -> None:
        self._references, self._types = (self._may_be(field, names, mapping) for field in ("reference", "type"))
        # A sheet printed on several pages says its headings again on each.
        self._again = [{cell.casefold() for cell in _distinct(cells)} for cells in headings]
        self._units = set(_distinct(units))

    @staticmethod
    def _may_be(field: str, names: Sequence[str], mapping: ScheduleMapping) -> tuple[int, ...]:
        decided = {place: decided_column(mapping, name) for place, name in enumerate(names) if name}
        said = tuple(place for place, ours in decided.items() if ours == field)
        return said or tuple(place for place, ours in decided.items() if ours is None
                             and (meaning := look_up(names[place])) is not None and field in meaning.fields)

    def _names_a_luminaire(self, cells: Sequence[str]) -> bool:
        references, types = ({cells[place].strip() for place in places if place < len(cells)} - {""}
                             for places in (self._references, self._types))
        # "Pos." may be either; one cell is not both.
        return bool(references) and bool(types) and len(references | types) > 1

    def of(self, cells: Sequence[str]) -> tuple[str, str]:
        """(why it is no luminaire, "") for a row to be skipped, ("", its text) for a section, ("", "") for data."""
        said = _distinct(cells)
        if not said:
            return "empty", ""
        if len(said) > 1 and {cell.casefold() for cell in said} in self._again:
            return "the headings once more", ""
        if self._units and set(said) == self._units:
            return "units", ""
        if len(said) == 1:
            return self._of_one_text(said[0], cells)
        if self._names_a_luminaire(cells):
            return "", ""
        words = [cell for cell in said if not is_figure(cell) and not unit_named(cell)]
        return ("a total", "") if len(words) == 1 and _TOTALS.fullmatch(fold(words[0])) else ("", "")

    @staticmethod
    def _of_one_text(said: str, cells: Sequence[str]) -> tuple[str, str]:
        if _TOTALS.fullmatch(fold(said)):
            return "a total", ""
        merged = sum(1 for cell in cells if cell.strip() == said) > 2
        return ("", said) if merged or _PLACE.fullmatch(words_of(said)) or _FRENCH_FLOOR.fullmatch(said) else ("", "")
