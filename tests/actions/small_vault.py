"""One small vault made from the demo's files, built once and copied for each test."""

from __future__ import annotations

import functools
import json
import random
import shutil
import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from click.testing import Result
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from sqlalchemy import select

from vault.actions.desk import Desk
from vault.actions.handover import hand_over
from vault.actions.luminaire import View, find_tag, view
from vault.actions.setup import add_signer, found_vault, load_catalogue
from vault.actions.stock import read_stock_state
from vault.actions.stock_load import load_stock
from vault.db import tables
from vault.db.session import Vault, create_empty
from vault.db.tables import PROJECTIONS
from vault.domain.record import Reason, Record
from vault.spares.stock_state import StockShelf
from vault.trust.capsule import capsule_text, link
from vault.trust.keys import public_bytes, read_key_file, write_key_file
from vault.trust.statements import Kind, Role
from vault.trust.verify import Statement

DEMO = Path(__file__).resolve().parents[2] / "demo"
HOST, SITE, PASSPHRASE, NOW_S = "lx.example.eu", "Test Baths", "dry socks 12", 1_900_000_000
SIGNERS = {"I01": Role.INSTALLER, "T01": Role.TECHNICIAN, "S01": Role.STORES, "P01": Role.APPROVER, "T02": Role.TECHNICIAN}

# Nineteen good luminaires in twenty rows (the one on the stairs has two gears), and the demo's own faulty rows.
GOOD = ("CH-001", "CH-002", "CH-003", "CH-004", "CH-006", "CH-007", "CH-008", "CH-009", "CO-001", "CO-002", "PH-001",
        "PH-002", "ST-N1", "CA-001", "CV-001", "YD-001", "EX-001", "ER-001", "CB1-01")
FAULTY = ("CH-005", "CO-003", "CO-004", "FO-006", "PH-011", "PH-027", "CA-009", "ER-007")

# Runs one command line: cli("show", "@CH-007", key="I01").
Cli = Callable[..., Result]

HEADING, *ROWS = (DEMO / "schedule.csv").read_text(encoding="utf-8").splitlines()
CATALOGUE = ((Kind.RATING, "types"), (Kind.DRIVER_MODEL, "drivers"), (Kind.CIRCUIT, "circuits"), (Kind.LINE, "lines"))
READBACK: Mapping[str, Any] = json.loads((DEMO / "readback_good.json").read_text(encoding="utf-8"))["gears"]["general"]
FAULTS = {fault["row"]: fault for fault in tomllib.loads((DEMO / "faults.toml").read_text(encoding="utf-8"))["fault"]}


def rows_of(*references: str) -> list[str]:
    """The demo schedule's rows with these references, in its order."""
    return [row for row in ROWS if row.split(",")[0] in references]


def write_rows(path: Path, rows: list[str], heading: str = HEADING) -> Path:
    """A schedule file of some rows."""
    path.write_text("\n".join([heading, *rows]) + "\n", encoding="utf-8")
    return path


def readback(**figures: object) -> dict[str, dict[str, object]]:
    """What a driver set like CH-007 (700 mA, address 6) reads, with other figures: `current_ma`, `short_address`."""
    paths = {"current_ma": "channels.1.current_ma", "short_address": "control.short_address"}
    return {"general": {**READBACK, **{paths[name]: figure for name, figure in figures.items()}}}


