"""The limits: what the bare libraries and the bare disk take for the same work."""

from __future__ import annotations

import os
import secrets
import sqlite3
import tempfile
import time
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path

import nacl.bindings

STATEMENT_BYTES = 300


def signed_messages(count: int, size: int = STATEMENT_BYTES) -> tuple[list[bytes], bytes]:
    """(messages with their signatures, public key) for libsodium."""
    public, private = nacl.bindings.crypto_sign_keypair()
    return [nacl.bindings.crypto_sign(secrets.token_bytes(size), private) for _ in range(count)], public


def verify_all(messages: Sequence[bytes], public: bytes) -> None:
    """Verify with libsodium and nothing else."""
    for message in messages:
        nacl.bindings.crypto_sign_open(message, public)


def _verify_some(count: int) -> float:
    messages, public = signed_messages(min(count, 500))
    begun = time.perf_counter()
    for start in range(0, count, len(messages)):
        verify_all(messages[: count - start], public)
    return time.perf_counter() - begun


def verify_rate(count: int, processes: int) -> float:
    """Signatures a second that so many processes verify together, each `count` of them."""
    if processes == 1:
        return count / _verify_some(count)
    with ProcessPoolExecutor(processes, mp_context=get_context("spawn")) as pool:
        list(pool.map(_verify_some, [1] * processes))
        return processes * count / max(pool.map(_verify_some, [count] * processes))


def fsync_seconds(folder: Path, turns: int) -> float:
    """How long it takes to append a page to a file and have it on the disk, once."""
    with tempfile.TemporaryFile(dir=folder) as file:
        page = secrets.token_bytes(4096)
        begun = time.perf_counter()
        for _ in range(turns):
            file.write(page)
            file.flush()
            os.fsync(file.fileno())
        return (time.perf_counter() - begun) / turns


def executemany_seconds(path: Path, rows: Sequence[tuple[str, Sequence[tuple[object, ...]]]], lot: int) -> float:
    """How long the bare driver takes to write the rows of each table, `lot` rows at a time, in one durable transaction."""
    raw = sqlite3.connect(path, isolation_level=None)
    for pragma in ("journal_mode=WAL", "synchronous=FULL", "foreign_keys=ON"):
        raw.execute(f"PRAGMA {pragma}")
    begun = time.perf_counter()
    raw.execute("BEGIN IMMEDIATE")
    for table, held in rows:
        insert = f"INSERT INTO {table} VALUES ({', '.join('?' * len(held[0]))})"
        for start in range(0, len(held), lot):
            raw.executemany(insert, held[start : start + lot])
    raw.execute("COMMIT")
    spent = time.perf_counter() - begun
    raw.close()
    return spent
