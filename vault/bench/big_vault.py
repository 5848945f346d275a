"""An invented estate of any size: real signatures, chain, tree and index, written straight into the tables."""

from __future__ import annotations

import random
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from hashlib import sha256
from itertools import islice
from multiprocessing import get_context
from typing import Any

import cbor2
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from vault.db import tables
from vault.db.audit import Progress, quiet
from vault.db.projections import rows_of
from vault.db.replay import Tree
from vault.db.session import Session, Vault, create
from vault.domain.rating import GearRating, Isolation, Module, Mounting, ProtectionClass, Rating, essentials_of
from vault.domain.record import Baseline, Basis, Reason, Record, TypeRef
from vault.domain.settings import Channel, Control, Duty, Gear, Output, Protocol, Settings
from vault.domain.site import Line, LineKind
from vault.domain.tag import from_bytes, tag_from_bits, to_bytes
from vault.trust import cose
from vault.trust.keys import public_bytes
from vault.trust.mapping import to_plain_cbor
from vault.trust.need_digest import need_digest
from vault.trust.statements import FORMAT_VERSION, Genesis, Grant, Kind, Role
from vault.trust.verify import Statement, sign

TIME_S = 1_790_000_000
PER_LINE = 64
BATCH = 2000


@dataclass(frozen=True, slots=True, kw_only=True)
class BigVault:
    """A made vault. tags: of its luminaires, in the order of the first versions. statements: in the main journal."""

    address: str
    tags: list[str]
    statements: int
    installer_seed: bytes

    @property
    def installer(self) -> Ed25519PrivateKey:
        """The key that signed every record."""
        return Ed25519PrivateKey.from_private_bytes(self.installer_seed)

    @property
    def installer_public(self) -> bytes:
        """Its public half, 32 bytes."""
        return public_bytes(self.installer)


def _seed(address: str, name: str) -> bytes:
    return sha256(f"gearkeep bench: {address}: {name}".encode()).digest()


def rating() -> Rating:
    """A plain downlight of constant current."""
    module = Module(current_min_ma=200, current_max_ma=700, module_max_ma=800, voltage_low_mv=33_000, voltage_high_mv=42_000,
                    power_max_mw=30_000)
    gear = GearRating(duty=Duty.GENERAL, output=Output.CONSTANT_CURRENT, isolation=Isolation.SELV, mounting=Mounting.BUILT_IN,
                      protocols=frozenset({Protocol.DALI, Protocol.NONE}), modules=(module,))
    return Rating(code="DL28", revision=1, title="Downlight 28 W", protection_class=ProtectionClass.CLASS_II, ta_c=35,
                  touchable=True, power_max_mw=33_000, gears=(gear,))


def _gear(address: int) -> Gear:
    channel = Channel(current_ma=700, voltage_min_mv=33_000, voltage_max_mv=42_000, power_max_mw=30_000)
    control = Control(protocol=Protocol.DALI, short_address=address, groups=0b1010, min_level=85, system_failure_level=254)
    return Gear(duty=Duty.GENERAL, model="CC-40-A", settings=Settings(
        output=Output.CONSTANT_CURRENT, channels=(channel,), control=control))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Job:
    """Luminaires of one batch to be signed: (number, tag, digest prefix of the version before, or none)."""

    version: int
    luminaires: tuple[tuple[int, bytes, bytes | None], ...]
    rating_prefix: bytes
    log_id: bytes
    seed: bytes


def _record(job: _Job, number: int, tag: bytes, before: bytes | None) -> Record:
    return Record(
        tag=tag, version=job.version, predecessors=before, fixture_type=TypeRef(code="DL28", revision=1,
                                                                                digest=job.rating_prefix),
        essentials=essentials_of(rating()), time_s=TIME_S + job.version,
        reason=Reason.HANDOVER if job.version == 1 else Reason.SETTINGS_CHANGED, basis=Basis.STATED,
        baseline=Baseline.NOT_RECORDED, place=f"Floor {number // 400}, room {number % 400}", line=f"N{number // PER_LINE}",
        reference=f"E{number:07d}", gears=(_gear(number % PER_LINE),))


