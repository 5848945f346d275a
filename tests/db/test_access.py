"""A role that works in a site may add and read, and cannot change or take away what stands there."""

from __future__ import annotations

from collections.abc import Iterator

import make
import pytest
from postgres_server import Server

from vault.db.access import grant_access
from vault.db.session import Vault, create
from vault.errors import GearkeepError, UsageProblem

CHAIN = make.chain()


@pytest.fixture(scope="module")
def site(server: Server) -> str:
    """A site with two roles: one that signs, one that only reads."""
    address = server.url("sites", site="access")
    vault = create(address, CHAIN["genesis"])
    for role, writing in (("signs", True), ("reads", False)):
        server.sql(f"CREATE ROLE {role} LOGIN PASSWORD 'wet socks 12'")
        grant_access(vault.engine, role, writing=writing)
    vault.close()
    return address.replace(f"gearkeep_tests:{server.password}", "ROLE:wet%20socks%2012")


@pytest.fixture
def signs(site: str) -> Iterator[Vault]:
    """The site as the role that signs sees it."""
    vault = Vault(site.replace("ROLE", "signs"))
    yield vault
    vault.close()


def test_the_role_signs(signs: Vault) -> None:
    """Both ways of appending work with these rights alone."""
    signs.append_signed(CHAIN["grant-installer"])
    with signs.writing() as session:
        session.append_signed(CHAIN["grant-approver"])
        assert session.size() == 3


@pytest.mark.parametrize("statement", [
    "UPDATE journal SET kind = 3", "DELETE FROM journal", "TRUNCATE journal", "DROP TABLE journal", "DELETE FROM signer",
    "UPDATE signer SET roles = 31", "ALTER TABLE journal DISABLE TRIGGER ALL", "DELETE FROM checkpoint",
    "CREATE TABLE other (a int)", "SET LOCAL session_replication_role = replica", "DROP FUNCTION gearkeep_append",
])
def test_the_role_changes_nothing(signs: Vault, statement: str) -> None:
    """The server refuses to update, delete, truncate, drop or disable."""
    with pytest.raises(GearkeepError) as problem, signs.writing() as session:
        session.connection.exec_driver_sql(statement)
    assert problem.value.kind == "no-right"


def test_a_reader_signs_nothing(site: str) -> None:
    """A role that only reads is told that it may not write."""
    vault = Vault(site.replace("ROLE", "reads"))
    with pytest.raises(GearkeepError) as problem, vault.writing():
        pass
    with vault.reading() as session:
        assert session.genesis.site
    vault.close()
    assert problem.value.kind == "no-right"


@pytest.mark.parametrize("statement", [
    "UPDATE journal SET kind = 3", "DELETE FROM journal", "TRUNCATE journal", "DELETE FROM checkpoint",
    "INSERT INTO journal SELECT log, seq + 50, kind, key_id, sha256(digest), signed, nodes FROM journal WHERE seq = 0",
    "INSERT INTO journal SELECT log, seq, kind, key_id, sha256(digest), signed, nodes FROM journal WHERE seq = 0",
])
@pytest.mark.usefixtures("site")
def test_even_the_owner_meets_the_triggers(server: Server, statement: str) -> None:
    """Append-only, and in order, also for the role that owns the site; taking triggers away is a deliberate act."""
    owner = Vault(server.url("sites", site="access"))
    with pytest.raises(GearkeepError), owner.writing() as session:
        session.connection.exec_driver_sql(statement)
    owner.close()


@pytest.mark.usefixtures("site")
def test_an_unknown_role_is_named(server: Server) -> None:
    """Nobody is granted anything by a typing mistake."""
    owner = Vault(server.url("sites", site="access"))
    with pytest.raises(GearkeepError) as problem:
        grant_access(owner.engine, "tecnicians", writing=True)
    owner.close()
    assert problem.value.kind == "not-found" and "tecnicians" in problem.value.what


def test_a_file_has_no_roles(tmp_path: object) -> None:
    """On SQLite the file's own rights are what counts."""
    vault = create(f"{tmp_path}/vault.db", CHAIN["genesis"])
    with pytest.raises(UsageProblem):
        grant_access(vault.engine, "anybody", writing=True)
    vault.close()
