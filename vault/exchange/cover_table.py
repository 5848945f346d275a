"""The matrix of coverage as a table: classes by models, the verdict with what limits it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

from vault.domain.tag import shown
from vault.exchange.table_out import Cell, Sheet, write_csv_table, write_xlsx_table
from vault.spares.coverage_gaps import Gap, Gaps
from vault.spares.coverage_words import answer_words, class_words, duty_words, gap_words, output_words
from vault.spares.needs import Coverage

_CLASS = ("Drivers", "Type", "Revision", "Duty", "Output", "What it is", "Examples", "Place of the first",
          "Saved from the shelf", "Covered by a model")
_FOLDED, _FOLDED_WORDS = 20, 60  # letters
_LEGEND = (
    ("fits", "The model can take the settings of every luminaire of the class, by both ratings that count."),
    ("with care", "It works, but somebody must decide about what is named."),
    ("cannot tell", "A figure is missing. It never counts as cover."),
    ("does not fit", "It would hurt, break or fail its duty by what is named."),
    ("A row", "Gear in service that needs the same of a driver: settings that tell on a spare, rating, line and circuit."),
    ("Class", "The key that --json calls it by."),
    ("Saved from the shelf", "Whether a good piece of a model that covers the class lies in any store, kept for nobody else."),
    ("Covered by a model", "Whether any model of the catalogue covers the class."),
)


def matrix_rows(coverage: Coverage, gaps: Gaps, places: Sequence[str]) -> list[list[Cell]]:
    """Headings, then one row for each class: what it is, whether it is saved, and a cell for each model."""
    unsaved, uncovered = {gap.need for gap in gaps.unsaved}, {gap.need for gap in gaps.uncovered}
    rows: list[list[Cell]] = [[*_CLASS, *(model.model for model in coverage.models), "Class"]]
    for number, (of, answers) in enumerate(zip(coverage.needs, coverage.answers, strict=True)):
        rows.append([
            of.pieces, of.ratings[0].code, of.ratings[0].revision, duty_words(of.gear.duty), output_words(of.gear),
            class_words(of), ", ".join(map(shown, of.tags)), places[number], "no" if number in unsaved else "yes",
            "no" if number in uncovered else "yes", *map(answer_words, answers), of.key.hex()])
    return rows


def _gap_rows(gaps: Sequence[Gap], examples: Mapping[int, tuple[str, str]]) -> list[list[Cell]]:
    rows: list[list[Cell]] = [["Drivers", "What it is", "Example", "Its place", "Nearest model", "Why it does not do"]]
    if not gaps:
        rows.append([0, "none"])
    return rows + [[gap.pieces, class_words(gap.of), shown(tag), place, gap.model, gap_words(gap) or None]
                   for gap in gaps for tag, place in [examples[gap.need]]]


def write_cover(path: Path, coverage: Coverage, gaps: Gaps, *, places: Sequence[str], examples: Mapping[int, tuple[str, str]],
                usable: Mapping[str, int], kept: Mapping[str, int], with_care: bool) -> None:
    """Write .csv (the matrix) or .xlsx (what nothing saves, what nothing covers, the matrix, the models, what the words mean).

    places: of the first luminaire of each class; examples: a luminaire without cover and its place, by class. Raises
    GearkeepError (unwritable-file, too-large).
    """
    matrix = matrix_rows(coverage, gaps, places)
    if path.suffix.lower() == ".csv":
        write_csv_table(path, matrix)
        return
    models: list[list[Cell]] = [["Model", "What it is", "Good pieces on the shelf",
                                 "Of them kept"]]
    models += [[model.model, model.title, usable.get(model.model, 0), kept.get(model.model, 0)] for model in coverage.models]
    first = {gap.need: (gap.of.tags[0], places[gap.need]) for gap in gaps.uncovered}
    counts = "counts" if with_care else "does not count"
    legend = [("Word", "What it means"), *_LEGEND, ("This table", f"Fits with care {counts} as cover here.")]
    lacking = [(found, Sheet(name=name, rows=_gap_rows(found, named), folded=_FOLDED_WORDS)) for found, named, name in (
        (gaps.unsaved, examples, "Not saved from the shelf"), (gaps.uncovered, first, "Covered by no model"))]
    # Luminaires without a spare come first; a sheet that names none stands behind.
    write_xlsx_table(path, [
        *(sheet for found, sheet in lacking if found), Sheet(name="Matrix", rows=matrix, folded=_FOLDED),
        Sheet(name="Models", rows=models, folded=_FOLDED_WORDS), *(sheet for found, sheet in lacking if not found),
        Sheet(name="Legend", rows=legend, folded=2 * _FOLDED_WORDS)])
