"""The smallest set as a table: its models, and every class with the models that cover it."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from vault.domain.tag import shown
from vault.exchange.reorder_file import amount
from vault.exchange.table_out import Cell, Sheet, write_csv_table, write_xlsx_table
from vault.spares.coverage_words import answer_words, class_words, duty_words
from vault.spares.needs import Coverage
from vault.spares.smallest_set import Chosen

_HEADINGS = ("Drivers", "Duty", "What it is", "Examples", "Covered in the set by", "Other models that cover it",
             "Only one model covers it", "Nearest model", "Why it does not do", "Class")

_FOLDED = 40  # letters


def class_rows(coverage: Coverage, chosen: Chosen) -> list[list[Cell]]:
    """Headings, then one row for each class."""
    rows: list[list[Cell]] = [list(_HEADINGS)]
    gaps = {gap.need: gap for gap in chosen.uncoverable}
    forced = {need for needs in chosen.forced.values() for need in needs}
    for number, need in enumerate(coverage.needs):
        models, gap = chosen.alternatives.get(number, ()), gaps.get(number)
        rows.append([
            need.pieces, duty_words(need.gear.duty), class_words(need), ", ".join(map(shown, need.tags)),
            ", ".join(model for model in models if model in chosen.models) or "none",
            ", ".join(model for model in models if model not in chosen.models), "yes" if number in forced else "no",
            gap.model if gap else None, answer_words(gap.answer) if gap and gap.answer else None, need.key.hex()])
    return rows


def set_rows(coverage: Coverage, chosen: Chosen, prices: Mapping[str, int], currency: str) -> list[list[Cell]]:
    """Headings, then one row for each model of the set."""
    rows: list[list[Cell]] = [["Model", f"Price, {currency}" if currency else "Price",
                               "Drivers that only it covers", "Classes that only it covers", "Classes that force it", "Kept"]]
    for model in chosen.models:
        adds = chosen.adds[model]
        rows.append([model, amount(prices.get(model)), coverage.pieces(adds), len(adds),
                     len(chosen.forced.get(model, ())), "yes" if model in chosen.kept else "no"])
    return rows


def write_set(path: Path, coverage: Coverage, chosen: Chosen, *, prices: Mapping[str, int], currency: str) -> None:
    """Write .csv (the classes) or .xlsx (the set, the next best, the classes).

    Raises GearkeepError (unwritable-file, too-large).
    """
    if path.suffix.lower() == ".csv":
        write_csv_table(path, class_rows(coverage, chosen))
        return
    sets: list[list[Cell]] = [["Place", "Models", "Drivers covered", f"Cost, {currency}" if currency else "Cost", "Which"]]
    sets += [[place, len(one.models), one.covered, None if one.cost_cents is None else amount(one.cost_cents),
              ", ".join(one.models)]
             for place, one in enumerate((chosen.best, *chosen.runners_up), 1)]
    write_xlsx_table(path, [
        Sheet(name="Set", rows=set_rows(coverage, chosen, prices, currency), folded=_FOLDED),
        Sheet(name="Next best", rows=sets, folded=2 * _FOLDED),
        Sheet(name="Classes", rows=class_rows(coverage, chosen), folded=_FOLDED)])
