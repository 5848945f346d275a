"""Attributes of a COBie workbook's luminaires, and of their types, as columns of a table."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from vault.exchange.cobie_book import CobieBook, CobieRow, Left
from vault.exchange.cobie_layout import SYSTEM
from vault.exchange.cobie_settings import NOT_TAKEN, duty_of_category
from vault.exchange.schedule_columns import EXTRA, GEAR_COLUMNS, LUMINAIRE_COLUMNS

_OURS = {name.casefold(): name for name in (*LUMINAIRE_COLUMNS, *GEAR_COLUMNS)}
_NO_UNIT = frozenset({"", "n/a", "text", "string", "unitless", "none", "yes/no"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Attributes:
    """headings: in the file's order. cells: component -> heading -> value; its own goes before its type's.

    further: (component, duty) -> heading -> value, of a workbook of ours whose luminaire has a second gear.
    """

    headings: tuple[str, ...]
    cells: dict[str, dict[str, str]]
    further: dict[tuple[str, str], dict[str, str]]


def _heading(row: CobieRow, duty: str) -> str:
    """An attribute's name as a heading: ours where it is one, else with its unit, which then holds for the column."""
    name = " ".join(row.name.split()).removeprefix(f"{duty} " if duty else "")
    ours = name.casefold() in _OURS or name.startswith(EXTRA)
    if name.casefold() in LUMINAIRE_COLUMNS:
        return f"Attribute {name}"  # what a luminaire is called and where it hangs comes from other sheets
    unit = row.get("Unit")
    if ours:
        return _OURS.get(name.casefold(), name)
    return name if unit.casefold() in _NO_UNIT else f"{name} [{unit}]"


def attribute_columns(book: CobieBook, components: Sequence[tuple[CobieRow, CobieRow]]) -> Attributes:
    """What the sheet Attribute says of these components and their types; everything else of it is told as left."""
    taken = {row.name for row, _ in components}
    of_type: dict[str, list[str]] = {}
    for row, kind in components:
        of_type.setdefault(kind.name, []).append(row.name)
    headings: dict[str, None] = {}
    own: dict[str, dict[str, str]] = {}
    inherited: dict[str, dict[str, str]] = {}
    further: dict[tuple[str, str], dict[str, str]] = {}
    for row in book.rows("Attribute"):
        sheet, target, value = row.get("SheetName").casefold(), row.get("RowName"), row.get("Value")
        ours = row.get("ExtSystem") == SYSTEM
        duty = duty_of_category(row.get("Category")) if ours else ""
        heading = _heading(row, duty)
        why = ""
        if not row.name or not value:
            why = "it has no name or no value"
        elif ours and row.get("Category") in NOT_TAKEN:
            why = f"it is a {row.get('Category').casefold()} and no column of a schedule"
        elif sheet == "component" and target in taken and duty:
            further.setdefault((target, duty), {})[heading] = value
        elif sheet == "component" and target in taken:
            if own.setdefault(target, {}).setdefault(heading, value) != value:
                why = f"{target} has another {heading} already"
        elif sheet == "type" and target in of_type:
            for name in of_type[target]:
                inherited.setdefault(name, {}).setdefault(heading, value)
        else:
            why = f"what it is of, in the sheet {row.get('SheetName') or '(none)'}, is no luminaire"
        if why:
            book.left.append(Left(sheet="Attribute", row=row.number, name=row.name, why=why))
        else:
            headings[heading] = None
    return Attributes(headings=tuple(headings), further=further,
                      cells={name: inherited.get(name, {}) | own.get(name, {}) for name in taken})
