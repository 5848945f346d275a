"""What a file says of a luminaire beyond its settings, held against the rating of its type: class, degree of protection,
supply, power. These are no settings, so a difference stops nothing; but one of the two papers is wrong.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from decimal import Decimal, InvalidOperation

from vault.domain.findings import Finding, Severity
from vault.domain.rating import Rating
from vault.domain.schema import words
from vault.exchange.cell_reading import Said
from vault.exchange.translation_columns import ReadColumn

SOURCE = "common practice, no source"
def _care(rule: str, found: str, allowed: str, unit: str, says: str) -> Finding:
    return Finding(rule=rule, severity=Severity.CARE, found=found, allowed=allowed, unit=unit, source=SOURCE, says=says)


def _class(said: Said, rating: Rating, heading: str) -> Finding | None:
    text = said.values.get("protection_class", "")
    if rating.protection_class is None or not text or text == words(rating.protection_class):
        return None
    return _care("file-class", text, words(rating.protection_class), "",
                 f"The file's column {heading!r} says another class of protection than the rating of type {rating.code}.")


def _ip(said: Said, rating: Rating, heading: str) -> Finding | None:
    text = said.values.get("ip", "")
    figures, own = (set(re.findall(r"[0-9X]{2}", one.upper())) for one in (text, rating.ip or ""))
    if not figures or not own or figures & own:
        return None
    return _care("file-ip", text, rating.ip or "", "",
                 f"The file's column {heading!r} says another degree of protection than the rating of type {rating.code}.")


def _supply(said: Said, rating: Rating, heading: str) -> Finding | None:
    kind = said.values.get("supply_kind", "")
    volts = [int(one) for one in re.findall(r"[0-9]{1,4}", said.values.get("supply_v", ""))]
    direct = kind == "dc"
    least, most = (rating.dc_min_v, rating.dc_max_v) if direct else (rating.supply_min_v, rating.supply_max_v)
    if least is None or most is None or not volts or (least <= min(volts) and max(volts) <= most):
        return None
    return _care("file-supply", said.values["supply_v"], f"{least} to {most}", "V d.c." if direct else "V a.c.",
                 f"The file's column {heading!r} says another supply voltage than the rating of type {rating.code}.")


def _power(said: Said, rating: Rating, heading: str) -> Finding | None:
    try:
        found_mw = Decimal(said.values.get("power_w", "")) * 1000
    except InvalidOperation:
        return None
    if rating.power_max_mw is None or found_mw <= rating.power_max_mw:
        return None
    return _care("file-power", said.values["power_w"], f"at most {Decimal(rating.power_max_mw) / 1000:f}", "W",
                 f"The file's column {heading!r} says more power than the rating of type {rating.code}.")


FACTS: Mapping[str, Callable[[Said, Rating, str], Finding | None]] = {
    "protection_class": _class, "ip": _ip, "supply": _supply, "power_w": _power,
}


def held_against_ratings(columns: Sequence[ReadColumn], places: Sequence[int], types: Sequence[str], references: Sequence[str],
                         ratings: Mapping[str, Rating]) -> dict[str, tuple[Finding, ...]]:
    """Reference -> what its row says that its type's rating does not. One finding serves all rows that say the same.

    places: of each row of our table, its place among the cells of the file.
    """
    found: dict[str, dict[Finding, None]] = {}
    for column in columns:
        check, cells = FACTS[column.mapped.field], column.cells
        memo: dict[tuple[str, str], Finding | None] = {}
        for at, code, reference in zip(places, types, references, strict=True):
            key = (cells[at], code)
            if key not in memo:
                said = column.readings[cells[at]]
                memo[key] = check(said, ratings[code], column.heading) if isinstance(said, Said) and code in ratings else None
            finding = memo[key]
            if finding is not None:
                found.setdefault(reference, {})[finding] = None
    return {reference: tuple(own) for reference, own in found.items()}
