"""What lies in a vault's tables, read and changed behind the program's back, on either engine."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from sqlalchemy import Connection, Table, inspect, text

from vault.db.address import parse_address
from vault.db.engine import make_engine
from vault.db.tables import PROJECTIONS
from vault.db.triggers import SQLITE_TRIGGERS, table_of


@contextmanager
def behind(address: str) -> Iterator[Connection]:
    """A transaction of somebody who owns the database: no trigger stands in the way."""
    engine = make_engine(parse_address(address))
    with engine.connect().execution_options(writing=True) as connection, connection.begin():
        if engine.dialect.name == "postgresql":
            connection.exec_driver_sql("SET LOCAL session_replication_role = replica")
        else:
            for trigger in SQLITE_TRIGGERS:
                connection.exec_driver_sql(f"DROP TRIGGER IF EXISTS {trigger.split()[5]}")
        yield connection
        if engine.dialect.name == "sqlite":
            for trigger in SQLITE_TRIGGERS:
                # Whoever tampers puts them back: a missing one is told. An older schema lacks some tables.
                if inspect(connection).has_table(table_of(trigger)):
                    connection.exec_driver_sql(trigger)
    engine.dispose()


def tamper(address: str, *statements: str, **values: Any) -> None:
    """Run SQL as the database's owner; :names in it are bound to values."""
    with behind(address) as connection:
        for statement in statements:
            connection.execute(text(statement), {name: value for name, value in values.items() if f":{name}" in statement})


def ask(address: str, query: str, **values: Any) -> list[tuple[Any, ...]]:
    """The rows that a query gives."""
    engine = make_engine(parse_address(address))
    with engine.connect() as connection, connection.begin():
        found = [tuple(row) for row in connection.execute(text(query), values)]
    engine.dispose()
    return found


def rows(address: str) -> dict[str, list[tuple[Any, ...]]]:
    """Every row of every index table, in the order of its key."""
    return {table.name: ask(address, f"SELECT {', '.join(c.name for c in table.columns)} FROM {table.name} "
                                     f"ORDER BY {', '.join(c.name for c in table.primary_key)}") for table in PROJECTIONS}


def last_row(table: Table) -> str:
    """A condition that the last row of an index table meets alone."""
    last = f"seq = (SELECT max(seq) FROM {table.name})"
    if "number" not in table.columns:
        return last
    return f"{last} AND number = (SELECT max(number) FROM {table.name} WHERE {last})"
