"""The table of attacks in DEVELOPERS.md and the tests of this folder name each other."""

from __future__ import annotations

import re
from pathlib import Path

HERE = Path(__file__).resolve().parent
SECTION = (HERE.parents[1] / "DEVELOPERS.md").read_text(encoding="utf-8").split("## Attacks")[1].split("\n## ")[0]
NAMED = set(re.findall(r"\b(?:an?|another|one|two|reading|reordered|what|that)_[a-z_]+", SECTION))
WRITTEN = {name for file in HERE.glob("test_attack_[!t]*.py")
           for name in re.findall(r"^def test_(\w+)", file.read_text(encoding="utf-8"), re.MULTILINE)}


def test_every_attack_of_the_table_is_done() -> None:
    """A row that names a test has one."""
    assert sorted(NAMED - WRITTEN) == []


def test_every_attack_that_is_done_stands_in_the_table() -> None:
    """Nobody has to read tests to learn what is held against what."""
    assert sorted(WRITTEN - NAMED) == []


def test_every_other_test_that_the_table_names_is_there() -> None:
    """Rows that point into other folders point at something."""
    root = HERE.parents[1]
    assert [name for name in re.findall(r"tests/[\w/]+(?:\.py)?", SECTION) if not (root / name).exists()] == []
