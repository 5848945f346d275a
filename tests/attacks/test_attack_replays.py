"""Attacks on the journal's tables that the audit names, and how fresh a checkpoint is. Rows of the table in DEVELOPERS.md."""

from __future__ import annotations

from attackers import checkpoint_of, words_of_audit
from click.testing import CliRunner
from small_vault import HEADING, PASSPHRASE, SmallVault, rows_of, write_rows
from sqlalchemy import Connection, text
from stored import ask, behind

from vault.actions.changes import move
from vault.cli.main import main
from vault.db.replay import Tree


def _allow_twice(connection: Connection) -> None:
    """Take away the rule that a statement stands in the journal once."""
    if connection.dialect.name == "postgresql":
        connection.execute(text("ALTER TABLE journal DROP CONSTRAINT uq_journal_digest"))
        return
    (made,), = connection.execute(text("SELECT sql FROM sqlite_master WHERE type = 'table' AND name = 'journal'"))
    connection.execute(text("ALTER TABLE journal RENAME TO kept"))
    connection.exec_driver_sql(made.replace(", \n\tCONSTRAINT uq_journal_digest UNIQUE (digest)", ""))
    connection.execute(text("INSERT INTO journal SELECT * FROM kept"))
    connection.execute(text("DROP TABLE kept"))


def test_a_statement_replayed_in_the_tables(small_on: SmallVault) -> None:
    """A signed load of stock once more, hashes and rows made to fit and the table's own rule taken away: it would count twice."""
    small_on.close()
    (digest,), = ask(small_on.address, "SELECT digest FROM journal WHERE log = 1")
    tree = Tree()
    tree.add(bytes(digest))
    with behind(small_on.address) as connection:
        _allow_twice(connection)
        connection.execute(text("INSERT INTO journal SELECT log, seq + 1, kind, key_id, digest, signed, :nodes FROM journal "
                                "WHERE log = 1"), {"nodes": tree.add(bytes(digest))})
        connection.execute(text("INSERT INTO movement (seq, number, act, store, model, quantity, bin, serial, tag, time_s, "
                                "delivery) SELECT seq + 1, number, act, store, model, quantity, bin, serial, tag, time_s, "
                                "delivery FROM movement"))
        if connection.dialect.name == "postgresql":
            connection.execute(text("UPDATE log_state SET size = size + 1 WHERE log = 1"))
    assert "replayed" in words_of_audit(small_on)


def test_an_old_checkpoint_says_how_old_it_is(small: SmallVault) -> None:
    """An audit tells how far the newest checkpoint reaches, the vault's own and the one given: behind it a freeze is not seen."""
    kept = checkpoint_of(small)
    size = small.sizes()[0]
    (small.folder / "kept.txt").write_text(kept, encoding="utf-8")
    move(small.desk("I01"), small.tags["CH-007"], place="Here", line=None, circuit=None, address=None)
    small.close()
    said = CliRunner().invoke(main, ["--vault", str(small.path), "audit", "--checkpoint", str(small.folder / "kept.txt")]).stdout
    assert f"The newest of them saw {size} of {size + 1} entries" in said
    assert f"The vault's newest checkpoint saw {size} of {size + 1} entries, the last of them of 2030-03-17." in said


def test_a_text_of_unseen_letters_in_a_schedule(small: SmallVault) -> None:
    """In a column that is only kept too: that row is refused by its column, and the other rows are signed."""
    rows = [f'{rows_of("CH-010")[0]},"a\u202eb"', f'{rows_of("CH-011")[0]},plain', f'{rows_of("CH-012")[0]},"\x1b[31m"']
    schedule = write_rows(small.folder / "evil.csv", rows, f"{HEADING},extra:rem")
    small.close()
    done = CliRunner(env={"GEARKEEP_PASSPHRASE": PASSPHRASE}).invoke(
        main, ["--vault", str(small.path), "--key", str(small.keys_folder / "I01.key"), "handover", str(schedule)])
    assert "1 new luminaires signed" in done.output and done.output.count("extra:rem") == 2
