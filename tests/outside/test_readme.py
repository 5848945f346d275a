"""What the README promises is what is there."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
COMMANDS = sorted(set(re.findall(r"^gearkeep (?:--[a-z-]+ \S+ )*([a-z-]+)", README, flags=re.MULTILINE)))
TOP_LEVEL = {"README.md", "DEVELOPERS.md", "LICENSE", "pyproject.toml", "vault", "labels", "tests", "migrations", "demo"}


def _help(*words: str) -> str:
    return subprocess.run([sys.executable, "-m", "vault.cli.main", *words, "--help"], capture_output=True,
                          encoding="utf-8", check=True).stdout


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_in_the_readme_exists(command: str) -> None:
    """A command that the README shows has a help page with an example."""
    assert "Example: gearkeep" in _help(command)


def test_the_overview_lists_every_command_of_the_readme() -> None:
    """The overview names every command that the README uses."""
    overview = _help()
    assert [command for command in COMMANDS if f"\n  {command} " not in overview] == []


def test_continuous_integration_runs_the_readmes_test_command() -> None:
    """.ci/run takes the test command out of the README, so it cannot drift."""
    assert README.count("$(command -v sudo)") == 1
    assert 'grep -E "^\\\\$\\(command -v sudo\\)" README.md' in (ROOT / ".ci" / "run").read_text(encoding="utf-8")


def test_the_top_level_holds_what_was_agreed() -> None:
    """Nothing lies at the top of the repository but what DEVELOPERS.md draws."""
    tracked = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, encoding="utf-8", check=True).stdout
    names = {line.split("/")[0] for line in tracked.splitlines()}
    assert {name for name in names if not name.startswith(".")} <= TOP_LEVEL


def test_help_imports_nothing_heavy() -> None:
    """The overview loads click and no database, cryptography, drawing or number library."""
    probe = ("import sys; from click.testing import CliRunner; from vault.cli.main import main; "
             "CliRunner().invoke(main, ['--help']); "
             "print([m for m in ('sqlalchemy', 'cryptography', 'nacl', 'numpy', 'PIL', 'reportlab', 'rich', 'cbor2') "
             "if m in sys.modules])")
    done = subprocess.run([sys.executable, "-c", probe], cwd=ROOT, capture_output=True, encoding="utf-8", check=True)
    assert done.stdout.strip() == "[]"