@dataclass(slots=True, kw_only=True)
class SmallVault:
    """A vault's file, everybody's keys, and the tags by drawing reference."""

    folder: Path
    keys_folder: Path
    keys: Mapping[str, Ed25519PrivateKey]
    tags: Mapping[str, str]
    server_address: str | None = None
    opened: list[Vault] = field(default_factory=list)

    @property
    def address(self) -> str:
        """What --vault is given."""
        return self.server_address or str(self.path)

    @property
    def path(self) -> Path:
        return self.folder / "vault.db"

    def open(self) -> Vault:
        """The vault, opened once until it is closed."""
        if not self.opened:
            self.opened.append(Vault(self.address))
        return self.opened[0]

    def desk(self, code: str | None = None) -> Desk:
        """A desk of one signer (None: of somebody without a key), with a fixed clock and fixed chance."""
        key = (lambda: self.keys[code]) if code else None
        return Desk(vault=self.open(), key_source=key, checkpoint_key_source=lambda: self.keys["checkpoint"],
                    now_s=lambda: NOW_S, random_bits=random.Random(self.folder.name).getrandbits)

    def seen(self, reference: str) -> View:
        """A luminaire as it stands."""
        with self.open().reading() as session:
            return view(session, find_tag(session, self.tags[reference]))

    def sizes(self) -> tuple[int, int]:
        """Entries in the main and the stock journal."""
        with self.open().reading() as session:
            return session.size(0), session.size(1)

    def shelves(self) -> tuple[StockShelf, ...]:
        """What lies in every bin."""
        return read_stock_state(self.desk()).shelves

    def usable(self, model: str, store: str | None = None) -> int:
        """Pieces of a model that may be issued."""
        return read_stock_state(self.desk(), [model]).usable(model, store)

    def label_text(self, reference: str) -> str:
        """What the newest label's large code says."""
        return capsule_text(link(HOST, self.tags[reference]), self.seen(reference).statement.signed_bytes)

    def sign(self, code: str, kind: Kind, body: Any) -> Statement:
        """Sign any statement past the actions."""
        with self.open().writing() as session:
            return session.append(kind, body, self.keys[code])

    def fork(self, *sides: Record) -> None:
        """Sign versions side by side that follow the same one."""
        for code, side in zip(("I01", "T01"), sides, strict=True):
            self.sign(code, Kind.RECORD, side)

    def in_conflict(self, reference: str) -> None:
        """The luminaire gets two newest versions with two currents, and is moved."""
        seen = self.seen(reference)
        side = replace(seen.record, version=seen.record.version + 1, predecessors=seen.statement.digest[:16], reason=Reason.MOVED,
                       place="Elsewhere")
        gear = side.gears[0]
        channel = replace(gear.settings.channels[0], current_ma=500)
        self.fork(side, replace(side, gears=(replace(gear, settings=replace(gear.settings, channels=(channel,))),)))

    def close(self) -> None:
        for vault in self.opened:
            vault.close()
        self.opened.clear()

    def copy_file(self, name: str) -> Path:
        """The vault's file as it is now, under another name."""
        self.close()
        return Path(shutil.copy(self.path, self.folder / name))


@functools.cache
def build(folder: Path) -> SmallVault:
    """The vault that every test starts from: catalogue, stock and nineteen luminaires."""
    folder.mkdir()
    phrase = PASSPHRASE.encode()
    founded = found_vault(str(folder / "vault.db"), host=HOST, site=SITE, keys_folder=folder / "keys", passphrase=phrase,
                          recovery_needed=1, recovery_count=1, now_s=NOW_S)
    founded.vault.close()
    chance = random.Random(4711)
    keys = {code: Ed25519PrivateKey.from_private_bytes(chance.randbytes(32)) for code in SIGNERS}
    for code in ("I01", "T01", "S01", "P01"):
        write_key_file(folder / "keys" / f"{code}.key", keys[code], phrase)
    keys |= {"authority": read_key_file(founded.authority_file, phrase),
             "checkpoint": read_key_file(founded.checkpoint_file, phrase)}
    small = SmallVault(folder=folder, keys_folder=folder / "keys", keys=keys, tags={})
    for code, role in SIGNERS.items():
        add_signer(small.desk("authority"), code=code, roles=frozenset({role}), public_key=public_bytes(keys[code]), name=None)
    for kind, name in CATALOGUE:
        load_catalogue(small.desk("authority"), kind, DEMO / f"{name}.toml")
    load_stock(small.desk("S01"), DEMO / "stock.csv", store="MAIN")
    schedule = write_rows(folder / "schedule.csv", rows_of(*GOOD))
    done = hand_over(small.desk("I01"), schedule)
    small.close()
    return replace(small, tags={one.reference: one.tag for one in done.accepted}, opened=[])


def copy_of(small: SmallVault, folder: Path) -> SmallVault:
    """The same vault in another folder; the key files stay where they are."""
    for name in ("vault.db", "schedule.csv"):
        shutil.copy(small.folder / name, folder / name)
    return replace(small, folder=folder, opened=[])


def copy_into(small: SmallVault, address: str) -> None:
    """Every row of the small vault at another address, where no vault is yet."""
    there, here = create_empty(address), Vault(str(small.path))
    order = [tables.journal, tables.checkpoint, tables.signer_name, *PROJECTIONS]
    with here.reading() as source, there.writing() as target:
        for table in order:
            rows = [dict(row._mapping) for row in source.connection.execute(select(table).order_by(*table.primary_key))]
            if rows:
                target.connection.execute(table.insert(), rows)
    here.close()
    there.close()


def on_server(small: SmallVault, address: str) -> SmallVault:
    """The small vault whose tables lie at another address."""
    return replace(small, server_address=address, opened=[])
