"""Charts: scales, the drawing's bars, what is read aloud, the table and the CSV of the same figures."""

from __future__ import annotations

import csv
import io
import xml.etree.ElementTree as ET
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vault.errors import GearkeepError, UsageProblem
from vault.exchange.canvas import Area, Stroke, Words
from vault.exchange.chart import (
    UNKNOWN,
    Axis,
    Chart,
    Figure,
    Mark,
    Series,
    chart_csv,
    chart_drawing,
    chart_rows,
    chart_svg,
    write_chart,
)
from vault.exchange.chart_scale import scale_for
from vault.exchange.table_out import unsafe_cell

SVG = "{http://www.w3.org/2000/svg}"
X, Y = Axis(label="model"), Axis(label="pieces")
LOW, HIGH = (1.5, 2, None, 0), (4, 3.25, None, 0)


def bars(*values: Figure, title: str = "Chart", names: tuple[str, ...] = ()) -> Chart:
    """A chart of one series of bars."""
    return Chart(title=title, x=X, y=Y, categories=names or tuple(f"M{n}" for n in range(len(values))),
                 series=(Series(name="good", values=values),))


def texts(chart: Chart) -> list[str]:
    """Every text that stands in the drawing."""
    return [shape.said for shape in chart_drawing(chart).shapes if isinstance(shape, Words)]


def rectangles(chart: Chart) -> list[tuple[float, float, float, float]]:
    """Left, top, right and bottom of each bar of a chart of one series, from its SVG."""
    found = []
    for polygon in ET.fromstring(chart_svg(chart)).iter(f"{SVG}polygon"):
        points = [tuple(map(float, point.split(","))) for point in polygon.attrib["points"].split()]
        across, down = [x for x, _ in points], [y for _, y in points]
        found.append((min(across), min(down), max(across), max(down)))
    return found


@pytest.mark.parametrize(("values", "zero", "whole", "said"), [
    (["7"], True, False, ["0", "1", "2", "3", "4", "5", "6", "7"]),
    (["0"], True, False, ["0", "1"]),
    (["0"], True, True, ["0", "1"]),
    ([], True, True, ["0", "1"]),
    (["2"], True, True, ["0", "1", "2"]),
    (["-3", "7"], True, False, ["−4", "−2", "0", "2", "4", "6", "8"]),
    (["80", "99.9"], False, False, ["80", "85", "90", "95", "100"]),
    (["0.3"], True, False, ["0", "0.05", "0.10", "0.15", "0.20", "0.25", "0.30"]),
    (["13900"], True, False, ["0", "2,000", "4,000", "6,000", "8,000", "10,000", "12,000", "14,000"]),
    (["3"], False, False, ["2.9", "3.0", "3.1"]),
])
def test_ticks_are_round_and_exact(values: list[str], zero: bool, whole: bool, said: list[str]) -> None:
    """Steps of 1, 2 or 5; texts without noise; pieces are never cut into fractions."""
    scale = scale_for(map(Decimal, values), zero=zero, whole=whole)
    assert [scale.text(tick) for tick in scale.ticks] == said


@pytest.mark.parametrize(("most", "factor", "last"), [
    ("999999", "×10⁶", "1.0"), ("130000000", "×10⁶", "140"), ("4500000000", "×10⁹", "5"), ("0.0000021", "×10⁻⁶", "2.5"),
    ("790000", "", "800,000"), ("0.02", "", "0.020")])
def test_very_large_and_small_scales_say_their_power(most: str, factor: str, last: str) -> None:
    """Ticks stay short; the axis says the power of ten once."""
    scale = scale_for([Decimal(most)], zero=True)
    assert (scale.factor, scale.text(scale.high)) == (factor, last)


FIGURES = st.one_of(st.integers(-10**9, 10**9), st.floats(-1e9, 1e9, allow_nan=False).map(lambda value: round(value, 6)))


@settings(max_examples=20)
@given(values=st.lists(FIGURES, max_size=6), zero=st.booleans(), whole=st.booleans())
def test_ticks_cover_the_figures(values: list[float], zero: bool, whole: bool) -> None:
    """At most eight pieces, each 1, 2 or 5 times a power of ten, from at or below the least to at or above the most."""
    exact = [Decimal(str(value)) for value in values]
    scale = scale_for(exact, zero=zero, whole=whole)
    assert scale.low <= min(exact, default=0) and max(exact, default=0) <= scale.high
    assert scale.step.as_tuple().digits in ((1,), (2,), (5,))
    assert 1 <= scale.last - scale.first <= 8
    assert not zero or 0 in scale.ticks
    assert not whole or scale.step >= 1


