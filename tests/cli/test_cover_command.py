"""gearkeep cover on the small vault."""

from __future__ import annotations

import csv
import json
from dataclasses import replace
from pathlib import Path

import pytest
from openpyxl import load_workbook
from small_vault import Cli, SmallVault

from vault.cli.screen import Screen
from vault.domain.rating import Hazard
from vault.trust.statements import Kind


@pytest.fixture(autouse=True)
def cache_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Answers are remembered in a folder of the test's own."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))


@pytest.fixture
def on_a_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    """One of 80 columns and 24 lines."""
    monkeypatch.setattr("vault.cli.screen.screen_size", Screen)


def words_of(text: str) -> str:
    """The text without where its lines end."""
    return " ".join(text.split())


@pytest.mark.usefixtures("on_a_terminal")
def test_cover_fits_a_screen(cli: Cli) -> None:
    """At most 23 lines of 80 letters, what cannot be saved first."""
    result = cli("cover")
    lines = result.output.splitlines()
    assert result.exit_code == 0
    assert len(lines) <= 23 and max(map(len, lines)) <= 80
    assert lines[:2] == ["A spare on the shelf can save every luminaire.", "The catalogue covers every luminaire."]


def test_what_no_shelf_saves_comes_first(cli: Cli, monkeypatch: pytest.MonkeyPatch) -> None:
    """None of the only emergency model is left: with the nearest model and why, whole in a pipe, folded on a terminal."""
    assert cli("stock", "count", "EM-6-180", "0", "--bin", "C1", "--because", "none left", key="S01").exit_code == 0
    told, lines = json.loads(cli("cover", "--json").output), cli("cover").output.splitlines()
    assert "No spare on the shelf can save" in lines[0] and "does not fit: " in lines[2]
    monkeypatch.setattr("vault.cli.screen.screen_size", Screen)
    folded = cli("cover").output
    assert max(map(len, folded.splitlines())) <= 80 and words_of(" ".join(lines[:3])) in words_of(folded)
    assert [(one["vital"], one["all_kept"]) for one in told["unsaved"]] == [(True, False)] * 3
    assert set(told) == {"classes", "uncovered", "unsaved", "unsettled", "models", "matrix"}
    assert len(told["matrix"]) == len(told["classes"]) * len(told["models"])


def test_a_luminaire_to_be_settled_is_counted_out_in_the_first_line(cli: Cli, ready: SmallVault) -> None:
    """It gets no spare yet, so not every luminaire can be saved."""
    ready.in_conflict("CH-007")
    ready.close()
    assert cli("cover").output.splitlines()[0] == "A spare on the shelf can save every luminaire but the 1 named below."


def test_a_class_that_no_model_covers_fails(cli: Cli, ready: SmallVault) -> None:
    """A newer rating that nothing bears: exit 1, and the class is named."""
    rating = replace(ready.seen("CV-001").rating, revision=2, hazards=frozenset({Hazard.RAIL}))
    ready.sign("authority", Kind.RATING, rating)
    ready.close()
    result = cli("cover")
    assert result.exit_code == 1
    assert f"No model of the catalogue covers 1 driver: 1 general\n     1  {rating.code} rev 1, general" in result.output


def test_the_matrix_as_files(cli: Cli, ready: SmallVault) -> None:
    """A workbook has what nothing saves, the matrix and a legend; CSV is the matrix. Nothing is replaced."""
    assert cli("cover", "--out", "cover.xlsx").exit_code == 0
    book = load_workbook(ready.folder / "cover.xlsx", read_only=True)
    assert book.sheetnames == ["Matrix", "Models", "Not saved from the shelf", "Covered by no model", "Legend"]
    assert cli("cover", "--out", "cover.csv").exit_code == 0
    with (ready.folder / "cover.csv").open(encoding="utf-8-sig", newline="") as file:
        heading, *rows = list(csv.reader(file))
    assert "GEN-45-900" in heading and sum(int(row[0]) for row in rows) == 20
    assert cli("cover", "--out", "cover.csv").exit_code == 2
    assert cli("cover", "--out", "cover.pdf").exit_code == 2


def test_narrowed_to_a_type_and_to_the_shelf(cli: Cli) -> None:
    """One type alone, and only models that lie in a store."""
    told = json.loads(cli("cover", "--type", "T9", "--in-stock", "--json").output)
    assert {one["type"] for one in told["classes"]} == {"T9"}
    assert all(one["usable"] > 0 for one in told["models"])
    assert cli("cover", "--type", "NONE").exit_code == 2


def test_all_names_every_limit(cli: Cli) -> None:
    """--all shows every model of every class with what limits it."""
    lines = cli("cover", "--type", "T9", "--all").output.splitlines()
    assert any("does not fit: " in line for line in lines)
