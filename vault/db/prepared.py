"""Queries on hot paths: composed by SQLAlchemy once for each engine, then run on the driver itself.

Composing a query costs more than running it, and so does what SQLAlchemy wraps around one row. Values come back as the
driver gives them: bytes, texts and integers are what they are, a flag is 0 or 1 on SQLite.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sqlalchemy import Connection, Select


class Prepared:
    """A query with named parameters (bindparam)."""

    def __init__(self, query: Select[Any]) -> None:
        self._query = query
        self._texts: dict[str, tuple[str, tuple[str, ...] | None, Mapping[str, Any]]] = {}

    def rows(self, connection: Connection, **values: Any) -> list[Any]:
        """Every row, as a tuple. Raises what the driver raises; sessions put it into words."""
        text, order, constants = self._texts.get(connection.dialect.name) or self._composed(connection)
        raw: Any = connection.connection.driver_connection
        given: Any = {**constants, **values} if constants else values
        if order is not None:
            given = tuple([given[name] for name in order])
        found: list[Any] = raw.execute(text, given).fetchall()
        return found

    def one(self, connection: Connection, **values: Any) -> Any:
        """The first row, or None."""
        found = self.rows(connection, **values)
        return found[0] if found else None

    def value(self, connection: Connection, **values: Any) -> Any:
        """The first column of the first row, or None."""
        found = self.rows(connection, **values)
        return found[0][0] if found else None

    def _composed(self, connection: Connection) -> tuple[str, tuple[str, ...] | None, Mapping[str, Any]]:
        made = self._query.compile(dialect=connection.dialect)
        constants = {name: value for name, value in made.params.items() if value is not None}
        order = tuple(made.positiontup) if made.positiontup is not None else None
        self._texts[connection.dialect.name] = str(made), order, constants
        return self._texts[connection.dialect.name]
