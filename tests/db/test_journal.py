"""The journal, its index and its audit, on the worked examples."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from pathlib import Path

import make
import pytest

from vault.db import queries
from vault.db.audit import Kept, rebuild, run_audit
from vault.db.migrate import head_revision, upgrade
from vault.db.session import Vault, create
from vault.db.tables import MAIN, PROJECTIONS, STOCK, metadata
from vault.domain.tag import parse_tag
from vault.errors import GearkeepError, UsageProblem
from vault.trust.merkle import consistency_proof, inclusion_proof, verify_consistency, verify_inclusion

CHAIN = make.chain()
GENESIS, REST = CHAIN["genesis"], {name: signed for name, signed in CHAIN.items() if name != "genesis"}


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """A vault holding one statement of every kind."""
    file = tmp_path / "vault.db"
    vault = create(str(file), GENESIS)
    with vault.writing() as session:
        for name, signed in REST.items():
            session.append_signed(signed, STOCK if name == "stock-movement" else MAIN)
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


def _tamper(path: Path, *statements: str) -> None:
    with sqlite3.connect(path) as raw:
        for trigger in ("journal_no_update", "journal_no_delete", "journal_next", "checkpoint_no_update"):
            raw.execute(f"DROP TRIGGER IF EXISTS {trigger}")
        for statement in statements:
            raw.execute(statement)


def test_an_untouched_vault_has_no_faults(path: Path) -> None:
    """Audit of a sound vault reports nothing."""
    assert _faults(path) == []


@pytest.mark.parametrize("seq", range(len(CHAIN) - 1))
def test_one_byte_of_any_journal_entry_is_named(path: Path, seq: int) -> None:
    """A changed byte in an entry's signed bytes is reported as that entry and nothing else."""
    _tamper(path, f"UPDATE journal SET signed = substr(signed, 1, 40) || x'00' || substr(signed, 42) "
                  f"WHERE log = 0 AND seq = {seq}")
    assert set(_faults(path)) == {("journal", f"main journal entry {seq}")}


@pytest.mark.parametrize("column", ["kind", "key_id", "digest", "nodes"])
def test_a_changed_journal_column_is_named(path: Path, column: str) -> None:
    """The columns beside the signed bytes are held against them as well."""
    value = "kind + 1" if column == "kind" else f"zeroblob(length({column}))"
    _tamper(path, f"UPDATE journal SET {column} = {value} WHERE log = 0 AND seq = 7")
    assert set(_faults(path)) == {("journal", "main journal entry 7")}


@pytest.mark.parametrize(("table", "column", "value"), [
    ("record", "place", "'Elsewhere'"), ("record", "version", "9"), ("gear", "short_address", "13"),
    ("signer", "roles", "31"), ("catalogue", "revision", "2"), ("approval", "accepts", "'everything'"),
    ("label", "copy", "7"), ("label_event", "event", "'placed!'"), ("movement", "quantity", "400"),
    ("signer_withdrawal", "reason", "'other'"), ("record_predecessor", "prefix", "x'00'"), ("label", "why", "0"),
    ("label", "time_s", "1"), ("label", "key_id", "zeroblob(8)"), ("label_event", "place", "'Elsewhere'"),
    ("label_event", "why", "'other'"), ("label_event", "record_prefix", "x'00'"), ("recovered_record", "digest", "zeroblob(32)"),
])
def test_a_changed_index_row_is_named(path: Path, table: str, column: str, value: str) -> None:
    """An edit of any index table is found and named with its table, by a reader without keys."""
    _tamper(path, f"UPDATE {table} SET {column} = {value} WHERE rowid = (SELECT max(rowid) FROM {table})")
    found = _faults(path)
    assert {(what, where.split(",")[0]) for what, where in found} == {("index", f"table {table}")} and len(found) == 1


@pytest.mark.parametrize("table", [table.name for table in PROJECTIONS])
def test_a_deleted_index_row_is_named(path: Path, table: str) -> None:
    """A row taken out of any index table is found."""
    _tamper(path, f"DELETE FROM {table} WHERE rowid = (SELECT max(rowid) FROM {table})")
    assert {where.split(",")[0] for _, where in _faults(path)} == {f"table {table}"}