def _sign_batch(job: _Job) -> list[bytes]:
    """Signed bytes of each luminaire. The payload's map is made once for each address and its changing fields filled in."""
    key = Ed25519PrivateKey.from_private_bytes(job.seed)
    aad = cose.external_aad(FORMAT_VERSION, job.log_id)
    plain: dict[int, dict[int, Any]] = {}
    signed = []
    for number, tag, before in job.luminaires:
        slot = number % PER_LINE
        if slot not in plain:
            plain[slot] = to_plain_cbor(_record(job, number, tag, before))
        payload = plain[slot]
        payload[1], payload[10] = tag, f"Floor {number // 400}, room {number % 400}"
        payload[11], payload[13] = f"N{number // PER_LINE}", f"E{number:07d}"
        if before is not None:
            payload[3] = before
        signed.append(cose.sign_statement(int(Kind.RECORD), cbor2.dumps(payload), key, aad))
    return signed


def _rows(job: _Job, seq: int, luminaire: tuple[int, bytes, bytes | None], digest: bytes, signer: bytes) -> Any:
    number, tag, before = luminaire
    name = from_bytes(tag)
    return ((seq, name, job.version, digest, digest[:16], "DL28", 1, f"Floor {number // 400}, room {number % 400}",
             f"N{number // PER_LINE}", None, f"E{number:07d}",
             int(Reason.HANDOVER if job.version == 1 else Reason.SETTINGS_CHANGED), TIME_S + job.version, None, signer),
            None if before is None else (seq, 1, before),
            (seq, 1, int(Duty.GENERAL), "CC-40-A", None, number % PER_LINE, None, None,
             need_digest(_gear(number % PER_LINE).settings)))


class _Writer:
    """Adds signed statements of a log in order."""

    def __init__(self, session: Session, tree: Tree) -> None:
        self._session, self.tree = session, tree
        self._marks = {table: f"INSERT INTO {table.name} VALUES ({', '.join('?' * len(table.columns))})" for table in (
            tables.journal, tables.record, tables.record_predecessor, tables.gear)}

    def add(self, statement: Statement) -> None:
        """One statement of any kind, with its index rows."""
        seq = self.tree.size
        self._session.connection.execute(tables.journal.insert(), {
            "log": tables.MAIN, "seq": seq, "kind": int(statement.kind), "key_id": statement.key_id,
            "digest": statement.digest, "signed": statement.signed_bytes, "nodes": self.tree.add(statement.digest)})
        for table, row in rows_of(seq, statement):
            self._session.connection.execute(table.insert(), row)

    def add_records(self, job: _Job, signed_bytes: list[bytes], signer: bytes) -> list[bytes]:
        """A batch of records; the digest prefixes that the next versions name."""
        journal, records, before, gears, prefixes = [], [], [], [], []
        for luminaire, signed in zip(job.luminaires, signed_bytes, strict=True):
            digest = cose.digest(signed)
            seq = self.tree.size
            journal.append((tables.MAIN, seq, int(Kind.RECORD), signer, digest, signed, self.tree.add(digest)))
            record, predecessor, gear = _rows(job, seq, luminaire, digest, signer)
            records.append(record)
            gears.append(gear)
            if predecessor is not None:
                before.append(predecessor)
            prefixes.append(digest[:16])
        for table, rows in ((tables.journal, journal), (tables.record, records), (tables.record_predecessor, before),
                            (tables.gear, gears)):
            if rows:
                self._session.connection.exec_driver_sql(self._marks[table], rows)
        return prefixes


def _batches(items: Iterable[Any]) -> Iterator[list[Any]]:
    rest = iter(items)
    while batch := list(islice(rest, BATCH)):
        yield batch


def _found(address: str) -> tuple[Vault, bytes]:
    authority = Ed25519PrivateKey.from_private_bytes(_seed(address, "authority"))
    checkpoint = Ed25519PrivateKey.from_private_bytes(_seed(address, "checkpoint"))
    log_id = _seed(address, "log")[:16]
    genesis = Genesis(log_id=log_id, stock_log_id=_seed(address, "stock")[:16], authority_key=public_bytes(authority),
                      checkpoint_key=public_bytes(checkpoint), recovery_keys=public_bytes(checkpoint), recovery_needed=1,
                      host="LX.EXAMPLE.EU", site="Bench", time_s=TIME_S)
    vault = create(address, sign(Kind.GENESIS, genesis, authority, log_id=log_id))
    with vault.writing() as session:
        session.append(Kind.GRANT, Grant(public_key=public_bytes(Ed25519PrivateKey.from_private_bytes(
            _seed(address, "installer"))), roles=frozenset({Role.INSTALLER}), code="I01", time_s=TIME_S), authority)
        session.append(Kind.RATING, rating(), authority)
    return vault, log_id


