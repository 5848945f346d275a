"""Vaults to be damaged: the small vault, on either engine, of today or with an older schema."""

from __future__ import annotations

import itertools
import shutil
from collections.abc import Callable
from pathlib import Path

from crash_acts import fill
from postgres_server import Server
from small_vault import SmallVault, build, copy_into, copy_of, on_server
from sqlalchemy import inspect, select, text

from vault.db import tables
from vault.db.migrate import upgrade
from vault.db.session import Vault
from vault.db.tables import PROJECTIONS

OLD_REVISION = "0002"
_numbers = itertools.count(1)


def _age(source: str, address: str) -> None:
    """The same statements at another address, with an older schema."""
    here, there = Vault(source), Vault(address, check=False)
    upgrade(there.engine, OLD_REVISION)
    with here.reading() as read, there.writing() as written:
        target = written.connection
        for table in (tables.journal, tables.checkpoint, tables.signer_name, *PROJECTIONS):
            if not inspect(target).has_table(table.name):
                continue
            names = [column["name"] for column in inspect(target).get_columns(table.name)]
            rows = [dict(row._mapping) for row in read.connection.execute(
                select(*(table.c[name] for name in names)).order_by(*table.primary_key))]
            if rows:
                target.execute(text(f"INSERT INTO {table.name} ({', '.join(names)}) "
                                    f"VALUES ({', '.join(f':{name}' for name in names)})"), rows)
    here.close()
    there.close()


class Places:
    """Makes fresh vaults under a folder, on a server where one is given."""

    def __init__(self, folder: Path, server: Server | None = None) -> None:
        self._folder, self._server = folder, server
        built = build(folder / "small-vault")
        self._filled = self._new_folder(built)
        fill(self._filled)
        self._filled.close()
        self._old = self._filled.folder / "old.db"
        _age(str(self._filled.path), str(self._old))

    def _new_folder(self, small: SmallVault) -> SmallVault:
        folder = self._folder / f"place-{next(_numbers)}"
        folder.mkdir()
        return copy_of(small, folder)

    def today(self) -> SmallVault:
        """The small vault with a full store."""
        made = self._new_folder(self._filled)
        if self._server is None:
            return made
        address = self._server.url(site=f"place{next(_numbers)}")
        copy_into(self._filled, address)
        return on_server(made, address)

    def old(self) -> SmallVault:
        """The same, with the schema of an older program."""
        made = self._new_folder(self._filled)
        if self._server is None:
            shutil.copy(self._old, made.path)
            return made
        address = self._server.url(site=f"place{next(_numbers)}")
        _age(str(self._filled.path), address)
        return on_server(made, address)

    def of(self, act: str) -> Callable[[], SmallVault]:
        """What makes the vaults on which an act is killed."""
        return self.old if act == "migration" else self.today