def test_an_invented_index_row_is_named(path: Path) -> None:
    """A row that no statement stands for is found."""
    _tamper(path, "INSERT INTO movement (seq, number, act, store, model, quantity, time_s) "
                  "VALUES (99, 1, 0, 'MAIN', 'CC-40-A', 5, 0)")
    assert _faults(path) == [("index", "table movement, entry 99, row 1")]


def test_a_missing_entry_is_named(path: Path) -> None:
    """An entry taken out of the middle shows as a gap."""
    _tamper(path, "DELETE FROM journal WHERE log = 0 AND seq = 6")
    assert ("journal", "main journal entry 7") in _faults(path)


@pytest.mark.parametrize("statement", [
    "UPDATE journal SET signed = x'00' WHERE seq = 3", "DELETE FROM journal WHERE seq = 3",
    "INSERT OR REPLACE INTO journal SELECT log, seq, kind, key_id, digest, signed, nodes FROM journal WHERE seq = 3",
    "INSERT INTO journal SELECT log, seq + 50, kind, key_id, zeroblob(32), signed, nodes FROM journal WHERE seq = 3",
])
def test_the_journal_refuses_changes(path: Path, statement: str) -> None:
    """Triggers refuse update, delete, replacing and leaving numbers out."""
    with sqlite3.connect(path) as raw, pytest.raises(sqlite3.DatabaseError):
        raw.execute(statement)


def test_rebuild_makes_the_same_index(path: Path, vault: Vault) -> None:
    """After every index table is emptied, rebuild brings back the very same rows."""
    with sqlite3.connect(path) as raw:
        before = {t.name: raw.execute(f"SELECT * FROM {t.name} ORDER BY 1").fetchall() for t in PROJECTIONS}
        for table in PROJECTIONS:
            raw.execute(f"DELETE FROM {table.name}")
    with vault.writing() as session:
        rebuild(session)
    with sqlite3.connect(path) as raw:
        after = {t.name: raw.execute(f"SELECT * FROM {t.name} ORDER BY 1").fetchall() for t in PROJECTIONS}
    assert after == before and _faults(path) == []


def test_rebuild_refuses_a_journal_that_does_not_verify(path: Path) -> None:
    """A damaged journal is not turned into an index, and the old index stays."""
    _tamper(path, "UPDATE journal SET signed = x'00' WHERE log = 0 AND seq = 5")
    opened = Vault(str(path))
    with pytest.raises(GearkeepError) as problem, opened.writing() as session:
        rebuild(session)
    opened.close()
    with sqlite3.connect(path) as raw:
        assert problem.value.kind == "bad-journal" and raw.execute("SELECT count(*) FROM record").fetchone() == (2,)


def test_appending_the_same_bytes_twice_adds_nothing(vault: Vault) -> None:
    """A retry after a lost acknowledgement finds the entry it made."""
    with vault.writing() as session:
        size = session.size()
        session.append_signed(CHAIN["record"])
        assert session.size() == size


def test_a_failed_session_leaves_nothing(vault: Vault) -> None:
    """An exception after an append takes the append back."""
    with pytest.raises(ZeroDivisionError), vault.writing() as session:
        size = session.size()
        session.append(make.Kind.LINE, make.site.Line(name="L9", revision=1, kind=make.site.LineKind.DALI,
                                                      addresses_from=1), make.key("authority"))
        raise ZeroDivisionError
    with vault.reading() as session:
        assert session.size() == size


def test_a_withdrawn_signer_signs_no_more(vault: Vault) -> None:
    """The chain holds a withdrawal of the installer, whose next statement is refused."""
    body = make.site.Line(name="L9", revision=1, kind=make.site.LineKind.DALI, addresses_from=1)
    with pytest.raises(GearkeepError) as problem, vault.writing() as session:
        session.append(make.Kind.LINE, body, make.key("installer"))
    assert problem.value.kind == "withdrawn-signer"


def test_forks_are_kept_and_both_are_heads(vault: Vault) -> None:
    """Two versions that follow one are both kept, and both are heads."""
    grant = make.statements.Grant(public_key=make.public_bytes(make.key("second")), code="I02",
                                  roles=frozenset({make.Role.INSTALLER}), time_s=make.TIME)
    with vault.writing() as session:
        session.append(make.Kind.GRANT, grant, make.key("authority"))
        first = session.statement(7)
        fork = make.replace(first.body, version=2, predecessors=first.digest[:16], place="Side by side",
                            reason=make.record.Reason.MOVED)
        session.append(make.Kind.RECORD, fork, make.key("second"))
        assert [row.version for row in queries.head_rows(session, tag=parse_tag(make.TAG))] == [2, 2]