@settings(max_examples=12, deadline=None)
@given(values=st.lists(FIGURES, min_size=2, max_size=9), lying=st.booleans())
def test_every_bar_is_as_long_as_its_figure_says(values: list[float], lying: bool) -> None:
    """Upright, or lying where names are long, in the order given: the figure within half a point, on one scale for all."""
    chart = bars(*values, names=(("a name with many words in it " * 7 if lying else "A"),) * len(values))
    found = rectangles(chart)
    lengths = [right - left if lying else bottom - top for left, top, right, bottom in found]
    starts = [top if lying else left for left, top, _, _ in found]
    assert starts == sorted(starts) and len(set(starts)) == len(values)
    largest = max(range(len(values)), key=lambda n: abs(values[n]))
    per_figure = lengths[largest] / (abs(values[largest]) or 1)
    assert lengths == pytest.approx([abs(value) * per_figure for value in values], abs=0.5)


@settings(max_examples=12, deadline=None)
@given(title=st.text(max_size=40), name=st.text(max_size=60), note=st.text(max_size=60), unit=st.text(max_size=8))
def test_any_text_is_escaped(title: str, name: str, note: str, unit: str) -> None:
    """Whatever a name holds, the SVG is well-formed and has no element that its text made."""
    chart = Chart(title=title, x=Axis(label=name, unit=unit), y=Axis(label=name, unit=unit), categories=(name, "<script>"),
                  series=(Series(name=name, values=(1, 2)), Series(name="&", values=(1, None), kind=Mark.LINE)), note=note)
    root = ET.fromstring(chart_svg(chart))
    assert {element.tag.removeprefix(SVG) for element in root.iter()} <= {
        "svg", "title", "desc", "defs", "pattern", "rect", "line", "polygon", "polyline", "circle", "text"}


@settings(max_examples=12, deadline=None)
@given(rows=st.lists(st.tuples(st.text(max_size=20), FIGURES, st.none() | FIGURES), min_size=1, max_size=6))
def test_csv_and_table_carry_the_same_figures(rows: list[tuple[str, float, float | None]]) -> None:
    """Read back, each cell of the CSV is the table's; each figure is the one given; names come whole, in order."""
    names, first, second = zip(*rows, strict=True)
    chart = Chart(title="t", x=X, y=Axis(label="pieces", decimals=6), categories=names,
                  series=(Series(name="=a", values=first), Series(name="b", values=second)))
    table = chart_rows(chart)
    read = list(csv.reader(io.StringIO(chart_csv(chart).decode("utf-8-sig"), newline="")))
    assert [[unsafe_cell(cell) for cell in row] for row in read] == [list(table.headings), *map(list, table.rows)]
    assert [row[0] for row in table.rows] == list(names)
    assert [Decimal(row[1]) for row in table.rows] == [Decimal(str(value)) for value in first]
    assert [row[2] == UNKNOWN for row in table.rows] == [value is None for value in second]


def test_formulas_do_not_run_in_the_csv() -> None:
    """A name that a spreadsheet would run stands behind an apostrophe; a negative figure stays a number."""
    assert chart_csv(bars(-3, names=("=1+1",))) == '\ufeff"model","good"\r\n"\'=1+1",-3\r\n'.encode()


def test_the_table_says_units_and_intervals() -> None:
    """One column for each figure and each end of its interval, in fixed decimals; what is missing is unknown."""
    chart = Chart(title="t", x=Axis(label="level", unit="%"), y=Axis(label="cost", unit="EUR", decimals=2),
                  positions=(90, 95, 99, 99.5),
                  series=(Series(name="pooled", kind=Mark.LINE, values=(2.5, 3, None, 0.1 + 0.2), low=LOW, high=HIGH),))
    table = chart_rows(chart)
    assert table.headings == ("level, %", "pooled, EUR", "pooled low, EUR", "pooled high, EUR")
    assert table.rows == (("90.0", "2.50", "1.50", "4.00"), ("95.0", "3.00", "2.00", "3.25"),
                          ("99.0", "unknown", "unknown", "unknown"), ("99.5", "0.30", "0.00", "0.00"))


