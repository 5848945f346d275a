"""What loading a list or a catalogue says on the screen and in JSON, and that it asks before what is better looked at again."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import Result
from small_vault import Cli, SmallVault

TERMS = "model,supplier,last_order,replaced_by\nGEN-50-1050,Trade,,\nTW-2X20,,2020-01-01,\n"


@pytest.fixture
def terms(ready: SmallVault) -> Path:
    """A list whose second row names a last order that is past."""
    path = ready.folder / "terms.csv"
    path.write_text(TERMS, encoding="utf-8")
    return path


def _load(cli: Cli, *words: str) -> Result:
    return cli("stock", "load", *words, key="S01")


@pytest.mark.usefixtures("terms")
def test_what_is_better_looked_at_again_is_asked(cli: Cli) -> None:
    """Where nobody can answer it is refused as wrong use with the option that answers; then it is signed and told."""
    asked = _load(cli, "terms.csv")
    assert asked.exit_code == 2 and "row 3, last_order: the last order of TW-2X20 was 2020-01-01" in asked.stderr
    assert "Nothing was changed." in asked.stderr and "--yes" in asked.stderr
    done = _load(cli, "terms.csv", "--yes")
    assert done.exit_code == 0 and "Terms of 2 items changed." in done.stdout
    assert "  TW-2X20, new: last order 2020-01-01\n" in done.stdout
    assert "note: row 3, last_order: the last order of TW-2X20" in done.stdout
    assert "Nothing changed: the vault holds all of it." in _load(cli, "terms.csv").stdout


def test_changed_terms_in_json(cli: Cli, terms: Path) -> None:
    """Each field old and new; nothing is none on the screen, null in JSON."""
    _load(cli, "terms.csv", "--yes")
    terms.write_text("model,supplier,lead_days\nTW-2X20,Trade,14\n", encoding="utf-8")
    assert "  TW-2X20: supplier none → Trade; lead days none → 14\n" in _load(cli, "terms.csv").stdout
    terms.write_text("model,supplier,last_order\nGEN-50-1050,none,\n", encoding="utf-8")
    assert json.loads(_load(cli, "terms.csv", "--json").stdout)["changes"] == [
        {"model": "GEN-50-1050", "field": "supplier", "before": "Trade", "after": None}]


def test_a_revised_type_says_what_changed(cli: Cli) -> None:
    """The file differs from the vault in one title (see `ready`)."""
    said = cli("type", "load", "types.toml", key="authority").stdout
    assert "1 revised" in said and ": title Linear surface" in said and "→ Linear pendant" in said
    assert json.loads(cli("type", "load", "types.toml", "--json", key="authority").stdout)["changes"] == []


def test_the_same_list_twice_names_the_day(cli: Cli) -> None:
    """The vault was made with that file."""
    said = _load(cli, "stock.csv")
    assert said.exit_code == 0 and "note: The same 7 lines came on 2030-03-17 without a delivery note" in said.stdout