def test_stored_proofs_verify(vault: Vault) -> None:
    """Inclusion and consistency proofs read from the rows satisfy the RFC 9162 verifiers at every size."""
    with vault.reading() as session:
        read, size = session.read_node(MAIN), session.size()
        top = session.root()
        for index in range(size):
            verify_inclusion(session.statement(index).digest, index, size, inclusion_proof(index, size, read), top)
        for smaller in range(1, size + 1):
            verify_consistency(smaller, size, session.root(MAIN, smaller), top,
                               consistency_proof(smaller, size, read))


@pytest.mark.parametrize(("change", "word"), [
    ([], None),
    (["DELETE FROM record WHERE seq > 12", "DELETE FROM journal WHERE log = 0 AND seq > 12"], "rollback"),
    (["UPDATE journal SET digest = zeroblob(32), signed = zeroblob(9) WHERE log = 0 AND seq = 3"], "fork"),
])
def test_an_outside_checkpoint_shows_what_was_taken_or_changed(path: Path, change: list[str], word: str | None) -> None:
    """A checkpoint kept elsewhere agrees with a sound vault and contradicts a rolled-back or forked one."""
    _tamper(path, *change)
    opened = Vault(str(path))
    with opened.reading() as session:
        result = run_audit(session, [Kept(source="paper", note=make.good()["checkpoint"])])
    opened.close()
    said = [fault.why.split(":")[0] for fault in result.faults if fault.where == "paper"]
    assert said == ([word] if word else [])


def test_the_migrations_make_the_tables_of_the_model(vault: Vault) -> None:
    """Alembic finds nothing to change between the migrated schema and the table definitions."""
    from alembic.autogenerate import compare_metadata
    from alembic.migration import MigrationContext

    with vault.engine.connect() as connection:
        assert compare_metadata(MigrationContext.configure(connection), metadata) == []


def test_migrations_keep_the_triggers(path: Path) -> None:
    """After every upgrade the append-only triggers are there."""
    with sqlite3.connect(path) as raw:
        names = {row[0] for row in raw.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'")}
    assert names >= {"journal_no_update", "journal_no_delete", "journal_next", "checkpoint_no_update"}


def test_alembic_agrees_on_the_newest_revision() -> None:
    """The revision read from file names is the head that Alembic computes."""
    from alembic.script import ScriptDirectory

    from vault.db.migrate import _config

    assert ScriptDirectory.from_config(_config()).get_current_head() == head_revision()


def _stamped(path: Path, revision: str) -> None:
    with sqlite3.connect(path) as raw:
        raw.execute("UPDATE alembic_version SET version_num = ?", (revision,))


@pytest.mark.parametrize(("revision", "kind"), [("0001", "older-schema"), ("9999", "newer-schema")])
def test_other_schemas_are_refused_politely(path: Path, revision: str, kind: str) -> None:
    """An older vault says to upgrade it, a newer one to upgrade the program."""
    _stamped(path, revision)
    with pytest.raises(GearkeepError) as problem:
        Vault(str(path))
    assert problem.value.kind == kind and problem.value.hint


def test_a_failed_upgrade_changes_nothing(path: Path) -> None:
    """The second migration meets tables that are there already; the vault stays as it was."""
    _stamped(path, "0001")
    opened = Vault(str(path), check=False)
    with pytest.raises(GearkeepError):
        upgrade(opened.engine)
    opened.close()
    _stamped(path, head_revision())
    assert _faults(path) == []


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
            session.append(make.Kind.LINE, line, make.key("authority"))
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


def test_a_vault_is_never_overwritten(path: Path) -> None:
    """Making a vault where a file lies is refused."""
    with pytest.raises(UsageProblem):
        create(str(path), GENESIS)


def test_writing_is_durable_and_in_wal(vault: Vault) -> None:
    """synchronous=FULL (2) and WAL are set on every connection."""
    with vault.reading() as session:
        run = session.connection.exec_driver_sql
        assert (run("PRAGMA synchronous").scalar(), run("PRAGMA journal_mode").scalar()) == (2, "wal")
