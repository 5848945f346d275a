"""Breaking and shrinking texts to a width. Nothing is ever cut off."""

from __future__ import annotations

from labels.fonts import size_for_cap, text_width


def wrap(text: str, width: float, bold: bool, size: int) -> list[str]:
    """A text in lines no wider than `width`, broken at spaces (never at a no-break space).

    A word that is wider alone is broken between letters.
    """
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
            keep = max(n for n in range(1, len(current)) if n == 1 or text_width(current[:n], bold, size) <= width)
            lines.append(current[:keep])
            current = current[keep:]
    return [*lines, current] if current else lines


def largest_cap(text: str, width: float, bold: bool, most: int, least: int) -> int | None:
    """The highest capitals from `most` down to `least` dots at which the text fits in one line, or None."""
    for cap in range(most, least - 1, -1):
        if text_width(text, bold, size_for_cap(cap, bold)) <= width:
            return cap
    return None
