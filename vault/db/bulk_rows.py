"""Rows of the journal and its index written many at a time: executemany with tuples on SQLite, COPY on PostgreSQL."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache
from operator import itemgetter
from typing import Any

from sqlalchemy import Boolean, Connection, LargeBinary, SmallInteger, String, Table
from sqlalchemy.types import BigInteger, TypeEngine

from vault.db.projections import Row

CACHE_KIB = 65_536

_POSTGRESQL_TYPES: tuple[tuple[type[TypeEngine[Any]], str], ...] = (
    (SmallInteger, "int2"), (BigInteger, "int8"), (Boolean, "bool"), (LargeBinary, "bytea"), (String, "text"))


@dataclass(frozen=True, slots=True)
class _Way:
    """How rows come into a table: SQL for either engine, the columns' types on PostgreSQL, a row's values in their order."""

    insert: str
    copy: str
    types: tuple[str, ...]
    values: Callable[[dict[str, Any]], tuple[Any, ...]]


@cache
def _way(table: Table) -> _Way:
    names = [column.name for column in table.columns]
    joined = ", ".join(names)
    types = tuple(next(name for kind, name in _POSTGRESQL_TYPES if isinstance(column.type, kind)) for column in table.columns)
    return _Way(insert=f"INSERT INTO {table.name} ({joined}) VALUES ({', '.join('?' * len(names))})",
                copy=f"COPY {table.name} ({joined}) FROM STDIN (FORMAT BINARY)", types=types, values=itemgetter(*names))


@contextmanager
def roomy(connection: Connection) -> Iterator[None]:
    """Memory for the pages that many rows touch: an index over digests is written all over, and with SQLite's own 2 MB each
    of its pages goes to the disk many times.
    """
    if connection.dialect.name != "sqlite":
        yield
        return
    before = int(connection.exec_driver_sql("PRAGMA cache_size").scalar_one())
    connection.exec_driver_sql(f"PRAGMA cache_size={-CACHE_KIB}")
    try:
        yield
    finally:
        connection.exec_driver_sql(f"PRAGMA cache_size={before}")


def write_tuples(connection: Connection, table: Table, rows: Sequence[tuple[Any, ...]]) -> None:
    """Rows with a value for each column of the table, in its order."""
    if not rows:
        return
    way = _way(table)
    driver: Any = connection.connection.driver_connection
    if connection.dialect.name == "sqlite":
        driver.executemany(way.insert, rows)
        return
    with driver.cursor() as cursor, cursor.copy(way.copy) as copy:
        copy.set_types(way.types)
        for row in rows:
            copy.write_row(row)


def write_rows(connection: Connection, rows: Iterable[Row]) -> None:
    """Index rows, those of one table together."""
    grouped: dict[Table, list[tuple[Any, ...]]] = {}
    for table, row in rows:
        grouped.setdefault(table, []).append(_way(table).values(row))
    for table, found in grouped.items():
        write_tuples(connection, table, found)


__all__ = ["roomy", "write_rows", "write_tuples"]
