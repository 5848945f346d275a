"""The demonstration building's files: clean, but for the faults that are listed with them."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest

from vault.domain.schema import flatten
from vault.exchange.catalogue import read_circuits, read_drivers, read_lines, read_types
from vault.exchange.readback_file import read_readback
from vault.exchange.schedule import Schedule, read_schedule
from vault.exchange.stock_file import read_stock_file

DEMO = Path(__file__).parents[2] / "demo"
FAULTS: list[dict[str, Any]] = tomllib.loads((DEMO / "faults.toml").read_text())["fault"]


@pytest.fixture(scope="module")
def schedule() -> Schedule:
    """The demonstration schedule, read under the demonstration catalogue."""
    return read_schedule(
        DEMO / "schedule.csv", ratings={t.code: t for t in read_types(DEMO / "types.toml")},
        lines={x.name: x for x in read_lines(DEMO / "lines.toml")},
        circuits={c.name: c for c in read_circuits(DEMO / "circuits.toml")})


def test_the_catalogue_is_whole() -> None:
    """Nine types, thirteen driver models of which eight are generic, all setting means among them."""
    drivers = read_drivers(DEMO / "drivers.toml")
    assert len(read_types(DEMO / "types.toml")) == 9
    assert [driver.model for driver in drivers if driver.generic] == [
        "GEN-50-1050", "GEN-25-800", "GEN-45-900", "SW-30-750", "HX-40-950", "RE-24-700", "PL-40-900", "EJ-5-150"]
    assert len(drivers) == 13
    assert {means.way.name for driver in drivers for means in driver.means} == {
        "FIXED", "BUS", "NFC", "SWITCHES", "ROTARY", "RESISTOR", "JUMPER", "PLUG"}


def test_every_type_names_a_known_driver() -> None:
    """The original driver of each gear is in the catalogue, and so is each model in stock."""
    known = {driver.model for driver in read_drivers(DEMO / "drivers.toml")}
    originals = {g.original.model for t in read_types(DEMO / "types.toml") for g in t.gears if g.original}
    assert originals | {line.model for line in read_stock_file(DEMO / "stock.csv").lines} <= known


def test_the_reader_finds_its_faults_and_no_others(schedule: Schedule) -> None:
    """Exactly the listed faults that a reader alone can see are rejected, at their row and column."""
    listed = {(row, fault["column"]) for fault in FAULTS if fault["found_by"] == "reader"
              for row in fault.get("rows", [fault["row"]])}
    assert {(item.row, item.column) for item in schedule.rejected} == listed


def test_the_other_faults_are_read(schedule: Schedule) -> None:
    """The faults that only a rating shows come through the reader, and eight are listed in all."""
    rows = {row for luminaire in schedule.luminaires for row in luminaire.rows}
    assert {fault["row"] for fault in FAULTS if fault["found_by"] == "rating"} <= rows
    assert len(FAULTS) == 8


def test_every_listed_cell_is_wrong_as_said(schedule: Schedule) -> None:
    """The list names cells of the schedule, each different from the right value beside it."""
    columns = {name: place for place, name in enumerate(schedule.headings)}
    cells = [schedule.raw_rows[fault["row"]][columns[fault["column"]]] for fault in FAULTS]
    assert cells == ["1050", "nine hundred", "26", "T11", "64", "maintained", "38.0", "YD-007"]
    assert [cell for cell, fault in zip(cells, FAULTS, strict=True) if cell == fault["right"]] == []


@pytest.mark.parametrize(("name", "reference", "differing"), [
    ("good", "CH-007", set()), ("wrong", "CH-009", {"channels.1.current_ma"})])
def test_the_readbacks_are_of_their_luminaires(schedule: Schedule, name: str, reference: str, differing: set[str]) -> None:
    """The good readback equals its luminaire's settings; the wrong one differs from its own in the current alone."""
    gear = next(item for item in schedule.luminaires if item.reference == reference).gears[0]
    said, due = read_readback(DEMO / f"readback_{name}.json").gears["general"], flatten(gear.settings)
    assert said.pop("channels.1.current_evidence") == "photograph"
    assert said.keys() == due.keys()
    assert {field for field in due if said[field] != due[field]} == differing
