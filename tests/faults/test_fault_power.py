"""A power loss: the writes and syncs that the program really issues are recorded, and what was not synced is dropped or torn.

This proves that every commit waits for the right syncs, as long as a disk keeps what it said it had synced. Writes to the
files' folders are not modelled beyond a deletion that may not have happened.
"""

from __future__ import annotations

import pytest
from crash_places import Places
from power_cuts import cuts

# The program leaves SQLite's own moment of copying the WAL into the file; with few pages a short run meets it often.
OFTEN = "wal_autocheckpoint=20"


@pytest.fixture(scope="module")
def places(tmp_path_factory: pytest.TempPathFactory) -> Places:
    """Small vaults, one for each test that asks."""
    return Places(tmp_path_factory.mktemp("power"))


@pytest.mark.parametrize(("act", "steps", "count"), [
    ("append", 20, 10), ("handover", 5, 6), ("swap", 8, 6), ("migration", 1, 5)])
def test_a_power_loss_takes_nothing_acknowledged(places: Places, act: str, steps: int, count: int) -> None:
    """Behind any cut, every acknowledged statement is there and the audit is clean."""
    done = cuts(act, places.of(act)(), steps=steps, count=count, seed=1, pragmas=(OFTEN,))
    assert (done.lost, done.problems) == (0, []) and done.syncs >= steps


def test_without_a_sync_at_each_commit_statements_would_be_lost(places: Places) -> None:
    """With synchronous=NORMAL such cuts lose statements: the test can fail."""
    done = cuts("append", places.today(), steps=40, count=12, seed=1, pragmas=("synchronous=NORMAL",))
    assert done.lost > 0
