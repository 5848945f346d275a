"""A vault made before labels had a life: gearkeep upgrade brings it up without a loss."""

from __future__ import annotations

import itertools
import sqlite3
from pathlib import Path

import make
import pytest

from vault.actions.keeping import upgrade_vault
from vault.db.audit import run_audit
from vault.db.migrate import _config, head_revision, upgrade
from vault.db.session import Vault, create
from vault.db.tables import MAIN, PROJECTIONS, STOCK
from vault.errors import GearkeepError

# Format version 1 as it was before kinds 15 and 16: the examples up to the stock movement.
FIRST = dict(itertools.islice(make.chain().items(), list(make.chain()).index("stock-movement") + 1))
OLD_TABLES = ("journal", "checkpoint", "signer", "signer_withdrawal", "catalogue", "record", "record_predecessor", "gear",
              "approval", "label", "label_event", "movement", "signer_name")


@pytest.fixture
def today(tmp_path: Path) -> Path:
    """Those statements in a vault of this program."""
    file = tmp_path / "today.db"
    vault = create(str(file), FIRST["genesis"])
    with vault.writing() as session:
        for name, signed in FIRST.items():
            session.append_signed(signed, STOCK if name == "stock-movement" else MAIN)
    vault.close()
    return file


@pytest.fixture
def old(tmp_path: Path, today: Path) -> Path:
    """The same statements in a vault with the schema 0002."""
    file = tmp_path / "old.db"
    vault = Vault(str(file), check=False)
    upgrade(vault.engine, "0002")
    vault.close()
    with sqlite3.connect(file) as raw:
        raw.execute("ATTACH ? AS today", (str(today),))
        for table in OLD_TABLES:
            columns = ", ".join(row[1] for row in raw.execute(f"PRAGMA main.table_info({table})"))
            raw.execute(f"INSERT INTO main.{table} ({columns}) SELECT {columns} FROM today.{table} ORDER BY 1, 2")
    return file


def _rows(path: Path) -> dict[str, list[tuple[object, ...]]]:
    with sqlite3.connect(path) as raw:
        return {table.name: sorted(raw.execute(f"SELECT {', '.join(c.name for c in table.columns)} FROM {table.name}"))
                for table in PROJECTIONS}


def test_an_upgraded_vault_is_as_one_made_today(old: Path, today: Path) -> None:
    """Every index row says the same, times and reasons of labels included, and the audit finds nothing."""
    assert upgrade_vault(str(old)) == ("0002", head_revision())
    assert _rows(old) == _rows(today)
    vault = Vault(str(old))
    with vault.reading() as session:
        assert run_audit(session).faults == ()
    vault.close()


def test_an_upgraded_vault_has_the_tables_of_one_made_today(old: Path, today: Path) -> None:
    """Tables, indexes and triggers bear the same SQL."""
    upgrade_vault(str(old))
    with sqlite3.connect(old) as one, sqlite3.connect(today) as other:
        query = "SELECT type, name, sql FROM sqlite_master ORDER BY type, name"
        assert one.execute(query).fetchall() == other.execute(query).fetchall()


def test_an_old_vault_is_refused_until_then(old: Path) -> None:
    """The message says what to run."""
    with pytest.raises(GearkeepError) as problem:
        Vault(str(old))
    assert problem.value.kind == "older-schema" and "gearkeep upgrade" in problem.value.hint


def test_a_damaged_journal_keeps_its_labels_through_the_upgrade(old: Path) -> None:
    """The index cannot be made anew, but which copies were issued and to whom is still there."""
    with sqlite3.connect(old) as raw:
        raw.execute("DROP TRIGGER journal_no_update")
        raw.execute("UPDATE journal SET signed = x'00' WHERE log = 0 AND seq = 5")
    with pytest.raises(GearkeepError):
        upgrade_vault(str(old))
    with sqlite3.connect(old) as raw:
        assert raw.execute("SELECT copy FROM label").fetchall() == [(1,)]
        assert raw.execute("SELECT event FROM label_event").fetchall() == [("placed",), ("withdrawn",)]


def test_there_is_a_way_back(today: Path, old: Path) -> None:
    """Downgrading gives the columns of schema 0002 again."""
    from alembic import command

    vault = Vault(str(today))
    with vault.engine.connect() as connection, connection.begin():
        command.downgrade(_config(connection), "0002")
    vault.close()
    with sqlite3.connect(old) as one, sqlite3.connect(today) as other:
        for table in ("label", "label_event"):
            query = f"PRAGMA table_info({table})"
            assert one.execute(query).fetchall() == other.execute(query).fetchall()
