"""The matrix of coverage as a table: classes by models, the verdict with what limits it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

from vault.domain.tag import shown
from vault.exchange.table_out import Cell, Sheet, write_csv_table, write_xlsx_table
from vault.spares.coverage_gaps import Gap, Gaps
from vault.spares.coverage_words import answer_words, class_words, duty_words, output_words
from vault.spares.needs import Coverage

_CLASS = ("Class", "Drivers", "Type", "Revision", "Duty", "Output", "What it is", "Examples", "Place of the first",
          "Saved from the shelf", "Covered by a model")
_LEGEND = (
    ("fits", "The model can take the settings of every luminaire of the class, by both ratings that count."),
    ("with care", "It works, but somebody must decide about what is named."),
    ("cannot tell", "A figure is missing. It never counts as cover."),
    ("does not fit", "It would hurt, break or fail its duty by what is named."),
    ("Class", "Gear in service that needs the same of a driver: settings that tell on a spare, rating, line and circuit."),
    ("Saved from the shelf", "Whether a good piece of a model that covers the class lies in any store."),
    ("Covered by a model", "Whether any model of the catalogue covers the class."),
)


def matrix_rows(coverage: Coverage, gaps: Gaps, places: Sequence[str]) -> list[list[Cell]]:
    """Headings, then one row for each class: what it is, whether it is saved, and a cell for each model."""
    unsaved, uncovered = {gap.need for gap in gaps.unsaved}, {gap.need for gap in gaps.uncovered}
    rows: list[list[Cell]] = [[*_CLASS, *(model.model for model in coverage.models)]]
    for number, (of, answers) in enumerate(zip(coverage.needs, coverage.answers, strict=True)):
        rows.append([
            of.key.hex(), of.pieces, of.ratings[0].code, of.ratings[0].revision, duty_words(of.gear.duty), output_words(of.gear),
            class_words(of), ", ".join(map(shown, of.tags)), places[number], "no" if number in unsaved else "yes",
            "no" if number in uncovered else "yes", *map(answer_words, answers)])
    return rows


def _gap_rows(gaps: Sequence[Gap], places: Sequence[str]) -> list[list[Cell]]:
    rows: list[list[Cell]] = [["Drivers", "What it is", "Examples", "Place of the first", "Nearest model", "Why it does not do"]]
    return rows + [[gap.of.pieces, class_words(gap.of), ", ".join(map(shown, gap.of.tags)), places[gap.need], gap.model,
                    None if gap.answer is None else answer_words(gap.answer)] for gap in gaps]


def write_cover(path: Path, coverage: Coverage, gaps: Gaps, *, places: Sequence[str], usable: Mapping[str, int],
                with_care: bool) -> None:
    """Write .csv (the matrix) or .xlsx (what nothing saves, what nothing covers, the matrix, the models, what the words mean).

    Raises GearkeepError (unwritable-file, too-large).
    """
    matrix = matrix_rows(coverage, gaps, places)
    if path.suffix.lower() == ".csv":
        write_csv_table(path, matrix)
        return
    models: list[list[Cell]] = [["Model", "What it is", "Good pieces on the shelf"]]
    models += [[model.model, model.title, usable.get(model.model, 0)] for model in coverage.models]
    counts = "counts" if with_care else "does not count"
    legend = [("Word", "What it means"), *_LEGEND, ("This table", f"Fits with care {counts} as cover here.")]
    write_xlsx_table(path, [
        Sheet(name="Not saved from the shelf", rows=_gap_rows(gaps.unsaved, places)),
        Sheet(name="Covered by no model", rows=_gap_rows(gaps.uncovered, places)), Sheet(name="Matrix", rows=matrix),
        Sheet(name="Models", rows=models), Sheet(name="Legend", rows=legend)])
