"""Catalogues in spreadsheets, and the forms of operating windows."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from openpyxl import Workbook

from vault.domain.schema import flatten
from vault.exchange.catalogue import CatalogueProblem, read_circuits, read_drivers, read_lines, read_types
from vault.exchange.catalogue_windows import edge_of_points
from vault.exchange.table_out import csv_bytes

DEMO = Path(__file__).parents[2] / "demo"

DRIVER = {"model": "M-1", "revision": "1", "title": "Plain", "output": "constant-current", "channels": "1"}
TYPE = {"code": "T1", "revision": "1", "title": "Plain", "gears.1.duty": "general", "gears.1.output": "constant-current",
        "gears.1.modules.1.current_max_ma": "700"}
CIRCUIT = {"name": "L1", "revision": "1"}
LINE = {"name": "D1", "revision": "1", "kind": "dali", "addresses_from": "0"}


def _cell(value: object) -> str:
    """A plain value as a person writes it into a cell."""
    if not isinstance(value, list):
        return str(value)
    rows = [f"({', '.join(map(str, row))})" if isinstance(row, list) else str(row) for row in value]
    return (" " if value and isinstance(value[0], list) else "+").join(rows) or "none"


def _rows(things: Sequence[Any]) -> list[list[str]]:
    flat = [flatten(thing) for thing in things]
    names = list(dict.fromkeys(name for one in flat for name in one))
    return [names, *([_cell(one[name]) if name in one else "" for name in names] for one in flat)]


def _csv(path: Path, *entries: dict[str, str]) -> Path:
    names = list(dict.fromkeys(name for entry in entries for name in entry))
    path.write_bytes(csv_bytes([names, *([entry.get(name, "") for name in names] for entry in entries)]))
    return path


@pytest.mark.parametrize("name", ["drivers.csv", "drivers.xlsx"])
@pytest.mark.parametrize(("reader", "toml"), [(read_drivers, "drivers.toml"), (read_types, "types.toml"),
                                              (read_circuits, "circuits.toml"), (read_lines, "lines.toml")])
def test_a_spreadsheet_says_the_same_as_toml(tmp_path: Path, name: str, reader: Callable[[Path], list[Any]], toml: str) -> None:
    """Every entry of the demo's catalogues comes out of a spreadsheet as it comes out of TOML."""
    wanted = reader(DEMO / toml)
    book = Workbook()
    book.active.append(["Catalogue of Millrace Baths"])
    for row in _rows(wanted):
        book.active.append(row)
    book.save(tmp_path / "drivers.xlsx")
    (tmp_path / "drivers.csv").write_bytes(csv_bytes(_rows(wanted)))
    assert reader(tmp_path / name) == wanted


@pytest.mark.parametrize(("heading", "cell", "path", "value"), [
    ("max. output voltage (V)", "60", "output_voltage_max_mv", 60_000),
    ("Max. output voltage", "60 V", "output_voltage_max_mv", 60_000),
    ("ta (°C)", "50", "ta_max_c", 50), ("ta", "50 °C", "ta_max_c", 50), ("tc max", "85", "tc_max_c", 85),
    ("Tolerance (%)", "5", "tolerance_permille", 50), ("Tolerance (%)", "2,5", "tolerance_permille", 25),
    ("Max output power [W]", "32.5", "power_total_max_mw", 32_500), ("Leakage current (mA)", "0.25", "leakage_ua", 250),
    ("Mains current", "0.165 A", "supply_current_ma", 165), ("Min output current (mA)", "200", "current_min_ma", 200),
    ("current_min_ma", "200", "current_min_ma", 200), ("current_max_ma", "0.7 A", "current_max_ma", 700),
    ("Supply voltage min (V)", "198", "supply_min_v", 198), ("Length", "359 mm", "length_mm", 359),
    ("Drivers on B16", "30", "inrush_b16", 30), ("generic", "yes", "generic", True), ("generic", "WAHR", "generic", True),
    ("Protection classes", "I; II", "classes", ["class-i", "class-ii"]),
    ("protocols", "none+dali", "protocols", ["dali", "none"]),
    ("emergency.durations_min", "60+180", "emergency.durations_min", [60, 180]),
    ("Durations (h)", "1; 3", "emergency.durations_min", [60, 180]),
    ("window", "rectangle 200-700 mA × 20-54 V", "window.vertices", [[200, 20000], [700, 20000], [700, 54000], [200, 54000]]),
    ("Operating window", "0.2 to 0.7 A x 20…54 V, max 32 W", "window.power_max_mw", 32_000),
    ("window.vertices", "200/12000; 700/12000; 700/48000", "window.vertices", [[200, 12000], [700, 12000], [700, 48000]]),
    ("window", "polygon (200, 12000) (700, 12000) (700, 48000)", "window.vertices", [[200, 12000], [700, 12000], [700, 48000]]),
    ("window.points", "(200, 12000, 2400) (700, 48000, 33600) (700, 12000, 8400)", "window.power_max_mw", 33_600),
])
def test_cells_are_read_as_data_sheets_write_them(tmp_path: Path, heading: str, cell: str, path: str, value: object) -> None:
    """A heading of the trade and its unit lead to the field in its own unit."""
    read = read_drivers(_csv(tmp_path / "d.csv", {**DRIVER, heading: cell}))
    assert flatten(read[0])[path] == value


