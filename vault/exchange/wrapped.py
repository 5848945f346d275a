"""A line folded to a width, so that nothing of it is lost: letters of some scripts take two columns."""

from __future__ import annotations

import re

_HANGING = 2  # columns that what follows stands further in
# A tag as it is shown and a figure with its unit are one word.
_TAG, _FIGURE = "[0-9A-Z]{4} [0-9A-Z]{4} [0-9A-Z]", "[0-9][0-9.,]* [^ 0-9,;:.]{1,3}"
_WORD = re.compile(f" *(?:(?:{_TAG}|{_FIGURE})(?![^ ,;:.])[,;:.]*|[^ ]+)")


def words_of(said: str) -> list[str]:
    """What a line is never broken within."""
    return [word.lstrip(" ") for word in _WORD.findall(said)]


def wrapped(said: str, columns: int, *, hanging: int = _HANGING) -> list[str]:
    """The line as lines of at most so many columns, broken between words; those after the first hang so many columns further
    in than the first begins. A word that is wider than a line is broken. columns: 20 or more, or none hanging.
    """
    from rich.cells import cell_len, chop_cells

    indent = " " * min(len(said) - len(said.lstrip(" ")) + hanging, columns // 2)
    lines, line = list[str](), ""
    for word in _WORD.findall(said):
        if cell_len(line + word) <= columns:
            line += word
            continue
        if line.strip():
            lines.append(line)
            word = indent + word.lstrip(" ")
        *full, line = chop_cells(word, columns)
        lines += full
    return [*lines, line] if line.strip() else lines or [""]
