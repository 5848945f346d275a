"""Rows as lines of text in columns, folded cell by cell where a screen is too narrow for them."""

from __future__ import annotations

from collections.abc import Sequence

from vault.exchange.wrapped import words_of, wrapped

_GAPS = (2, 1)  # blanks between columns; the second where it makes room


def in_columns(rows: Sequence[Sequence[str]], columns: int | None = None) -> list[str]:
    """The rows as lines. columns: what the screen holds; None folds nothing.

    Words, tags, and figures with their units stay whole: where they do not find room in their columns nothing is folded, and the
    screen breaks the lines as it may.
    """
    widths = [max(map(_width, column)) for column in zip(*rows, strict=True)]
    gap = _GAPS[0]
    if columns is not None and sum(widths) + gap * (len(widths) - 1) > columns:
        least = [max(_width(word) for cell in column for word in ("", *words_of(cell))) for column in zip(*rows, strict=True)]
        for fitting in _GAPS:
            spare = columns - sum(least) - fitting * (len(least) - 1)
            if spare >= 0:
                gap, widths = fitting, _spread(least, widths, spare)
                break
    folded = [[wrapped(cell, width, hanging=0) if _width(cell) > width else [cell]
               for cell, width in zip(row, widths, strict=True)] for row in rows]
    widths = [max(_width(line) for lines in column for line in lines) for column in zip(*folded, strict=True)]
    return [(" " * gap).join(_padded(cell[at] if at < len(cell) else "", width)
                             for cell, width in zip(row, widths, strict=True)).rstrip()
            for row in folded for at in range(max(map(len, row)))]


def _spread(least: Sequence[int], most: Sequence[int], spare: int) -> list[int]:
    """Widths between the two; whatever lacks most gets more first."""
    widths = list(least)
    for _ in range(min(spare, sum(most) - sum(least))):
        at = max(range(len(widths)), key=lambda column: most[column] - widths[column])
        widths[at] += 1
    return widths


def _width(text: str) -> int:
    if text.isascii():
        return len(text)
    from rich.cells import cell_len  # letters of some scripts take two columns

    return cell_len(text)


def _padded(text: str, width: int) -> str:
    return text + " " * (width - _width(text))