@pytest.mark.parametrize(("values", "cells"), [
    ((3, 0, -2), ["3", "0", "-2"]), ((0.1 + 0.2, 1), ["0.3000", "1.0000"]), ((12.5, 3), ["12.5", "3.0"]),
    ((2.1e-6, 4.3e-7), ["0.00000210", "0.00000043"]), ((123456789.25, 1), ["123456789", "1"]), ((-0.0,), ["0"]),
    ((Decimal("24.50"), None), ["24.5", "unknown"]), ((10**15,), ["1000000000000000"])])
def test_figures_have_fixed_decimals(values: tuple[Figure, ...], cells: list[str]) -> None:
    """As many places as say something; no noise of floats, no minus zero, no E."""
    assert [row[1] for row in chart_rows(bars(*values)).rows] == cells


def test_each_series_has_its_own_decimals() -> None:
    """Counts beside an expectation stay whole, in the drawing and in the CSV; the ends of intervals have their figure's."""
    chart = Chart(title="t", x=X, y=Y, categories=("A",), series=(
        Series(name="expected", values=(1.25,), low=(0,), high=(3,)), Series(name="seen", values=(9,))))
    assert chart_rows(chart).rows == (("A", "1.25", "0.00", "3.00", "9"),)
    assert chart_csv(chart).endswith(b'"A","1.25","0.00","3.00",9\r\n')
    assert "9" in texts(chart)


def test_positions_that_lie_close_stay_apart() -> None:
    """However large they are."""
    chart = Chart(title="t", x=X, y=Y, positions=(100000.01, 100000.02),
                  series=(Series(name="s", values=(1, 2), kind=Mark.LINE),))
    assert [row[0] for row in chart_rows(chart).rows] == ["100000.01", "100000.02"]


@pytest.mark.parametrize(("chart", "sentence"), [
    (Chart(title="t", x=X, y=Y, series=()), "There is nothing to draw: no figure is known."),
    (bars(None, None), "There is nothing to draw: no figure is known."),
    (bars(), "There is nothing to draw: no figure is known."),
    (bars(3, None), "A gap or a question mark: the figure is unknown."),
])
def test_what_is_missing_is_said(chart: Chart, sentence: str) -> None:
    """An empty chart says so; an unknown figure is never drawn as nought."""
    assert sentence in texts(chart)


def test_an_unknown_figure_has_no_bar() -> None:
    """Beside bars for 3 and 0 stands the word."""
    assert len(rectangles(bars(3, None, 0))) == 2
    assert "unknown" in texts(bars(3, None, 0))


def test_it_is_read_aloud() -> None:
    """A role, a title, and the main figures with where they are."""
    root = ET.fromstring(chart_svg(bars(3, -1200, None, 5, title="Counts")))
    assert root.attrib["role"] == "img"
    assert root[0].tag == f"{SVG}title" and root[0].text == "Counts"
    assert root[1].text == ("pieces, by model. good, bars: 3 figures, lowest −1,200 at M1, highest 5 at M3, last 5 at M3, "
                            "1 unknown.")


def test_the_same_chart_gives_the_same_bytes() -> None:
    """Nothing of the day or of chance is in it."""
    assert chart_svg(bars(1, 2.5, None)) == chart_svg(bars(1, 2.5, None))


def test_series_are_told_apart_without_colour() -> None:
    """Six kinds of bars have six looks, in greys alone, and each name stands in the key."""
    chart = Chart(title="t", x=X, y=Y, categories=("A",), series=tuple(Series(name=f"S{n}", values=(5,)) for n in range(6)))
    svg = chart_svg(chart)
    looks = [shape for shape in chart_drawing(chart).shapes if isinstance(shape, Area)]
    assert {(shape.fill, shape.hatch) for shape in looks} == {
        (100, "none"), (255, "none"), (215, "none"), (None, "rising"), (None, "falling")}
    assert {f"S{n}" for n in range(6)} <= set(texts(chart))
    colours = {part[:6] for part in svg.split("#")[1:] if part[6] == '"'}
    assert all(colour[:2] == colour[2:4] == colour[4:] for colour in colours)


def test_lines_are_named_where_they_end() -> None:
    """Two lines that end in one place have both names beside it, not on each other."""
    chart = Chart(title="t", x=X, y=Y, positions=(1, 2, 3), series=(
        Series(name="one", values=(1, 2, 3), kind=Mark.LINE), Series(name="two", values=(3, 3, 3), kind=Mark.STEPS)))
    heights = {shape.said: shape.at[1] for shape in chart_drawing(chart).shapes
               if isinstance(shape, Words) and shape.said in ("one", "two")}
    assert abs(heights["one"] - heights["two"]) >= 12
    dashes = {shape.dash for shape in chart_drawing(chart).shapes if isinstance(shape, Stroke) and shape.width == 2.0}
    assert len(dashes) == 2


