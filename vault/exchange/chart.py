"""Charts of bars, lines, steps and points as SVG, each with a table of the same figures and a CSV.

Figures are rounded once, and the drawing and the tables are made from the rounded ones, so that they never differ. A
figure that is missing is "unknown", never 0. The same chart gives the same bytes.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from vault.errors import UsageProblem
from vault.exchange.canvas import Drawing, to_svg
from vault.exchange.chart_data import Axis, Chart, Figure, Mark, Number, Series
from vault.exchange.chart_figures import UNKNOWN, rounded, said
from vault.exchange.files import write_whole
from vault.exchange.table_out import Cell, csv_bytes

__all__ = ["UNKNOWN", "Axis", "Chart", "ChartTable", "Figure", "Mark", "Number", "Series", "chart_csv", "chart_drawing",
           "chart_rows", "chart_svg", "write_chart"]


@dataclass(frozen=True, slots=True, kw_only=True)
class ChartTable:
    """A chart's figures as texts: as many cells in each row as headings; the first names the category or position."""

    headings: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


def chart_rows(chart: Chart) -> ChartTable:
    """The table of a chart's figures: category or position, then each series with the ends of its interval behind it."""
    figures = rounded(chart)
    headings = [chart.x.said]
    columns: list[list[str]] = [list(chart.categories) or [said(one) for one in figures.positions]]
    for series, row in zip(chart.series, figures.rows, strict=True):
        called = Axis(label=series.name or chart.y.label, unit=chart.y.unit)
        for end, values in (("", row.values), (" low", row.low), (" high", row.high)):
            if values or not end:
                headings.append(Axis(label=called.label + end, unit=called.unit).said)
                columns.append([said(value) for value in values])
    return ChartTable(headings=tuple(headings), rows=tuple(zip(*columns, strict=True)))


def chart_csv(chart: Chart) -> bytes:
    """The table of `chart_rows` as CSV: UTF-8 with a byte-order mark; no text in it runs as a formula."""
    table = chart_rows(chart)

    def cell(text: str) -> Cell:
        return text if text == UNKNOWN or "." in text else int(text)

    return csv_bytes([table.headings, *([name, *map(cell, figures)] for name, *figures in table.rows)])


def chart_drawing(chart: Chart) -> Drawing:
    """The chart as a drawing, to be laid on a page or written as PNG (vault.exchange.canvas, canvas_pdf)."""
    from vault.exchange.chart_drawing import drawn

    return drawn(chart)


def chart_svg(chart: Chart) -> str:
    """The chart as an SVG image of its own, readable aloud: a title, and a description with the main figures."""
    from vault.exchange.chart_drawing import described

    return to_svg(chart_drawing(chart), hold_widths=True, title=chart.title, described=described(chart)).decode()


def write_chart(path: Path, chart: Chart) -> tuple[Path, ...]:
    """Write FILE.svg and its figures as FILE.csv beside it, or FILE.csv alone. Returns what was written.

    Raises UsageProblem (unknown-format; exists, and then nothing is written), GearkeepError (unwritable-file).
    """
    ending = path.suffix.casefold()
    if ending not in (".svg", ".csv"):
        raise UsageProblem(f"{path.name} cannot be drawn: its ending is {path.suffix or 'missing'}.", kind="unknown-format",
                           hint="End the name in .svg (its figures come beside it as .csv) or in .csv.")
    table = path if ending == ".csv" else path.with_suffix(".csv")
    files = dict.fromkeys((path, table))
    taken = [file.name for file in files if file.exists()]
    if taken:
        raise UsageProblem(f"{' and '.join(taken)} {'is' if len(taken) == 1 else 'are'} there already.", kind="exists",
                           hint="Give another name, or move the old files away.")
    drawing = chart_svg(chart).encode() if ending == ".svg" else b""
    write_whole(table, chart_csv(chart))
    if drawing:
        write_whole(path, drawing)
    return tuple(files)
