"""Reading from a copy that follows the main server (PostgreSQL streaming replication, its documentation chapter 26)."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import NamedTuple

import make
import pytest
from postgres_server import FAST, Server, new_server, running_server

from vault.db.session import Vault, create
from vault.errors import GearkeepError, UsageProblem
from vault.trust.verify import sign, verify_genesis

CHAIN = make.chain()


class Pair(NamedTuple):
    """A main server and its copy."""

    main: Server
    copy: Server


def _wait(until: Callable[[], bool]) -> None:
    for _ in range(400):
        if until():
            return
        time.sleep(0.025)
    raise AssertionError("the copy did not follow within ten seconds")


@pytest.fixture(scope="module")
def pair() -> Iterator[Pair]:
    """Two servers, the second made from the first by pg_basebackup as the README says."""
    with running_server() as main, new_server(FAST) as copy:
        main.sql("CREATE DATABASE lights")
        copy.password = main.password
        copy.run("pg_basebackup", "-D", str(copy.data), "-R", "-X", "stream", "-c", "fast", "-h", "127.0.0.1",
                 "-p", str(main.port), "-U", "gearkeep_tests", env={"PGPASSWORD": main.password})
        copy.start()
        yield Pair(main, copy)
        copy.stop()


@pytest.fixture
def site(pair: Pair, request: pytest.FixtureRequest) -> Iterator[Vault]:
    """A site whose readers go to the copy, which has taken over all of it."""
    name = f"s{abs(hash(request.node.name)) % 10**8}"
    create(pair.main.url("lights", site=name), CHAIN["genesis"]).close()
    _wait(lambda: pair.copy.sql(f"SELECT count(*) FROM pg_tables WHERE schemaname = '{name}'", "lights") != "0")
    vault = Vault(pair.main.url("lights", site=name), read_address=pair.copy.url("lights", site=name))
    _wait(lambda: not vault.lag().behind)
    yield vault
    pair.copy.sql("SELECT pg_wal_replay_resume()", "lights")
    vault.close()


def test_what_is_written_to_the_main_server_is_read_from_the_copy(site: Vault) -> None:
    """A reading session sees the entry once the copy has it, and the copy then says that it lacks nothing."""
    site.append_signed(CHAIN["grant-installer"])
    _wait(lambda: not site.lag().behind)
    with site.reading() as session:
        assert session.size() == 2
        assert session.connection.exec_driver_sql("SELECT pg_is_in_recovery()").scalar() is True


def test_writing_never_goes_to_the_copy(site: Vault) -> None:
    """A writing session is the main server's."""
    with site.writing() as session:
        assert session.connection.exec_driver_sql("SELECT pg_is_in_recovery()").scalar() is False


def test_a_stale_copy_says_how_far_behind_it_is(pair: Pair, site: Vault) -> None:
    """While the copy stands still, two new entries are two entries that it lacks, and a time is said."""
    pair.copy.sql("SELECT pg_wal_replay_pause()", "lights")
    site.append_signed(CHAIN["grant-installer"])
    site.append_signed(CHAIN["grant-technician"])
    lag = site.lag()
    assert lag.entries == 2 and lag.seconds is not None and lag.seconds >= 0
    with site.reading() as session:
        assert session.size() == 1


def test_a_copy_alone_refuses_to_be_written(pair: Pair, site: Vault) -> None:
    """Naming the copy with --vault gives a plain refusal."""
    alone = Vault(pair.copy.url("lights", site=str(site.address.site)))
    with pytest.raises(GearkeepError) as problem, alone.writing():
        pass
    alone.close()
    assert problem.value.kind == "read-only" and "replica" in problem.value.what


def test_a_main_server_that_lost_entries_is_named(pair: Pair, site: Vault) -> None:
    """When the copy holds more than the main server, the main server was rolled back."""
    swapped = Vault(pair.copy.url("lights", site=str(site.address.site)),
                    read_address=pair.main.url("lights", site=str(site.address.site)))
    pair.copy.sql("SELECT pg_wal_replay_pause()", "lights")
    site.append_signed(CHAIN["grant-installer"])
    with pytest.raises(GearkeepError) as problem:
        swapped.lag()
    swapped.close()
    assert problem.value.kind == "rollback"


def test_a_main_server_that_does_not_answer_leaves_the_copy_readable(pair: Pair, site: Vault) -> None:
    """Nobody can say what the copy lacks, and that is what is said."""
    address = site.address.url.replace(f":{pair.main.port}/", ":1/") + f"?site={site.address.site}"
    vault = Vault(address, read_address=pair.copy.url("lights", site=str(site.address.site)))
    assert vault.lag().entries is None and vault.lag().behind
    with vault.reading() as session:
        assert session.size() >= 1
    vault.close()


def test_a_copy_of_another_site_is_refused(pair: Pair, site: Vault) -> None:
    """The two addresses have to name one vault."""
    body = make.replace(verify_genesis(CHAIN["genesis"]).body, log_id=b"another log id !", stock_log_id=b"another stock id")
    other = sign(make.Kind.GENESIS, body, make.key("authority"), log_id=body.log_id)
    create(pair.main.url("lights", site="elsewhere"), other).close()
    vault = Vault(pair.main.url("lights", site="elsewhere"), read_address=pair.copy.url("lights", site=str(site.address.site)))
    with pytest.raises(GearkeepError) as problem:
        vault.lag()
    vault.close()
    assert problem.value.kind == "other-vault"


def test_a_file_has_no_replica(tmp_path: Path) -> None:
    """--read-url is for sites on servers."""
    create(str(tmp_path / "vault.db"), CHAIN["genesis"]).close()
    with pytest.raises(UsageProblem):
        Vault(str(tmp_path / "vault.db"), read_address="postgresql+psycopg://a@127.0.0.1/b")
