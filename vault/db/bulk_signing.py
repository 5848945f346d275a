"""Many payloads signed, and every signature verified, beside the process that writes them down.

Both are C code of some ten microseconds each, so that threads would spend their time waiting for the interpreter;
lots go to other processes instead. The signer's seed goes to them through a pipe of the same user and to no disk.
"""

from __future__ import annotations

import os
import signal
import sys
import threading
from collections import deque
from collections.abc import Iterator, Sequence
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass, field
from itertools import islice
from multiprocessing import connection, context, get_context, parent_process
from typing import TypeVar

import cbor2
import nacl.bindings

from vault.errors import GearkeepError
from vault.trust import cbor, cose
from vault.trust.keys import key_id, verify_signature

B = TypeVar("B")
Lot = tuple[list[B], list[bytes]]

SERIAL_LOTS = 1  # lots that are signed here sooner than another process has started
_AHEAD = 3  # lots on their way for each process
_MOST_WORKERS = 4


@dataclass(frozen=True, slots=True)
class Order:
    """What is the same for every payload: the key's seed (32 bytes), the kind, what the signature is bound to."""

    seed: bytes = field(repr=False)
    kind: int
    external_aad: bytes


class LotSigner:
    """Signs payloads as `vault.trust.cose.sign_statement` does, and verifies each signature before giving it away."""

    def __init__(self, order: Order) -> None:
        self._public, self._secret = nacl.bindings.crypto_sign_seed_keypair(order.seed)
        self._aad = order.external_aad
        self._protected = cbor.encode({cose.HEADER_ALG: cose.ALG_ED25519, cose.HEADER_KID: key_id(self._public),
                                       cose.HEADER_KIND: order.kind}, negative_keys=True)

    def __call__(self, payloads: Sequence[bytes]) -> list[bytes]:
        """Signed statements in the order of the payloads. Raises VerificationError (bad-signature)."""
        signed = []
        for payload in payloads:
            message = cose.sig_structure(self._protected, self._aad, payload)
            signature = nacl.bindings.crypto_sign(message, self._secret)[: nacl.bindings.crypto_sign_BYTES]
            verify_signature(self._public, message, signature)
            signed.append(cbor2.dumps([self._protected, {}, payload, signature]))
        return signed


_signer: LotSigner | None = None


def _begin(order: Order) -> None:
    """In a new process: the caller alone hears Ctrl-C, and no process outlives its caller."""
    global _signer
    _signer = LotSigner(order)
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    caller = parent_process()
    if caller is not None:
        threading.Thread(target=_end_with, args=(caller.sentinel,), daemon=True).start()


def _end_with(sentinel: int) -> None:
    connection.wait([sentinel])
    os._exit(1)


def _sign(payloads: list[bytes]) -> list[bytes]:
    if _signer is None:
        raise RuntimeError("the process has no key")
    return _signer(payloads)


def _context() -> context.BaseContext:
    """Never plain fork: the caller has an open database."""
    if sys.platform in ("win32", "darwin"):
        return get_context("spawn")
    server = get_context("forkserver")
    server.set_forkserver_preload([__name__])
    return server


def _workers() -> int:
    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
    return min(max(1, cores - 1), _MOST_WORKERS)


def signed_lots(order: Order, lots: Iterator[Lot[B]], workers: int | None = None) -> Iterator[Lot[B]]:
    """Each lot of (bodies, payloads) as (bodies, signed statements), in order.

    workers: how many other processes; None for one less than there are cores, and for none where the lots are few.
    Raises VerificationError (bad-signature), GearkeepError (worker-lost).
    """
    first = list(islice(lots, SERIAL_LOTS + 1)) if workers is None else []
    if workers == 0 or (workers is None and len(first) <= SERIAL_LOTS):
        sign = LotSigner(order)
        yield from ((bodies, sign(payloads)) for bodies, payloads in [*first, *lots])
        return
    count = workers or _workers()
    pool = ProcessPoolExecutor(count, mp_context=_context(), initializer=_begin, initargs=(order,))
    waiting: deque[tuple[list[B], Future[list[bytes]]]] = deque()
    try:
        for bodies, payloads in first:
            waiting.append((bodies, pool.submit(_sign, payloads)))
        del first
        while True:
            while len(waiting) < _AHEAD * count and (lot := next(lots, None)) is not None:
                waiting.append((lot[0], pool.submit(_sign, lot[1])))
            if not waiting:
                return
            bodies, future = waiting.popleft()
            yield bodies, future.result()
    except BrokenProcessPool as problem:
        raise GearkeepError("A process that signed was ended from outside.", kind="worker-lost",
                            hint="Nothing was changed. Look whether the machine ran out of memory, then try again.") from problem
    finally:
        pool.shutdown(wait=True, cancel_futures=True)


__all__ = ["LotSigner", "Order", "signed_lots"]