@pytest.mark.parametrize(("heading", "cell", "path", "value"), [
    ("Class", "II", "protection_class", "class-ii"), ("ta min (°C)", "-25", "ambient_min_below_zero_c", 25),
    ("Vf max (V)", "40.2", "gears.1.modules.1.voltage_high_mv", 40_200), ("Dimmed", "no", "gears.1.dimmed", False),
    ("Module max current", "800 mA", "gears.1.modules.1.module_max_ma", 800), ("hazards", "none", "hazards", []),
    ("gears.1.emergency.duration_min", "3 h", "gears.1.emergency.duration_min", 180), ("#checked by", "somebody", "code", "T1"),
])
def test_types_have_headings_of_the_trade(tmp_path: Path, heading: str, cell: str, path: str, value: object) -> None:
    """A list of fixture types may use the words of data sheets."""
    read = read_types(_csv(tmp_path / "t.csv", {**TYPE, heading: cell}))
    assert flatten(read[0])[path] == value


@pytest.mark.parametrize(("heading", "cell", "column", "allowed"), [
    ("ta_max_c", "fifty", "column 'ta_max_c'", "a number in °C"),
    ("ta_max_c", "400", "column 'ta_max_c'", "0 to 150 °C"),
    ("Max output voltage", "60", "column 'Max output voltage'", "a number with its unit (mV or V"),
    ("Max output voltage (V)", "60 W", "column 'Max output voltage (V)'", "a figure in mV or V"),
    ("current_min_ma", "1,050", "column 'current_min_ma'", "decimals stand after a point"),
    ("current_min_ma", "0.5", "column 'current_min_ma'", "nothing finer than 1 mA"),
    ("generic", "perhaps", "column 'generic'", "yes or no"),
    ("isolation", "selvs", "column 'isolation'", "did you mean selv?"),
    ("protocols", "dali+dahli", "column 'protocols' (2)", "did you mean dali?"),
    ("dali_device_types", "six", "column 'dali_device_types'", "a number"),
    ("window", "somewhere", "column 'window'", '"rectangle 200-700 mA × 20-54 V"'),
    ("window", "rectangle 700-200 mA × 20-54 V", "column 'window'", '"rectangle 200-700 mA × 20-54 V"'),
    ("window.points", "(200, 12000, 9999) (700, 12000, 8400) (700, 48000, 33600)", "column 'window.points' (1)", "2400 mW there"),
    ("window.points", "(200, 12000, 2400) (700, 12000, 8400)", "column 'window.points'", "3 points or more"),
    ("window.vertices", "(200, 12000) (700)", "column 'window.vertices'", "rows of 2 whole numbers"),
    ("output_voltage", "60", "column 'output_voltage'", "did you mean"),
    ("gears.1.duty", "general", "column 'gears.1.duty'", "the name of a field"),
    ("Rev", "2", "column 'Rev'", "each field once"),
    ("means.2.way", "bus", "column 'means.2.way'", "means.2.way: there are 0 of them"),
])
def test_a_wrong_cell_is_told_with_row_and_column(tmp_path: Path, heading: str, cell: str, column: str, allowed: str) -> None:
    """A wrong cell or heading is named by its place, and what is allowed there is said."""
    with pytest.raises(CatalogueProblem) as refused:
        read_drivers(_csv(tmp_path / "d.csv", {**DRIVER, heading: cell}))
    ((entry, problem),) = refused.value.problems
    assert entry in ("row 1", "row 2, driver M-1")
    assert problem.path == column
    assert allowed in problem.allowed


def test_every_wrong_cell_is_told_and_nothing_read(tmp_path: Path) -> None:
    """Wrong cells of several rows and a missing figure come in one refusal."""
    with pytest.raises(CatalogueProblem, match="nothing was read") as refused:
        read_drivers(_csv(tmp_path / "d.csv", DRIVER, {**DRIVER, "channels": "9"}, {**DRIVER, "model": "M-2", "title": ""}))
    assert [(entry, problem.path) for entry, problem in refused.value.problems] == [
        ("row 3, driver M-1", "column 'channels'"), ("row 4, driver M-2", "column 'title'")]


def test_the_same_revision_twice_is_told(tmp_path: Path) -> None:
    """A model and revision that stands in two rows is named in the second."""
    with pytest.raises(CatalogueProblem) as refused:
        read_drivers(_csv(tmp_path / "d.csv", DRIVER, DRIVER))
    assert [(entry, problem.found) for entry, problem in refused.value.problems] == [("row 3, driver M-1", "1 twice")]


