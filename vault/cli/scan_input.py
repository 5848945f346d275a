"""What a hand scanner types on standard input, and how far a scan of many pictures is."""

from __future__ import annotations

import re
import sys
from collections.abc import Iterator
from typing import TYPE_CHECKING, cast

from vault.cli.shell import Progress

if TYPE_CHECKING:
    from io import BufferedReader

# The largest label's code holds 3,000 digits behind its link; what is longer comes from no scanner.
MAX_LINE_BYTES = 10_000
CHUNK_BYTES = 4_096
_LINE_END = re.compile(rb"[\r\n]+")


def typed_lines() -> Iterator[str]:
    """Lines of standard input as they come. Hand scanners end a line with CR, LF or both; blank lines are left out.

    A longer line than any code holds is handed on in pieces.
    """
    # A text stream would wait behind CR for a possible LF, and the answer would come one label late.
    stream = cast("BufferedReader", sys.stdin.buffer)
    pending = b""
    while chunk := stream.read1(CHUNK_BYTES):
        *lines, pending = _LINE_END.split(pending + chunk)
        if len(pending) > MAX_LINE_BYTES:
            lines, pending = [*lines, pending], b""
        yield from _texts(lines)
    yield from _texts([pending])


def _texts(lines: list[bytes]) -> Iterator[str]:
    for line in lines:
        text = line.decode("utf-8", errors="replace").strip()
        if text:
            yield text


class SourceProgress:
    """Progress of one film, or over many pictures: each has a clock of its own."""

    def __init__(self) -> None:
        self._shown: dict[str, Progress] = {}

    def __call__(self, what: str, done: int, total: int) -> None:
        if what not in self._shown:
            self._shown[what] = Progress(what)
        self._shown[what](done, total)
