"""gearkeep stock today, stock week, stock end-of-life and reorder, as typed."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from small_vault import Cli, SmallVault

from vault.cli.screen import Screen

TERMS = "model,quantity,lead_days\n" + "".join(f"{model},0,56\n" for model in (
    "EM-6-180", "GEN-25-800", "CC-40-700", "CV-24-60", "GEN-50-1050", "TW-2X20"))


@pytest.fixture(autouse=True)
def own_cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """No cache of the user's is touched."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))


def test_today_fits_the_screen_and_json_has_all_of_it(cli: Cli, monkeypatch: pytest.MonkeyPatch) -> None:
    """Unknown minimums of emergency models are vital: exit code 1."""
    monkeypatch.setattr("vault.cli.stock_today.screen_size", Screen)
    plain, as_json = cli("stock", "today"), cli("stock", "today", "--json")
    assert (plain.exit_code, as_json.exit_code) == (1, 1)
    assert len(plain.output.splitlines()) < 24 and max(map(len, plain.output.splitlines())) <= 80
    found = json.loads(as_json.output)
    assert found["to_do"] == len(found["tasks"]) > 0 and found["vital"] > 0
    assert {one["command"] for one in found["tasks"] if one["unknown"]} == {"gearkeep stock load FILE"}
    assert "Looked at:" in cli("stock", "today", "--all").output


def test_a_store_in_order_has_nothing_to_do_until_something_happens(cli: Cli, tmp_path: Path) -> None:
    """Every lead time known and enough of each: exit code 0; a spare that came back has to be reset."""
    (tmp_path / "terms.csv").write_text(TERMS, encoding="utf-8")
    assert cli("stock", "load", "terms.csv", key="S01").exit_code == 0
    done = cli("stock", "today")
    assert done.exit_code == 0 and "nothing to do" in done.output and "6 models" in done.output
    assert cli("stock", "return", "GEN-50-1050", "1", "--bin", "A1", key="S01").exit_code == 0
    after = cli("stock", "today")
    assert after.exit_code == 0 and "stock check GEN-50-1050 1 --bin A1" in after.output


def test_what_waits_for_an_approval_is_named(cli: Cli, ready: SmallVault) -> None:
    """Signed with a stop left open, in need of another signer; approved, it is gone from the list."""
    tag = ready.tags["CH-007"]
    assert cli("revise", tag, "--set", "channels.1.current_ma=1040", "--provisional", key="I01").exit_code == 1
    assert f"approve {tag}" in cli("stock", "today", "--all").output
    assert cli("approve", tag, "--as", "modification", "--because", "checked", key="P01").exit_code == 0
    assert f"approve {tag}" not in cli("stock", "today", "--all").output


def test_what_is_kept_for_a_luminaire_that_is_gone_is_to_be_released(cli: Cli, ready: SmallVault) -> None:
    """Before, it waits for its swap."""
    tag = ready.tags["CH-007"]
    cli("stock", "reserve", "GEN-50-1050", "1", "--for", tag, key="S01")
    assert f"gearkeep swap {tag} --spare GEN-50-1050" in cli("stock", "today", "--all").output
    assert cli("retire", tag, "--because", "taken down", key="I01").exit_code == 0
    assert f"gearkeep stock release GEN-50-1050 1 --for {tag}" in cli("stock", "today", "--all").output


@pytest.mark.parametrize("words", [("reorder", "--out", "list.pdf"), ("stock", "week", "--out", "week.txt")])
def test_files_are_written_once(cli: Cli, tmp_path: Path, words: tuple[str, ...]) -> None:
    """A file that is there stays as it is."""
    first = cli(*words)
    assert "Written:" in first.output, first.output
    before = (tmp_path / words[-1]).read_bytes()
    assert cli(*words).exit_code == 2 and (tmp_path / words[-1]).read_bytes() == before


@pytest.mark.parametrize(("words", "kind"), [
    (("reorder", "--out", "list.doc"), "bad-value"), (("stock", "week", "--out", "week.pdf"), "bad-value"),
    (("stock", "end-of-life", "EM-6-180"), "no-notice"),
    (("stock", "end-of-life", "EM-6-180", "--last-order", "soon"), "bad-value"),
])
def test_wrong_use_is_told(cli: Cli, words: tuple[str, ...], kind: str) -> None:
    """Exit code 2 and the failure class."""
    found = cli(*words, "--json", key="S01")
    assert (found.exit_code, json.loads(found.output)["error"]["kind"]) == (2, kind)


def test_a_notice_says_what_it_means(cli: Cli) -> None:
    """As text and as JSON."""
    said = cli("stock", "end-of-life", "EM-6-180", "--last-order", "2099-01-31", key="S01")
    assert said.exit_code == 0 and "Last-time buy for 10 years" in said.output
    assert "1 of the 3 gear that it covers loses cover" in said.output
    found = json.loads(cli("stock", "end-of-life", "EM-6-180", "--json").output)
    assert (found["last_order"], found["lost_gear"], found["signed"]) == ("2099-01-31", 1, False)


def test_a_last_order_that_is_past_is_asked_about(cli: Cli, tmp_path: Path) -> None:
    """Exit code 2 and nothing signed; --yes signs it."""
    (tmp_path / "battery.csv").write_text("model,quantity,item\nBATT-4,0,battery\n", encoding="utf-8")
    cli("stock", "load", "battery.csv", key="S01")
    words = ("stock", "end-of-life", "BATT-4", "--last-order", "2020-01-01")
    refused = cli(*words, key="S01")
    assert refused.exit_code == 2 and "The end of BATT-4 wants a second look: the last order" in refused.stderr
    signed = cli(*words, "--yes", key="S01")
    assert signed.exit_code == 0 and "Signed: BATT-4: last order 2020-01-01 (" in signed.output


def test_lists_as_json(cli: Cli) -> None:
    """Nothing can be said of what has no lead time, and an emergency model is among it: exit code 1."""
    found = cli("reorder", "--json")
    assert found.exit_code == 1 and "EM-6-180" in {one["model"] for one in json.loads(found.output)["unknown"]}
    assert {one["about"] for one in json.loads(cli("stock", "week", "--json").output)["rows"]} >= {"Movements", "Minimum unknown"}
