"""Rights of a database role on a site: a role that works in the vault may add and read, never change or take away."""

from __future__ import annotations

from sqlalchemy import Engine

from vault.db import tables
from vault.db.plain_errors import plain_errors
from vault.errors import GearkeepError, UsageProblem


def _quoted(name: str) -> str:
    return '"' + name.replace('"', '""') + '"'


def grant_access(engine: Engine, role: str, *, writing: bool) -> list[str]:
    """Give a role what a signer (writing) or a reader needs on the site, and take everything else; the SQL that was run.

    Raises UsageProblem on SQLite, GearkeepError (not-found) when the server has no such role.
    """
    if engine.dialect.name != "postgresql":
        raise UsageProblem("A vault in a file has no roles.", kind="bad-vault",
                           hint="Give rights to the file and its folder, or name a site on a PostgreSQL server with --vault.")
    with plain_errors(), engine.connect().execution_options(writing=True) as connection, connection.begin():
        known = connection.exec_driver_sql("SELECT 1 FROM pg_roles WHERE rolname = %s", (role,)).first()
        if known is None:
            raise GearkeepError(f"The server has no role {role}.", kind="not-found",
                                hint="Make it first, for example with: createuser --pwprompt NAME.")
        schema = _quoted(str(connection.exec_driver_sql("SELECT current_schema()").scalar_one()))
        to = _quoted(role)
        added = ", ".join(f"{schema}.{table.name}" for table in (
            tables.journal, tables.checkpoint, tables.taken, tables.taken_record, *tables.PROJECTIONS))
        statements = [f"REVOKE ALL ON ALL TABLES IN SCHEMA {schema} FROM {to}", f"REVOKE ALL ON SCHEMA {schema} FROM {to}",
                      f"GRANT USAGE ON SCHEMA {schema} TO {to}", f"GRANT SELECT ON ALL TABLES IN SCHEMA {schema} TO {to}"]
        if writing:
            statements += [f"GRANT INSERT ON {added} TO {to}", f"GRANT UPDATE ON {schema}.log_state TO {to}",
                           f"GRANT INSERT, DELETE ON {schema}.signer_name TO {to}"]
        for statement in statements:
            connection.exec_driver_sql(statement)
    return statements
