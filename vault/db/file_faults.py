"""What is wrong with an SQLite vault's file itself: its pages, its schema, values of a kind that their column never holds."""

from __future__ import annotations

import functools
from collections.abc import Iterator
from pathlib import Path

from sqlalchemy import Boolean, Column, Connection, Integer, LargeBinary, Table

from vault.db.address import Address
from vault.db.engine import make_engine
from vault.db.migrate import upgrade
from vault.db.replay import Fault
from vault.db.tables import metadata

# (type, name) -> (table that it belongs to, its SQL), as in sqlite_master.
_Schema = dict[tuple[str, str], tuple[str, str | None]]


def file_faults(connection: Connection, *, kinds: bool = True) -> Iterator[Fault]:
    """What SQLite's own check of the pages finds, then what it does not look at: the schema's text and kinds of values.

    kinds: look at every value too (two seconds for a million rows of a table). Nothing on PostgreSQL, which keeps that itself.
    """
    if connection.dialect.name != "sqlite":
        return
    for (line,) in connection.exec_driver_sql("PRAGMA integrity_check").fetchall():
        if line != "ok":
            yield Fault(what="file", where="database pages", why=str(line))
    yield from _schema_faults(_schema_of(connection))
    if kinds:
        yield from kind_faults(connection)


def kind_faults(connection: Connection) -> Iterator[Fault]:
    """Values of a kind that their column never holds, as a damaged page may give them; the first of each table."""
    if connection.dialect.name == "sqlite":
        for table in metadata.sorted_tables:
            yield from _kind_faults(connection, table)


def _schema_of(connection: Connection) -> _Schema:
    # A migration that copies a table leaves its name in quotes.
    return {(str(kind), str(name)): (str(table), sql and sql.replace('"', ""))
            for kind, name, table, sql in connection.exec_driver_sql("SELECT type, name, tbl_name, sql FROM sqlite_master")}


@functools.cache
def _due_schema() -> _Schema:
    """The schema of a vault that this program makes."""
    engine = make_engine(Address(url="sqlite:///:memory:", path=Path(":memory:")))
    upgrade(engine)
    with engine.connect() as connection:
        return _schema_of(connection)


def _schema_faults(found: _Schema) -> Iterator[Fault]:
    due = _due_schema()
    for kind, name in sorted(found.keys() | due.keys()):
        if (kind, name) not in found:
            yield Fault(what="file", where=f"schema, {kind} {name}", why="it is missing")
        elif (kind, name) not in due:
            # Statistics are SQLite's own, made by ANALYZE.
            if not name.startswith("sqlite_stat"):
                yield Fault(what="file", where=f"schema, {kind} {name}", why="this program makes no such thing")
        elif found[kind, name] != due[kind, name]:
            yield Fault(what="file", where=f"schema, {kind} {name}", why="it is not as this program makes it")


def _kind(column: Column[object]) -> str:
    kinds = ["integer"] if isinstance(column.type, Integer | Boolean) else ["text"]
    if isinstance(column.type, LargeBinary):
        # Bytes that somebody stored as text are read as the same bytes, and held against what is signed.
        kinds.append("blob")
    if column.nullable:
        kinds.append("null")
    return f"typeof({column.name}) IN ({', '.join(map(repr, kinds))})"


def _kind_faults(connection: Connection, table: Table) -> Iterator[Fault]:
    rows = connection.exec_driver_sql(
        f"SELECT rowid FROM {table.name} WHERE NOT ({' AND '.join(map(_kind, table.columns))}) LIMIT 20").fetchall()
    for (number,) in rows:
        yield Fault(what="file", where=f"table {table.name}, stored row {number}",
                    why="a value is of a kind that its column never holds; restore a backup")
