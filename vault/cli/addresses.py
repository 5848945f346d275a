"""gearkeep addresses: plan and check the addresses of control lines and central-battery circuits."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from vault.cli.shell import Progress, command, desk, json_text, open_vault, refuse_existing, say
from vault.errors import UsageProblem

if TYPE_CHECKING:
    from labels.media import Medium, Sheet
    from vault.actions.addressing import Asked, Planned
    from vault.db.session import Vault

_FILE = click.argument("file", required=False, type=click.Path(path_type=Path))
_SOURCE = (
    click.option("--line", "lines", multiple=True, metavar="LINE", help="Only this line; may be repeated."),
    click.option("--map", "map_file", type=click.Path(path_type=Path),
                 help="What was decided about a schedule of this kind before (TOML)."),
)


def _source(function: Any) -> Any:
    for option in reversed(_SOURCE):
        function = option(function)
    return _FILE(function)


@click.group(epilog="Example: gearkeep addresses plan schedule.csv --out planned.csv")
def addresses() -> None:
    """Addresses of control lines and central-battery circuits, in the vault or in a schedule file."""


def _asked(file: Path | None, lines: tuple[str, ...], map_file: Path | None, **more: Any) -> Asked:
    from vault.actions.addressing import Asked
    from vault.exchange.schedule_mapping import ScheduleMapping, read_mapping_file

    mapping = read_mapping_file(map_file) if map_file is not None else ScheduleMapping()
    return Asked(file=file, lines=lines, mapping=mapping, **more)


@command(addresses, example="gearkeep addresses plan schedule.csv --line D1 --line D2 --share --leave 10 --out planned.csv")
@_source
@click.option("--order", "order_file", type=click.Path(path_type=Path),
              help="References in the order of the walk, one a line; others follow by place.")
@click.option("--leave", type=click.IntRange(0, 90), default=0, show_default=True, metavar="PERCENT",
              help="Leave this share of every line free where luminaires may go elsewhere.")
@click.option("--share", is_flag=True, help="Luminaires without a line are shared out evenly over the lines of --line.")
@click.option("--renumber", is_flag=True, help="Addresses that are set may be moved; else none is.")
@click.option("--out", type=click.Path(path_type=Path),
              help="A schedule: write it here with lines and addresses filled in. The vault: write the plan (.csv, .xlsx).")
@click.option("--table", "table_file", type=click.Path(path_type=Path), help="Write the plan as a table (.csv, .xlsx).")
@click.option("--labels", "labels_file", type=click.Path(path_type=Path), help="Write a label for each address (.pdf).")
@click.option("--medium", default="60x40", show_default=True, help="Label size in mm.")
@click.option("--sheet", default="a4", show_default=True, help='Page of the labels: a4, letter, or "none" for one a page.')
@click.option("--drawing", "drawing_file", type=click.Path(path_type=Path), help="Draw the lines (.pdf, .svg, .png).")
@click.option("--all", "show_all", is_flag=True, help="Show long lists whole.")
@click.option("--move-set", is_flag=True, help="With --renumber and --sign: addresses that are on record may be signed over.")
@click.option("--sign", is_flag=True, help="Sign new versions with the planned addresses. Before commissioning only: no driver "
              "is set by it.")
def plan(file: Path | None, lines: tuple[str, ...], map_file: Path | None, order_file: Path | None, leave: int, share: bool,
         renumber: bool, out: Path | None, table_file: Path | None, labels_file: Path | None, medium: str, sheet: str,
         drawing_file: Path | None, show_all: bool, move_set: bool, sign: bool, as_json: bool) -> int:
    """Give every gear an address in walking order: by place, floor after floor, or by a given list.

    What is set already stays; new gear gets the lowest free addresses. Lines hold 64 gear (IEC 62386-102), central circuits
    20 luminaires (DIN V VDE V 0108-100) where the vault has no rule of its own. What finds no address is told with the reason.
    Nothing is signed without --sign. Exit code 1 where something stops or finds no address.
    """
    from vault.actions.address_signing import sign_plan
    from vault.actions.addressing import plan_site, read_order
    from vault.cli import addresses_text as words_of

    refuse_existing(*(path for path in (out, table_file, labels_file, drawing_file) if path is not None))
    _refuse_endings((out, _TABLES), (table_file, _TABLES), (labels_file, (".pdf",)), (drawing_file, _DRAWINGS))
    labels = None if labels_file is None else (labels_file, *_label_page(medium, sheet))
    order = read_order(order_file) if order_file is not None else ()
    asked = _asked(file, lines, map_file, order=order, leave_percent=leave, share=share, renumber=renumber)
    told: dict[str, object] = {}
    if sign:
        at = desk()
        vault = at.vault
        signed = sign_plan(at, asked, move_set=move_set, progress=Progress("Planning and signing"))
        planned, told = signed.planned, words_of.signed_json(signed)
    else:
        vault = open_vault()
        planned = plan_site(vault, asked, progress=Progress("Reading"))
    files = _write(vault, planned, out, table_file, drawing_file, labels)
    if as_json:
        say(json_text({**words_of.plan_json(planned), **told, "files": [path for path, _ in files]}))
    else:
        words_of.say_plan(planned, show_all=show_all)
        if sign:
            words_of.say_signed(signed)
        say(*(f"{what} {path}." for path, what in files))
    return _exit_code(planned.findings)


def _exit_code(findings: Any) -> int:
    from vault.domain.findings import stops

    return 1 if stops(findings) else 0


_TABLES, _DRAWINGS = (".csv", ".xlsx"), (".pdf", ".svg", ".png")


def _refuse_endings(*files: tuple[Path | None, tuple[str, ...]]) -> None:
    """What cannot be written is told before anything is signed."""
    for path, endings in files:
        if path is not None and path.suffix.lower() not in endings:
            raise UsageProblem(f"{path.name} cannot be written.", kind="bad-format",
                               hint=f"Give a file name that ends in {' or '.join(endings)}.")


def _label_page(medium: str, sheet: str) -> tuple[Medium, Sheet | None]:
    from vault.actions.labelling import medium_named, sheet_named

    size = medium_named(medium, 300)
    return size, None if sheet == "none" else sheet_named(sheet, size)


def _write(vault: Vault, planned: Planned, out: Path | None, table_file: Path | None, drawing_file: Path | None,
           labels: tuple[Path, Medium, Sheet | None] | None) -> list[tuple[str, str]]:
    """Write what was asked for; (file, a few words) of each."""
    from vault.actions import address_paper as paper

    files: list[tuple[str, str]] = []
    if out is not None and planned.held is not None:
        added = paper.write_schedule(vault, planned, out)
        behind = f" (in columns of their own behind the others: {', '.join(added)})" if added else ""
        files.append((str(out), f"The schedule with its addresses{behind} is in"))
    elif out is not None:
        table_file = table_file or out
    if table_file is not None:
        paper.write_table(planned, table_file)
        files.append((str(table_file), "The plan is in"))
    if labels is not None:
        paper.write_labels(vault, planned, *labels)
        files.append((str(labels[0]), "Labels, to be printed at actual size (100 %, no scaling), are in"))
    if drawing_file is not None:
        files += [(str(path), "The drawing is in") for path in paper.write_lines(vault, planned, drawing_file)]
    return files


@command(addresses, example="gearkeep addresses check schedule.csv --line D1")
@_source
def check(file: Path | None, lines: tuple[str, ...], map_file: Path | None, as_json: bool) -> int:
    """Show each line's and central circuit's addresses: doubles, gaps, gear without, and what holds too much.

    Exit code 1 where something stops or cannot be told.
    """
    from vault.actions.addressing import check_site
    from vault.cli import addresses_text as words_of

    checked = check_site(open_vault(), _asked(file, lines, map_file), progress=Progress("Reading"))
    if as_json:
        say(json_text(words_of.check_json(checked)))
    else:
        words_of.say_check(checked)
    return _exit_code(checked.everything)
