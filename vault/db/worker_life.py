"""How long a process lives that works for another one: as long as its caller, whoever is told to stop."""

from __future__ import annotations

import os
import signal
import threading
from multiprocessing import connection, parent_process


def stay_with_caller() -> None:
    """To be called first in a new process: the caller alone hears Ctrl-C, and no process outlives its caller."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    caller = parent_process()
    if caller is not None:
        threading.Thread(target=_end_with, args=(caller.sentinel,), daemon=True).start()


def _end_with(sentinel: int) -> None:
    connection.wait([sentinel])
    os._exit(1)
