"""Pages made by several processes: handed out in bounded lots, given back in order."""

from __future__ import annotations

import os
import signal
import sys
import threading
from collections import deque
from collections.abc import Generator, Iterable, Iterator, Sequence
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from itertools import chain, islice
from multiprocessing import connection, context, get_context, parent_process

from labels.content import LabelContent
from labels.errors import LabelError
from labels.page_stream import Page, PagePlan, page_of

SERIAL_UP_TO = 200  # labels that are drawn sooner than other processes have started (measured on two cores)
MOST_WORKERS = 8
_LOT = 16  # labels handed to a process at a time
_AHEAD = 2  # lots waiting for each process
_PAGE = tuple[LabelContent, ...]


def usable_cores() -> int:
    """Processor cores that this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def _pages(contents: Iterable[LabelContent], each: int) -> Iterator[_PAGE]:
    labels = iter(contents)
    while page := tuple(islice(labels, each)):
        yield page


def _draw(lot: Sequence[_PAGE], planned: PagePlan) -> list[Page]:
    return [page_of(page, planned) for page in lot]


def _begin() -> None:
    """In a new process: the caller alone hears Ctrl-C, and no process outlives its caller."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    caller = parent_process()
    if caller is not None:
        threading.Thread(target=_end_with, args=(caller.sentinel,), daemon=True).start()


def _end_with(sentinel: int) -> None:
    connection.wait([sentinel])
    os._exit(1)


def _context() -> context.BaseContext:
    """Never plain fork: the caller may have threads and an open database."""
    if sys.platform == "win32" or sys.platform == "darwin":
        return get_context("spawn")
    server = get_context("forkserver")
    server.set_forkserver_preload([__name__])
    return server


def made_pages(contents: Iterable[LabelContent], planned: PagePlan, workers: int | None = None) -> Generator[Page, None, None]:
    """Pages in the order of their labels, drawn in `workers` other processes or, for 1, in this one. None: as many as there
    are cores, and this one alone for few labels.

    Raises what `page_of` raises, for the first label in order that cannot be made, and LabelError (worker-lost).
    """
    labels, count = iter(contents), workers or min(usable_cores(), MOST_WORKERS)
    if workers is None and count > 1:
        first = tuple(islice(labels, SERIAL_UP_TO + 1))
        labels, count = chain(first, labels), count if len(first) > SERIAL_UP_TO else 1
    pages = _pages(labels, len(planned.corners))
    if count == 1:
        yield from (page_of(page, planned) for page in pages)
        return
    each = max(1, _LOT // len(planned.corners))
    pool = ProcessPoolExecutor(count, mp_context=_context(), initializer=_begin)
    waiting: deque[Future[list[Page]]] = deque()
    try:
        while True:
            while len(waiting) < _AHEAD * count and (lot := list(islice(pages, each))):
                waiting.append(pool.submit(_draw, lot, planned))
            if not waiting:
                return
            yield from waiting.popleft().result()
    except BrokenProcessPool as problem:
        raise LabelError("A process that drew labels was ended from outside.", kind="worker-lost",
                         hint="Look whether the machine ran out of memory, then draw the labels again.") from problem
    finally:
        pool.shutdown(wait=True, cancel_futures=True)
