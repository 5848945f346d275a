"""Stock lists: opening stock, the lines of one receipt, what is agreed about each item; CSV or a workbook."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from vault.domain.schema import check, specs
from vault.domain.stock import MovementLine, line_key
from vault.domain.terms import ItemTerms
from vault.errors import GearkeepError
from vault.exchange.complaints import told
from vault.exchange.delivery_note import note_of_lines
from vault.exchange.file_kinds import not_this
from vault.exchange.raw_table import RawTable
from vault.exchange.stock_cells import (
    COLUMNS,
    LINE_COLUMNS,
    TAKE_AWAY,
    TERMS_COLUMNS,
    Column,
    day_words,
    read_cell,
    term_name,
    term_words,
)
from vault.exchange.stock_headings import WANTED, heading_row, is_foreign, plain_headings, wrong_headings
from vault.exchange.stock_known import Known, Named, Place, Wrong, against
from vault.exchange.table_out import unsafe_cell
from vault.exchange.tables import read_tables

NEEDED = "model, and quantity or terms such as supplier, price, lead_days, last_order"
_COLUMNS = f"Columns are {', '.join(COLUMNS)}."
_HINT = f"Correct the file and load it again. A blank leaves a term as it is; {TAKE_AWAY[0]} takes it away."
_LOAD_FIRST = ("A driver's data is loaded first: gearkeep driver load FILE. What is no driver gets battery or other in the "
               "column item.")


class StockProblem(GearkeepError):
    """A stock list is wrong; everything that is wrong is told, and nothing was read. Kind: bad-stock-list, or not-found where
    it only names models that the vault does not know, bad-value where its terms cannot be.
    """

    def __init__(self, what: str, *, hint: str, kind: str = "bad-stock-list") -> None:
        super().__init__(what, hint=hint, kind=kind)


@dataclass(frozen=True, slots=True, kw_only=True)
class StockFile:
    """What a stock list says. lines: pieces, from rows with a quantity. terms: model -> what its rows say of each field of
    ItemTerms; None takes a value away, and what no row says stays as it is. left: model -> fields whose cells are blank in a
    row of its terms. said_at: (model, field) -> "row 3". without_quantity: rows that name pieces and not how many.
    """

    lines: tuple[MovementLine, ...]
    terms: dict[str, dict[str, Any]]
    left: dict[str, tuple[str, ...]]
    said_at: dict[tuple[str, str], str]
    without_quantity: int = 0

    @property
    def note(self) -> str:
        """What stands in for a delivery note."""
        return note_of_lines(self.lines)


@dataclass(slots=True, kw_only=True)
class _Reader:
    path: Path
    may_lack_quantity: bool = False
    today_day: int | None = None
    without_quantity: int = 0
    wrong: list[Wrong] = field(default_factory=list)
    lines: list[MovementLine] = field(default_factory=list)
    terms: dict[str, dict[str, Any]] = field(default_factory=dict)
    left: dict[str, tuple[str, ...]] = field(default_factory=dict)
    places: dict[tuple[object, ...], str] = field(default_factory=dict)
    said_at: dict[tuple[str, str], str] = field(default_factory=dict)
    # Model -> where it stands first; models of which the cell item cannot be read.
    seen: dict[str, tuple[Place, str]] = field(default_factory=dict)
    unclear: set[str] = field(default_factory=set)
    at: Place = (0, 0)
    of_headings: bool = False  # whether a row of headings is wrong

    def complain(self, says: str) -> None:
        self.wrong.append(Wrong(place=self.at, says=says))

    def table(self, table: RawTable, number: int, prefix: str) -> None:
        headings = heading_row(table)
        self.at = number, headings
        names = self._headings(table.rows[headings - 1] if table.rows else (), f"{prefix}row {headings}")
        if names is None:
            return
        for row_number, row in enumerate(table.rows[headings:], headings + 1):
            if any(cell.strip() for cell in row):
                self.at = number, row_number
                self._row(names, row, f"{prefix}row {row_number}")

    def _headings(self, row: tuple[str, ...], where: str) -> list[str] | None:
        names = plain_headings(row)
        wrong = list(wrong_headings(names))
        for one in wrong:
            self.complain(f"{where}: {one}")
        self.of_headings = self.of_headings or bool(wrong)
        return None if wrong else names

    def _row(self, names: list[str], row: tuple[str, ...], where: str) -> None:
        if any(cell.strip() for cell in row[len(names):]):
            self.complain(f"{where} has more cells than there are headings")
            return
        cells = {name: unsafe_cell(cell.strip()) for name, cell in zip(names, row, strict=False) if cell.strip()}
        before = len(self.wrong)
        line, terms = self._values(cells, LINE_COLUMNS, where), self._values(cells, TERMS_COLUMNS, where)
        if "model" not in cells:
            self.complain(f"{where}, model: found nothing, allowed 1 to 24 printable characters")
            return
        if "model" in line:
            self.seen.setdefault(line["model"], (self.at, where))
            self._take_terms(line["model"], terms, where)
            if "item" in cells and "item" not in terms:
                self.unclear.add(line["model"])
        if len(self.wrong) > before:
            return
        pieces = [name for name in ("bin", "serial", "condition", "made") if name in cells]
        if "quantity" in cells:
            self._take_line(MovementLine(**line), where)
        elif self.may_lack_quantity and "quantity" in names:
            self.without_quantity += 1
        elif pieces:
            self.complain(f"{where}, quantity: found nothing, allowed a whole number 0 to 1000000" if "quantity" in names else
                          f"{where}: {line['model']} has a {pieces[0]}, but the file has no column quantity")
        elif not terms and not set(TERMS_COLUMNS) & set(names):
            self.complain(f"{where}, quantity: found nothing, allowed a whole number 0 to 1000000")
        elif not terms:
            self.complain(f"{where}: {line['model']} stands alone, and blank cells leave all as it is; "
                          f"{'give a quantity, ' if 'quantity' in names else ''}write {TAKE_AWAY[0]} under what is to be taken "
                          "away, or leave the row out")
        else:
            blank = [TERMS_COLUMNS[name].field for name in names if name in TERMS_COLUMNS and name not in cells]
            self.left[line["model"]] = tuple(dict.fromkeys((*self.left.get(line["model"], ()), *blank)))

    def _values(self, cells: dict[str, str], columns: dict[str, Column], where: str) -> dict[str, Any]:
        """Field -> value of the cells that can be read; the others are told."""
        kind = MovementLine if columns is LINE_COLUMNS else ItemTerms
        known, found = dict(specs(kind)), dict[str, Any]()
        for name, cell in cells.items():
            if name not in columns:
                continue
            column = columns[name]
            if cell.casefold() in TAKE_AWAY and columns is TERMS_COLUMNS:
                found[column.field] = None
                continue
            value, allowed = read_cell(column, known[column.field], cell)
            problem = allowed or _out_of_range(kind, column.field, value)
            if not problem and name == "made" and self.today_day is not None and value > self.today_day:
                problem = f"a day up to today, {day_words(self.today_day)}"
            if problem:
                self.complain(f"{where}, {name}: found {cell!r}, allowed {problem}")
            else:
                found[column.field] = value
        return found

    def _take_terms(self, model: str, terms: dict[str, Any], where: str) -> None:
        held = self.terms.setdefault(model, {}) if terms else {}
        for name, value in terms.items():
            if name in held and held[name] != value:
                self.complain(f"{where}, {term_name(name)} of {model}: found {term_words(name, value)}, but "
                              f"{self.said_at[model, name]} says {term_words(name, held[name])}")
            held[name] = value
            self.said_at.setdefault((model, name), where)

    def _take_line(self, line: MovementLine, where: str) -> None:
        key = line_key(line)
        if key in self.places:
            self.complain(f"{where} repeats {self.places[key]}: the same model, bin and serial")
        if line.serial is not None and line.quantity != 1:
            self.complain(f"{where}, quantity: found {line.quantity}, allowed 1 where a serial is named")
        self.places.setdefault(key, where)
        self.lines.append(line)

    def hold_against(self, known: Known) -> None:
        """Complain of models that the vault does not know and of terms that cannot be."""
        for model, (place, where) in self.seen.items():
            said_at = {name: self.said_at[model, name] for name in self.terms.get(model, {})}
            self.wrong += against(known, Named(model=model, place=place, where=where, terms=self.terms.get(model, {}),
                                               said_at=said_at, unclear=model in self.unclear))

    def refuse(self) -> None:
        """Raises StockProblem for everything that is wrong, in the order of the file."""
        if not self.wrong:
            return
        kinds = {one.kind for one in self.wrong}
        kind = kinds.pop() if len(kinds) == 1 else "bad-stock-list"
        says = [one.says for one in sorted(self.wrong, key=lambda one: one.place)]
        hints = [_COLUMNS] if self.of_headings else []
        hints += [_LOAD_FIRST] if any(one.kind == "not-found" for one in self.wrong) else []
        raise StockProblem(told(self.path.name, says), kind=kind, hint=" ".join((*hints, _HINT)))


def _out_of_range(kind: type, name: str, value: Any) -> str:
    thing = kind(**{"model": "X", **({"quantity": 1} if kind is MovementLine else {}), name: value})
    return next((problem.allowed for problem in check(thing) if problem.path == name), "")


def read_stock_file(path: Path, *, known: Known | None = None, may_lack_quantity: bool = False, today_day: int | None = None,
                    ) -> StockFile:
    """A CSV file or a workbook with the columns of `COLUMNS`, all but model blank or missing where nothing is to be said.

    Rows with a quantity are pieces; the columns from supplier on are terms of the item, where "none" (or a dash) takes a value
    away and a blank leaves it. Days are written 2027-05-31, prices 24.50. known: what the vault holds, to be held against.
    may_lack_quantity: a row that has none is left alone, as on a sheet of which not every bin was counted. today_day: days
    since 1970-01-01; nothing was made later. The headings may stand in one of the first ten rows, below a title.
    Raises StockProblem naming sheet, row, column, what was found and what is allowed for everything wrong; FileProblem.
    """
    reader, tables = _Reader(path=path, may_lack_quantity=may_lack_quantity, today_day=today_day), read_tables(path)
    if is_foreign(tables):
        raise StockProblem(not_this(path.name, tables, WANTED, NEEDED), hint="Nothing was read. Give a file with them.")
    for number, table in enumerate(tables):
        reader.table(table, number, f"sheet {table.sheet}, " if len(tables) > 1 else "")
    if not reader.lines and not reader.terms and not reader.wrong and not reader.without_quantity:
        reader.complain("it has no lines")
    if known is not None:
        reader.hold_against(known)
    reader.refuse()
    return StockFile(lines=tuple(reader.lines), terms=reader.terms, left=reader.left, said_at=reader.said_at,
                     without_quantity=reader.without_quantity)
