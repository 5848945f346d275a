"""A fresh copy of the small vault for each test."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "actions"))

from small_vault import SmallVault, build, copy_of


@pytest.fixture
def small(tmp_path: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[SmallVault]:
    """The small vault, to be changed at will."""
    made = copy_of(build(tmp_path_factory.getbasetemp() / "small-vault"), tmp_path)
    yield made
    made.close()
