"""What a table seems to be, by its headings: said where a file was given to another command than it is for."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from vault.exchange.raw_table import RawTable

_LOOKED_AT = 5  # rows of a sheet that may be its headings
_LEAST, _SHARE = 2, 0.5  # headings that are known, and of all
_HEADINGS, _LETTERS = 6, 24  # that a message names
_COBIE_SHEETS = 3
HOURS_COLUMNS = ("circuit", "type", "hours")
_COVERAGE = ("class", "drivers", "what it is", "examples", "duty", "good pieces on the shelf", "type", "revision", "output",
             "nearest model", "why it does not do", "saved from the shelf", "covered by a model", "place of the first")


def _heading_rows(table: RawTable) -> Iterator[tuple[list[str], int]]:
    """Rows of a sheet that may be its headings, with their number."""
    for number, row in enumerate(table.rows[:_LOOKED_AT], 1):
        cells = [" ".join(cell.split()) for cell in row if cell.strip()]
        if len(cells) >= _LEAST:
            yield cells, number


def _one_of(known: Sequence[str]) -> Callable[[str], bool]:
    written = {name.casefold().replace("_", " ") for name in known}
    return lambda heading: heading.casefold().replace("_", " ") in written


def catalogue_words(catalogue: str) -> str:
    """ "fixture types" for "type", else "drivers", "circuits", "lines"."""
    return "fixture types" if catalogue == "type" else f"{catalogue}s"


def _headings_of(catalogue: str, kind: type) -> Callable[[str], bool]:
    from vault.exchange.catalogue_headings import path_of

    return lambda heading: path_of(catalogue, kind, heading) is not None


def _kinds() -> Iterator[tuple[str, Callable[[str], bool]]]:
    """What tables there are, and whether a heading is one of theirs; the narrower before the wider."""
    from vault.exchange.catalogue_kinds import KINDS
    from vault.exchange.lexicon import look_up
    from vault.exchange.reorder_file import HEADINGS as REORDER
    from vault.exchange.stock_cells import COLUMNS as STOCK

    yield "a table of coverage", _one_of(_COVERAGE)
    yield "a list of burning hours", _one_of(HOURS_COLUMNS)
    yield "a stock list", _one_of(STOCK)
    yield "a reorder list", _one_of(REORDER)
    yield "a readback", _one_of(("gear", "field", "asks", "value"))
    for catalogue, kind in KINDS.items():
        yield f"a list of {catalogue_words(catalogue)}", _headings_of(catalogue, kind)
    yield "a luminaire schedule", lambda heading: bool((meaning := look_up(heading)) and meaning.fields)


def seems(tables: Sequence[RawTable]) -> str:
    """ "a luminaire schedule"; "" where the headings do not tell."""
    from vault.exchange.cobie_layout import COLUMNS as COBIE

    if len({table.sheet for table in tables} & set(COBIE)) >= _COBIE_SHEETS:
        return "a COBie workbook"
    rows = [row for table in tables for row, _ in _heading_rows(table)]
    best, called = 0.0, ""
    for name, known in _kinds():
        for row in rows:
            count = sum(map(known, row))
            # Of two that know the same share, the one that knows more headings.
            score = count / len(row) + count / 1000
            if count >= _LEAST and count / len(row) > _SHARE and score > best:
                best, called = score, name
    return called


def _shown(heading: str) -> str:
    return heading if len(heading) <= _LETTERS else f"{heading[: _LETTERS - 1]}…"


def headings_told(tables: Sequence[RawTable]) -> str:
    """The headings of a file's first sheet that has some, as a sentence."""
    row, number = next(((row, number) for table in tables for row, number in _heading_rows(table)), ([], 0))
    if not row:
        return "It has no row of headings"
    below = f" in row {number}" if number > 1 else ""
    more = f" and {len(row) - _HEADINGS} more" if len(row) > _HEADINGS else ""
    sheets = f" (one of {len(tables)} sheets)" if len(tables) > 1 else ""
    return f"Its headings{below}: {', '.join(map(_shown, row[:_HEADINGS]))}{more}{sheets}"


def not_this(name: str, tables: Sequence[RawTable], wanted: str, needed: str) -> str:
    """The sentences for a file that is another than was asked for: what it seems to be, what it has, what is needed."""
    found = seems(tables)
    what = f"{name} seems to be {found}, not {wanted}" if found and found != wanted else f"{name} is not {wanted}"
    return f"{what}. {headings_told(tables)}. Needed: {needed}."
