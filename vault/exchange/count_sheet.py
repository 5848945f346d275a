"""A sheet that a store is counted by: what lies where by the books, without how many."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from vault.errors import UsageProblem
from vault.exchange.stock_cells import day_words
from vault.exchange.table_out import Cell, Sheet, write_csv_table, write_xlsx_table
from vault.spares.stock_state import StockState

_HEADINGS = ("model", "bin", "condition", "made", "quantity")  # as a stock list has them


def write_count_sheet(path: Path, state: StockState, store: str) -> int:
    """Write .csv or .xlsx with an empty column quantity; the rows below the headings. How many are there is not said, so that
    somebody counts. Raises UsageProblem (unknown-format), GearkeepError (unwritable-file).
    """
    rows: list[tuple[Cell, ...]] = [_HEADINGS, *_rows(state, store)]
    if path.suffix.lower() == ".csv":
        write_csv_table(path, rows)
    elif path.suffix.lower() == ".xlsx":
        write_xlsx_table(path, [Sheet(name=f"Count {store}", rows=rows)])
    else:
        raise UsageProblem(f"{path.name} says no kind of file.", kind="unknown-format", hint="Name a .csv or .xlsx file.")
    return len(rows) - 1


def _rows(state: StockState, store: str) -> Iterator[tuple[Cell, ...]]:
    days: dict[tuple[str, str], list[str]] = {}  # of batteries, which are counted by the day that they were made
    for of, model, bin_name, made, _pieces in state.lots:
        if of == store:
            days.setdefault((model, bin_name), []).append("" if made is None else day_words(made))
    for shelf in sorted(state.shelves, key=lambda one: (one.bin, one.model)):
        if shelf.store != store or not shelf.good + shelf.needs_reset:
            continue
        if shelf.needs_reset:
            for condition in [*(["good"] if shelf.good else []), "needs-reset"]:
                yield shelf.model, shelf.bin, condition, None, None
        else:
            for day in days.get((shelf.model, shelf.bin), [""]):
                yield shelf.model, shelf.bin, None, day, None
