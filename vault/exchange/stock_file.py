"""Stock lists: opening stock, the lines of one receipt, what is agreed about each item; CSV or a workbook."""

from __future__ import annotations

from dataclasses import dataclass, field
from hashlib import sha256
from pathlib import Path
from typing import Any

from vault.domain.schema import check, specs, words
from vault.domain.stock import MovementLine
from vault.domain.terms import ItemTerms
from vault.errors import GearkeepError
from vault.exchange.plain import nearest
from vault.exchange.raw_table import RawTable
from vault.exchange.stock_cells import LINE_COLUMNS, TAKE_AWAY, TERMS_COLUMNS, Column, read_cell
from vault.exchange.table_out import unsafe_cell
from vault.exchange.tables import Progress, quiet, read_tables

COLUMNS = (*LINE_COLUMNS, *TERMS_COLUMNS)
NOTE_DIGITS = 16


class StockProblem(GearkeepError):
    """A stock list is wrong; every wrong cell is told, and nothing was read. Kind: bad-stock-list."""

    def __init__(self, path: Path, wrong: list[str]) -> None:
        super().__init__(f"{path.name} cannot be taken: {'; '.join(wrong)}",
                         hint=f"columns are {', '.join(COLUMNS)}; correct the file and load it again",
                         kind="bad-stock-list")


@dataclass(frozen=True, slots=True, kw_only=True)
class StockFile:
    """What a stock list says. lines: pieces, from rows with a quantity. terms: model -> what its rows say of each field of
    ItemTerms; None takes a value away, and what no row says stays as it is.
    """

    lines: tuple[MovementLine, ...]
    terms: dict[str, dict[str, Any]]

    @property
    def note(self) -> str:
        """What stands in for a delivery note: the first 16 hexadecimal digits of SHA-256 over its lines, in whatever order
        and form of file, so that the same list saved anew is the same list.
        """
        listed = sorted(repr((line.model, line.quantity, line.bin, line.serial, line.condition, line.made_day))
                        for line in self.lines)
        return sha256("\n".join(listed).encode()).hexdigest()[:NOTE_DIGITS]


