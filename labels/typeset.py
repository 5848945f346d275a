"""Breaking and shrinking texts to a width. Nothing is ever cut off."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

from labels.fonts import advance, size_for_cap, text_width


@lru_cache(maxsize=8192)
def wrap(text: str, width: float, bold: bool, size: int) -> tuple[str, ...]:
    """A text in lines no wider than `width`, broken at spaces (never at a no-break space).

    A word that is wider alone is broken behind a hyphen or slash, else between letters.
    """
    if text_width(text, bold, size) <= width:
        return (text,)
    lines: list[str] = []
    current = ""
    for word in text.split(" "):
        longer = f"{current} {word}".strip()
        if text_width(longer, bold, size) <= width:
            current = longer
            continue
        if current:
            lines.append(current)
        current = word
        while text_width(current, bold, size) > width and len(current) > 1:
            keep = _cut(current, width, bold, size)
            lines.append(current[:keep])
            current = current[keep:]
    return (*lines, current) if current else tuple(lines)


def keeps_words(text: str, lines: Sequence[str]) -> bool:
    """Whether a text was broken at spaces, hyphens and slashes alone, and no range of figures at its dash."""
    rest = text
    for line in lines[:-1]:
        rest = rest[len(line):]
        if not (rest.startswith(" ") or line[-1] in "-/"):
            return False
        rest = rest.removeprefix(" ")
    return True


def _cut(word: str, width: float, bold: bool, size: int) -> int:
    fitting = [n for n in range(1, len(word)) if n == 1 or text_width(word[:n], bold, size) <= width]
    behind_mark = [n for n in fitting if word[n - 1] in "-/–"]
    return max(behind_mark or fitting)


def largest_cap(text: str, width: float, bold: bool, most: int, least: int) -> int | None:
    """The highest capitals from `most` down to `least` dots at which the text fits in one line, or None."""
    # Width grows in step with the size, so the first guess is all but right; what letters reach beyond is checked.
    size = size_for_cap(most, bold)
    guess = most if advance(text, bold, size) <= width else int(most * width / advance(text, bold, size)) + 1
    for cap in range(min(most, guess), least - 1, -1):
        if text_width(text, bold, size_for_cap(cap, bold)) <= width:
            return cap
    return None
