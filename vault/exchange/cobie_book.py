"""The sheets of a COBie workbook as rows by column name, its references, and what is wrong with them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from vault.exchange.cobie_layout import COLUMNS, EMPTY, OF_PEOPLE, OTHERS, plain_column
from vault.exchange.files import FileProblem
from vault.exchange.raw_table import RawTable

_LOOKED_AT = 10  # rows in which a sheet's headings are looked for
# The columns of which something is taken. Who made a row when, and in which program, is bookkeeping and not worth a word.
_BOOKKEEPING = frozenset({"createdon", "extsystem", "extobject", "extidentifier"})
_READ = {
    "Facility": "Name", "Floor": "Name", "Space": "Name FloorName Description", "Type": "Name Category Description",
    "Component": "Name TypeName Space SerialNumber TagNumber BarCode AssetIdentifier",
    "System": "Name Category ComponentNames", "Spare": "", "Attribute": "Name Category SheetName RowName Value Unit",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Left:
    """A row that was not taken, or taken with a remark. row: as a spreadsheet counts, 0 for a whole sheet."""

    sheet: str
    row: int
    name: str
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CobieRow:
    """One row. values: column as `plain_column` writes it -> text as it stands, without people's columns and empty ones."""

    number: int
    values: Mapping[str, str]

    def get(self, column: str) -> str:
        """A column's text without blanks at its ends, "" where nothing or n/a stands."""
        return self.values.get(plain_column(column), "").strip()

    @property
    def name(self) -> str:
        """The row's name, trimmed."""
        return self.get("Name")


@dataclass(slots=True, kw_only=True)
class CobieBook:
    """A workbook's rows by sheet. counts: rows of every sheet, also of those that are not read. left, noted: see Left."""

    file: str
    sheets: dict[str, list[CobieRow]]
    counts: dict[str, int]
    left: list[Left] = field(default_factory=list)
    noted: list[Left] = field(default_factory=list)

    def rows(self, sheet: str) -> Sequence[CobieRow]:
        """The rows of a sheet, none where the workbook lacks it."""
        return self.sheets.get(sheet, [])

    def named(self, sheet: str) -> dict[str, CobieRow]:
        """Trimmed name -> row. A name that stands twice is told once and its first row counts."""
        found: dict[str, CobieRow] = {}
        for row in self.rows(sheet):
            if not row.name:
                self.left.append(Left(sheet=sheet, row=row.number, name="", why="it has no name"))
            elif row.name in found:
                self.left.append(Left(sheet=sheet, row=row.number, name=row.name,
                                      why=f"row {found[row.name].number} has the same name"))
            else:
                found[row.name] = row
        return found

    def resolve(self, sheet: str, row: CobieRow, column: str, known: Mapping[str, CobieRow]) -> CobieRow | None:
        """The row that a reference means. Blanks at the ends are forgiven and told; nothing else is."""
        said = row.values.get(plain_column(column), "")
        target = known.get(said.strip())
        if target is not None and target.values.get("name", "") != said:
            self.noted.append(Left(sheet=sheet, row=row.number, name=row.name,
                                   why=f"{column} and the name that it means differ in blanks at their ends: {said.strip()}"))
        return target


def references(said: str, known: Mapping[str, CobieRow]) -> Iterator[tuple[str, CobieRow | None]]:
    """The names in a cell, each with its row or None: the whole cell where it is one name, else parted by commas."""
    whole = said.strip()
    if whole in known:
        yield whole, known[whole]
        return
    pieces = [piece.strip() for piece in whole.split(",")]
    at = 0
    while at < len(pieces):
        # A name may hold a comma itself: the longest run of pieces that is a name counts.
        run = next((n for n in range(min(len(pieces), at + 4), at, -1) if ", ".join(pieces[at:n]) in known
                    or ",".join(pieces[at:n]) in known), at + 1)
        name = ", ".join(pieces[at:run])
        name = name if name in known or run == at + 1 else ",".join(pieces[at:run])
        if name:
            yield name, known.get(name)
        at = run