@dataclass(slots=True, kw_only=True)
class _Reader:
    path: Path
    wrong: list[str] = field(default_factory=list)
    lines: list[MovementLine] = field(default_factory=list)
    terms: dict[str, dict[str, Any]] = field(default_factory=dict)
    places: dict[tuple[object, ...], str] = field(default_factory=dict)
    said_at: dict[tuple[str, str], str] = field(default_factory=dict)

    def table(self, table: RawTable, prefix: str) -> None:
        names = self._headings(table.rows[0] if table.rows else (), prefix)
        if names is None:
            return
        for number, row in enumerate(table.rows[1:], 2):
            if any(cell.strip() for cell in row):
                self._row(names, row, f"{prefix}row {number}")

    def _headings(self, row: tuple[str, ...], prefix: str) -> list[str] | None:
        names = [heading.strip().casefold().replace(" ", "_") for heading in row]
        while names and not names[-1]:
            names.pop()
        wrong = [f"{name!r} is not a heading we know, {nearest(name, COLUMNS)}".rstrip(", ")
                 for name in names if name not in COLUMNS]
        wrong += [f"{name!r} stands twice" for name in COLUMNS if names.count(name) > 1]
        wrong += ["'model' is missing"] if "model" not in names else []
        if not {"quantity", *TERMS_COLUMNS} & set(names):
            wrong.append("'quantity' is missing")
        self.wrong += [f"{prefix}row 1: {item}" for item in wrong]
        return None if wrong else names

    def _row(self, names: list[str], row: tuple[str, ...], where: str) -> None:
        if any(cell.strip() for cell in row[len(names):]):
            self.wrong.append(f"{where} has more cells than there are headings")
            return
        cells = {name: unsafe_cell(cell.strip()) for name, cell in zip(names, row, strict=False) if cell.strip()}
        line, terms = self._values(cells, LINE_COLUMNS, where), self._values(cells, TERMS_COLUMNS, where)
        if line is None or terms is None:
            return
        if "model" not in cells:
            self.wrong.append(f"{where}, model: found nothing, allowed 1 to 24 printable characters")
            return
        self._take_terms(line["model"], terms, where)
        if "quantity" in cells:
            self._take_line(MovementLine(**line), where)
        elif not terms or {"bin", "serial", "condition", "made_day"} & set(line):
            self.wrong.append(f"{where}, quantity: found nothing, allowed a whole number 0 to 1000000")

    def _values(self, cells: dict[str, str], columns: dict[str, Column], where: str) -> dict[str, Any] | None:
        """Field -> value; None where a cell is wrong."""
        kind = MovementLine if columns is LINE_COLUMNS else ItemTerms
        known, found, good = dict(specs(kind)), dict[str, Any](), True
        for name, cell in cells.items():
            if name not in columns:
                continue
            column = columns[name]
            if cell == TAKE_AWAY and columns is TERMS_COLUMNS:
                found[column.field] = None
                continue
            value, allowed = read_cell(column, known[column.field], cell)
            problem = allowed or _out_of_range(kind, column.field, value)
            if problem:
                self.wrong.append(f"{where}, {name}: found {cell!r}, allowed {problem}")
                good = False
            found[column.field] = value
        return found if good else None

    def _take_terms(self, model: str, terms: dict[str, Any], where: str) -> None:
        held = self.terms.setdefault(model, {}) if terms else {}
        for name, value in terms.items():
            if name in held and held[name] != value:
                self.wrong.append(f"{where}, {name.replace('_', ' ')} of {model}: found {_shown(value)}, but "
                                  f"{self.said_at[model, name]} says {_shown(held[name])}")
            held[name] = value
            self.said_at.setdefault((model, name), where)

    def _take_line(self, line: MovementLine, where: str) -> None:
        key = (line.model, line.bin, line.serial, line.condition, line.made_day)
        if key in self.places:
            self.wrong.append(f"{where} repeats {self.places[key]}: the same model, bin and serial")
        if line.serial is not None and line.quantity != 1:
            self.wrong.append(f"{where}, quantity: found {line.quantity}, allowed 1 where a serial is named")
        self.places.setdefault(key, where)
        self.lines.append(line)


def _shown(value: object) -> str:
    return "nothing" if value is None else words(value) if hasattr(value, "name") else str(value)  # type: ignore[arg-type]


def _out_of_range(kind: type, name: str, value: Any) -> str:
    thing = kind(**{"model": "X", **({"quantity": 1} if kind is MovementLine else {}), name: value})
    return next((problem.allowed for problem in check(thing) if problem.path == name), "")


def read_stock_file(path: Path, progress: Progress = quiet) -> StockFile:
    """A CSV file or a workbook with the columns of `COLUMNS`, all but model blank or missing where nothing is to be said.

    Rows with a quantity are pieces; the columns from supplier on are terms of the item, where "-" takes a value away and a
    blank leaves it. Days are written 2027-05-31, prices 24.50. Raises StockProblem naming sheet, row, column, what was found
    and what is allowed for everything wrong; FileProblem.
    """
    reader, tables = _Reader(path=path), read_tables(path, progress)
    for table in tables:
        reader.table(table, f"sheet {table.sheet}, " if len(tables) > 1 else "")
    if not reader.lines and not reader.terms and not reader.wrong:
        reader.wrong.append("it has no lines")
    if reader.wrong:
        raise StockProblem(path, reader.wrong)
    return StockFile(lines=tuple(reader.lines), terms=reader.terms)


def read_stock(path: Path) -> list[MovementLine]:
    """The pieces that a stock list names; see `read_stock_file`."""
    return list(read_stock_file(path).lines)
