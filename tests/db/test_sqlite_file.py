"""What holds for a vault in an SQLite file alone."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from pathlib import Path

import make
import pytest

from vault.db.audit import run_audit
from vault.db.session import Vault, create
from vault.db.tables import MAIN, STOCK
from vault.db.taken import store
from vault.errors import GearkeepError

CHAIN = make.chain()


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """A vault holding one statement of every kind."""
    file = tmp_path / "vault.db"
    vault = create(str(file), CHAIN["genesis"])
    with vault.writing() as session:
        for name, signed in CHAIN.items():
            session.append_signed(signed, STOCK if name == "stock-movement" else MAIN)
        store(session, make.OTHER_LOG_ID, list(make.other_chain().values()), lambda _done, _total: None)
    vault.close()
    return file


@pytest.fixture
def vault(path: Path) -> Iterator[Vault]:
    """That vault, open."""
    opened = Vault(str(path))
    yield opened
    opened.close()


def _faults(path: Path) -> list[tuple[str, str]]:
    opened = Vault(str(path))
    try:
        with opened.reading() as session:
            return [(fault.what, fault.where) for fault in run_audit(session).faults]
    finally:
        opened.close()


@pytest.mark.parametrize("statement", [
    "UPDATE journal SET signed = x'00' WHERE seq = 3", "DELETE FROM journal WHERE seq = 3",
    "INSERT OR REPLACE INTO journal SELECT log, seq, kind, key_id, digest, signed, nodes FROM journal WHERE seq = 3",
    "INSERT INTO journal SELECT log, seq + 50, kind, key_id, zeroblob(32), signed, nodes FROM journal WHERE seq = 3",
])
def test_the_journal_refuses_changes(path: Path, statement: str) -> None:
    """Triggers refuse update, delete, replacing and leaving numbers out."""
    with sqlite3.connect(path) as raw, pytest.raises(sqlite3.DatabaseError):
        raw.execute(statement)


def test_migrations_keep_the_triggers(path: Path) -> None:
    """After every upgrade the append-only triggers are there."""
    with sqlite3.connect(path) as raw:
        names = {row[0] for row in raw.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'")}
    assert names >= {"journal_no_update", "journal_no_delete", "journal_next", "checkpoint_no_update"}


def test_a_locked_vault_says_so(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """While somebody else writes, the message says to wait."""
    monkeypatch.setattr("vault.db.engine.BUSY_TIMEOUT_MS", 10)
    opened = Vault(str(path))
    other = sqlite3.connect(path, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    with pytest.raises(GearkeepError) as problem, opened.writing():
        pass
    other.close()
    opened.close()
    assert problem.value.kind == "locked"


@pytest.mark.parametrize(("pragma", "kind"), [("query_only=ON", "read-only"), ("max_page_count=1", "disk-full")])
def test_a_vault_that_cannot_be_written_says_why(path: Path, pragma: str, kind: str) -> None:
    """Read-only and full disks each have their own message, and nothing is kept."""
    opened = Vault(str(path))
    with pytest.raises(GearkeepError) as problem, opened.writing() as session:
        session.connection.exec_driver_sql(f"PRAGMA {pragma}")
        for number in range(200):
            line = make.site.Line(name=f"M{number}", revision=1, kind=make.site.LineKind.DALI, addresses_from=0)
            session.append(make.Kind.LINE, line, make.key("appointed"))
    opened.close()
    assert problem.value.kind == kind and _faults(path) == []


@pytest.mark.parametrize(("name", "content", "kind"), [
    ("missing.db", None, "not-a-vault"), ("text.db", b"not a database, only text" * 40, "not-a-vault"),
    ("empty.db", b"", "not-a-vault"),
])
def test_what_is_no_vault_is_refused(tmp_path: Path, name: str, content: bytes | None, kind: str) -> None:
    """A missing, foreign or empty file is told apart from a vault."""
    file = tmp_path / name
    if content is not None:
        file.write_bytes(content)
    with pytest.raises(GearkeepError) as problem:
        Vault(str(file))
    assert problem.value.kind == kind


def test_writing_is_durable_and_in_wal(vault: Vault) -> None:
    """synchronous=FULL (2) and WAL are set on every connection."""
    with vault.reading() as session:
        run = session.connection.exec_driver_sql
        assert (run("PRAGMA synchronous").scalar(), run("PRAGMA journal_mode").scalar()) == (2, "wal")
