"""A process that is killed, or whose server is: what was acknowledged is there, whole, and the act goes on.

The long form is tests/bench/crashes.py.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from crash_checks import Tally
from crash_kills import crash_server, kill_backends, kills, wait_for
from crash_places import Places
from postgres_server import DURABLE, Server, running_server

# How long a process runs at most before it is killed: several steps of each act, one whole upgrade.
SHORT_S = 0.3
LONGEST_S = {"backup": 0.6}


@pytest.fixture(scope="module")
def in_files(tmp_path_factory: pytest.TempPathFactory) -> Places:
    """Vaults in files."""
    return Places(tmp_path_factory.mktemp("kills"))


@pytest.fixture(scope="module")
def on_a_server(tmp_path_factory: pytest.TempPathFactory, server: Server) -> Places:
    """Vaults on a PostgreSQL server."""
    return Places(tmp_path_factory.mktemp("kills"), server)


def _held(tally: Tally) -> tuple[int, list[str]]:
    return tally.lost, tally.problems


@pytest.mark.parametrize(("act", "count"), [("append", 4), ("handover", 3), ("swap", 3), ("migration", 4), ("backup", 3)])
def test_nothing_acknowledged_is_lost_in_a_file(in_files: Places, act: str, count: int) -> None:
    """kill -9 at random moments: nothing lost, nothing half done, the file sound, the audit clean, and it goes on."""
    tally = kills(act, in_files.of(act), count=count, longest_s=LONGEST_S.get(act, SHORT_S), seed=count)
    assert _held(tally) == (0, []) and tally.kills == count


@pytest.mark.parametrize(("act", "count"), [("append", 2), ("handover", 1), ("swap", 1), ("migration", 2), ("backup", 1)])
def test_nothing_acknowledged_is_lost_on_a_server(on_a_server: Places, act: str, count: int) -> None:
    """The same with the vault on PostgreSQL, where the client is killed."""
    tally = kills(act, on_a_server.of(act), count=count, longest_s=LONGEST_S.get(act, SHORT_S), seed=count)
    assert _held(tally) == (0, []) and tally.kills == count


def test_nothing_acknowledged_is_lost_with_the_server(tmp_path: Path) -> None:
    """The server's processes are killed, then the whole server stops without tidying up; fsync is on."""
    with running_server(DURABLE) as own:
        places = Places(tmp_path, own).of("append")
        for blow in (kill_backends(own), crash_server(own)):
            tally = kills("append", places, count=1, longest_s=SHORT_S, seed=3, blow=blow, settle=lambda: wait_for(own))
            assert _held(tally) == (0, []) and tally.kills == 1
