"""What is wrong with a file, told so that it can be read: a few complaints, one a line, and how many more there are."""

from __future__ import annotations

from collections.abc import Sequence

MOST = 8


def listed(wrong: Sequence[str]) -> str:
    """The first complaints, each on a line of its own, and the number of the others."""
    more = [f"and {len(wrong) - MOST} more"] if len(wrong) > MOST else []
    return "\n".join(f"  {one}" for one in [*wrong[:MOST], *more])


def ended(says: str) -> str:
    """A sentence with its stop, which one that asks has already."""
    return says if says.endswith((".", "?", "!")) else f"{says}."


def told(name: str, wrong: Sequence[str]) -> str:
    """ "a.csv cannot be taken: …" where one thing is wrong, else a line for each."""
    if len(wrong) == 1:
        return f"{name} cannot be taken: {wrong[0]}"
    return f"{name} cannot be taken, {len(wrong)} things are wrong:\n{listed(wrong)}"
