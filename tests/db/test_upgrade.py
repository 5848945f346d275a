"""Vaults of every schema that was released: gearkeep upgrade brings them up without a loss, on both engines."""

from __future__ import annotations

import itertools
from collections.abc import Callable
from dataclasses import dataclass

import make
import pytest
from sqlalchemy import inspect, text
from stored import ask, behind, rows, tamper

from vault.actions.keeping import upgrade_vault
from vault.db.audit import run_audit
from vault.db.migrate import _config, head_revision, upgrade
from vault.db.session import Vault, create
from vault.db.tables import MAIN, PROJECTIONS, STOCK, checkpoint, journal, signer_name
from vault.db.taken import store
from vault.errors import GearkeepError

# The last of the worked examples that a vault of that schema could hold: kinds 15 and 16 came with 0003, 17 with 0004.
RELEASED = {"0002": "stock-movement", "0003": "recovery"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Aged:
    """The same statements in a vault of an older schema and in one of today's."""

    revision: str
    old: str
    today: str


def _fill(address: str, last: str) -> None:
    chain = make.chain()
    vault = create(address, chain["genesis"])
    with vault.writing() as session:
        for name in itertools.islice(chain, 1, list(chain).index(last) + 1):
            session.append_signed(chain[name], STOCK if name == "stock-movement" else MAIN)
    vault.close()


def _copy_rows(source: str, target: str) -> None:
    here, there = Vault(source), Vault(target, check=False)
    columns = {name: {column["name"] for column in inspect(there.engine).get_columns(name)}
               for name in inspect(there.engine).get_table_names()}
    with here.reading() as session, behind(target) as connection:
        for table in (journal, checkpoint, signer_name, *PROJECTIONS):
            kept = [column.name for column in table.columns if column.name in columns.get(table.name, ())]
            for row in session.connection.execute(table.select().order_by(*table.primary_key)):
                if kept:
                    connection.execute(text(f"INSERT INTO {table.name} ({', '.join(kept)}) VALUES "
                                            f"({', '.join(':' + name for name in kept)})"),
                                       {name: row._mapping[name] for name in kept})
    here.close()
    there.close()


@pytest.fixture(params=RELEASED)
def aged(request: pytest.FixtureRequest, new_address: Callable[[], str]) -> Aged:
    """Every released schema in turn."""
    found = Aged(revision=request.param, old=new_address(), today=new_address())
    _fill(found.today, RELEASED[found.revision])
    vault = Vault(found.old, check=False)
    upgrade(vault.engine, found.revision)
    vault.close()
    _copy_rows(found.today, found.old)
    vault = Vault(found.old, check=False)
    upgrade(vault.engine, found.revision)  # puts back the triggers that copying took away
    vault.close()
    return found


def _schema(address: str) -> dict[str, object]:
    vault = Vault(address)
    found = inspect(vault.engine)
    tables = {name: ([(column["name"], str(column["type"]), column["nullable"]) for column in found.get_columns(name)],
                     found.get_indexes(name), found.get_pk_constraint(name)) for name in found.get_table_names()}
    vault.close()
    return {name: (sorted(columns), sorted(map(str, indexes)), str(key)) for name, (columns, indexes, key) in tables.items()}


def test_an_upgraded_vault_is_as_one_made_today(aged: Aged) -> None:
    """Every index row says the same, and the audit finds nothing."""
    assert upgrade_vault(aged.old) == (aged.revision, head_revision())
    assert rows(aged.old) == rows(aged.today)
    vault = Vault(aged.old)
    with vault.reading() as session:
        assert run_audit(session).faults == ()
    vault.close()


def test_an_upgraded_vault_has_the_tables_of_one_made_today(aged: Aged) -> None:
    """Tables, columns, keys and indexes are the same."""
    upgrade_vault(aged.old)
    assert _schema(aged.old) == _schema(aged.today)


def test_an_upgraded_vault_goes_on(aged: Aged) -> None:
    """What could not be said before can be said now."""
    upgrade_vault(aged.old)
    chain = make.chain()
    vault = Vault(aged.old)
    with vault.writing() as session:
        for name, signed in chain.items():
            session.append_signed(signed, STOCK if name == "stock-movement" else MAIN)
        store(session, make.OTHER_LOG_ID, list(make.other_chain().values()), lambda _done, _total: None)
    with vault.reading() as session:
        assert session.size() == len(chain) - 1 and run_audit(session).faults == ()
    vault.close()


def test_an_old_vault_is_refused_until_then(aged: Aged) -> None:
    """The message says what to run."""
    with pytest.raises(GearkeepError) as problem:
        Vault(aged.old)
    assert problem.value.kind == "older-schema" and "gearkeep upgrade" in problem.value.hint


def test_an_upgrade_that_cannot_be_finished_changes_nothing(aged: Aged) -> None:
    """The index cannot be made anew from a damaged journal: the vault keeps its schema and its labels."""
    tamper(aged.old, "UPDATE journal SET signed = :none WHERE log = 0 AND seq = 5", none=b"\0")
    with pytest.raises(GearkeepError) as problem:
        upgrade_vault(aged.old)
    assert problem.value.kind == "bad-journal"
    assert ask(aged.old, "SELECT version_num FROM alembic_version") == [(aged.revision,)]
    assert ask(aged.old, "SELECT copy FROM label WHERE seq < 13") == [(1,)]


def test_there_is_a_way_back(aged: Aged) -> None:
    """Downgrading gives the columns of the older schema again."""
    from alembic import command

    vault, old = Vault(aged.today), Vault(aged.old, check=False)
    with vault.engine.connect().execution_options(writing=True) as connection, connection.begin():
        command.downgrade(_config(connection), aged.revision)
    for table in ("label", "label_event", "signer", "signer_withdrawal"):
        columns, others = (sorted((column["name"], str(column["type"])) for column in inspect(engine).get_columns(table))
                           for engine in (vault.engine, old.engine))
        assert columns == others
    vault.close()
    old.close()
