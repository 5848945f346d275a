"""Sessions on a vault: one session is one transaction."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from copy import deepcopy
from typing import TYPE_CHECKING, Any

from sqlalchemy import Connection, Engine, bindparam, func, select

from vault.db import server, tables
from vault.db.address import Address, parse_address
from vault.db.bulk_rows import write_rows, write_tuples
from vault.db.engine import blob, make_engine
from vault.db.migrate import check_schema, current_revision, head_revision, upgrade
from vault.db.plain_errors import connection_lost, plain_errors
from vault.db.prepared import Prepared
from vault.db.projections import rows_of
from vault.db.replica import Lag, lag
from vault.db.table_past import TablePast
from vault.db.tables import MAIN, STOCK
from vault.db.trusted import SIGNER_KINDS, Trusted, read_trusted
from vault.errors import GearkeepError, UsageProblem, VerificationError
from vault.trust import merkle
from vault.trust.chain import check_place
from vault.trust.cose import digest as digest_of
from vault.trust.signers import Signers
from vault.trust.statements import STOCK_KINDS, Genesis, Kind
from vault.trust.verify import Statement, sign, verify, verify_genesis, verify_movement

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

    from vault.db.one_append import Appender

_J = tables.journal.c
_LAST = Prepared(select(func.max(_J.seq)).where(_J.log == bindparam("log")))
_NODE = Prepared(select(_J.signed, _J.nodes).where(_J.log == bindparam("log"), _J.seq == bindparam("seq")))
_SIGNED = Prepared(select(_J.signed).where(_J.log == bindparam("log"), _J.seq == bindparam("seq")))
_PLACE = Prepared(select(_J.log, _J.seq).where(_J.digest == bindparam("digest")))


class Session:
    """One transaction on a vault. Made by Vault.reading and Vault.writing."""

    def __init__(self, connection: Connection, trusted: Trusted | None = None, address: Address | None = None) -> None:
        self.connection = connection
        # Where other processes find what this session sees; None where it may see what they cannot.
        self.address = address
        self.appended: bytes | None = None
        # How far into the stock journal the index was held against what is signed, what entries behind that, and of what models.
        self.stock_held = 0
        self.stock_entries_held: set[int] = set()
        self.stock_models_held: set[str] = set()
        self._known = trusted
        self._trust: Trusted | None = None

    @property
    def genesis(self) -> Genesis:
        """The vault's first statement, verified."""
        return self.trusted().genesis

    @property
    def signers(self) -> Signers:
        """Who may sign, from the verified grants and withdrawals of the journal."""
        return self.trusted().signers

    def trusted(self) -> Trusted:
        """Genesis and signers as this transaction sees them."""
        # Read on first use: an audit has to open a vault whose genesis or grants are damaged.
        if self._trust is None:
            self._trust = read_trusted(self.connection, self._known)
        return self._trust

    def log_id(self, log: int) -> bytes:
        """The id that statements of that log are bound to."""
        return self.genesis.log_id if log == MAIN else self.genesis.stock_log_id

    def size(self, log: int = MAIN) -> int:
        """How many entries a journal holds."""
        last = _LAST.value(self.connection, log=log)
        return 0 if last is None else int(last) + 1

    def read_node(self, log: int) -> Any:
        """A function (level, index) -> hash over the stored tree of a log."""

        def read(level: int, index: int) -> bytes:
            row_number, offset = merkle.node_location(level, index) if level else (index, 0)
            row = _NODE.one(self.connection, log=log, seq=row_number)
            if row is None:
                raise GearkeepError(f"The journal has no entry {row_number}: a part of its tree is missing.", kind="damaged",
                                    hint="Run: gearkeep audit. Restore a backup.")
            return blob(row[1])[offset : offset + 32] if level else digest_of(blob(row[0]))

        return read

    def root(self, log: int = MAIN, size: int | None = None) -> bytes:
        """The tree's root at a size (default: now)."""
        return merkle.root(self.size(log) if size is None else size, self.read_node(log))

    def place_of(self, digest: bytes) -> tuple[int, int] | None:
        """(log, place) of a statement, or None."""
        row = _PLACE.one(self.connection, digest=digest)
        return (row[0], row[1]) if row else None

    def statement(self, seq: int, log: int = MAIN) -> Statement:
        """The statement at a place, verified anew. Raises VerificationError, or GearkeepError when there is none."""
        row = _SIGNED.one(self.connection, log=log, seq=seq)
        if row is None:
            raise GearkeepError(f"The journal has no entry {seq}.", kind="not-found", hint="Run: gearkeep audit.")
        return self.verified(blob(row[0]), seq, log)

    def verified(self, signed: bytes, seq: int, log: int = MAIN) -> Statement:
        """What the signed bytes of an entry say, verified anew. Raises VerificationError."""
        if log == STOCK:
            return verify_movement(signed, stock_log_id=self.genesis.stock_log_id, signers=self.signers, main_size=0)
        if seq == 0:
            return verify_genesis(signed)
        return verify(signed, log_id=self.genesis.log_id, signers=self.signers, place=seq)

    def append(self, kind: Kind, body: Any, key: Ed25519PrivateKey) -> Statement:
        """Sign a body and append it. Nothing is written unless it verifies and follows the journal's rules."""
        log = STOCK if kind in STOCK_KINDS else MAIN
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
        statement = self.checked(signed_bytes, seq, log, accept_all=accept_all)
        if statement.kind in SIGNER_KINDS:
            self.feed(statement, seq)
        self._write(log, seq, statement)
        return statement

    def checked(self, signed_bytes: bytes, seq: int, log: int, *, accept_all: bool = False) -> Statement:
        """Signed bytes as they would stand at a place: signature, role and the rules of the chain hold there.

        Raises VerificationError.
        """
        if log == STOCK:
            last, most = int(self.statement(seq - 1, STOCK).body.main_size) if seq else 0, self.size(MAIN)
            if last > most:
                raise VerificationError(
                    f"Entry {seq - 1} of the stock journal names main size {last}, and the main journal holds {most} entries: "
                    "nothing can stand behind it.", kind="bad-chain",
                    hint="One of the two was changed behind the program's back. Run: gearkeep audit. Restore a backup.")
            return verify_movement(signed_bytes, stock_log_id=self.genesis.stock_log_id, signers=self.signers, main_size=last,
                                   most=most, now_s=int(time.time()))
        # A record from a label may well be of a signer whose time is over by now.
        now_s = None if accept_all else int(time.time())
        statement = verify(signed_bytes, log_id=self.genesis.log_id, signers=self.signers, place=seq, now_s=now_s)
        check_place(statement, TablePast(self.connection, accept_all=accept_all))
        return statement

    def feed(self, statement: Statement, seq: int) -> None:
        """Let a statement that was appended in this transaction count for those behind it."""
        # A copy: what other transactions know must not change with one that may still be taken back.
        now = self.trusted()
        signers = deepcopy(now.signers)
        signers.feed(statement.body, seq, by=statement.key_id)
        self._trust = Trusted(genesis=now.genesis, signers=signers, read=seq + 1)

    def _write(self, log: int, seq: int, statement: Statement) -> None:
        self.appended = statement.digest
        if self.connection.dialect.name == "postgresql":
            server.append(self.connection, log, seq, statement, rows_of(seq, statement))
            return
        nodes = merkle.nodes_for_append(seq, statement.digest, self.read_node(log))
        write_tuples(self.connection, tables.journal, [(log, seq, int(statement.kind), statement.key_id, statement.digest,
                                                        statement.signed_bytes, nodes)])
        write_rows(self.connection, rows_of(seq, statement))

    def found(self, signed_genesis: bytes) -> None:
        """Write the first entry of a new vault."""
        self._write(MAIN, 0, verify_genesis(signed_genesis))