def _tags(address: str, count: int) -> list[str]:
    chance, tags = random.Random(_seed(address, "tags")), dict[str, None]()
    while len(tags) < count:
        tag = tag_from_bits(chance.getrandbits(40))
        if tag is not None:
            tags[tag] = None
    return list(tags)


def build(address: str, *, luminaires: int, versions: int, lines: int | None = None, processes: int = 1,
          progress: Progress = quiet) -> BigVault:
    """Make a vault where none is: a rating, lines (one for each 64 luminaires), so many versions of each luminaire.

    On PostgreSQL the statements go through the server function, so keep the numbers small there.
    """
    vault, log_id = _found(address)
    seed, tags = _seed(address, "installer"), _tags(address, luminaires)
    count = -(-luminaires // PER_LINE) if lines is None else lines
    bodies = [Line(name=f"N{number}", revision=1, kind=LineKind.DALI, addresses_from=0, gear_max=PER_LINE)
              for number in range(count)]
    with vault.reading() as session:
        rating_prefix = session.statement(2).digest[:8]
    if vault.engine.dialect.name != "sqlite":
        bare = tuple((number, to_bytes(tag), None) for number, tag in enumerate(tags))
        _append_each(vault, bodies, [_Job(version=version, luminaires=bare, rating_prefix=rating_prefix, log_id=log_id, seed=seed)
                                    for version in range(1, versions + 1)])
    else:
        _write(vault, bodies, tags, versions, processes, progress,
               lambda version, part: _Job(version=version, luminaires=tuple(part), rating_prefix=rating_prefix, log_id=log_id,
                                          seed=seed))
    vault.close()
    return BigVault(address=address, tags=tags, statements=3 + count + luminaires * versions, installer_seed=seed)


def _append_each(vault: Vault, lines: list[Line], jobs: list[_Job]) -> None:
    with vault.writing() as session:
        for line in lines:
            session.append(Kind.LINE, line, Ed25519PrivateKey.from_private_bytes(jobs[0].seed))
        before: list[bytes | None] = [None] * len(jobs[0].luminaires)
        for job in jobs:
            with_before = replace(job, luminaires=tuple((n, tag, before[n]) for n, tag, _ in job.luminaires))
            before = [session.append_signed(signed).digest[:16] for signed in _sign_batch(with_before)]


def _write(vault: Vault, lines: list[Line], tags: list[str], versions: int, processes: int, progress: Progress,
           job_of: Callable[[int, list[Any]], _Job]) -> None:
    total, done = len(tags) * versions, 0
    key = Ed25519PrivateKey.from_private_bytes(job_of(1, []).seed)
    with vault.writing() as session, ProcessPoolExecutor(processes, mp_context=get_context("spawn")) as pool:
        tree = Tree()
        for place in range(3):
            tree.add(session.statement(place).digest)
        writer = _Writer(session, tree)
        for line in lines:
            writer.add(session.verified(sign(Kind.LINE, line, key, log_id=session.genesis.log_id), 2**40))
        signer = session.signers.everyone()[-1].key_id
        before: list[bytes | None] = [None] * len(tags)
        for version in range(1, versions + 1):
            luminaires = ((number, to_bytes(tag), before[number]) for number, tag in enumerate(tags))
            after: list[bytes | None] = []
            for batches in _groups(_batches(luminaires), processes * 2):
                jobs = [job_of(version, batch) for batch in batches]
                for job, signed in zip(jobs, pool.map(_sign_batch, jobs), strict=True):
                    after += writer.add_records(job, signed, signer)
                    done += len(signed)
                    progress(done, total)
            before = after


def _groups(batches: Iterator[list[Any]], count: int) -> Iterator[list[list[Any]]]:
    while group := list(islice(batches, count)):
        yield group
