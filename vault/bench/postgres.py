"""Appends from several programs at once to a PostgreSQL server."""

from __future__ import annotations

import secrets
import time
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from multiprocessing import get_context
from multiprocessing.managers import BaseProxy
from statistics import median
from typing import Any

from vault.bench.big_vault import BigVault, build
from vault.bench.measure import Figure
from vault.db.address import parse_address
from vault.db.engine import make_engine
from vault.db.queries import verified_heads
from vault.db.session import Vault
from vault.domain.tag import tag_from_bits, to_bytes
from vault.trust.statements import Kind
from vault.trust.verify import sign

WRITERS = 4


def new_luminaires(big: BigVault, count: int) -> list[bytes]:
    """First versions of luminaires that the vault does not have, signed."""
    vault = Vault(big.address)
    with vault.reading() as session:
        body, log_id = verified_heads(session, big.tags[0])[-1].statement.body, session.genesis.log_id
    vault.close()
    made: list[bytes] = []
    while len(made) < count:
        tag = tag_from_bits(secrets.randbits(40))
        if tag is not None:
            made.append(sign(Kind.RECORD, replace(body, tag=to_bytes(tag)), big.installer, log_id=log_id))
    return made


def _append_ours(address: str, statements: Sequence[bytes], start: Any) -> float:
    vault = Vault(address)
    vault.append_signed(statements[0])
    start.wait()
    begun = time.perf_counter()
    for signed in statements[1:]:
        vault.append_signed(signed)
    spent = time.perf_counter() - begun
    vault.close()
    return (len(statements) - 1) / spent


def _insert_rows(address: str, statements: Sequence[bytes], start: Any) -> float:
    engine = make_engine(parse_address(address))
    pooled = engine.raw_connection()
    raw: Any = pooled.driver_connection
    raw.autocommit = True
    raw.execute("SELECT 1")
    start.wait()
    begun = time.perf_counter()
    for signed in statements[1:]:
        raw.execute("INSERT INTO bench_rows VALUES (%s, %s)", (secrets.token_bytes(32), signed))
    spent = time.perf_counter() - begun
    raw.autocommit = False
    pooled.close()
    engine.dispose()
    return (len(statements) - 1) / spent


def _together(act: Callable[[str, Sequence[bytes], BaseProxy], float], work: Sequence[tuple[str, Sequence[bytes]]]) -> float:
    context = get_context("spawn")
    with context.Manager() as manager, ProcessPoolExecutor(len(work), mp_context=context) as pool:
        start = manager.Barrier(len(work))
        return sum(pool.map(act, [address for address, _ in work], [part for _, part in work], [start] * len(work)))


def append_postgres_figures(server: str, count: int, turns: int) -> list[Figure]:
    """Four writers on one log beside four that insert bare rows with the same durability; and on four logs.

    server: the address of a database on a server, with no site named; sites of the bench are made in it and taken away.
    """
    joined = f"{server}{'&' if '?' in server else '?'}site=bench_{secrets.token_hex(3)}_"
    sites = [build(f"{joined}{number}", luminaires=8, versions=1) for number in range(WRITERS)]
    one = sites[0]
    engine = make_engine(parse_address(one.address))
    try:
        with engine.connect().execution_options(writing=True) as connection, connection.begin():
            connection.exec_driver_sql("CREATE TABLE bench_rows (digest bytea PRIMARY KEY, signed bytea NOT NULL)")
        rows = new_luminaires(one, count + 1)
        turned = [(_together(_append_ours, [(one.address, new_luminaires(one, count + 1)) for _ in sites]),
                   _together(_insert_rows, [(one.address, rows) for _ in sites]),
                   _together(_append_ours, [(site.address, new_luminaires(site, count + 1)) for site in sites]))
                  for _ in range(turns)]
    finally:
        for site in sites:
            with engine.connect().execution_options(writing=True) as connection, connection.begin():
                connection.exec_driver_sql(f'DROP SCHEMA "{parse_address(site.address).site}" CASCADE')
        engine.dispose()
    ours, bare, four = (median(turn[column] for turn in turned) for column in range(3))
    return [
        Figure(name="append_postgres", value=ours, unit="a second", limit=bare, beside="four writers of bare rows",
               ratio=median(turn[0] / turn[1] for turn in turned), target=0.5, sense="at least"),
        Figure(name="append_postgres_four_logs", value=four, unit="a second", limit=ours, beside="four writers on one log",
               ratio=median(turn[2] / turn[0] for turn in turned), target=1.7, sense="at least"),
    ]
