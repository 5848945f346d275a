"""backup, restore, checkpoint --post, audit with folders, estate: exit codes, JSON, and what the words must say."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from small_vault import PASSPHRASE, Cli, SmallVault

from vault.cli.main import main


def _json(cli: Cli, *words: str, code: int = 0, vault: str = "vault.db") -> Any:
    result = cli(*words, "--json", vault=vault)
    assert result.exit_code == code, result.output
    return json.loads(result.stdout)


@pytest.fixture
def rolled_back(cli: Cli, ready: SmallVault) -> str:
    """The file of a vault as it was before a change; a backup of then lies beside it, and what was posted behind the change."""
    (ready.folder / "posted").mkdir()
    assert cli("backup", "--out", "old.db").exit_code == 0
    before = ready.copy_file("before.db")
    assert cli("revise", "@CH-007", "--set", "channels.1.current_ma=650", key="I01").exit_code == 0
    assert cli("checkpoint", "--post", "posted").exit_code == 0
    return before.name


def test_a_backup_in_json(cli: Cli) -> None:
    """What was written and what was proven."""
    done = _json(cli, "backup", "--out", "b.db")
    assert (done["file"], done["audited"], done["problems"], done["contradictions"]) == ("b.db", True, [], [])
    assert [one["log"] for one in done["logs"]] == ["main", "stock"] and done["statements"] == sum(
        one["size"] for one in done["logs"])
    assert done["bytes"] == Path("b.db").stat().st_size


def test_a_backup_says_what_was_not_proven(cli: Cli) -> None:
    """With all statements, and without."""
    whole, quick = cli("backup", "--out", "b.db").output, cli("backup", "--out", "q.db", "--no-audit").output
    assert "all 64 statements" in whole and "Not proven: that the vault itself was not rolled back" in whole
    assert "statements" not in quick.partition("Not proven")[0] and "single statements" in quick


def test_backups_in_a_folder_are_pruned(cli: Cli, ready: SmallVault) -> None:
    """One stays, and the one that went is named."""
    folder = ready.folder / "backups"
    folder.mkdir()
    shutil.copy(_json(cli, "backup", "--folder", "backups")["file"], folder / "kept.db")
    old = next(folder.glob("gearkeep-*.db"))
    old.rename(folder / (old.name[:18] + "20010101T000000Z.db"))
    done = _json(cli, "backup", "--folder", "backups", "--keep", "1")
    assert [Path(path).name for path in done["pruned"]] == [old.name[:18] + "20010101T000000Z.db"]
    assert sorted(path.name for path in folder.iterdir()) == sorted([Path(done["file"]).name, "kept.db"])


@pytest.mark.parametrize("typed", [
    "backup", "backup --out b.db --folder .", "backup --out b.db --keep 3", "backup --folder missing",
    "backup --out missing/b.db", "backup --out vault.db", "backup --folder . --keep 0", "restore missing.db --into new.db",
    "restore good.db",
    "restore good.db --into vault.db", "restore good.db --into mysql://x/y",
    "restore good.db --into new.db --checkpoint garbage.txt",
    "checkpoint --post missing", "audit --checkpoint .", "estate sign --name x --estate-key k --out o",
    "estate check missing.json --site vault.db", "estate check garbage.txt --site missing.db --estate 00",
])
def test_wrong_use(cli: Cli, typed: str) -> None:
    """Exit code 2, and nothing was written."""
    assert cli("backup", "--out", "good.db").exit_code == 0
    result = cli(*typed.split(" "))
    assert result.exit_code == 2 or (typed.startswith("estate check") and result.exit_code == 1), result.output
    assert not Path("b.db").exists() and not Path("new.db").exists()


def test_a_backup_comes_back(cli: Cli) -> None:
    """Held against a checkpoint, with the next steps told, and good in itself."""
    cli("checkpoint", "--out", "kept.txt")
    cli("backup", "--out", "b.db")
    said = cli("restore", "b.db", "--into", "new.db", "--checkpoint", "kept.txt")
    assert said.exit_code == 0 and "Same history as 1 of 1 checkpoints given" in said.output and "Next:" in said.output
    assert cli("audit", "--checkpoint", "kept.txt", vault="new.db").exit_code == 0


def test_a_passphrase_from_a_descriptor_serves_a_page_and_a_posting(cli: Cli, ready: SmallVault) -> None:
    """It can be read only once, and two things are signed."""
    Path("posted").mkdir()
    Path("passphrase").write_text(PASSPHRASE + "\n", encoding="utf-8")
    with Path("passphrase").open("rb") as file:
        words = ["--vault", "vault.db", "--checkpoint-key", str(ready.keys_folder / "checkpoint.key"), "--passphrase-fd",
                 str(file.fileno()), "checkpoint", "--post", "posted", "--out", "page.pdf"]
        result = CliRunner(env={"GEARKEEP_PASSPHRASE": None}).invoke(main, words)
    assert result.exit_code == 0, result.output
    assert Path("page.pdf").exists() and len(list(Path("posted").iterdir())) == 2 and cli("audit").exit_code == 0


def test_a_backup_without_a_checkpoint_proves_less(cli: Cli) -> None:
    """And says so."""
    cli("backup", "--out", "b.db")
    assert "not proven" in cli("restore", "b.db", "--into", "new.db").output


def test_an_old_backup_says_how_old_it_is(cli: Cli, rolled_back: str) -> None:
    """In words, in JSON, and again in the audit of what came back."""
    refused = cli("restore", "old.db", "--into", "new.db", "--checkpoint", "posted", vault=rolled_back)
    assert refused.exit_code == 1 and "what was signed since the backup is missing" in refused.output
    assert not Path("new.db").exists()
    done = _json(cli, "restore", "old.db", "--into", "new.db", "--checkpoint", "posted", "--accept-older")
    assert done["missing_entries"] == 1 and "rollback" in [one["verdict"] for one in done["checkpoints"]]
    assert cli("audit", "--checkpoint", "posted", vault="new.db").exit_code == 1


def test_a_disagreement_is_shouted_and_kept(cli: Cli, rolled_back: str) -> None:
    """By audit and by checkpoint; the second signs nothing."""
    said = cli("audit", "--checkpoint", "posted", vault=rolled_back)
    assert said.exit_code == 1 and "CHECKPOINTS DISAGREE" in said.output and "gearkeep-evidence" in said.output
    held = sorted(path.name for path in Path("gearkeep-evidence").iterdir())
    posted = sorted(path.name for path in Path("posted").iterdir())
    refused = cli("checkpoint", "--post", "posted", "--evidence", "elsewhere", "--out", "c.txt", vault=rolled_back)
    assert refused.exit_code == 1 and "Nothing was signed" in refused.output and not Path("c.txt").exists()
    assert sorted(path.name for path in Path("posted").iterdir()) == posted
    assert any(name.startswith("report-") for name in held) and Path("elsewhere").is_dir()


def test_an_agreement_writes_no_evidence(cli: Cli) -> None:
    """The folder appears only when there is something to keep."""
    Path("posted").mkdir()
    cli("checkpoint", "--post", "posted")
    done = _json(cli, "audit", "--checkpoint", "posted")
    assert done["evidence"] is None and [one["verdict"] for one in done["checkpoints"]] == ["consistent", "consistent"]
    assert not Path("gearkeep-evidence").exists()


def test_evidence_that_cannot_be_kept_does_not_silence_the_audit(cli: Cli, rolled_back: str) -> None:
    """A file stands in the folder's place."""
    said = cli("audit", "--checkpoint", "posted", "--evidence", "garbage.txt", vault=rolled_back)
    assert said.exit_code == 1 and "COULD NOT BE KEPT" in said.output and "rollback" in said.output


def test_an_estate_is_signed_and_checked(cli: Cli, ready: SmallVault) -> None:
    """From its key to a site that was rolled back since."""
    key = _json(cli, "estate", "key", "estate.key")
    before = ready.copy_file("before.db")
    cli("revise", "@CH-007", "--set", "channels.1.current_ma=650", key="I01")
    signed = _json(cli, "estate", "sign", "--site", "vault.db", "--estate-key", "estate.key", "--name", "Town", "--out", "e.json")
    assert signed["public_key"] == key["public_key"] and len(signed["sites"]) == 1
    same = cli("estate", "check", "e.json", "--site", "vault.db", "--estate", key["fingerprint"])
    assert same.exit_code == 0 and "same" in same.output
    told = _json(cli, "estate", "check", "e.json", "--site", before.name, "--estate", key["public_key"], code=1)
    assert [one["verdict"] for one in told["sites"]] == ["rolled-back"]
