"""The journal, its index and its audit, on the worked examples, on both engines."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import make
import pytest
from stored import ask, last_row, rows, tamper

from vault.db import queries
from vault.db.audit import Kept, rebuild, run_audit
from vault.db.migrate import head_revision, upgrade
from vault.db.session import Vault, create
from vault.db.tables import MAIN, PROJECTIONS, STOCK, metadata
from vault.db.taken import store
from vault.domain.tag import parse_tag
from vault.errors import GearkeepError, UsageProblem
from vault.trust.merkle import consistency_proof, inclusion_proof, verify_consistency, verify_inclusion

CHAIN = make.chain()
GENESIS, REST = CHAIN["genesis"], {name: signed for name, signed in CHAIN.items() if name != "genesis"}


@pytest.fixture
def address(new_address: Callable[[], str]) -> str:
    """A vault holding one statement of every kind."""
    place = new_address()
    vault = create(place, GENESIS)
    with vault.writing() as session:
        for name, signed in REST.items():
            session.append_signed(signed, STOCK if name == "stock-movement" else MAIN)
        for signed in make.stock_log().values():
            session.append_signed(signed, STOCK)
        store(session, make.OTHER_LOG_ID, list(make.other_chain().values()), lambda _done, _total: None)
    vault.close()
    return place


@pytest.fixture
def vault(address: str) -> Iterator[Vault]:
    """That vault, open."""
    opened = Vault(address)
    yield opened
    opened.close()


def _faults(address: str) -> list[tuple[str, str]]:
    opened = Vault(address)
    try:
        with opened.reading() as session:
            return [(fault.what, fault.where) for fault in run_audit(session).faults]
    finally:
        opened.close()


def test_an_untouched_vault_has_no_faults(address: str) -> None:
    """Audit of a sound vault reports nothing."""
    assert _faults(address) == []


@pytest.mark.parametrize("seq", range(len(CHAIN) - 1))
def test_one_byte_of_any_journal_entry_is_named(address: str, seq: int) -> None:
    """A changed byte in an entry's signed bytes is reported as that entry and nothing else."""
    (signed,), = ask(address, f"SELECT signed FROM journal WHERE log = 0 AND seq = {seq}")
    tamper(address, f"UPDATE journal SET signed = :changed WHERE log = 0 AND seq = {seq}",
           changed=signed[:40] + b"\0" + signed[41:])
    assert set(_faults(address)) == {("journal", f"main journal entry {seq}")}


@pytest.mark.parametrize(("column", "value"), [("kind", 9), ("key_id", bytes(8)), ("digest", bytes(32)), ("nodes", bytes(96))])
def test_a_changed_journal_column_is_named(address: str, column: str, value: int | bytes) -> None:
    """The columns beside the signed bytes are held against them as well."""
    tamper(address, f"UPDATE journal SET {column} = :value WHERE log = 0 AND seq = 7", value=value)
    assert set(_faults(address)) == {("journal", "main journal entry 7")}


@pytest.mark.parametrize(("table", "column", "value"), [
    ("record", "place", "Elsewhere"), ("record", "version", 9), ("gear", "short_address", 13),
    ("signer", "roles", 31), ("catalogue", "revision", 2), ("approval", "accepts", "everything"),
    ("label", "copy", 7), ("label_event", "event", "placed!"), ("movement", "quantity", 400),
    ("signer_withdrawal", "reason", "other"), ("record_predecessor", "prefix", bytes(16)), ("label", "why", 0),
    ("label", "time_s", 1), ("label", "key_id", bytes(8)), ("label_event", "place", "Elsewhere"),
    ("label_event", "why", "other"), ("label_event", "record_prefix", bytes(8)), ("recovered_record", "digest", bytes(32)),
])
def test_a_changed_index_row_is_named(address: str, table: str, column: str,
                                        value: int | str | bytes) -> None:
    """An edit of any index table is found and named with its table, by a reader without keys."""
    tamper(address, f"UPDATE {table} SET {column} = :value WHERE {last_row(metadata.tables[table])}", value=value)
    found = _faults(address)
    assert {(what, where.split(",")[0]) for what, where in found} == {("index", f"table {table}")} and len(found) == 1


@pytest.mark.parametrize("table", [table.name for table in PROJECTIONS])
def test_a_deleted_index_row_is_named(address: str, table: str) -> None:
    """A row taken out of any index table is found."""
    tamper(address, f"DELETE FROM {table} WHERE {last_row(metadata.tables[table])}")
    assert {where.split(",")[0] for _, where in _faults(address)} == {f"table {table}"}


