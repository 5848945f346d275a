"""A vault's file, and sessions on it: one session is one transaction."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from sqlalchemy import Connection, Engine, func, select

from vault.db import tables
from vault.db.engine import blob, database_url, make_engine, plain_errors
from vault.db.migrate import check_schema, current_revision, head_revision, upgrade
from vault.db.past import TablePast
from vault.db.projections import insert_rows, rows_of
from vault.db.tables import MAIN, STOCK
from vault.errors import GearkeepError, UsageProblem
from vault.trust import merkle
from vault.trust.chain import check_place
from vault.trust.cose import digest as digest_of
from vault.trust.signers import Signers
from vault.trust.statements import Genesis, Kind
from vault.trust.verify import Statement, sign, verify, verify_genesis, verify_movement

SIGNER_KINDS = (int(Kind.GENESIS), int(Kind.GRANT), int(Kind.WITHDRAWAL))


class Session:
    """One transaction on a vault. Made by Vault.reading and Vault.writing."""

    def __init__(self, connection: Connection) -> None:
        self.connection = connection
        self._trust: tuple[Genesis, Signers] | None = None

    @property
    def genesis(self) -> Genesis:
        """The vault's first statement, verified."""
        return self._trusted()[0]

    @property
    def signers(self) -> Signers:
        """Who may sign, from the verified grants and withdrawals of the journal."""
        return self._trusted()[1]

    def _trusted(self) -> tuple[Genesis, Signers]:
        # Read on first use: an audit has to open a vault whose genesis or grants are damaged.
        if self._trust is None:
            j = tables.journal
            found = self.connection.execute(
                select(j.c.seq, j.c.signed).where(j.c.log == MAIN, j.c.kind.in_(SIGNER_KINDS)).order_by(j.c.seq)).all()
            if not found or found[0].seq != 0:
                raise GearkeepError("The vault has no genesis.", kind="not-a-vault",
                                    hint="Restore a backup, or make a new vault with: gearkeep init.")
            genesis: Genesis = verify_genesis(blob(found[0].signed)).body
            signers = Signers()
            signers.feed(genesis, 0)
            for row in found[1:]:
                known = verify(blob(row.signed), log_id=genesis.log_id, signers=signers, place=row.seq)
                signers.feed(known.body, row.seq)
            self._trust = genesis, signers
        return self._trust

    def log_id(self, log: int) -> bytes:
        """The id that statements of that log are bound to."""
        return self.genesis.log_id if log == MAIN else self.genesis.stock_log_id

    def size(self, log: int = MAIN) -> int:
        """How many entries a journal holds."""
        j = tables.journal
        last = self.connection.execute(select(func.max(j.c.seq)).where(j.c.log == log)).scalar()
        return 0 if last is None else int(last) + 1

    def read_node(self, log: int) -> Any:
        """A function (level, index) -> hash over the stored tree of a log."""
        j = tables.journal
        query = select(j.c.signed, j.c.nodes)

        def read(level: int, index: int) -> bytes:
            row_number, offset = merkle.node_location(level, index) if level else (index, 0)
            row = self.connection.execute(query.where(j.c.log == log, j.c.seq == row_number)).one()
            return blob(row.nodes)[offset : offset + 32] if level else digest_of(blob(row.signed))

        return read

    def root(self, log: int = MAIN, size: int | None = None) -> bytes:
        """The tree's root at a size (default: now)."""
        return merkle.root(self.size(log) if size is None else size, self.read_node(log))

    def place_of(self, digest: bytes) -> tuple[int, int] | None:
        """(log, place) of a statement, or None."""
        j = tables.journal
        row = self.connection.execute(select(j.c.log, j.c.seq).where(j.c.digest == digest)).first()
        return (row.log, row.seq) if row else None

    def statement(self, seq: int, log: int = MAIN) -> Statement:
        """The statement at a place, verified anew. Raises VerificationError, or GearkeepError when there is none."""
        j = tables.journal
        row = self.connection.execute(select(j.c.signed).where(j.c.log == log, j.c.seq == seq)).first()
        if row is None:
            raise GearkeepError(f"The journal has no entry {seq}.", kind="not-found", hint="Run: gearkeep audit.")
        signed = blob(row.signed)
        if log == STOCK:
            return verify_movement(signed, stock_log_id=self.genesis.stock_log_id, signers=self.signers, main_size=0)
        if seq == 0:
            return verify_genesis(signed)
        return verify(signed, log_id=self.genesis.log_id, signers=self.signers, place=seq)

    def append(self, kind: Kind, body: Any, key: Ed25519PrivateKey) -> Statement:
        """Sign a body and append it. Nothing is written unless it verifies and follows the journal's rules."""
        log = STOCK if kind is Kind.STOCK_MOVEMENT else MAIN
        return self.append_signed(sign(kind, body, key, log_id=self.log_id(log)), log)

    def append_signed(self, signed_bytes: bytes, log: int = MAIN) -> Statement:
        """Append bytes that somebody signed. Appending the same bytes twice changes nothing."""
        return self._append(signed_bytes, log, accept_all=False)

    def append_recovered(self, signed_bytes: bytes) -> Statement:
        """Append a record that came back from a label, without what stood before it in a lost journal.

        An audit names it until a recovery by the authority accepts it.
        """
        return self._append(signed_bytes, MAIN, accept_all=True)

    def _append(self, signed_bytes: bytes, log: int, *, accept_all: bool) -> Statement:
        held = self.place_of(digest_of(signed_bytes))
        if held is not None:
            return self.statement(held[1], held[0])
        seq = self.size(log)
        if log == STOCK:
            statement = verify_movement(signed_bytes, stock_log_id=self.genesis.stock_log_id, signers=self.signers,
                                        main_size=self._last_main_size(seq))
        else:
            statement = verify(signed_bytes, log_id=self.genesis.log_id, signers=self.signers, place=seq)
            check_place(statement, TablePast(self.connection, accept_all=accept_all))
        self.signers.feed(statement.body, seq)
        self._write(log, seq, statement)
        return statement

    def _last_main_size(self, stock_size: int) -> int:
        return int(self.statement(stock_size - 1, STOCK).body.main_size) if stock_size else 0

    def _write(self, log: int, seq: int, statement: Statement) -> None:
        nodes = merkle.nodes_for_append(seq, statement.digest, self.read_node(log))
        self.connection.execute(tables.journal.insert(), {
            "log": log, "seq": seq, "kind": int(statement.kind), "key_id": statement.key_id,
            "digest": statement.digest, "signed": statement.signed_bytes, "nodes": nodes,
        })
        insert_rows(self.connection, rows_of(seq, statement))

    def found(self, signed_genesis: bytes) -> None:
        """Write the first entry of a new vault."""
        self._write(MAIN, 0, verify_genesis(signed_genesis))