def test_stacked_bars_stand_on_each_other() -> None:
    """The axis reaches the sum, and the second part begins where the first one ends."""
    chart = Chart(title="t", x=X, y=Y, categories=("A",), stacked=True,
                  series=(Series(name="", values=(30,)), Series(name="", values=(50,))))
    lower, upper, *_ = rectangles(chart)
    assert upper[3] == lower[1]
    assert "80" in texts(chart)


def test_long_names_are_cut_in_the_drawing_and_whole_in_the_table() -> None:
    """The drawing keeps its width."""
    name = "w" * 300
    chart = bars(1, 2, names=(name, f"{name}x"))
    assert name not in texts(chart) and any(said.endswith("…") for said in texts(chart))
    assert [row[0] for row in chart_rows(chart).rows] == [name, f"{name}x"]


@pytest.mark.parametrize("values", [(float("nan"),), (float("inf"),), (-10**15 - 1,), (1, 2)],
                         ids=["nan", "inf", "huge", "too many"])
def test_what_cannot_be_drawn_is_refused(values: tuple[Figure, ...]) -> None:
    """Before anything is drawn, naming the chart."""
    with pytest.raises(GearkeepError, match="The chart 'Spares'") as caught:
        bars(*values, title="Spares", names=("A",))
    assert caught.value.kind == "bad-chart" and caught.value.hint


@pytest.mark.parametrize("series", [
    Series(name="s", values=(1, 2)),
    Series(name="s", values=(1, 2), kind=Mark.LINE, low=(1, 2)),
    Series(name="s", values=(1, 2), kind=Mark.LINE, low=(3, 2), high=(2, 2)),
], ids=["bars over positions", "one end", "ends exchanged"])
def test_series_that_do_not_hold_together_are_refused(series: Series) -> None:
    """Bars over positions, half an interval, an interval that ends before it begins."""
    with pytest.raises(GearkeepError) as caught:
        Chart(title="t", x=X, y=Y, positions=(1, 2), series=(series,))
    assert caught.value.kind == "bad-chart"


@pytest.mark.parametrize(("positions", "count", "stacked", "value"), [
    ((2, 1), 1, False, 1), ((1, 1), 1, False, 1), ((), 7, False, 1), ((), 1, True, -1)],
    ids=["falling", "twice", "seven series", "stacked below zero"])
def test_charts_that_do_not_hold_together_are_refused(positions: tuple[int, ...], count: int, stacked: bool, value: int) -> None:
    """Positions rise, at most six series, no stack below zero."""
    kind = Mark.LINE if positions else Mark.BARS
    with pytest.raises(GearkeepError) as caught:
        Chart(title="t", x=X, y=Y, positions=positions, categories=() if positions else ("A", "B"), stacked=stacked,
              series=tuple(Series(name="s", values=(value, value), kind=kind) for _ in range(count)))
    assert caught.value.kind == "bad-chart"


def test_a_drawing_is_written_with_its_figures_beside_it(tmp_path: Path) -> None:
    """FILE.svg and FILE.csv; FILE.csv alone when that is asked for."""
    assert write_chart(tmp_path / "stock.svg", bars(1, 2)) == (tmp_path / "stock.svg", tmp_path / "stock.csv")
    assert (tmp_path / "stock.svg").read_text(encoding="utf-8") == chart_svg(bars(1, 2))
    assert (tmp_path / "stock.csv").read_bytes() == chart_csv(bars(1, 2))
    assert write_chart(tmp_path / "alone.csv", bars(1)) == (tmp_path / "alone.csv",)
    assert not (tmp_path / "alone.svg").exists()


@pytest.mark.parametrize(("asked", "there", "kind"), [
    ("a.svg", "a.svg", "exists"), ("a.svg", "a.csv", "exists"), ("a.csv", "a.csv", "exists"), ("a.png", "", "unknown-format"),
    ("a", "", "unknown-format")])
def test_nothing_is_replaced_or_half_written(tmp_path: Path, asked: str, there: str, kind: str) -> None:
    """Where one of the two files is there already, neither is written."""
    before = {there: (tmp_path / there).write_text("kept")} if there else {}
    with pytest.raises(UsageProblem) as caught:
        write_chart(tmp_path / asked, bars(1))
    assert caught.value.kind == kind and caught.value.hint
    assert {file.name: len(file.read_text()) for file in tmp_path.iterdir()} == before
