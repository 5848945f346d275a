"""Stock lists: the lines of one receipt, count or opening stock."""

from __future__ import annotations

from pathlib import Path

from vault.domain.schema import specs
from vault.domain.stock import MovementLine
from vault.errors import GearkeepError
from vault.exchange.assign import plain_of_text
from vault.exchange.files import read_table
from vault.exchange.plain import nearest, read_plain

COLUMNS = ("model", "quantity", "bin", "serial")


class StockProblem(GearkeepError):
    """A stock list is wrong; every wrong cell is told, and nothing was read. Kind: bad-stock-list."""

    def __init__(self, path: Path, wrong: list[str]) -> None:
        super().__init__(f"{path.name} cannot be taken: {'; '.join(wrong)}",
                         hint=f"columns are {', '.join(COLUMNS)}; correct the file and load it again",
                         kind="bad-stock-list")


def _headings(path: Path, row: tuple[str, ...]) -> list[str]:
    names = [heading.strip().casefold() for heading in row]
    wrong = [f"{name!r} is not a heading we know, {nearest(name, COLUMNS)}".rstrip(", ")
             for name in names if name not in COLUMNS]
    wrong += [f"{name!r} stands twice" for name in COLUMNS if names.count(name) > 1]
    wrong += [f"{name!r} is missing" for name in ("model", "quantity") if name not in names]
    if wrong:
        raise StockProblem(path, [f"row 1: {item}" for item in wrong])
    return names


def read_stock(path: Path) -> list[MovementLine]:
    """The lines of a CSV file with the columns model, quantity, bin, serial (the last two may be blank or missing).

    Raises StockProblem naming row, column, what was found and what is allowed for everything wrong; FileProblem.
    """
    table = read_table(path)
    names = _headings(path, table[0])
    fields = dict(specs(MovementLine))
    lines: list[MovementLine] = []
    wrong: list[str] = []
    places: dict[tuple[str, str | None, str | None], int] = {}
    for number, row in enumerate(table[1:], 2):
        if not any(cell.strip() for cell in row):
            continue
        if any(cell.strip() for cell in row[len(names):]):
            wrong.append(f"row {number} has more cells than there are headings")
            continue
        cells = {name: cell.strip() for name, cell in zip(names, row, strict=False) if cell.strip()}
        plain = {name: plain_of_text(name, fields[name], cell) for name, cell in cells.items()}
        line, problems = read_plain(MovementLine, plain)
        wrong += [f"row {number}, {problem}" for problem in problems]
        if line is None:
            continue
        key = (line.model, line.bin, line.serial)
        if key in places:
            wrong.append(f"row {number} repeats row {places[key]}: the same model, bin and serial")
        if line.serial is not None and line.quantity != 1:
            wrong.append(f"row {number}, quantity: found {line.quantity}, allowed 1 where a serial is named")
        places.setdefault(key, number)
        lines.append(line)
    if not lines and not wrong:
        wrong.append("it has no lines")
    if wrong:
        raise StockProblem(path, wrong)
    return lines