def _headings(table: RawTable) -> int:
    """The row from 0 that holds a COBie sheet's headings, -1 for none."""
    for at, row in enumerate(table.rows[:_LOOKED_AT]):
        columns = {plain_column(cell) for cell in row}
        if "createdby" in columns and columns & {"name", "email"}:
            return at
    return -1


def _sheet_name(table: RawTable) -> str:
    said = (table.sheet or "").strip().casefold()
    return next((known for known in (*COLUMNS, *OTHERS) if known.casefold() == said), "")


def is_cobie(tables: Sequence[RawTable]) -> bool:
    """Whether a workbook is COBie: sheets Component and Type with COBie's headings, beside them Facility, Floor or Space."""
    found = {_sheet_name(table) for table in tables if _headings(table) >= 0}
    return {"Component", "Type"} <= found and bool(found & {"Facility", "Floor", "Space"})


def open_book(tables: Sequence[RawTable]) -> CobieBook:
    """The workbook's rows. Sheets that are not COBie's and columns without a heading are told. Raises FileProblem."""
    if not is_cobie(tables):
        raise FileProblem(f"{tables[0].file if tables else 'the file'} is no COBie workbook: it lacks the sheets Type "
                          "and Component with COBie's headings", "give it to handover as a schedule")
    book = CobieBook(file=tables[0].file, sheets={}, counts={})
    for table in tables:
        name, at = _sheet_name(table), _headings(table)
        filled = sum(any(cell.strip() for cell in row) for row in table.rows[max(at, 0) + 1:])
        book.counts[name or table.sheet or ""] = filled
        if name in _READ and at >= 0:
            book.sheets[name] = list(_rows(table, at))
            if name != "Spare":  # whose rows are told one by one
                _tell_columns(book, name, table, at)
        elif filled:
            why = "contacts are counted and never copied" if name == "Contact" else "of this sheet nothing is taken" if name \
                else "it is no sheet of COBie's"
            book.left.append(Left(sheet=table.sheet or "", row=0, name="", why=f"{filled} rows: {why}"))
    return book


def _tell_columns(book: CobieBook, name: str, table: RawTable, at: int) -> None:
    """The columns that hold something of which nothing is taken; those of people are not worth a word."""
    used = {plain_column(column) for column in _READ[name].split()} | _BOOKKEEPING
    filled = {column for row in book.sheets[name] for column in row.values} - used
    called = [cell.strip() for cell in table.rows[at] if plain_column(cell) in filled]
    if called:
        book.noted.append(Left(sheet=name, row=at + 1, name="", why=f"of its columns {', '.join(called)} nothing is taken"))


def told_in_groups(told: Sequence[Left]) -> list[str]:
    """Rows with the same reason together, the most frequent first: "Component, row 5 and 12 more: its type … is no luminaire"."""
    counted = Counter((one.sheet, one.why) for one in told)
    first = {(one.sheet, one.why): one.row for one in reversed(told)}
    lines = []
    for (sheet, why), times in counted.most_common():
        where = f", row {first[sheet, why]}" if first[sheet, why] else ""
        lines.append(f"{sheet}{where}{f' and {times - 1:,} more' if times > 1 else ''}: {why}")
    return lines


def _rows(table: RawTable, at: int) -> Iterator[CobieRow]:
    headings = [plain_column(cell) for cell in table.rows[at]]
    for number, row in enumerate(table.rows[at + 1:], start=at + 2):
        values: dict[str, str] = {}
        for heading, cell in zip(headings, row, strict=False):
            if heading and heading not in OF_PEOPLE and heading not in values and cell.strip().casefold() not in EMPTY:
                values[heading] = cell
        if any(cell.strip() for cell in row):
            yield CobieRow(number=number, values=values)