class Vault:
    """A vault's database. Opening it checks that its schema is this program's.

    read_address: a copy that follows the main server and may be a little behind; what only reads goes there.
    """

    def __init__(self, address: str, *, check: bool = True, read_address: str | None = None) -> None:
        self.address = parse_address(address)
        if check and self.address.path is not None and not self.address.path.is_file():
            raise UsageProblem(f"There is no vault at {self.address.path.resolve()}.", kind="not-a-vault",
                               hint="Are you in the right folder? Name the vault's file with --vault. (A new vault is "
                               "made once for a building: gearkeep init.)")
        self.engine: Engine = make_engine(self.address)
        self.read_address = parse_address(read_address) if read_address else None
        self.read_engine: Engine | None = self._copy(self.read_address) if self.read_address else None
        self._trusted: Trusted | None = None
        self._appender: Appender | None = None
        if check:
            with plain_errors(), (self.read_engine or self.engine).connect() as connection, connection.begin():
                check_schema(connection)

    def _copy(self, place: Address) -> Engine:
        if self.address.site is None or place.site is None:
            raise UsageProblem("Only a site on a PostgreSQL server has a replica to read from.", kind="bad-vault",
                               hint="Leave --read-url off, or name the site on both servers.")
        return make_engine(place)

    @contextmanager
    def _session(self, writing: bool) -> Iterator[Session]:
        engine = self.engine if writing or self.read_engine is None else self.read_engine
        with plain_errors(), engine.connect().execution_options(writing=writing) as connection:
            with connection.begin() as transaction:
                if writing and connection.dialect.name == "postgresql":
                    server.lock_site(connection)
                place = None if writing else self.address if engine is self.engine else self.read_address
                session = Session(connection, self._trusted, place)
                yield session
                self._commit(transaction, session)
            if session.appended is None and session._trust is not None:
                self._trusted = session._trust

    def _commit(self, transaction: Any, session: Session) -> None:
        try:
            transaction.commit()
        except Exception as problem:
            if session.appended is None or not connection_lost(problem) or not self._arrived(session.appended):
                raise

    def _arrived(self, digest: bytes) -> bool:
        """Whether a statement is in the journal, asked anew after the connection went away in the middle of a commit."""
        try:
            with self.engine.connect().execution_options(writing=True) as connection, connection.begin():
                # Behind the lock: the server may still be at work on the commit whose answer was lost.
                server.lock_site(connection)
                return Session(connection).place_of(digest) is not None
        except Exception as problem:
            raise GearkeepError(
                "The connection was lost in the middle of a commit, and the server does not answer.", kind="outcome-unknown",
                hint="It was kept whole or not at all. Before doing it again, look whether it is there: gearkeep history TAG, "
                     "gearkeep stock list.") from problem

    def reading(self) -> Any:
        """A session that only reads; it sees one state of the vault throughout."""
        return self._session(False)

    def writing(self) -> Any:
        """A session that holds the write lock; an exception inside leaves the vault as it was."""
        return self._session(True)

    def append_signed(self, signed_bytes: bytes, log: int = MAIN) -> Statement:
        """Append one statement that somebody signed, in a transaction of its own. The same bytes twice change nothing.

        On PostgreSQL everything is checked before the lock is asked for; the server then makes sure that what was checked
        still holds. A connection lost on the way is made anew and the server asked for the statement's digest.
        """
        if self.engine.dialect.name == "postgresql":
            from vault.db.one_append import Appender

            if self._appender is None:
                self._appender = Appender(self.engine)
            with plain_errors():
                return self._appender.append(signed_bytes, log)
        session: Session
        with self.writing() as session:
            return session.append_signed(signed_bytes, log)

    def lag(self) -> Lag:
        """How far what is read is behind the main server. Raises GearkeepError when the two are not one vault."""
        return Lag(entries=0, seconds=None) if self.read_engine is None else lag(self.engine, self.read_engine)

    def close(self) -> None:
        """Let go of the database."""
        if self._appender is not None:
            self._appender.close()
        self.engine.dispose()
        if self.read_engine is not None:
            self.read_engine.dispose()


