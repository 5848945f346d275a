"""A whole vault copied into a new place: page by page from file to file, else row by row; one snapshot either way."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Table, func, select

from vault.db import tables
from vault.db.bulk_rows import write_tuples
from vault.db.migrate import upgrade
from vault.db.plain_errors import plain_errors
from vault.db.proofs import root
from vault.db.session import Session, Vault, create_empty
from vault.db.tables import MAIN, STOCK
from vault.errors import GearkeepError, UsageProblem

Progress = Callable[[int, int], None]

LOT = 2000  # rows read and written together
_TABLES: tuple[Table, ...] = (tables.journal, tables.checkpoint, tables.signer_name, *tables.PROJECTIONS, tables.taken,
                             tables.taken_record)


@dataclass(frozen=True, slots=True, kw_only=True)
class State:
    """What a vault holds at one moment: each log's size and the root (32 bytes) over it."""

    sizes: dict[int, int]
    roots: dict[int, bytes]


def state_of(session: Session) -> State:
    """The sizes and roots as the stored tree says. Raises GearkeepError (not-found) when parts of the tree are missing."""
    sizes = {log: session.size(log) for log in (MAIN, STOCK)}
    return State(sizes=sizes, roots={log: root(session, size, log) for log, size in sizes.items()})


def copy_to_file(vault: Vault, part: Path, progress: Progress) -> State:
    """Copy a vault into a new file while others go on writing; returns what the copy has to hold.

    A file is copied by SQLite's backup in one step (in several it begins anew with each write of others); a site on a
    server row by row. The file is for its owner alone: it holds people's names.
    """
    os.close(os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600))
    with vault.reading() as session:
        state = state_of(session)
        if session.connection.dialect.name == "sqlite":
            source: Any = session.connection.connection.driver_connection
            with plain_errors(), closing(sqlite3.connect(part, isolation_level=None)) as target:
                source.backup(target, pages=-1)
            return state
        part.unlink()
        copy = create_empty(str(part))
        part.chmod(0o600)
        try:
            with copy.writing() as there:
                _copy_rows(session.connection, there.connection, progress)
        finally:
            copy.close()
    return state


def copy_to_site(source: Session, address: str, progress: Progress) -> None:
    """Copy a vault into a site of a PostgreSQL server that holds nothing: schema and rows in one transaction.

    Every row is read back and compared before the commit. Raises UsageProblem (exists), GearkeepError (damaged).
    """
    target = Vault(address, check=False)
    try:
        refuse_used_site(target)

        def fill(connection: Connection) -> None:
            if connection.execute(select(func.count()).select_from(tables.journal)).scalar():
                raise _used(target)
            _copy_rows(source.connection, connection, progress)
            _compare(source.connection, connection)

        upgrade(target.engine, then=fill)
    finally:
        target.close()


def refuse_used_site(vault: Vault) -> None:
    """Raises UsageProblem (exists) when a site of that name has any table."""
    with plain_errors(), vault.engine.connect() as connection, connection.begin():
        found = connection.exec_driver_sql("SELECT count(*) FROM pg_tables WHERE schemaname = %s", (vault.address.site,)).scalar()
    if found:
        raise _used(vault)


def _used(vault: Vault) -> UsageProblem:
    return UsageProblem(f"The site {vault.address.site} exists already.", kind="exists",
                        hint="Name a new site (?site=NAME); an old one is never overwritten.")


def _rows(connection: Connection, table: Table) -> Iterator[list[tuple[Any, ...]]]:
    found = connection.execution_options(yield_per=LOT).execute(select(table).order_by(*table.primary_key))
    return (list(map(tuple, some)) for some in found.partitions())


def _copy_rows(source: Connection, target: Connection, progress: Progress) -> None:
    total = sum(int(source.execute(select(func.count()).select_from(table)).scalar_one()) for table in _TABLES)
    done = 0
    for table in _TABLES:
        for some in _rows(source, table):
            write_tuples(target, table, some)
            done += len(some)
            progress(done, total)


def _compare(source: Connection, target: Connection) -> None:
    for table in _TABLES:
        ours, theirs = _rows(source, table), _rows(target, table)
        while True:
            mine, other = next(ours, None), next(theirs, None)
            if mine != other:
                raise GearkeepError(f"Table {table.name} did not arrive as it was sent.", kind="damaged",
                                    hint="Nothing was kept. Check the server's disk and memory, then try again.")
            if mine is None:
                break