class Vault:
    """A vault's database. Opening it checks that its schema is this program's."""

    def __init__(self, address: str, *, check: bool = True) -> None:
        self.url = database_url(address)
        path = self.url.removeprefix("sqlite:///")
        if check and not Path(path).is_file():
            raise UsageProblem(f"There is no vault at {Path(path).resolve()}.", kind="not-a-vault",
                               hint="Are you in the right folder? Name the vault's file with --vault. (A new vault is "
                               "made once for a building: gearkeep init.)")
        self.engine: Engine = make_engine(self.url)
        if check:
            with plain_errors(), self.engine.connect() as connection, connection.begin():
                check_schema(connection)

    @contextmanager
    def _session(self, writing: bool) -> Iterator[Session]:
        with (plain_errors(), self.engine.connect().execution_options(writing=writing) as connection,
              connection.begin()):
            yield Session(connection)

    def reading(self) -> Any:
        """A session that only reads; it sees one state of the vault throughout."""
        return self._session(False)

    def writing(self) -> Any:
        """A session that holds the write lock; an exception inside leaves the vault as it was."""
        return self._session(True)

    def close(self) -> None:
        """Let go of the file."""
        self.engine.dispose()


def create(address: str, signed_genesis: bytes) -> Vault:
    """Make a new vault with its genesis. Raises UsageProblem when the file exists already."""
    url = database_url(address)
    path = Path(url.removeprefix("sqlite:///"))
    if path.exists():
        raise UsageProblem(f"{path} exists already.", kind="exists",
                           hint="A new vault needs a new file; an old one is never overwritten.")
    if not path.parent.is_dir():
        raise UsageProblem(f"The folder {path.parent} does not exist.", kind="cannot-open", hint="Make it first.")
    vault = Vault(address, check=False)
    upgrade(vault.engine)
    with vault.writing() as session:
        session.found(signed_genesis)
    return vault


def upgrade_schema(address: str) -> tuple[str | None, str]:
    """Upgrade a vault's schema. Returns the revision before and after. Raises GearkeepError for a newer one."""
    path = Path(database_url(address).removeprefix("sqlite:///"))
    if not path.is_file():
        raise UsageProblem(f"There is no vault at {path}.", kind="not-a-vault", hint="Give its file with --vault.")
    vault = Vault(address, check=False)
    with plain_errors(), vault.engine.connect() as connection, connection.begin():
        before = current_revision(connection)
        if before is None or before > head_revision():
            check_schema(connection)
    if before != head_revision():
        upgrade(vault.engine)
    vault.close()
    return before, head_revision()
