"""gearkeep pack, as it is typed."""

from __future__ import annotations

import json

import pytest
from small_vault import Cli, SmallVault

from vault.exchange import pack_layout


def test_a_pack_is_made_and_told_of(cli: Cli, ready: SmallVault) -> None:
    """Folder and ZIP file, what they hold, the checkpoint with its key for other programs; the retention that was asked for."""
    (ready.folder / "kept.toml").write_text('"test records" = "nine years"\n', encoding="utf-8")
    result = cli("pack", "--out", "pack", "--zip", "pack.zip", "--retention", "kept.toml", "--json")
    assert result.exit_code == 0, result.output
    told = json.loads(result.stdout)
    held = {path.name: path.stat().st_size for path in (ready.folder / "pack").iterdir()}
    assert (told["folder"], told["zip"], told["files"]) == ("pack", "pack.zip", held)
    assert set(held) == {
        pack_layout.PAGE, pack_layout.PAPER, pack_layout.TABLE, pack_layout.FORMAT, pack_layout.READ_ME, pack_layout.SIGNERS,
        pack_layout.MAIN_JOURNAL, pack_layout.STOCK_JOURNAL, pack_layout.MAIN_CHECKPOINT, pack_layout.STOCK_CHECKPOINT,
        pack_layout.LIST}
    assert (told["luminaires"], told["retired"], told["states"]) == (19, 0, {"conflict": 0, "frozen": 0, "provisional": 0})
    assert [one["log"] for one in told["checkpoints"]] == ["main", "stock"]
    assert told["checkpoints"][0]["note"] == (ready.folder / "pack" / pack_layout.MAIN_CHECKPOINT).read_text(encoding="utf-8")
    assert "test records: nine years" in (ready.folder / "pack" / pack_layout.READ_ME).read_text(encoding="utf-8")


@pytest.mark.parametrize(("words", "said"), [
    ((), "--out"),
    (("--out", "taken"), "is there already"),
    (("--out", "pack", "--zip", "taken.zip"), "is there already"),
    (("--out", "pack", "--zip", "pack.tar"), "Give --zip NAME.zip"),
    (("--out", "pack", "--retention", "nowhere.toml"), "cannot be read"),
])
def test_wrong_use_is_said(cli: Cli, ready: SmallVault, words: tuple[str, ...], said: str) -> None:
    """With exit code 2; nothing is written or replaced."""
    (ready.folder / "taken").mkdir()
    (ready.folder / "taken.zip").write_text("mine", encoding="utf-8")
    result = cli("pack", *words)
    assert (result.exit_code, said in result.output) == (2, True), result.output
    assert not (ready.folder / "pack").exists()
    assert (ready.folder / "taken.zip").read_text(encoding="utf-8") == "mine"


def test_a_wrong_passphrase_makes_no_pack(cli: Cli, ready: SmallVault) -> None:
    """Exit code as for every key file."""
    result = cli("pack", "--out", "pack", passphrase="wrong")
    assert result.exit_code in (1, 2) and not (ready.folder / "pack").exists()