@pytest.mark.parametrize(("sheets", "told"), [
    ({"drivers": DRIVER, "spare drivers": DRIVER}, None), ({"one": CIRCUIT, "two": DRIVER}, None),
    ({"one": DRIVER, "two": DRIVER}, "one sheet of drivers"), ({"one": CIRCUIT}, "names of fields"),
])
def test_the_sheet_of_a_workbook_is_found_or_told(tmp_path: Path, sheets: dict[str, dict[str, str]], told: str | None) -> None:
    """The sheet with the right headings is read; of several the one of the right name; else it is told."""
    book = Workbook()
    book.remove(book.active)
    for name, entry in sheets.items():
        book.create_sheet(name).append(list(entry))
        book[name].append(list(entry.values()))
    book.save(tmp_path / "all.xlsx")
    if told is None:
        assert [one.model for one in read_drivers(tmp_path / "all.xlsx")] == ["M-1"]
    else:
        with pytest.raises(CatalogueProblem, match=told):
            read_drivers(tmp_path / "all.xlsx")


TOML = '[[driver]]\nmodel = "M"\nrevision = 1\ntitle = "Plain"\noutput = "constant-current"\nchannels = 1\n'
SQUARE = ((200, 20000), (700, 20000), (700, 54000), (200, 54000))


@pytest.mark.parametrize(("window", "vertices", "power_max_mw"), [
    ('window = "rectangle 200-700 mA × 20-54 V"', SQUARE, None),
    ('[driver.window]\nrectangle = "200-700 mA × 20-54 V"\npower_max_mw = 32000', SQUARE, 32_000),
    ("[driver.window]\npoints = [[200, 20000, 4000], [700, 54000, 37800], [700, 20000, 14000], [200, 54000, 10800]]", SQUARE,
     37_800),
    ("[driver.window]\npower_max_mw = 32000\n"
     "points = [[200, 20000, 4000], [700, 20000, 14000], [700, 54000, 37200], [200, 54000, 10800]]",
     SQUARE, 32_000),
])
def test_windows_in_toml_have_the_same_forms(tmp_path: Path, window: str, vertices: object, power_max_mw: int | None) -> None:
    """A rectangle or a list of points in TOML becomes corners and a limit of power."""
    (tmp_path / "d.toml").write_text(f"{TOML}{window}\n", encoding="utf-8")
    read = read_drivers(tmp_path / "d.toml")[0].window
    assert read is not None
    assert (read.vertices, read.power_max_mw) == (vertices, power_max_mw)


@pytest.mark.parametrize(("window", "path"), [
    ('window = "round"', "window"), ('[driver.window]\nrectangle = [1, 2]', "window.rectangle"),
    ('[driver.window]\npoints = [[1, 2]]', "window.points.1"),
    ('[driver.window]\nvertices = [[1, 1], [9, 1], [9, 9]]\nrectangle = "200-700 mA × 20-54 V"', "window.rectangle"),
    ("[driver.window]\npoints = [[200, 20000, 4000], [200, 20000, 4000], [700, 20000, 14000], [700, 54000, 37800]]",
     "window.points"),
])
def test_a_wrong_window_in_toml_is_told(tmp_path: Path, window: str, path: str) -> None:
    """A form that cannot be read is told at its own key, and once."""
    (tmp_path / "d.toml").write_text(f"{TOML}{window}\n", encoding="utf-8")
    with pytest.raises(CatalogueProblem) as refused:
        read_drivers(tmp_path / "d.toml")
    assert [problem.path for _, problem in refused.value.problems] == [path]


@pytest.mark.parametrize(("points", "edge"), [
    # On a straight edge a point stays a corner.
    ([(200, 20), (450, 20), (700, 54), (700, 20), (200, 54)], [(200, 20), (450, 20), (700, 20), (700, 54), (200, 54)]),
    # A corner that points inwards: only the order of the list says where the edge runs.
    ([(200, 20), (700, 20), (700, 54), (600, 30), (200, 54)], [(200, 20), (700, 20), (700, 54), (600, 30), (200, 54)]),
    ([(200, 20), (700, 54), (600, 30), (700, 20), (200, 54)], None),
    ([(200, 20), (300, 30), (400, 40)], None),
])
def test_points_become_one_edge_or_none(points: list[tuple[int, int]], edge: list[tuple[int, int]] | None) -> None:
    """Points are put in order round the edge, and refused where two edges could be meant."""
    assert edge_of_points([(current, tension, current * tension) for current, tension in points]) == edge


def test_points_along_the_limit_of_power_need_no_corner() -> None:
    """Points on the hyperbola of the highest power lie inside the hull; the limit of power stands for them."""
    points = [(400, 80_000, 32_000), (100, 80_000, 8000), (500, 64_000, 32_000), (100, 20_000, 2000), (640, 50_000, 32_000),
              (640, 20_000, 12_800)]
    edge = edge_of_points(points)
    assert edge is not None
    assert set(edge) == {(400, 80_000), (100, 80_000), (100, 20_000), (640, 50_000), (640, 20_000)}


@settings(max_examples=40)
@given(st.permutations([(200, 12_000), (700, 12_000), (700, 48_000), (560, 54_000), (200, 54_000)]))
def test_the_order_of_a_convex_window_does_not_matter(corners: list[tuple[int, int]]) -> None:
    """The demo's window comes out of its corners in any order."""
    assert edge_of_points([(current, tension, current * tension) for current, tension in corners]) == [
        (200, 12_000), (700, 12_000), (700, 48_000), (560, 54_000), (200, 54_000)]
