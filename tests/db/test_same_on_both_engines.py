"""The index is a function of the journal alone: both engines hold the same rows, byte for byte."""

from __future__ import annotations

from pathlib import Path

import make
from postgres_server import Server
from stored import ask, rows, tamper

from vault.db.audit import rebuild
from vault.db.session import Vault, create
from vault.db.tables import MAIN, PROJECTIONS, STOCK

CHAIN = make.chain()


def _made(address: str) -> str:
    vault = create(address, CHAIN["genesis"])
    for name, signed in CHAIN.items():
        vault.append_signed(signed, STOCK if name == "stock-movement" else MAIN)
    vault.close()
    return address


def _rebuilt(address: str) -> str:
    tamper(address, *(f"DELETE FROM {table.name}" for table in PROJECTIONS))
    vault = Vault(address)
    with vault.writing() as session:
        rebuild(session)
    vault.close()
    return address


def _journal(address: str) -> list[tuple[object, ...]]:
    return ask(address, "SELECT log, seq, kind, key_id, digest, signed, nodes FROM journal ORDER BY log, seq")


def test_the_same_statements_make_the_same_tables(server: Server, tmp_path: Path) -> None:
    """Tree hashes made by the server's function are those made here, and so is every index row, before and after a rebuild."""
    file, site = _made(str(tmp_path / "vault.db")), _made(server.url("sites", site="same"))
    assert _journal(file) == _journal(site) and rows(file) == rows(site)
    before = rows(file)
    assert rows(_rebuilt(file)) == rows(_rebuilt(site)) == before
