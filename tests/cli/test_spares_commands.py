"""gearkeep spares: what is said, written and returned."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest
from openpyxl import load_workbook
from small_vault import DEMO, Cli, SmallVault

LAST = "A set says which models to stock, not how many of each: see gearkeep hold."


@pytest.fixture(autouse=True)
def own_cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, ready: SmallVault) -> None:
    """Nothing is remembered from one test to the next; the file candidate.toml holds one model, TW-2X20."""
    models = (DEMO / "drivers.toml").read_text(encoding="utf-8").split("[[driver]]")
    candidate = next(model for model in models if '"TW-2X20"' in model)
    (ready.folder / "candidate.toml").write_text(f"[[driver]]{candidate}", encoding="utf-8")
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))


@pytest.mark.parametrize(("words", "code", "says"), [
    (("set",), 1, ["3 models cover 17 of 20 drivers", "No model to choose from covers 3 drivers in 3 classes", "Next best:",
                   "not generic, but fits: TW-2X20", "Letting \"fits with care\" count (--care) would change nothing"]),
    (("set", "--any"), 0, ["5 models cover 20 of 20 drivers: ", "Proven: no 4 models do.", "forced:"]),
    (("set", "--any", "--share", "60"), 0, ["(asked: 60 %, emergency duty whole)", "Left out, as the share allows"]),
    (("set", "--any", "--keep", "CC-40-700"), 0, ["CC-40-700  kept"]),
    (("without", "TW-2X20", "--any"), 1, ["1 luminaire loses cover", "Café, ring 1", "The best set without it, proven"]),
    (("without", "GEN-50-1050", "--any"), 0, ["Without it no luminaire loses cover.", "keep cover by other models"]),
    (("with", "candidate.toml"), 0, ["TW-2X20 would cover 1 driver in 1 class", "Nothing was signed",
                                     "TW-2X20 is in the catalogue already, revision 1, which says the same."]),
    (("with", "candidate.toml", "--price", "24.50"), 0, ["Its price: 24.50, as given; it counts only with --cheapest."]),
])
def test_each_command_says_what_it_found(cli: Cli, words: tuple[str, ...], code: int, says: list[str]) -> None:
    """In words, the last of which are that a set is no number of pieces."""
    result = cli("spares", *words)
    assert (result.exit_code, [one for one in says if one not in result.stdout]) == (code, [])
    assert result.stdout.splitlines()[-1] == LAST


@pytest.mark.parametrize(("words", "says"), [
    (("set", "--share", "97.55"), "one decimal"), (("set", "--keep", "NONE"), "does not know the driver model NONE"),
    (("set", "--out", "set.pdf"), "neither a workbook nor CSV"), (("set", "--out", "stock.csv"), "is there already"),
    (("without", "NONE"), "does not know the driver model NONE"),
    (("with", str(DEMO / "drivers.toml"), "--price", "dear"), "dear is no price"),
])
def test_wrong_use_is_refused_in_words(cli: Cli, words: tuple[str, ...], says: str) -> None:
    """With exit code 2."""
    result = cli("spares", *words)
    assert result.exit_code == 2 and says in result.stderr


def test_the_cheapest_set_without_prices_is_unknown(cli: Cli) -> None:
    """Never 0.00."""
    result = cli("spares", "set", "--cheapest")
    assert result.exit_code == 1 and "What the set costs is unknown" in result.stderr


def test_json_holds_the_set_its_proof_and_the_luminaires(cli: Cli, ready: SmallVault) -> None:
    """The keys that other programs rely on."""
    told = json.loads(cli("spares", "set", "--json").stdout)
    gone = json.loads(cli("spares", "without", "TW-2X20", "--any", "--json").stdout)
    assert (told["set"]["proven"], told["set"]["bound"]) == (True, len(told["set"]["models"]))
    assert set(told["set"]["adds"]) == set(told["set"]["models"])
    assert [one["luminaires"][0]["tag"] for one in gone["classes"] if one["class"] in gone["lost"]] == [ready.tags["CA-001"]]


def test_the_classes_are_written_as_a_table(cli: Cli, ready: SmallVault) -> None:
    """CSV and workbook hold a row for each class; the workbook also the set and the next best."""
    for name in ("set.csv", "set.xlsx"):
        assert cli("spares", "set", "--any", "--out", name).exit_code == 0
    with (ready.folder / "set.csv").open(encoding="utf-8-sig", newline="") as file:
        rows = list(csv.reader(file))
    book = load_workbook(ready.folder / "set.xlsx")
    assert book.sheetnames == ["Set", "Next best", "Classes"]
    assert (len(rows), book["Classes"].max_row, book["Set"].max_row) == (len(rows), len(rows), 6)
    assert sum(int(row[0]) for row in rows[1:]) == 20
