"""gearkeep hold over the small vault: what is said, written and refused."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from small_vault import Cli, SmallVault

from vault.actions.stock_load import load_stock

TERMS = "model,price,currency,lead_days,importance\nGEN-50-1050,24.50,EUR,56,essential\nGEN-25-800,18.00,EUR,56,desirable\n"

pytestmark = pytest.mark.usefixtures("priced")


@pytest.fixture
def priced(small: SmallVault, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Terms of two of the stocked models; no cache of the user's is touched."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    file = tmp_path / "terms.csv"
    file.write_text(TERMS, encoding="utf-8")
    load_stock(small.desk("S01"), file, store="MAIN")


@pytest.mark.parametrize(("words", "said"), [
    (("plan",), "the chance that none goes wanting is"),
    (("opening", "--lead-weeks", "8"), "trade's 2 to 10 %"),
    (("budget", "100"), "the chance that none goes wanting is"),
    (("budget", "--curve"), "No price is known, so left out and not taken as free"),
    (("budget", "--met-at-once", "95"), "of demands met at once cost"),
    (("last-time", "GEN-50-1050", "--years", "8", "--wear-shape", "3", "--wear-life-hours", "60000", "--age", "20000"),
     "Wear-out reserve"),
])
def test_commands_say_what_spares_cover(cli: Cli, words: tuple[str, ...], said: str) -> None:
    """Each of them in words, and as JSON."""
    plain, as_json = cli("hold", *words), cli("hold", *words, "--json")
    assert plain.exit_code == 0 and said in plain.output
    assert isinstance(json.loads(as_json.output), dict)


def test_files_are_written_once(cli: Cli, tmp_path: Path) -> None:
    """The plan and the curve as tables and a drawing; a file that is there stays as it is."""
    out, plot = tmp_path / "levels.csv", tmp_path / "curve.svg"
    assert cli("hold", "plan", "--out", str(out)).exit_code == 0
    assert cli("hold", "budget", "--curve", "--plot", str(plot)).exit_code == 0
    assert "reorder point" in out.read_text(encoding="utf-8-sig") and plot.with_suffix(".csv").is_file()
    before = out.read_bytes()
    assert cli("hold", "plan", "--out", str(out)).exit_code == 2 and out.read_bytes() == before


@pytest.mark.parametrize("words", [
    ("plan", "--service-vital", "100"), ("plan", "--service-vital", "99.95"), ("plan", "--out", "levels.pdf"),
    ("plan", "--model", "NO-SUCH"), ("budget",), ("budget", "100", "--curve"), ("budget", "ten"),
    ("last-time", "GEN-50-1050", "--years", "8", "--age", "old"),
])
def test_wrong_use_is_told(cli: Cli, words: tuple[str, ...]) -> None:
    """Exit code 2 and what to do next."""
    result = cli("hold", *words)
    assert result.exit_code == 2 and "hint:" in result.output
