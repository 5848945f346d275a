"""The schema's age: make it, check it, bring it up to date."""

from __future__ import annotations

from collections.abc import Callable
from importlib import resources
from pathlib import Path
from typing import Any, TypeAlias

from sqlalchemy import Connection, Engine, inspect

from vault.db import server
from vault.db.plain_errors import plain_errors
from vault.db.triggers import SQLITE_TRIGGERS, table_of
from vault.errors import GearkeepError

Then: TypeAlias = Callable[[Connection], object]


def migrations_folder() -> Path:
    """Where the migrations lie: inside an installed package, or at the top of a checkout."""
    packaged = Path(str(resources.files("vault.db"))) / "_migrations"
    return packaged if packaged.is_dir() else Path(__file__).resolve().parents[2] / "migrations"


def _config(connection: Connection | None = None) -> Any:
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", str(migrations_folder()))
    config.attributes["connection"] = connection
    return config


def head_revision() -> str:
    """The schema revision that this program works with.

    Read from the file names so that opening a vault does not load Alembic: the highest number is the head,
    and a test holds that Alembic agrees.
    """
    return max(path.stem.split("_")[0] for path in (migrations_folder() / "versions").glob("[0-9]*.py"))


def current_revision(connection: Connection) -> str | None:
    """The vault's schema revision, or None when it has no schema."""
    if not inspect(connection).has_table("alembic_version"):
        return None
    found = connection.exec_driver_sql("SELECT version_num FROM alembic_version").scalar()
    return str(found) if found is not None else None


def check_schema(connection: Connection) -> None:
    """Raises GearkeepError when the vault is older or newer than this program, or no vault at all."""
    found, head = current_revision(connection), head_revision()
    if found == head:
        return
    if found is None:
        raise GearkeepError("There is no vault here.", kind="not-a-vault",
                            hint="Check --vault, or make a new vault with: gearkeep init.")
    if found < head:
        raise GearkeepError(f"The vault's schema is older ({found}) than this program's ({head}).", kind="older-schema",
                            hint="Copy the vault's file, then run: gearkeep upgrade.")
    raise GearkeepError(f"The vault's schema ({found}) is newer than this program knows ({head}).",
                        kind="newer-schema", hint="Install the newer gearkeep; this one changes nothing here.")


def _after_sqlite(connection: Connection) -> None:
    # Batch mode copies a table and drops its triggers in silence.
    there = set(inspect(connection).get_table_names())
    for trigger in SQLITE_TRIGGERS:
        if table_of(trigger) in there:  # an older schema lacks some
            connection.exec_driver_sql(trigger)
    broken = connection.exec_driver_sql("PRAGMA foreign_key_check").fetchall()
    if broken:
        raise GearkeepError(f"The upgrade would break {len(broken)} references.", kind="damaged",
                            hint="Nothing was changed. Keep the file and restore a backup.")


def _upgrade_sqlite(connection: Connection, revision: str, then: Then | None) -> None:
    from alembic import command

    raw: Any = connection.connection.driver_connection
    # Batch migrations on a parent table fail with foreign_keys=ON; a BEGIN must come after the switch.
    raw.execute("PRAGMA foreign_keys=OFF")
    with connection.begin():
        command.upgrade(_config(connection), revision)
        _after_sqlite(connection)
        if then is not None:
            then(connection)
    raw.execute("PRAGMA foreign_keys=ON")


def _upgrade_postgresql(connection: Connection, revision: str, then: Then | None) -> None:
    from alembic import command

    with connection.begin():
        server.make_schema(connection, str(connection.exec_driver_sql("SHOW search_path").scalar_one()))
        command.upgrade(_config(connection), revision)
        server.install(connection)
        if then is not None:
            then(connection)


def upgrade(engine: Engine, revision: str = "head", then: Then | None = None) -> None:
    """Bring the schema to a revision in one transaction; a failure leaves the vault as it was.

    then: what else belongs to the step; it runs in the same transaction, behind the last migration.
    """
    with plain_errors(), engine.connect().execution_options(writing=True) as connection:
        (_upgrade_sqlite if engine.dialect.name == "sqlite" else _upgrade_postgresql)(connection, revision, then)
