"""gearkeep cobie: luminaires as a COBie workbook, and what a foreign one holds."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from vault.cli.shell import Progress, command, desk, json_text, refuse_existing, say, table
from vault.errors import UsageProblem

if TYPE_CHECKING:
    from vault.exchange.cobie_read import CobieRead

_SHOWN_REASONS = 20


@command(name="cobie", example="gearkeep cobie as-built.xlsx")
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False))
@click.option("--check", "check_only", is_flag=True, help="Read FILE and tell what it holds; nothing is signed.")
@click.option("--types", metavar="NAMES", help="With --check: the luminaires' types by name, separated by semicolons, in "
              "place of what their categories and names say.")
@click.option("--table", "table_file", type=click.Path(path_type=Path, dir_okay=False), metavar="CSV",
              help="With --check: write the luminaires as a schedule for handover.")
def cobie(file: Path, check_only: bool, types: str | None, table_file: Path | None, as_json: bool) -> int:
    """Write the vault's luminaires as a COBie 2.4 workbook, or check one.

    The workbook holds facility, places, types with their ratings, luminaires with every setting, lines and circuits, and the
    spares in stock. People stand in it as codes. With --check the vault is left alone: sheets, references, what would be taken
    as luminaires and what would be left, each with its reason. The luminaires of such a workbook are taken with handover.
    """
    if not check_only:
        if types is not None or table_file is not None:
            raise UsageProblem("--types and --table belong to --check.", hint="Add --check, or leave them off.")
        return _write(file, as_json)
    from vault.actions.cobie import check_cobie

    if table_file is not None:
        refuse_existing(table_file)
    chosen = [name.strip() for name in types.split(";") if name.strip()] if types is not None else None
    read = check_cobie(file, chosen, Progress("Rows read"))
    if table_file is not None:
        _write_table(table_file, read)
    if as_json:
        say(json_text(_json_of(read)))
    else:
        _show(file, read)
    return 0 if read.counts["luminaires"] else 1


def _write(file: Path, as_json: bool) -> int:
    from vault.actions.cobie import write_cobie

    if file.suffix.lower() != ".xlsx":
        raise UsageProblem(f"{file.name} would not say that it is a workbook.", hint="Name a file that ends with .xlsx.",
                           kind="unknown-format")
    refuse_existing(file)
    done = write_cobie(desk(), file, Progress("Luminaires verified"))
    if as_json:
        say(json_text({"file": str(done.path), "rows": done.rows,
                       "doubtful": {tag: list(states) for tag, states in done.doubtful.items()}}))
        return 0
    rows = done.rows
    say(f"{done.path} is written: {rows['Component']} luminaires of {rows['Type']} types in {rows['Space']} places, "
        f"{rows['System']} lines and circuits, {rows['Spare']} spares, {rows['Attribute']} attributes.")
    if done.doubtful:
        say(f"{len(done.doubtful)} of them are not plainly good; their attribute record_state says why.")
    return 0


def _write_table(path: Path, read: CobieRead) -> None:
    from vault.exchange.table_out import write_csv_table

    write_csv_table(path, [row for row in read.table.rows if any(row)])


def _json_of(read: CobieRead) -> dict[str, object]:
    return {
        "rows": dict(read.counts),
        "types": [{"name": one.name, "category": one.category, "components": one.components, "luminaire": one.taken,
                   "because": one.because} for one in read.types],
        "questions": [{"key": one.key, "says": one.says, "choices": [choice.word for choice in one.choices], "likely": one.likely}
                      for one in read.questions],
        "left": [{"sheet": one.sheet, "row": one.row, "name": one.name, "why": one.why} for one in read.left],
        "noted": [{"sheet": one.sheet, "row": one.row, "name": one.name, "why": one.why} for one in read.noted]}


def _show(file: Path, read: CobieRead) -> None:
    from vault.exchange.cobie_book import told_in_groups

    counts = dict(read.counts)
    taken = counts.pop("luminaires")
    say(f"{file.name}: " + ", ".join(f"{rows} {sheet}" for sheet, rows in counts.items()) + ".")
    lights = [one for one in read.types if one.taken]
    say(f"{taken} luminaires of {len(lights)} types would be taken.")
    if lights:
        table(["type", "luminaires", "because"], [(one.name, one.components, one.because) for one in lights])
    for question in read.questions:
        likely = f" Likely: {question.likely}." if question.likely else ""
        say(f"to decide: {question.says} ({' or '.join(choice.word for choice in question.choices)}){likely}")
    _show_reasons("taken, with a remark", told_in_groups(read.noted))
    _show_reasons("left", told_in_groups(read.left))


def _show_reasons(called: str, reasons: list[str]) -> None:
    say(*(f"{called}: {reason}" for reason in reasons[:_SHOWN_REASONS]))
    if len(reasons) > _SHOWN_REASONS:
        say(f"{called}: {len(reasons) - _SHOWN_REASONS} further reasons; --json lists all rows.")