def test_an_invented_index_row_is_named(address: str) -> None:
    """A row that no statement stands for is found."""
    tamper(address, "INSERT INTO movement (seq, number, act, store, model, quantity, time_s) "
                  "VALUES (99, 1, 0, 'MAIN', 'CC-40-A', 5, 0)")
    assert _faults(address) == [("index", "table movement, entry 99, row 1")]


def test_a_missing_entry_is_named(address: str) -> None:
    """An entry taken out of the middle shows as a gap."""
    tamper(address, "DELETE FROM journal WHERE log = 0 AND seq = 6")
    assert ("journal", "main journal entry 7") in _faults(address)


def test_rebuild_makes_the_same_index(address: str, vault: Vault) -> None:
    """After every index table is emptied, rebuild brings back the very same rows."""
    before = rows(address)
    tamper(address, *(f"DELETE FROM {table.name}" for table in PROJECTIONS))
    with vault.writing() as session:
        rebuild(session)
    assert rows(address) == before and _faults(address) == []


def test_rebuild_refuses_a_journal_that_does_not_verify(address: str) -> None:
    """A damaged journal is not turned into an index, and the old index stays."""
    tamper(address, "UPDATE journal SET signed = :none WHERE log = 0 AND seq = 5", none=b"\0")
    opened = Vault(address)
    with pytest.raises(GearkeepError) as problem, opened.writing() as session:
        rebuild(session)
    opened.close()
    assert problem.value.kind == "bad-journal" and ask(address, "SELECT count(*) FROM record") == [(3,)]


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
                                                      addresses_from=1), make.key("appointed"))
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
        session.append(make.Kind.GRANT, grant, make.key("appointed"))
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
    (["UPDATE journal SET digest = :nought, signed = :nought WHERE log = 0 AND seq = 3"], "fork"),
])
def test_an_outside_checkpoint_shows_what_was_taken_or_changed(address: str, change: list[str], word: str | None) -> None:
    """A checkpoint kept elsewhere agrees with a sound vault and contradicts a rolled-back or forked one."""
    tamper(address, *change, nought=bytes(32))
    opened = Vault(address)
    with opened.reading() as session:
        result = run_audit(session, [Kept(source="paper", note=make.good()["checkpoint"])])
    opened.close()
    said = [fault.why.split(":")[0] for fault in result.faults if fault.where == "paper"]
    assert said == ([word] if word else [])


def test_the_migrations_make_the_tables_of_the_model(vault: Vault) -> None:
    """Alembic finds nothing to change between the migrated schema and the table definitions."""
    from alembic.autogenerate import compare_metadata
    from alembic.migration import MigrationContext

    # The server's own state of each log stands beside the tables of the model.
    options = {"include_name": lambda name, _kind, _parents: name != "log_state"}
    with vault.engine.connect() as connection:
        assert compare_metadata(MigrationContext.configure(connection, opts=options), metadata) == []


def test_alembic_agrees_on_the_newest_revision() -> None:
    """The revision read from file names is the head that Alembic computes."""
    from alembic.script import ScriptDirectory

    from vault.db.migrate import _config

    assert ScriptDirectory.from_config(_config()).get_current_head() == head_revision()


def _stamped(address: str, revision: str) -> None:
    tamper(address, "UPDATE alembic_version SET version_num = :revision", revision=revision)


@pytest.mark.parametrize(("revision", "kind"), [("0001", "older-schema"), ("9999", "newer-schema")])
def test_other_schemas_are_refused_politely(address: str, revision: str, kind: str) -> None:
    """An older vault says to upgrade it, a newer one to upgrade the program."""
    _stamped(address, revision)
    with pytest.raises(GearkeepError) as problem:
        Vault(address)
    assert problem.value.kind == kind and problem.value.hint


def test_a_failed_upgrade_changes_nothing(address: str) -> None:
    """The second migration meets tables that are there already; the vault stays as it was."""
    _stamped(address, "0001")
    opened = Vault(address, check=False)
    with pytest.raises(GearkeepError):
        upgrade(opened.engine)
    opened.close()
    _stamped(address, head_revision())
    assert _faults(address) == []


def test_a_vault_is_never_overwritten(address: str) -> None:
    """Making a vault where a file lies is refused."""
    with pytest.raises(UsageProblem):
        create(address, GENESIS)


