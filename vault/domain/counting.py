"""Numbers of things in words that can be read aloud."""

from __future__ import annotations


def counted(number: int, one: str, many: str = "") -> str:
    """ "1 driver", "3 drivers"; `many` for a plural that is not made by an s."""
    return f"{number} {one if number == 1 else many or f'{one}s'}"


def be(number: int) -> str:
    """ "is" of one, "are" of more."""
    return "is" if number == 1 else "are"


def been(number: int) -> str:
    """ "was" of one, "were" of more."""
    return "was" if number == 1 else "were"
