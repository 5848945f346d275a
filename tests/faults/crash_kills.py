"""Killing a process, or its server, at a random moment of its act."""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import random
import select as waiting
import signal
import time
from collections.abc import Callable, Iterable, Iterator
from multiprocessing.process import BaseProcess

from crash_acts import Life, live
from crash_checks import Tally, digests_of, inspect
from postgres_server import Server
from small_vault import SmallVault

# Ends a process or a server; what it is told is the process's id.
Blow = Callable[[int], None]

GOES_ON_S = 0.5
LONGEST_WAIT_S = 30


def kill_client(pid: int) -> None:
    """The process is gone from one instruction to the next."""
    os.kill(pid, signal.SIGKILL)


def kill_backends(server: Server) -> Blow:
    """Kill the server's own processes for our connections; the server then throws everybody out and recovers."""

    def blow(_pid: int) -> None:
        for backend in server.sql("SELECT pid FROM pg_stat_activity WHERE application_name = 'gearkeep'").split():
            with contextlib.suppress(ProcessLookupError):
                os.kill(int(backend), signal.SIGKILL)

    return blow


def crash_server(server: Server) -> Blow:
    """Stop the whole server without letting it tidy up (pg_ctl stop -m immediate), and start it again."""

    def blow(_pid: int) -> None:
        server.stop(signal.SIGQUIT)
        server.start()

    return blow


def wait_for(server: Server) -> None:
    """Until the server answers again."""
    for _ in range(200):
        with contextlib.suppress(RuntimeError):
            server.sql("SELECT 1")
            return
        time.sleep(0.05)


@contextlib.contextmanager
def alive(life: Life) -> Iterator[BaseProcess]:
    """A process that lives that life, from the moment it is ready; killed at the end at the latest."""
    ear, mouth = os.pipe()
    process = multiprocessing.get_context("fork").Process(target=live, args=(life, mouth))
    process.start()
    os.close(mouth)
    try:
        # An answer, or the end of a process that could not begin.
        waiting.select([ear], [], [], LONGEST_WAIT_S)
        yield process
    finally:
        process.kill()
        process.join()
        os.close(ear)


def wait_until_told(lives: Iterable[Life], least: int) -> None:
    """Until each was told of so many statements, or for so long that something must be wrong."""
    end = time.monotonic() + LONGEST_WAIT_S
    while time.monotonic() < end and not all(
            life.acknowledged.is_file() and life.acknowledged.read_bytes().count(b"\n") >= least for life in lives):
        time.sleep(0.05)


def strike(life: Life, longest_s: float, blow: Blow, chance: random.Random) -> None:
    """Let an act run for a random while, then end it."""
    with alive(life) as process:
        time.sleep(chance.uniform(0, longest_s))
        if process.pid is not None and process.exitcode is None:
            blow(process.pid)
        # Where the server was struck, the client may find it again and go on for a while.
        process.join(GOES_ON_S)


def kills(act: str, new_place: Callable[[], SmallVault], *, count: int, longest_s: float, seed: int, blow: Blow = kill_client,
          settle: Callable[[], None] = lambda: None, per_place: int = 20) -> Tally:
    """Kill an act `count` times; a fresh vault after every `per_place` kills (for a migration: after each).

    settle: waits until the vault can be asked again.
    """
    chance, tally = random.Random(seed), Tally()
    small: SmallVault | None = None
    known: set[bytes] = set()
    for number in range(count):
        if small is None or act == "migration" or number % per_place == 0:
            small = new_place()
            known = digests_of(small)
        life = Life(act=act, small=small, number=number)
        strike(life, longest_s, blow, chance)
        settle()
        inspect(life, known, tally)
    return tally