def _refuse_used(address: str) -> None:
    place = parse_address(address)
    if place.path is not None:
        if place.path.exists():
            raise UsageProblem(f"{place.path} exists already.", kind="exists",
                               hint="A new vault needs a new file; an old one is never overwritten.")
        if not place.path.parent.is_dir():
            raise UsageProblem(f"The folder {place.path.parent} does not exist.", kind="cannot-open", hint="Make it first.")
        return
    engine = make_engine(place)
    with plain_errors(), engine.connect() as connection, connection.begin():
        used = connection.exec_driver_sql("SELECT count(*) FROM pg_tables WHERE schemaname = %s", (place.site,)).scalar()
    engine.dispose()
    if used:
        raise UsageProblem(f"The site {place.site} exists already.", kind="exists",
                           hint="A new vault needs a site of a new name (?site=NAME); an old one is never overwritten.")


def create_empty(address: str, then: Callable[[Session], object] | None = None) -> Vault:
    """Make the tables of a new vault, without its genesis. Raises UsageProblem when the place is in use.

    then: what else belongs to the step, in the same transaction.
    """
    _refuse_used(address)
    vault = Vault(address, check=False)
    upgrade(vault.engine, then=None if then is None else lambda connection: then(Session(connection)))
    return vault


def create(address: str, signed_genesis: bytes) -> Vault:
    """Make a new vault with its genesis. Raises UsageProblem when the file or site exists already."""
    return create_empty(address, lambda session: session.found(signed_genesis))


def upgrade_schema(address: str, then: Callable[[Session], object]) -> tuple[str | None, str]:
    """Upgrade a vault's schema, and do `then` in the same transaction. Returns the revision before and after.

    Raises GearkeepError for a newer one.
    """
    place = parse_address(address)
    if place.path is not None and not place.path.is_file():
        raise UsageProblem(f"There is no vault at {place.path}.", kind="not-a-vault", hint="Give its file with --vault.")
    vault = Vault(address, check=False)
    with plain_errors(), vault.engine.connect() as connection, connection.begin():
        before = current_revision(connection)
        if before is None or before > head_revision():
            check_schema(connection)
    if before != head_revision():
        upgrade(vault.engine, then=lambda connection: then(Session(connection)))
    vault.close()
    return before, head_revision()


__all__ = ["SIGNER_KINDS", "Session", "Vault", "create", "create_empty", "upgrade_schema"]
