"""A plan of addresses as a table, and filled into the schedule that it was made for."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from vault.domain.site import Line
from vault.errors import UsageProblem
from vault.exchange.schedule_translation import Translation
from vault.exchange.table_out import Sheet, write_csv_table, write_like, write_xlsx_table
from vault.exchange.translation_result import COPY

HEADINGS = ("walk", "reference", "tag", "place", "line", "address", "counted", "gear", "plan", "address before", "note")
_WORKBOOKS = (".xlsx", ".xlsm")
PLANNED_LINE, PLANNED_ADDRESS = "planned line", "planned address"


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanRow:
    """One gear. line: or central circuit. address: as the site writes it, None for none. counted: "from 0". before: what it was
    set to, with its line where that was another.
    """

    reference: str
    tag: str
    place: str
    line: str
    address: int | None
    counted: str
    gear: str
    plan: str
    before: str
    note: str


def write_plan_table(path: Path, rows: Sequence[PlanRow]) -> None:
    """The plan in walking order, as CSV or XLSX by the file's name. Raises UsageProblem (bad-format), GearkeepError."""
    cells: list[Sequence[str | int | None]] = [HEADINGS]
    cells += [(number, row.reference, row.tag, row.place, row.line, row.address, row.counted, row.gear, row.plan, row.before,
               row.note) for number, row in enumerate(rows, 1)]
    if path.suffix.lower() == ".csv":
        write_csv_table(path, cells)
    elif path.suffix.lower() == ".xlsx":
        write_xlsx_table(path, [Sheet(name="Addresses", rows=cells)])
    else:
        raise UsageProblem(f"{path.name} is no CSV and no XLSX.", kind="bad-format",
                           hint="Give a file name that ends in .csv or .xlsx.")


@dataclass(frozen=True, slots=True, kw_only=True)
class Fill:
    """What is filled into one row of a schedule: the line, its short address as on the bus, the central address."""

    line: str | None = None
    short: int | None = None
    central: int | None = None


def write_filled(path: Path, seen: Translation, names: Sequence[str], fills: Mapping[int, Fill],
                 lines: Mapping[str, Line]) -> tuple[str, ...]:
    """Write the schedule as it is, lines and addresses filled in, in the form that it was read from.

    names: our name of every column of the translated table. fills: number of a row of that table, 1 being the first below its
    headings -> what it gets. Where the file has no column of its own for them, or a row of it stands for several luminaires,
    they come in columns behind the others; these are returned. Raises UsageProblem (bad-format), GearkeepError.
    """
    is_workbook = not seen.raw.delimiter
    if (path.suffix.lower() in _WORKBOOKS) != is_workbook or path.suffix.lower() == ".xlsm":
        kind = ".xlsx" if is_workbook else ".csv"
        raise UsageProblem(f"{seen.path.name} is written back as a file of the same kind, and {path.name} is another.",
                           kind="bad-format", hint=f"Give a file name that ends in {kind}; --table writes the plan alone.")
    heading_row = max(seen.heading_row, 1)
    rows = [list(row) for row in seen.raw.rows]
    width = max(len(row) for row in rows)
    by_row: dict[int, list[Fill]] = {}
    for at, fill in fills.items():
        by_row.setdefault(seen.row_numbers[at - 1] % COPY, []).append(fill)
    places = _places(seen, names)
    added: list[str] = []

    def put(number: int, place: int, text: str) -> None:
        row = rows[number - 1]
        row += [""] * (place + 1 - len(row))
        row[place] = text

    def behind(number: int, heading: str, text: str) -> None:
        if heading not in added:
            added.append(heading)
            put(heading_row, width + added.index(heading), heading)
        put(number, width + added.index(heading), text)

    for number, some in sorted(by_row.items()):
        central = ["" if fill.central is None else str(fill.central) for fill in some]
        for column, own, texts in (("line", PLANNED_LINE, [fill.line or "" for fill in some]),
                                   ("address", PLANNED_ADDRESS, [_written(fill, seen, lines) for fill in some]),
                                   ("central_address", "planned central address", central)):
            if not any(texts):
                continue
            if column in places and len(some) == 1:
                put(number, places[column], texts[0])
            elif seen.strict:
                behind(number, column, texts[0])
            else:
                behind(number, own, ", ".join(dict.fromkeys(texts) if column == "line" else texts))
    write_like(path, seen.raw, rows)
    return tuple(added)


def _places(seen: Translation, names: Sequence[str]) -> dict[str, int]:
    """Our column -> its place in the file, for columns that hold one thing alone."""
    if seen.strict:
        return {name: at for at, name in enumerate(names) if name}
    return {column.field: column.place for column in seen.columns if column.field in ("line", "address", "central_address")}


def _written(fill: Fill, seen: Translation, lines: Mapping[str, Line]) -> str:
    """A short address as the file counts it: as its column says, else as its line does."""
    if fill.short is None:
        return ""
    counted = [source.numbering[-1:] for source in seen.sources.get("address", ()) if source.numbering[-1:].isdecimal()]
    line = lines.get(fill.line or "")
    first = int(counted[0]) if counted and not seen.strict else line.addresses_from if line else 0
    return str(fill.short + first)
