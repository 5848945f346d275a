"""Several processes on one vault, one that holds it too long, and a clock that was set back."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner
from crash_acts import Life
from crash_checks import Tally, digests_of, inspect
from crash_kills import alive, wait_until_told
from crash_places import Places
from small_vault import NOW_S, PASSPHRASE, SmallVault

from vault.actions.changes import revise
from vault.actions.history import history
from vault.cli.main import main
from vault.db.audit import run_audit
from vault.db.session import Vault
from vault.errors import GearkeepError

YEAR_S = 365 * 86_400


@pytest.fixture
def place(engine_name: str, tmp_path: Path, request: pytest.FixtureRequest) -> Iterator[SmallVault]:
    """The small vault on each engine in turn."""
    server = request.getfixturevalue("server") if engine_name == "postgresql" else None
    made = Places(tmp_path, server).today()
    yield made
    made.close()


def test_two_processes_write_at_once(place: SmallVault) -> None:
    """Both get on, nothing is lost or doubled, each one's statements stand in its order, and there is one history."""
    known, tally = digests_of(place), Tally()
    lives = [Life(act="append", small=place, number=number) for number in (1, 2)]
    with alive(lives[0]), alive(lives[1]):
        wait_until_told(lives, 10)
    for life in lives:
        inspect(life, known, tally)
    assert (tally.lost, tally.problems, [life.refused for life in lives]) == (0, [], ["", ""])
    assert tally.acknowledged >= 20


def test_a_vault_that_somebody_holds_too_long_says_so(place: SmallVault, monkeypatch: pytest.MonkeyPatch) -> None:
    """While another program writes, a second one gives up after a while: a plain message, and nothing was changed."""
    monkeypatch.setattr("vault.db.engine.BUSY_TIMEOUT_MS", 50)
    before = place.sizes()
    place.close()
    holder, waiting = Vault(place.address), Vault(place.address)
    other = replace(place, opened=[waiting])
    with holder.writing():
        with pytest.raises(GearkeepError) as problem:
            revise(other.desk("I01"), place.tags["CH-001"], changes={"channels.1.current_ma": "650"})
        with waiting.reading() as session:
            assert (session.size(0), session.size(1)) == before
    assert problem.value.kind == "locked" and "try again" in problem.value.hint
    holder.close()
    revise(other.desk("I01"), place.tags["CH-001"], changes={"channels.1.current_ma": "650"})
    assert other.sizes() == (before[0] + 1, before[1])
    other.close()


def test_a_clock_set_back_changes_no_order(place: SmallVault) -> None:
    """A version signed with an earlier time is the next one: the journal's order counts, the time is the signer's claim."""
    desk = place.desk("I01")
    desk.now_s = lambda: NOW_S - YEAR_S
    assert desk.clock_behind_s() == YEAR_S
    assert revise(desk, place.tags["CH-001"], changes={"channels.1.current_ma": "650"}).version == 2
    assert place.seen("CH-001").record.time_s == NOW_S - YEAR_S
    assert [one.version for one in history(place.open(), place.tags["CH-001"])] == [1, 2]
    with place.open().reading() as session:
        assert run_audit(session).faults == ()


@pytest.mark.parametrize(("now_s", "told"), [(NOW_S - YEAR_S, "365 days"), (NOW_S - 1800, "30 minutes"), (NOW_S - 60, None)])
def test_whoever_signs_with_a_clock_that_is_behind_is_told(
        small: SmallVault, monkeypatch: pytest.MonkeyPatch, now_s: int, told: str | None) -> None:
    """A note behind the command's own words; a minute is nothing, and reading is no matter of the clock."""
    monkeypatch.setattr("vault.actions.desk.time.time", lambda: now_s)
    small.close()
    run = CliRunner(env={"GEARKEEP_PASSPHRASE": PASSPHRASE})
    options = ["--vault", str(small.path), "--key", str(small.keys_folder / "I01.key")]
    signed = run.invoke(main, [*options, "revise", small.tags["CH-001"], "--set", "channels.1.current_ma=650"])
    read = run.invoke(main, [*options, "fit", small.tags["CH-001"]])
    assert signed.exit_code == 0 and (f"clock is {told} behind" in signed.stderr if told else signed.stderr == "")
    assert read.stderr == ""
