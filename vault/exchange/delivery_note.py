"""What stands in for a delivery note that nobody gave."""

from __future__ import annotations

import re
from collections.abc import Iterable
from hashlib import sha256

from vault.domain.stock import MovementLine

NOTE_DIGITS = 16
# A digest without one letter is rarer than a supplier's note of sixteen figures.
_MADE = re.compile(rf"(?=[0-9]*[a-f])[0-9a-f]{{{NOTE_DIGITS}}}")


def note_of_lines(lines: Iterable[MovementLine]) -> str:
    """The first 16 hexadecimal digits of SHA-256 over lines, in whatever order and form of file, so that the same list saved
    anew is the same list.
    """
    listed = sorted(repr((line.model, line.quantity, line.bin, line.serial, line.condition, line.made_day)) for line in lines)
    return sha256("\n".join(listed).encode()).hexdigest()[:NOTE_DIGITS]


def given_note(note: str | None) -> str | None:
    """A delivery note that somebody gave; None without one, and for one that was made of the lines."""
    return None if note is None or _MADE.fullmatch(note) else note
