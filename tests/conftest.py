"""Shared test set-up: the vectors script is imported as `make`, and each test may have a small vault of its own."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

# How fast the machine is, is nobody's promise here.
settings.register_profile("any-machine", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("any-machine")

HERE = Path(__file__).parent
sys.path[:0] = [str(HERE / "vectors"), str(HERE / "actions"), str(HERE / "labels")]
sys.path.append(str(HERE / "bench"))  # last: a script there has the name of a package

from small_vault import SmallVault, build, copy_of  # noqa: E402  (needs the path above)


@pytest.fixture
def small(tmp_path: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[SmallVault]:
    """The small vault, to be changed at will."""
    made = copy_of(build(tmp_path_factory.getbasetemp() / "small-vault"), tmp_path)
    yield made
    made.close()
