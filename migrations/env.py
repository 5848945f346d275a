"""Alembic's entry: runs on the connection that vault/db/migrate.py hands over, inside its transaction."""

from __future__ import annotations

from alembic import context

from vault.db.tables import metadata

connection = context.config.attributes["connection"]
context.configure(
    connection=connection, target_metadata=metadata, render_as_batch=True, transactional_ddl=True,
)
context.run_migrations()
