"""The command line on a fresh copy of the small vault."""

from __future__ import annotations

import json
import shutil

import pytest
from click.testing import CliRunner, Result
from small_vault import DEMO, PASSPHRASE, Cli, SmallVault, readback, rows_of, write_rows

from vault.cli.main import main


@pytest.fixture
def ready(small: SmallVault) -> SmallVault:
    """The small vault with files that commands are given: readbacks, schedules, stock, a rating's next revision."""
    for name, figures in (("good.json", {}), ("wrong.json", {"current_ma": 500})):
        (small.folder / name).write_text(json.dumps({"gears": readback(**figures)}), encoding="utf-8")
    write_rows(small.folder / "faulty.csv", rows_of("CO-003", "CH-005"))
    write_rows(small.folder / "new.csv", rows_of("CO-003"))
    (small.folder / "garbage.txt").write_text("nothing of any use\n", encoding="utf-8")
    shutil.copy(DEMO / "stock.csv", small.folder / "stock.csv")
    (small.folder / "back.csv").write_text("model,quantity,bin\nGEN-25-800,1,A2\n", encoding="utf-8")
    newer = (DEMO / "types.toml").read_text(encoding="utf-8").replace("Linear surface", "Linear pendant", 1)
    (small.folder / "types.toml").write_text(newer, encoding="utf-8")
    return small


@pytest.fixture
def cli(ready: SmallVault, monkeypatch: pytest.MonkeyPatch) -> Cli:
    """Runs a command in the small vault's folder: `@CH-007` stands for that luminaire's tag, key="I01" for a key file."""
    monkeypatch.chdir(ready.folder)
    for name in ("VAULT", "KEY", "CHECKPOINT_KEY", "PASSPHRASE"):
        monkeypatch.delenv(f"GEARKEEP_{name}", raising=False)
    ready.close()

    def run(*words: str, key: str | None = None, passphrase: str | None = PASSPHRASE, vault: str = "vault.db") -> Result:
        keys = ready.keys_folder
        options = ["--vault", vault, *(["--key", str(keys / f"{key}.key")] if key else []),
                   "--checkpoint-key", str(keys / "checkpoint.key")]
        typed = [ready.tags[word[1:]] if word.startswith("@") else word for word in words]
        return CliRunner(env={"GEARKEEP_PASSPHRASE": passphrase}).invoke(main, [*options, *typed])

    return run
