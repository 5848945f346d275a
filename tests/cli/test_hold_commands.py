"""gearkeep hold over the small vault: what is said, written and refused."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from small_vault import build, copy_of

from vault.actions.stock_load import load_stock
from vault.cli.main import main

TERMS = "model,price,currency,lead_days,importance\nGEN-50-1050,24.50,EUR,56,essential\nGEN-25-800,18.00,EUR,56,desirable\n"


@pytest.fixture(scope="module")
def priced(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Callable[..., Result]]:
    """Runs gearkeep in a small vault with terms of two of the stocked models, which nobody changes."""
    small = copy_of(build(tmp_path_factory.getbasetemp() / "small-vault"), tmp_path_factory.mktemp("priced"))
    (small.folder / "terms.csv").write_text(TERMS, encoding="utf-8")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("XDG_CACHE_HOME", str(small.folder / "cache"))
        load_stock(small.desk("S01"), small.folder / "terms.csv", store="MAIN")
        small.close()
        yield lambda *words: CliRunner().invoke(main, ["--vault", small.address, *words])


@pytest.fixture(scope="module")
def hold(priced: Callable[..., Result]) -> Callable[..., Result]:
    """Runs gearkeep hold there."""
    return lambda *words: priced("hold", *words)


@pytest.mark.parametrize(("words", "said"), [
    (("plan",), "the chance that none goes wanting is"),
    (("plan", "--lead-weeks", "8"), "GEN-45-900 (3 there) has no line: the"),
    (("opening", "--lead-weeks", "8"), "trade's 2 to 10 %"),
    (("plan", "--order-cost", "25"), "Without service levels, quantities of their own would cost"),
    (("budget", "100"), "Buying stops there: of every model one piece more would be needed"),
    (("budget", "50", "--from-empty"), "which pays for no further pack that would be of use; the cheapest is"),
    (("budget", "--curve"), "The first line buys nothing: what lies there and is coming, less what is reserved, meets"),
    (("budget", "--met-at-once", "95"), "of demands met at once cost"),
    (("last-time", "GEN-50-1050", "--years", "8", "--wear-shape", "3", "--wear-life-hours", "60000", "--age", "20000"),
     "Wear-out reserve"),
    (("plan",), "the mean rate is taken as known (Poisson)."),
    (("last-time", "GEN-50-1050", "--years", "30"), "negative binomial"),
    (("last-time", "GEN-50-1050", "--years", "30", "--rate", "0.2"), "given as known: Poisson"),
    (("opening", "--store", "MAIN", "--lead-weeks", "8"), "Counted is what lies in MAIN or is coming there"),
])
def test_commands_say_what_they_found(hold: Callable[..., Result], words: tuple[str, ...], said: str) -> None:
    """Each of them in words, and as JSON."""
    plain, as_json = hold(*words), hold(*words, "--json")
    assert plain.exit_code == 0 and said in plain.output
    assert isinstance(json.loads(as_json.output), dict)


@pytest.mark.parametrize("words", [
    ("hold", "plan"), ("hold", "opening"), ("hold", "budget", "100"), ("reorder",), ("stock", "today", "--all"),
    ("stock", "week"),
])
def test_hours_are_said_once_for_every_command(priced: Callable[..., Result], tmp_path: Path, monkeypatch: pytest.MonkeyPatch,
                                              words: tuple[str, ...]) -> None:
    """Each says whose hours it took, and which name of the file is on no record."""
    (tmp_path / "h.csv").write_text("circuit,type,hours\nL1,,8760\nL1O,,8760\n", encoding="utf-8")
    monkeypatch.setenv("GEARKEEP_HOURS", str(tmp_path / "h.csv"))
    said = priced(*words).output
    assert "urning hours a year (h.csv): " in said and " gear as their circuit" in said
    assert "h.csv names the circuit L1O, on which no gear is on record" in said


def test_files_are_written_once(hold: Callable[..., Result], tmp_path: Path) -> None:
    """The plan and the curve as tables and a drawing; a file that is there stays as it is."""
    out, plot = tmp_path / "levels.csv", tmp_path / "curve.svg"
    assert hold("plan", "--out", str(out)).exit_code == 0
    assert hold("budget", "--curve", "--plot", str(plot)).exit_code == 0
    assert "reorder point" in out.read_text(encoding="utf-8-sig") and plot.with_suffix(".csv").is_file()
    before = out.read_bytes()
    assert hold("plan", "--out", str(out)).exit_code == 2 and out.read_bytes() == before


@pytest.mark.parametrize("words", [
    ("plan", "--service-vital", "100"), ("plan", "--service-vital", "99.95"), ("plan", "--out", "levels.pdf"),
    ("plan", "--model", "NO-SUCH"), ("budget",), ("budget", "100", "--curve"),
    ("budget", "ten"),
    ("last-time", "GEN-50-1050", "--years", "8", "--age", "old"),
])
def test_wrong_use_is_told(hold: Callable[..., Result], words: tuple[str, ...]) -> None:
    """Exit code 2 and what to do next."""
    result = hold(*words)
    assert result.exit_code == 2 and "hint:" in result.output


def test_a_year_has_8760_hours(hold: Callable[..., Result], tmp_path: Path) -> None:
    """The option and the file have the same limit: no gear stands by for less than nought hours."""
    (tmp_path / "h.csv").write_text("circuit,type,hours\nL1,,8784\n", encoding="utf-8")
    by_option, by_file = hold("plan", "--hours-per-year", "8784"), hold("plan", "--hours", str(tmp_path / "h.csv"))
    assert by_option.exit_code == 2 and "0<=x<=8760" in by_option.output
    assert by_file.exit_code != 0 and "from 0 to 8760" in by_file.output
